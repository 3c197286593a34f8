"""Planning: lots by hand, recalls, where a plan begins, a plan moved; when and where to buy what is missing."""

from datetime import date, timedelta

import pytest
from django.db import connection

from batches.lineage.recall_scope import Width, widths
from batches.planning import plans
from batches.planning.lot_allocation import ChoiceError
from batches.planning.planning import most_from_shelf, plan_of_batch
from batches.planning.plans import BatchError, drawn_by_line
from batches.planning.starting import CannotStart, from_lot, from_order, from_shelf, version_for
from inventory.lots import holding
from inventory.models import Commitment, CustomerOrder, Supplier
from inventory.replenishment.where_to_buy import Shortage, advice
from tests.house import NOW, TODAY, day, grams, refused

pytestmark = pytest.mark.django_db

CEDAR = "Cedar & Black Tea"
TUESDAY = date(2026, 3, 24)


@pytest.fixture
def shelf(books):
    """Two lots of wax, 1 kg and 5 kg, one of everything else: enough for 65 candles of 92 g of wax."""
    return {
        "small": books.receive("wax", "1 kg"),
        "large": books.receive("wax", "5 kg"),
        "fragrance": books.receive("fragrance", "1 kg"),
        "wick": books.receive("wick", 200),
        "vessel": books.receive("vessel", 200),
    }


def taken(batch, name="wax", on=TODAY):
    """What the plan takes of an item: base units by lot, what is missing, and what it says."""
    plan = plan_of_batch(batch, on=on, drawn=drawn_by_line(batch))
    need = next(need for need in plan.needs if need.item.name == name)
    return {pick.lot: pick.quantity for pick in need.picks}, need


# Lots by hand


def test_chosen_lots_come_first_and_the_rest_is_suggested(books, shelf):
    """Twenty take 1,840 g of wax: 600 g chosen from the small lot, 1,240 g suggested from the large one."""
    batch = books.plan(books.candle(), 20)
    assert taken(batch)[0] == {shelf["large"]: grams(1840)}

    books.choose(batch, (shelf["small"], "600 g"))

    picks, need = taken(batch)
    assert picks == {shelf["small"]: grams(600), shelf["large"]: grams(1240)}
    assert need.reason.startswith("Chosen by hand. The rest: one lot covers it")
    assert (need.short, need.notes) == (0, ())


def test_equal_pours_are_told_together(books, shelf):
    """Ten of 100 g in a pot of 400 g: pours of four, three and three, 368 g and twice 276 g of wax."""
    plan = plan_of_batch(books.plan(books.candle(pot_ug=grams(400)), 10), on=TODAY, drawn={})
    wax, *_, vessel = plan.needs

    assert wax.pours_words.replace("\N{NO-BREAK SPACE}", " ") == "368 g + 2 × 276 g"
    assert vessel.pours_words == ""


def test_what_was_drawn_counts_towards_the_choice(books, shelf):
    """Of 900 g chosen from the small lot 400 g are drawn: 500 g are left of it, and 940 g of the large one."""
    batch = books.plan(books.candle(), 20)
    books.choose(batch, (shelf["small"], "900 g"))
    books.draw_into(batch, (shelf["small"], "400 g"))
    assert taken(batch)[0] == {shelf["small"]: grams(500), shelf["large"]: grams(940)}

    # Chosen anew, it is what is still to be taken: 300 g of the 600 g that are left in it.
    books.choose(batch, (shelf["small"], "300 g"))
    assert taken(batch)[0] == {shelf["small"]: grams(300), shelf["large"]: grams(1140)}


def test_a_chosen_lot_that_became_too_small_is_said_and_filled_up(books, shelf):
    batch = books.plan(books.candle(), 20)
    books.choose(batch, (shelf["small"], "900 g"))
    books.draw(shelf["small"], "700 g")

    picks, need = taken(batch)

    assert picks == {shelf["small"]: grams(300), shelf["large"]: grams(1540)}
    code = shelf["small"].spaced_code
    said = f"Lot {code} was chosen for 900 g and has 300 g; the rest is suggested."
    assert [note.replace("\N{NO-BREAK SPACE}", " ") for note in need.notes] == [said]


