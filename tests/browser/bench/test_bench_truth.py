"""What the bench records is what was done and typed: commas, units, lots that were stopped meanwhile, what a pot fills."""

import re

import pytest
from playwright.sync_api import expect

from batches.models import BenchEntry
from inventory.lots import holding
from inventory.models import Lot, Posting, StoppedUse
from tests.browser.at_the_bench import offline
from tests.browser.person import spaced
from tests.house import grams

pytestmark = pytest.mark.django_db(transaction=True)

NBSP = "\N{NO-BREAK SPACE}"


def unit(bench, name):
    return bench.page.locator("#bench-units").get_by_role("button", name=name, exact=True)


def test_a_comma_typed_at_the_bench_is_never_a_decimal_point(bench, shelf):
    bench.take(shelf["more"])
    bench.page.keyboard.type("1,38")
    bench.left("Write decimals with a point: 1.38")
    expect(bench.page.locator("#bench-record")).to_be_disabled()
    bench.page.keyboard.type("0")
    # Between thousands it is one thousand three hundred and eighty, as everywhere in the studio.
    bench.left("460 g over")
    bench.record()
    bench.arrived(1)
    assert BenchEntry.objects.get().gross_ug == grams(1380)


def test_a_unit_pressed_for_one_material_does_not_stay_for_the_next(bench, shelf):
    bench.take(shelf["more"])
    unit(bench, "oz").tap()
    expect(unit(bench, "oz")).to_have_attribute("aria-pressed", "true")
    # The next lot of the same wax is still weighed in oz.
    bench.weigh("10")
    bench.arrived(1)
    bench.take(shelf["wax"])
    expect(unit(bench, "oz")).to_have_attribute("aria-pressed", "true")
    bench.to("fragrance")
    bench.take(shelf["fragrance"])
    expect(unit(bench, "g")).to_have_attribute("aria-pressed", "true")
    bench.weigh("80")
    bench.arrived(2)
    # 10 oz = 283.49523125 g
    weighed = dict(BenchEntry.objects.values_list("line__item__name", "gross_ug"))
    assert weighed == {"wax": 283_495_231, "fragrance": grams(80)}


def test_a_scale_pressed_for_one_reading_does_not_stay_for_the_next(bench):
    bench.to("Heat the wax")
    unit(bench, "°F").tap()
    bench.weigh("185")
    bench.arrived(1)
    bench.to("Temperature for the fragrance")
    expect(unit(bench, "°C")).to_have_attribute("aria-pressed", "true")


def test_a_weight_beyond_what_the_lot_holds_names_what_it_holds_in_the_unit_used(bench, shelf):
    bench.scan(shelf["wax"].code)
    bench.page.get_by_role("button", name=re.compile("^Use .* all the same")).tap()
    unit(bench, "oz").tap()
    # 700 g are 24.69 oz; 30 oz are 5.31 oz more.
    bench.weigh("30")
    dialog = bench.page.get_by_role("dialog")
    expect(dialog).to_contain_text(f"lot {spaced(shelf['wax'].code)} holds 24.69{NBSP}oz")
    expect(dialog).to_contain_text(f"5.31{NBSP}oz are booked as found")
    bench.answer("Go back")
    # What is far too much names it too.
    bench.page.locator('.bench-key[data-key="0"]').tap()
    bench.record()
    expect(dialog).to_contain_text("far more than")
    expect(dialog).to_contain_text(f"holds 24.69{NBSP}oz")


def test_a_weight_made_without_the_network_from_a_lot_held_meanwhile_is_kept_with_a_reason(
    bench, shelf, books
):
    offline(bench, True)
    bench.take(shelf["more"])
    bench.weigh("920")
    bench.saved("1 entry is kept on this device and not yet saved")
    holding.hold(shelf["more"].pk, signature=books.sign(reason="Specks"))
    offline(bench, False)
    waiting = bench.page.locator("#bench-waiting")
    expect(waiting).to_contain_text("is on hold")
    record = waiting.get_by_role("button", name="It went in: record it")
    # Without a reason nothing is sent, and nothing is lost.
    record.tap()
    expect(waiting.get_by_label("Why it went in")).to_be_focused()
    assert not BenchEntry.objects.exists()
    waiting.get_by_label("Why it went in").fill("The network was down")

    record.tap()

    bench.arrived(1)
    entry = BenchEntry.objects.get()
    assert StoppedUse.objects.get().reason == "The network was down"
    assert list(Posting.objects.to_review()) == [entry.posting]
    assert Lot.objects.get(pk=shelf["more"].pk).on_hand == grams(4080)
    expect(waiting).to_be_empty()


def test_the_pour_says_what_to_fill_and_what_the_melt_fills_where_it_is_another_weight(bench, shelf):
    bench.to("Pour")
    fill = bench.page.locator("#bench-fill")
    expect(fill).to_have_text(f"Fill each to 100{NBSP}g.")
    # 1,030 g of wax for 920 g and 80 g of fragrance: 1,110 g fill 11 vessels of 100 g.
    bench.to("wax")
    expect(fill).to_be_hidden()
    bench.take(shelf["more"])
    bench.weigh("1030")
    bench.arrived(1)
    bench.to("Pour")
    # The fragrance is not weighed yet: nothing is said of the melt.
    expect(fill).to_have_text(f"Fill each to 100{NBSP}g.")
    bench.to("fragrance")
    bench.take(shelf["fragrance"])
    bench.weigh("80")
    bench.arrived(2)
    bench.to("Pour")
    expect(fill).to_have_text(
        re.compile(
            f"Fill each to 100{NBSP}g. The melt weighs 1,110{NBSP}g, 1,000{NBSP}g was planned: it fills 11 "
            "at that weight, 10 planned."
        )
    )
