"""What a batch puts on its printed ticket, in the studio's units. The candle of the shelf: 92 g wax, 8 g fragrance."""

import pytest

from batches.models import FormulaVersion
from batches.paper.ticket_of import ticket_of
from batches.planning.planning import plan_of_batch
from batches.runs.runs import drawn_by_line
from studio.models import Studio
from tests.house import TODAY

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