def test_a_chosen_lot_that_may_not_be_used_any_more_is_said(books, shelf):
    batch = books.plan(books.candle(), 20)
    books.choose(batch, (shelf["small"], "900 g"))
    holding.hold(shelf["small"].pk, signature=books.sign(reason="Yellow"))

    picks, need = taken(batch)

    assert picks == {shelf["large"]: grams(1840)}
    assert "was chosen and is on hold now" in need.notes[0]
    assert not need.by_hand


def test_nothing_chosen_any_more_is_the_suggestion_again(books, shelf):
    batch = books.plan(books.candle(), 20)
    books.choose(batch, (shelf["small"], "900 g"))
    books.choose(batch, line="wax")
    assert taken(batch)[0] == {shelf["large"]: grams(1840)}


def test_what_cannot_be_taken_is_not_chosen(books, shelf):
    batch = books.plan(books.candle(), 20)
    with refused(ChoiceError, "holds 1,000.g; 1,001.g are chosen"):
        books.choose(batch, (shelf["small"], "1001 g"))
    with refused(ChoiceError, "1,841.g of wax are chosen and 1,840.g are needed"):
        books.choose(batch, (shelf["small"], "1 g"), (shelf["large"], "1840 g"))
    with refused(ChoiceError, "is fragrance, not wax"):
        books.choose(batch, (shelf["fragrance"], "10 g"), line="wax")
    old = books.receive("wax", "2 kg", expires_on=date(2026, 3, 22))
    later = books.plan(batch.version, 4, on=TUESDAY)
    books.choose(batch, (old, "100 g"))
    with refused(ChoiceError, "expired on 22 Mar 2026"):
        books.choose(later, (old, "100 g"))
    books.finish(batch, 20, without=True)
    with refused(BatchError, "is finished"):
        books.choose(batch, (shelf["small"], "10 g"))


def test_two_lines_of_one_item_share_a_chosen_lot(books):
    """500 g of wax for the candle and 500 g for its base: 900 g of one lot cannot give 500 g twice."""
    lot, other = books.receive("wax", "900 g"), books.receive("wax", "2 kg")
    lines = [("wax", "wax_share", 500_000), ("wax", "wax_share", 500_000)]
    batch = books.plan(books.formula(CEDAR, lines, fill="100 g"), 10)
    first, second = batch.version.lines.order_by("pk")
    with refused(ChoiceError, "1,000.g are chosen of it"):
        plans.choose_lots(
            batch.pk, {first.pk: {lot.pk: grams(500)}, second.pk: {lot.pk: grams(500)}}, on=TODAY
        )
    # What the second line chose is not suggested to the first.
    plans.choose_lots(batch.pk, {second.pk: {lot.pk: grams(500)}}, on=TODAY)
    plan = plan_of_batch(batch, on=TODAY, drawn={})
    by_line = [{pick.lot.pk: pick.quantity for pick in need.picks} for need in plan.needs]
    assert by_line == [{other.pk: grams(500)}, {lot.pk: grams(500)}]


def test_a_run_to_come_takes_lots_that_are_good_on_its_day(books):
    books.receive("wax", "2 kg", expires_on=date(2026, 3, 22))
    fresh = books.receive("wax", "2 kg", expires_on=date(2026, 6, 1))
    batch = books.plan(books.candle(), 10, on=TUESDAY)
    assert taken(batch)[0] == {fresh: grams(920)}


# A plan that is changed


def test_a_plan_is_moved_and_its_promises_with_it(books, shelf):
    batch = books.plan(books.candle(), 20)
    plans.replan(batch.pk, quantity=30, planned_on=TUESDAY)
    rows = Commitment.objects.filter(source=batch.code).values_list("item__name", "quantity", "needed_on")
    assert set(rows) == {
        ("wax", grams(2760), TUESDAY),
        ("fragrance", grams(240), TUESDAY),
        ("wick", 30, TUESDAY),
        ("vessel", 30, TUESDAY),
    }


