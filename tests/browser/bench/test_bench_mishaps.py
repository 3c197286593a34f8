"""What goes wrong around a tablet: a scanner that types into a question, a device that is full, a run that ended."""

import re

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from batches.models import BenchEntry
from batches.production import finishing, runs
from studio.models import Role, User
from tests.browser.at_the_bench import TABLET, AtTheBench, offline
from tests.browser.person import spaced
from tests.browser.test_look import wide_pages
from tests.house import grams

pytestmark = pytest.mark.django_db(transaction=True)


def test_a_scan_does_not_answer_a_question_and_two_questions_follow_each_other(bench, shelf):
    bench.take(shelf["more"])
    # Ten times what is wanted, and more than the lot holds by the books.
    bench.weigh("9200")
    dialog = bench.page.get_by_role("dialog")
    expect(dialog).to_contain_text("far more than the 920\N{NO-BREAK SPACE}g still to go")

    bench.scan(shelf["wax"].code)

    expect(dialog).to_contain_text("far more")
    # Neither does a barcode of figures alone.
    bench.scan("0123456789")
    expect(dialog).to_contain_text("far more")
    bench.answer(re.compile("^Yes, "))
    expect(dialog).to_contain_text("are booked as found")
    bench.answer("Go back")
    expect(dialog).to_be_hidden()
    assert not BenchEntry.objects.exists()
    bench.record()
    bench.answer(re.compile("^Yes, "))
    bench.answer(re.compile("^Book .* as found"))
    bench.arrived(1)
    assert BenchEntry.objects.get().posting.movements.filter(kind="drawn").get().quantity == -grams(9200)


FULL_DEVICE = """
const put = IDBObjectStore.prototype.put;
IDBObjectStore.prototype.put = function (...given) {
  if (window.isFull) throw new DOMException('no room', 'QuotaExceededError');
  return put.apply(this, given);
};
"""


def test_a_device_without_room_says_so_and_still_sends(sit_down, owner, batch, shelf):
    person = sit_down(sign_in=owner, **TABLET)
    person.page.add_init_script(FULL_DEVICE)
    bench = AtTheBench(person, batch)
    bench.take(shelf["more"])
    bench.page.evaluate("window.isFull = true")
    offline(bench, True)
    bench.weigh("450")
    bench.saved("1 entry is kept on this device and not yet saved")
    expect(bench.page.locator("#bench-news")).to_contain_text("This device has no room left. Do not close")
    expect(bench.step("wax")).to_contain_text("450\N{NO-BREAK SPACE}g of 920\N{NO-BREAK SPACE}g")
    offline(bench, False)
    bench.arrived(1)
    expect(bench.page.locator("#bench-news")).not_to_contain_text("no room")
    assert BenchEntry.objects.get().gross_ug == grams(450)


def test_what_waits_for_a_run_that_was_given_up_says_what_to_do(bench, books, batch, shelf):
    books.draw_into(batch, (shelf["more"], "920 g"), at=timezone.now())
    bench.page.reload()
    bench.ready()
    offline(bench, True)
    bench.to("wick")
    bench.take(shelf["wick"])
    bench.record()
    bench.saved("1 entry is kept on this device and not yet saved")
    finishing.abandon(batch.pk, signature=books.sign(at=timezone.now(), reason="The pot boiled over"))
    offline(bench, False)
    problem = bench.page.locator("#bench-waiting")
    expect(problem).to_contain_text("If it went in all the same, take the run up again on its page")
    expect(problem.get_by_role("button", name="Choose another lot")).to_have_count(0)
    finishing.undo_finish(batch.pk, signature=books.sign(at=timezone.now(), reason="Something was missing"))
    problem.get_by_role("button", name="Try again").tap()
    bench.arrived(1)
    assert batch.draws.standing().get(line__item__name="wick").movement.quantity == -10


def test_a_scan_that_was_stopped_is_forgotten_with_the_next_figure(bench, shelf):
    bench.take(shelf["more"])
    bench.scan(shelf["fragrance"].code)
    bench.stopped("is fragrance, not wax")
    bench.type("9")
    expect(bench.page.locator("#bench-stop")).to_be_empty()


def test_what_was_read_stands_in_the_list_of_steps(bench):
    bench.to("Heat the wax")
    bench.weigh("84.5")
    expect(bench.step("Heat the wax")).to_contain_text("84.5\N{NO-BREAK SPACE}°C")
    bench.arrived(1)


