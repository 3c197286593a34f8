"""What a batch puts on its printed ticket, in the studio's units. The candle of the shelf: 92 g wax, 8 g fragrance."""

import pytest

from batches.models import FormulaVersion
from batches.planning.planning import plan_of_batch
from batches.planning.plans import drawn_by_line
from batches.records.ticket_text import ticket_of
from studio.models import Studio
from tests.house import TODAY, day

pytestmark = pytest.mark.django_db


def ticket(batch, **studio):
    plan = plan_of_batch(batch, on=TODAY, drawn=drawn_by_line(batch))
    draws = batch.draws.standing().with_lots()
    made = Studio(pk=1, name="Ninefold Lane", **studio)
    return ticket_of(batch, plan, made, draws, url="https://ninefold.example/b", printed="Printed today")


def line(found, name):
    return next(each for each in (*found.materials, *found.components) if each.item == name)


def plain(text):
    return text.replace("\N{NO-BREAK SPACE}", " ")


def test_targets_lots_and_load_are_those_of_the_sheet(books, shelf, version):
    found = ticket(books.plan(version, 10))

    wax = line(found, "wax")
    assert plain(wax.target) == "920 g"
    assert plain(wax.tolerance) == "± 1 g"
    assert [(lot.code, plain(lot.take)) for lot in wax.lots] == [(shelf["wax"].spaced_code, "920 g")]
    assert line(found, "wick").target == "10"
    assert line(found, "wick").tolerance == ""
    assert plain(found.melt) == "1,000 g"
    assert plain(found.load) == "8.7 % of wax = 8 % of melt"  # 8/92 and 8/100


def test_what_is_missing_is_said_where_the_next_lot_would_stand(books, shelf, version):
    found = ticket(books.plan(version, 60))  # there are 50 vessels

    assert line(found, "vessel").short == "short by 10"
    assert line(found, "wax").short == ""


def test_what_was_drawn_already_is_printed_beside_what_is_still_to_be_taken(books, shelf, version):
    batch = books.plan(version, 10)
    books.draw_into(batch, (shelf["wax"], "900 g"))

    lots = line(ticket(batch), "wax").lots

    assert [(lot.place, plain(lot.take)) for lot in lots] == [("drawn", "900 g"), ("", "20 g")]


def test_a_run_larger_than_the_pot_says_how_it_is_poured(books, shelf):
    version = books.candle(pot_ug=600_000_000)

    found = ticket(books.plan(version, 10))

    assert plain(found.pours) == "2 pours: 500 g for 5 vessels each"
    assert [plain(pour) for pour in line(found, "wax").per_pour] == ["460 g", "460 g"]


def test_unequal_pours_are_told_apart(books, shelf):
    version = books.candle(pot_ug=600_000_000)

    assert (
        plain(ticket(books.plan(version, 11)).pours)
        == "2 pours: 1 × 600 g for 6 vessels, 1 × 500 g for 5 vessels"
    )


def test_steps_follow_the_studio_s_thermometer(books, shelf):
    version = books.candle(heat_to_mc=85_000, pour_from_mc=57_222, pour_to_mc=60_000, cure_days=14)

    found = ticket(books.plan(version, 10), temperature_unit="F")

    # 85 °C = 185 °F, 57.22 °C = 135 °F, 60 °C = 140 °F: conversions by 9/5 and 32, from memory.
    assert [(what, plain(aim)) for what, aim in found.steps] == [
        ("Heat the wax to", "185 °F"),
        ("Pour between", "135 °F and 140 °F"),
        ("Cure", "14 days"),
    ]


def test_a_version_on_trial_says_so_in_its_cautions(books, shelf, version):
    said = " ".join(ticket(books.plan(version, 10)).cautions)
    assert "burn-test" in said

    FormulaVersion.objects.filter(pk=version.pk).update(state="approved")
    version.refresh_from_db()
    said = " ".join(ticket(books.plan(version, 10)).cautions)
    assert "burn-test" not in said
    assert "warning label" in said


def test_the_pourers_number_is_the_fill_of_one_vessel_in_the_studio_s_unit(books, shelf, version):
    batch = books.plan(version, 10)

    assert plain(ticket(batch).fill) == "100 g"
    # 100 g / 28.349523125 g = 3.5274 oz
    assert plain(ticket(batch, mass_unit="lb").fill) == "3.527 oz"
    assert ticket(books.plan(books.formula("blend", [("wax", "wax_share", 1_000_000)]), 10**9)).fill == ""


def test_it_is_ready_when_it_has_cured_from_the_day_planned(books, shelf, version):
    # The 20th of March 2026, a Friday, and 14 days.
    assert ticket(books.plan(version, 10)).ready == "the day it is finished"
    cured = books.candle("Fig", cure_days=14)
    assert ticket(books.plan(cured, 10)).ready == "Fri 03 Apr 2026 if finished on the day planned"

    batch = books.plan(cured, 10)
    books.fill(shelf, batch, at=day(18))
    books.finish(batch, 10, at=day(18))
    batch.refresh_from_db()
    assert ticket(batch).ready == "Wed 01 Apr 2026"


def test_a_melt_of_another_weight_says_what_it_fills_once_all_of_it_is_weighed(books, shelf, version):
    batch = books.plan(version, 10)
    books.draw_into(batch, (shelf["wax"], "1030 g"))
    assert ticket(batch).fill_now == ""

    books.draw_into(batch, (shelf["fragrance"], "80 g"))

    assert plain(ticket(batch).fill_now) == (
        "The melt weighs 1,110 g, 1,000 g was planned: it fills 11 at that weight, 10 planned."
    )


def test_a_melt_as_planned_says_nothing_more(books, shelf, version):
    batch = books.plan(version, 10)
    books.fill(shelf, batch)

    assert ticket(batch).fill_now == ""


def test_the_loss_the_formula_allows_for_counts(books, shelf):
    """9 units of 100 g with 5 % lost plan 945 g; 1,110 g fill 10 of 105 g."""
    version = books.candle("Fig", loss_ppm=50_000)
    batch = books.plan(version, 9)
    books.draw_into(batch, (shelf["wax"], "1030 g"))
    books.draw_into(batch, (shelf["fragrance"], "80 g"))

    assert plain(ticket(batch).fill_now) == (
        "The melt weighs 1,110 g, 945 g was planned: it fills 10 at that weight with 5 % lost, 9 planned."
    )