def test_a_run_that_was_begun_keeps_its_plan(books, shelf):
    batch = books.plan(books.candle(), 20)
    books.draw_into(batch, (shelf["small"], "400 g"))
    with refused(BatchError, "was begun"):
        plans.replan(batch.pk, quantity=30, planned_on=TUESDAY)


def test_fewer_than_was_chosen_for_takes_no_more_than_it_needs(books, shelf):
    batch = books.plan(books.candle(), 20)
    books.choose(batch, (shelf["small"], "900 g"))
    batch = plans.replan(batch.pk, quantity=5, planned_on=TODAY)
    assert taken(batch)[0] == {shelf["small"]: grams(460)}


# Where a plan begins


def test_an_order_asks_for_what_nothing_covers_yet(books):
    """24 wanted, 10 planned: 14 to pour."""
    version = books.candle()
    order = books.order_of("Moor & Mill", (CEDAR, 24))
    books.plan(version, 10, order=order)
    line = order.lines.get()

    start = from_order(line, TODAY)

    assert start.quantity == 14
    assert start.words == "24 wanted, 10 being made; so 14 to pour"
    books.plan(version, 14, order=order)
    with pytest.raises(CannotStart, match="nothing is left to pour"):
        from_order(line, TODAY)


def test_a_run_is_only_planned_for_an_open_order_of_its_product(books):
    version = books.candle()
    other = books.formula("Rain on Slate", [("wax", "wax_share", 1_000_000)], fill="100 g")
    order = books.order_of("Moor & Mill", (CEDAR, 24))
    line = order.lines.get().pk
    when = {"planned_on": TODAY, "signature": books.sign(), "order_line_id": line}
    with refused(BatchError, "wants Cedar & Black Tea"):
        plans.plan(other, 3, **when)
    CustomerOrder.objects.update(state="called_off", closed_at=NOW)
    with refused(BatchError, "is called off"):
        plans.plan(version, 3, **when)


def test_the_version_for_a_product_is_the_latest_approved(books):
    trial = books.candle()
    assert version_for(trial.formula.item) == trial
    approved = books.formula(CEDAR, [("wax", "wax_share", 1_000_000)], fill="90 g", name="Winter")
    books.approve(approved)
    assert version_for(trial.formula.item) == approved


def test_a_lot_is_used_up_as_far_as_it_covers_its_line_alone(books, shelf):
    """1 kg at 92 g each: ten take 920 g, eleven would take 1,012 g. 80 g stay."""
    version = books.candle()
    start = from_lot(version, shelf["small"], TODAY)
    assert start.quantity == 10
    assert "with one more the lot would not be enough" in start.words


def test_a_lot_is_not_used_up_further_than_the_rest_of_the_shelf_allows(books, shelf):
    """5 kg of wax would do for 54; with 190 wicks gone ten are left."""
    books.draw(shelf["wick"], 190)
    version = books.candle()
    start = from_lot(version, shelf["large"], TODAY)
    assert (start.quantity, "wick is the limit" in start.words) == (10, True)
    books.draw(shelf["wick"], 10)
    with pytest.raises(CannotStart, match="Not one can be made of it: wick is the limit"):
        from_lot(version, shelf["large"], TODAY)


def test_a_lot_that_cannot_be_used_up_says_why(books, shelf):
    version = books.candle()
    dye = books.receive("dye", "10 g")
    with pytest.raises(CannotStart, match="uses no dye"):
        from_lot(version, dye, TODAY)
    held = holding.hold(shelf["small"].pk, signature=books.sign(reason="Yellow"))
    with pytest.raises(CannotStart, match="is on hold"):
        from_lot(version, held, TODAY)