def test_more_wax_than_planned_asks_for_more_fragrance(bench, shelf):
    bench.take(shelf["more"])
    bench.weigh("1150")
    bench.arrived(1)
    # 1150 g are a quarter more than 920 g, and so 80 g of fragrance become 100 g.
    expect(bench.step("wax")).to_contain_text("More")
    bench.to("fragrance")
    caution = bench.page.locator("#bench-cautions")
    expect(caution).to_contain_text(
        "100\N{NO-BREAK SPACE}g of fragrance keep the load, not 80\N{NO-BREAK SPACE}g"
    )
    bench.take(shelf["fragrance"])
    bench.weigh("80")
    bench.arrived(2)
    # It is said once more before it is poured, and the rest is one press away.
    bench.to("Pour")
    caution.get_by_role("button", name=re.compile("^Weigh 20.g$")).tap()
    bench.at("fragrance")
    bench.take(shelf["fragrance"])
    bench.left("20 g to go")
    bench.type("20")
    bench.left("On target")
    over = bench.page.locator("#bench-over")
    # 1250 g of melt at 100 g a candle.
    expect(over).to_contain_text("the load is as wanted: 8.7\N{NO-BREAK SPACE}% of wax")
    expect(over).to_contain_text("enough for 12 vessels (10 planned)")
    bench.record()
    bench.arrived(3)
    expect(bench.step("wax")).to_contain_text("Done")
    bench.to("Pour")
    expect(caution).to_be_empty()


def test_two_tablets_at_one_pot_are_asked_whether_both_went_in(bench, sit_down, maker, batch, shelf):
    other = AtTheBench(sit_down(sign_in=maker, **TABLET), batch)
    for each in (bench, other):
        each.take(shelf["more"])
    offline(other, True)
    bench.weigh("920")
    bench.arrived(1)
    other.weigh("920")
    other.saved("1 entry is kept on this device and not yet saved")
    offline(other, False)
    problem = other.page.locator("#bench-waiting")
    expect(problem).to_contain_text("Meanwhile 920\N{NO-BREAK SPACE}g went in already, the last by Maren.")
    expect(problem).to_contain_text(
        "it would be 1,840\N{NO-BREAK SPACE}g, where 920\N{NO-BREAK SPACE}g are wanted"
    )
    assert BenchEntry.objects.count() == 1
    other.still()
    problem.get_by_role("button", name="Throw it away").tap()
    other.answer("Throw it away")
    other.saved("All is saved")
    # Half of the wicks each is no more than is wanted, whatever the other did not know.
    for each in (bench, other):
        each.to("wick")
        each.take(shelf["wick"])
    # Nobody takes back what somebody else entered without being told whose it is.
    expect(other.page.locator("#bench-undo")).to_contain_text("920\N{NO-BREAK SPACE}g of wax")
    expect(other.page.locator("#bench-undo")).to_contain_text(", by Maren")
    expect(bench.page.locator("#bench-undo")).not_to_contain_text("by Maren")
    offline(other, True)
    bench.weigh("5")
    bench.arrived(2)
    other.weigh("5")
    offline(other, False)
    other.arrived(3)
    # And what did go in as well is kept.
    for each in (bench, other):
        each.to("vessel")
        each.take(shelf["vessel"])
    offline(other, True)
    bench.record()
    bench.arrived(4)
    other.record()
    offline(other, False)
    problem.get_by_role("button", name="It went in as well").tap()
    other.arrived(5)
    assert sorted(batch.draws.standing().values_list("line__item__name", "movement__quantity")) == [
        ("vessel", -10),
        ("vessel", -10),
        ("wax", -grams(920)),
        ("wick", -5),
        ("wick", -5),
    ]


def test_whoever_may_not_weigh_up_any_more_is_told_and_nothing_is_lost(bench, owner, shelf):
    offline(bench, True)
    bench.to("wick")
    bench.take(shelf["wick"])
    bench.record()
    bench.saved("1 entry is kept on this device and not yet saved")
    User.objects.filter(pk=owner.pk).update(role=Role.BOOKKEEPER)
    offline(bench, False)
    expect(bench.page.locator("#bench-news")).to_contain_text("You may not weigh up any more. Ask the owner")
    bench.saved("1 entry is kept on this device and not yet saved")
    bench.person.open("/")
    expect(bench.page.get_by_role("main")).to_contain_text("1 entry from the bench is kept on this device")
    User.objects.filter(pk=owner.pk).update(role=Role.OWNER)
    bench.person.open(f"/batches/{bench.batch.code}/bench/")
    bench.ready()
    bench.arrived(1)