def test_all_the_shelf_allows_with_and_without_what_others_were_promised(books, shelf):
    """6 kg of wax: 65 at 92 g. A run of twenty was promised 1,840 g of it: 4,160 g are enough for 45."""
    version = books.candle()
    assert from_shelf(version, TODAY).quantity == 65
    books.plan(version, 20)
    assert from_shelf(version, TODAY).words == "The shelf has enough for 65; wax is the limit"
    assert most_from_shelf(version, on=TODAY, spare_promises=True).quantity == 45


def test_the_same_run_planned_a_moment_ago_is_found(books):
    version = books.candle()
    batch = books.plan(version, 20)
    asked = {"planned_on": TODAY, "signature": books.sign(), "since": NOW - timedelta(minutes=10)}
    assert plans.planned_lately(version, 20, **asked) == batch
    assert plans.planned_lately(version, 21, **asked) is None
    assert plans.planned_lately(version, 20, **asked | {"planned_on": TUESDAY}) is None
    assert plans.planned_lately(version, 20, **asked | {"since": NOW + timedelta(seconds=1)}) is None


# How wide a recall would be


def test_a_recall_reaches_through_jars_and_blends_to_customers(books):
    """Of a pail: 300 g into a jar, from it 100 g into a blend; the blend and the pail into a candle each.

    The blend's two candles: one sent to Moor & Mill. The pail's three: two sent to "Harbour Hall" and "harbour hall".
    """
    pail, idle = books.receive("wax", "5 kg"), books.receive("wax", "1 kg")
    (jar,) = books.decant((pail, "300 g"))
    books.item("Lane blend", kind="wax", made_here=True)
    blend = books.plan(books.formula("Lane blend", [("wax", "wax_share", 1_000_000)]), grams(100))
    books.draw_into(blend, (jar, "100 g"))
    (blended,) = books.finish(blend, good=grams(100))
    of_blend = books.plan(books.formula(CEDAR, [("Lane blend", "wax_share", 1_000_000)], fill="50 g"), 2)
    books.draw_into(of_blend, (blended, "100 g"))
    (two,) = books.finish(of_blend, 2)
    plain = books.plan(books.formula("Plain", [("wax", "wax_share", 1_000_000)], fill="100 g"), 4)
    books.draw_into(plain, (pail, "400 g"))
    (three,) = books.finish(plain, 3, scrap={"Cracking": 1})
    books.send(two, 1, to="Moor & Mill")
    books.send(three, 1, to="Harbour Hall")
    books.send(three, 1, to="harbour hall ")

    found = widths({pail.pk, jar.pk, idle.pk})

    assert found[pail.pk] == Width(batches=3, units=5, customers=2, units_sent=3, units_here=2)
    assert found[jar.pk] == Width(batches=2, units=2, customers=1, units_sent=1, units_here=1)
    assert found[idle.pk] == Width()


def test_the_width_of_twice_the_lots_takes_the_same_queries(books, shelf, django_assert_num_queries):
    batch = books.plan(books.candle(), 2)
    books.fill(shelf | {"wax": shelf["large"]}, batch, 2)
    books.finish(batch, 2)
    # Of the lot what was drawn, poured and came of it; of what came what was drawn and poured; and four of the books:
    # what is here, what went out, what of it came back, and to whom. Where one query asks for all keys, a level fewer.
    queries = 8 if connection.vendor == "postgresql" else 9
    with django_assert_num_queries(queries):
        widths({shelf["large"].pk})
    more = [books.receive("wax", "1 kg") for _ in range(4)]
    with django_assert_num_queries(queries):
        widths({lot.pk for lot in (*more, *shelf.values())})


# When and where to buy


def missing(books, quantity, needed_on=TUESDAY, name="wax"):
    found = advice([Shortage(books.item(name), grams(quantity), needed_on)], on=TODAY)
    return found[books.item(name).pk]


def test_the_last_day_to_order_is_a_lead_time_before_it_is_needed(books):
    """Friday the 20th; needed on Tuesday the 24th; three days: by Saturday the 21st. Five: there on Wednesday."""
    books.offer("wax", "10 kg", (1, 60), lead_days=3)
    found = missing(books, 500)
    assert (found.sources[0].order_by, found.sources[0].missed) == (date(2026, 3, 21), False)
    assert found.words == "Order by Sat 21 Mar from Tollgate Wax and Wick"

    books.offer("wax", "10 kg", (1, 60), on=date(2026, 3, 2), lead_days=5)
    late = missing(books, 500)
    assert (late.sources[0].missed, late.sources[0].there_on) == (True, date(2026, 3, 25))
    assert late.words == "Ordered today it comes about Wed 25 Mar: move the run"


def test_an_order_that_brings_it_in_time_is_enough(books):
    """600 g and 10 kg to come on Monday and Wednesday: 500 g are there in time, 700 g are not."""
    books.order(("wax", 1, "600 g"), sent=day(16), expected=date(2026, 3, 23))
    books.order(("wax", 1, "10 kg"), sent=day(16), expected=date(2026, 3, 25))
    assert missing(books, 500).words == "On order: comes Mon 23 Mar"
    assert missing(books, 700).words == "On order, but comes Wed 25 Mar: move the run"
    # One that should have come already promises nothing.
    books.order(("dye", 1, "100 g"), sent=day(3), expected=date(2026, 3, 12))
    assert missing(books, 50, name="dye").covered_on is None


def test_the_lead_time_is_that_of_real_deliveries_and_a_slow_one_is_allowed_for(books):
    """Sent on the 3rd, the 10th and the 11th, there at NOW, the 20th: 17, 10 and 9 days, whatever is stated. That is 12
    days ± 4.36, and nineteen of twenty come within 12 + 1.645 × 4.36 = 19.2, so 20 are allowed for."""
    supplier = books.supplier()
    Supplier.objects.filter(pk=supplier.pk).update(lead_days=4)
    for sent in (day(3), day(10)):
        books.bring(books.order(("wax", 1, "1 kg"), sent=sent), (0, "1 kg"))
    source = missing(books, 500).sources[0]
    assert (source.lead.days, source.lead.said) == (
        4,
        "what the supplier states; two deliveries, of 17 and 10 days",
    )

    books.bring(books.order(("wax", 1, "1 kg"), sent=day(11)), (0, "1 kg"))
    needed_on = date(2026, 4, 9)
    found = missing(books, 500, needed_on)
    source = found.sources[0]
    assert (source.lead.days, source.lead.said, source.allowed_days) == (12, "3 deliveries of it", 20)
    assert (source.order_by, source.missed) == (TODAY, False)
    assert found.words == "Order by Fri 20 Mar from Tollgate Wax and Wick"
    # A day less: the usual delivery still comes in time, a slow one does not.
    found = missing(books, 500, date(2026, 4, 8))
    assert (
        found.words
        == "Order today from Tollgate Wax and Wick: comes about Wed 1 Apr, in time unless it is slow"
    )
    assert (
        missing(books, 500, date(2026, 3, 31)).words == "Ordered today it comes about Wed 1 Apr: move the run"
    )


def test_what_is_not_known_is_said(books):
    assert missing(books, 500).words == "No supplier of it is on record"
    books.receive("wax", "1 kg")
    assert missing(books, 500).words == "Order from Tollgate Wax and Wick; no lead time is on record"
    books.item("Lane blend", kind="wax", made_here=True)
    assert missing(books, 500, name="Lane blend").words == "Made here: plan a run of it first"


def test_twice_as_much_missing_takes_the_same_queries(books, django_assert_num_queries):
    for number in range(6):
        books.offer(f"Wax {number}", "10 kg", (1, 60), lead_days=3)
        books.order((f"Wax {number}", 1, "1 kg"), sent=day(16), expected=TUESDAY)
    wanted = [Shortage(books.item(f"Wax {number}"), 5, TUESDAY) for number in range(6)]
    with django_assert_num_queries(6):
        advice(wanted[:1], on=TODAY)
    with django_assert_num_queries(6):
        advice(wanted, on=TODAY)