def test_names_as_long_as_they_may_be_stay_on_the_screen(sit_down, owner, books, studio):
    long = "Überlangerwachsname" * 6
    books.item(long, kind="wax")
    lot = books.receive(long, "5 kg", place="Regal" * 12)
    books.receive("fragrance", "1 kg")
    lines = [(long, "wax_share", 1_000_000), ("fragrance", "of_wax", 80_000)]
    batch = books.plan(books.formula("Kerze" * 24, lines, fill="100 g"), 10, on=timezone.localdate())
    person = sit_down(sign_in=owner, **TABLET)
    bench = AtTheBench(person, batch)
    found = wide_pages(person, "choosing")
    bench.take(lot)
    found += wide_pages(person, "weighing")
    bench.weigh("4990")
    bench.answer(re.compile("^Yes"))
    bench.arrived(1)
    found += wide_pages(person, "recorded")
    assert found == []


def test_of_many_pots_the_one_at_hand_is_listed_in_full(sit_down, owner, books, studio, shelf):
    # Forty candles of 100 g in a pot of 500 g: eight pots of five, 460 g of wax and 40 g of fragrance each.
    batch = books.plan(books.candle(pot_ug=grams(500), heat_to_mc=85_000), 40, on=timezone.localdate())
    bench = AtTheBench(sit_down(sign_in=owner, **TABLET), batch)
    rows = bench.page.locator("#bench-steps li")
    # Wax, heat and fragrance of the first, wick and vessel, and seven other pots.
    expect(rows).to_have_count(12)
    expect(bench.step("Pour 5")).to_contain_text("0 of 3")
    bench.step("Pour 5").tap()
    bench.at("wax")
    expect(bench.page.locator("#bench-sub")).to_contain_text("Pour 5 of 8")
    bench.take(shelf["more"])
    bench.weigh("460")
    bench.arrived(1)
    bench.step("Pour 1").tap()
    expect(bench.page.locator("#bench-sub")).to_contain_text("Pour 1 of 8")
    expect(bench.step("Pour 5")).to_contain_text("1 of 3")
    expect(bench.step("Pour 5")).to_contain_text("Open")
    expect(rows).to_have_count(12)


def test_too_much_in_one_pot_leaves_the_next_one_its_own_target(sit_down, owner, books, studio, shelf):
    # Two pots of five: 40 g of fragrance each. 60 g in the first leave 20 g of the plan, and the second still wants 40.
    batch = books.plan(books.candle(pot_ug=grams(500)), 10, on=timezone.localdate())
    bench = AtTheBench(sit_down(sign_in=owner, **TABLET), batch)
    bench.step("fragrance, pour 1").tap()
    bench.take(shelf["fragrance"])
    bench.weigh("60")
    bench.arrived(1)
    bench.step("fragrance, pour 2").tap()
    expect(bench.page.locator(".bench-pick")).to_contain_text("take 40\N{NO-BREAK SPACE}g")


def test_a_temperature_belongs_to_the_pot_it_was_read_in(sit_down, owner, books, studio, shelf):
    # Ten candles of 100 g in a pot of 500 g: two pours of five, heated each for itself.
    batch = books.plan(books.candle(pot_ug=grams(500), heat_to_mc=85_000), 10, on=timezone.localdate())
    bench = AtTheBench(sit_down(sign_in=owner, **TABLET), batch)
    bench.step("Heat the wax, pour 2").tap()
    bench.weigh("84")
    bench.arrived(1)
    for _ in range(2):
        expect(bench.step("Heat the wax, pour 2")).to_contain_text("84\N{NO-BREAK SPACE}°C")
        expect(bench.step("Heat the wax, pour 1")).to_contain_text("Open")
        expect(bench.page.locator("#bench-entries")).to_contain_text(
            "Wax at its hottest: 84\N{NO-BREAK SPACE}°C, pour 2"
        )
        bench.page.reload()
    # What was noted on the batch's page names no pot, and fills the one that has none.
    runs.take_reading(batch.pk, "melt", 86_000, note="", signature=books.sign(timezone.now()))
    bench.page.reload()
    expect(bench.step("Heat the wax, pour 1")).to_contain_text("86\N{NO-BREAK SPACE}°C")
    expect(bench.step("Heat the wax, pour 2")).to_contain_text("84\N{NO-BREAK SPACE}°C")


def test_with_the_keyboard_alone_one_goes_on_where_one_is(bench, shelf):
    keys = bench.page.keyboard
    bench.still()
    bench.page.locator(".bench-pick").filter(has_text=spaced(shelf["more"].code)).focus()
    keys.press("Enter")
    # WCAG 2.4.3, focus order.
    expect(bench.page.locator("#bench-name")).to_be_focused()
    keys.type("920")
    bench.left("On target")
    keys.press("Enter")
    bench.arrived(1)
    assert BenchEntry.objects.get().gross_ug == grams(920)
