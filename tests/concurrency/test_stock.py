"""Two people at one lot, count, document or posting: each verb waits for the other, and judges by what it finds then."""

from datetime import timedelta

import pytest

from inventory.counting import counting
from inventory.deliveries import late_costs
from inventory.documents import services
from inventory.ledger import bulk_books
from inventory.ledger.bulk_books import Event, Opening
from inventory.lots import holding, moving, write_offs
from inventory.lots.moving import Making, Taking
from inventory.models import (
    Count,
    CountLine,
    Document,
    DocumentRecord,
    Grade,
    HoldRecord,
    Lot,
    LotChange,
    Movement,
    OneOff,
    Override,
    PeriodCost,
    Posting,
    Reason,
)
from inventory.replenishment import one_offs
from studio.core.days import first_instant_after
from studio.web import uploads
from tests.concurrency.overlap import names, overlapping, twice
from tests.files import pdf
from tests.house import TODAY, day, grams, money

pytestmark = pytest.mark.django_db(transaction=True)
AFTER_THE_FIRST = first_instant_after(day(1).date())


def periods():
    return [(cost.lot, cost.value) for cost in PeriodCost.objects.select_related("lot")]


# The ledger


def test_two_draws_of_the_last_of_a_lot(books, wax, sign):
    other = books.receive("wax", "5 kg", cost=50)

    results = twice(lambda: moving.draw([Taking(wax.pk, grams(6_000))], signature=sign()))

    assert results == ("Posting", "LotShort")
    assert (books.of(wax), books.of(other)) == ((grams(4_000), money(40)), (grams(5_000), money(50)))


def test_a_posting_is_reversed_by_one_of_two(books, wax):
    posting, _ = books.draw(wax, "1 kg"), books.draw(wax, "2 kg")

    assert twice(lambda: books.reverse(posting)) == ("Posting", "CannotReverse")
    assert books.of(wax) == (grams(8_000), money(80))


def test_nobody_posts_into_a_day_that_is_being_closed(books, wax):
    results = overlapping(lambda: books.close(day(1).date()), lambda: books.draw(wax, "1 kg", at=day(1)))

    assert names(results) == ("Closing", "BooksClosed")
    assert books.of(wax) == (grams(10_000), money(100))


def test_a_closing_counts_what_is_being_posted(books, wax):
    posting, closed = overlapping(
        lambda: books.draw(wax, "1 kg", at=day(1)), lambda: books.close(day(1).date())
    )

    assert posting.kind == "draw"
    assert [(row.quantity, row.value) for row in closed.stock.all()] == [(grams(9_000), money(90))]


def test_what_is_reversed_while_its_day_is_being_closed_stands_after_it(books, wax):
    posting = books.draw(wax, "1 kg", at=day(1))

    closed, reversal = overlapping(lambda: books.close(day(1).date()), lambda: books.reverse(posting))

    assert closed.until == AFTER_THE_FIRST
    assert reversal.happened_at == AFTER_THE_FIRST
    assert books.of(wax) == (grams(10_000), money(100))


def test_no_lot_is_opened_in_a_day_that_is_being_closed(books, wax, sign):
    lot = Lot(code="OLD7", item=wax.item, grade=Grade.FIRST, arrived_at=day(1))

    results = overlapping(
        lambda: books.close(day(1).date()),
        lambda: bulk_books.open_lots([Opening(lot, grams(100), money(1))], sign()),
    )

    assert names(results) == ("Closing", "BooksClosed")
    assert list(Lot.objects.all()) == [wax]


def earlier(lot, amount, at, sign):
    return bulk_books.post_earlier([Event(lot.pk, Movement.Kind.DRAWN, -grams(amount), at)], sign())


def test_nothing_earlier_is_brought_into_a_day_that_is_being_closed(books, wax, sign):
    results = overlapping(lambda: books.close(day(1).date()), lambda: earlier(wax, 1_000, day(1), sign))

    assert names(results) == ("Closing", "BooksClosed")
    assert books.of(wax) == (grams(10_000), money(100))


def test_what_is_brought_in_of_earlier_counts_what_is_being_drawn(books, wax, sign):
    results = overlapping(lambda: books.draw(wax, "6 kg"), lambda: earlier(wax, 6_000, day(20), sign))

    assert names(results) == ("Posting", "LotShort")
    assert books.of(wax) == (grams(4_000), money(40))


def test_a_draw_or_a_dispatch_is_marked_as_one_off_by_one_of_two(books, wax, sign):
    posting = books.draw(wax, "1 kg")

    results = twice(lambda: one_offs.mark(posting.pk, one_off=True, signature=sign(reason="A wedding")))

    assert results == ("OneOff", "OneOffError")
    assert OneOff.objects.get().posting == posting


# Cost


def test_a_late_cost_goes_to_where_the_goods_are_by_then(books, wax, sign):
    """10.00 on 10 kg of which half is being drawn: 5.00 to the lot, 5.00 to the period."""
    results = overlapping(lambda: books.draw(wax, "5 kg"), lambda: bill(wax, sign))

    assert names(results) == ("Posting", "LateCost")
    assert books.of(wax) == (grams(5_000), money(55))
    assert periods() == [(wax, money(5))]


def bill(lot, sign):
    more = {"amount": money(10), "spread": "value", "reference": "D-88"}
    return late_costs.add_cost(lot.delivery_line.delivery, **more, signature=sign(reason="Duty"))


def test_a_late_cost_waits_for_what_is_drawn_from_a_jar_that_was_filled_meanwhile(
    books, wax, sign, monkeypatch
):
    """At the first look the jar is not there yet. 5 kg in it, 2 kg of them being drawn: of 10.00, 5.00 stay with the
    pail, 3.00 go to the jar and 2.00 to the period."""
    (jar,) = books.decant((wax, "5 kg"))
    looks, family = [], late_costs._family

    def first_without_the_jar(roots):
        looks.append(roots)
        return family(roots) - ({jar.pk} if len(looks) == 1 else set())

    monkeypatch.setattr(late_costs, "_family", first_without_the_jar)

    results = overlapping(lambda: books.draw(jar, "2 kg"), lambda: bill(wax, sign))

    assert names(results) == ("Posting", "LateCost")
    assert (books.of(wax), books.of(jar)) == ((grams(5_000), money(55)), (grams(3_000), money(33)))
    assert periods() == [(jar, money(2))]


def test_a_cost_that_is_corrected_is_shared_with_what_is_being_drawn(books, wax, sign):
    """4.00 more on 10 kg of which half is being drawn."""
    results = overlapping(
        lambda: books.draw(wax, "5 kg"),
        lambda: moving.revalue([(wax, grams(10_000), money(4))], signature=sign()),
    )

    assert names(results) == ("Posting", "Posting")
    assert books.of(wax) == (grams(5_000), money(52))
    assert periods() == [(wax, money(2))]


# Lots


def test_a_pail_is_emptied_of_what_is_left_when_it_is_poured(books, wax):
    """4 kg are being drawn: of 6 kg, 5.5 are poured and the rest clings to the pail; the jar is worth 60.00."""
    _, (jar,) = overlapping(
        lambda: books.draw(wax, "4 kg"), lambda: books.decant((wax, "5.5 kg"), emptied=True)
    )

    assert (books.of(wax), books.of(jar)) == ((0, 0), (grams(5_500), money(60)))


def test_an_expiry_that_is_being_corrected_stays_when_the_lot_is_made_again(books, wax, sign):
    corrected = TODAY + timedelta(days=90)
    again = Making(wax.item, Grade.FIRST, grams(100), money(1), TODAY + timedelta(days=365), again=wax.pk)

    results = overlapping(
        lambda: holding.relabel(wax.pk, expires_on=corrected, signature=sign()),
        lambda: moving.make([again], signature=sign()),
    )

    assert names(results) == ("Lot", "tuple")
    assert books.of(wax) == (grams(10_100), money(101))
    assert wax.expires_on == corrected


def test_of_two_who_looked_at_a_lot_one_puts_it_right(books, wax, sign):
    seen = write_offs.seen_of(wax)

    results = twice(lambda: write_offs.put_right(wax.pk, grams(4_536), signature=sign(), seen=seen))

    assert results == ("Posting", "ChangedSince")
    assert books.of(wax) == (grams(4_536), money(100))


def test_a_lot_is_held_by_one_of_two(wax, sign):
    assert twice(lambda: holding.hold(wax.pk, signature=sign(reason="Water in it"))) == ("Lot", "AlreadySo")
    assert HoldRecord.objects.count() == 1


def test_several_lots_are_held_once(both, sign):
    lots = [lot.pk for lot in both]

    first, second = overlapping(
        *[lambda: holding.hold_all(lots, signature=sign(reason="Recall"))] * 2  # each holds what is free
    )

    assert (len(first), second) == (2, [])
    assert sorted(HoldRecord.objects.values_list("lot", flat=True)) == sorted(lots)


def overrides():
    return list(Override.objects.order_by("pk").values_list("until", flat=True))


@pytest.mark.parametrize("why", ["owner decides", "on hold", "all on hold"])
def test_a_hold_ends_a_use_that_is_being_allowed(books, wax, sign, why):
    signature = sign(reason="Water in it")
    if why == "owner decides":
        holding.hold(wax.pk, signature=sign(reason="A smell"))
    else:
        holding.relabel(wax.pk, expires_on=TODAY - timedelta(days=1), signature=sign())
    hold = {
        "owner decides": lambda: holding.hold_for_owner([wax.pk], signature=signature),
        "on hold": lambda: holding.hold(wax.pk, signature=signature),
        "all on hold": lambda: holding.hold_all([wax.pk], signature=signature),
    }

    overlapping(
        lambda: holding.allow_use(wax.pk, TODAY, on=TODAY, signature=sign(reason="It is fine")), hold[why]
    )

    wax.refresh_from_db()
    assert (wax.held, wax.allowed_until, overrides()) == (True, None, [TODAY, None])


def test_nothing_is_allowed_of_a_lot_that_is_being_released(wax, sign):
    holding.hold(wax.pk, signature=sign(reason="A smell"))

    results = overlapping(
        lambda: holding.release(wax.pk, signature=sign(reason="It is gone")),
        lambda: holding.allow_use(wax.pk, TODAY, on=TODAY, signature=sign(reason="It is fine")),
    )

    assert names(results) == ("Lot", "CannotAllow")
    assert overrides() == []


def test_what_was_allowed_is_ended_by_one_of_two(wax, sign):
    holding.hold(wax.pk, signature=sign(reason="A smell"))
    holding.allow_use(wax.pk, TODAY, on=TODAY, signature=sign(reason="It is fine"))

    assert twice(lambda: holding.end_allowing(wax.pk, signature=sign())) == ("Lot", "AlreadySo")
    assert overrides() == [TODAY, None]


def test_of_two_labels_the_second_says_what_the_first_wrote(wax, sign):
    overlapping(
        *[
            lambda place=place: holding.relabel(wax.pk, place=place, signature=sign())
            for place in ("Shelf 1", "Shelf 2")
        ]
    )

    written = LotChange.objects.order_by("pk").values_list("before", "after")
    assert list(written) == [("", "Shelf 1"), ("Shelf 1", "Shelf 2")]


def test_a_tare_is_written_once(wax, sign):
    assert twice(lambda: holding.note_tare(wax.pk, grams(412), signature=sign())) == ("Lot", "Lot")
    assert LotChange.objects.get().what == "empty container"


# Counts


def test_a_lot_comes_on_one_count_only(books, wax):
    assert twice(books.start_count) == ("Count", "CannotCount")
    assert Count.objects.count() == 1


def test_a_lot_is_added_to_one_of_two_counts(books, wax, sign):
    counts = [books.start_count(items=[books.receive(name, 10).item.name]) for name in ("wick", "label")]

    results = overlapping(
        *[lambda count=count: counting.add_lot(count.pk, wax.pk, signature=sign()) for count in counts]
    )

    assert names(results) == ("CountLine", "CannotCount")
    assert CountLine.objects.get(lot=wax).count == counts[0]


def test_a_count_is_posted_by_one_of_two(books, wax):
    count = books.start_count()
    books.look(count, (wax, "9.9 kg"))

    assert twice(lambda: books.post_count(count)) == ("Count", "CountEnded")
    assert books.of(wax)[0] == grams(9_900)


def test_lots_are_counted_with_all_of_them_locked_at_once(books, both, pause, sign, monkeypatch):
    """The second lot first, then the first, each with a tare that is kept on it."""
    count = books.start_count()
    looks = [counting.Look(lot.pk, 1_000, tare_ug=grams(50)) for lot in reversed(both)]
    monkeypatch.setattr(holding, "note_tare", pause.after(holding.note_tare))

    results = overlapping(
        lambda: counting.count_lots(count.pk, looks, signature=sign()),
        lambda: moving.draw([Taking(lot.pk, 1) for lot in both], signature=sign()),
        pause,
    )

    assert names(results) == ("list", "Posting")
    assert [(line.lot, line.counted) for line in count.lines.order_by("lot__pk")] == [
        (lot, 1_000) for lot in both
    ]
    assert [books.of(lot)[0] for lot in both] == [999, 999]


def test_no_count_is_posted_whose_difference_is_being_changed(books, wax, sign):
    """100 g were missing on the 15th; that 50 g were drawn on the 10th is entered now."""
    count = books.start_count()
    books.look(count, (wax, "9.9 kg"), at=day(15))
    line = count.lines.get()
    why = Reason.objects.get(kind=Reason.Kind.COUNT, words="Cause not known")
    counting.explain(count.pk, {line.pk: (why, "")}, signature=sign())

    results = overlapping(
        lambda: books.draw(wax, "50 g", at=day(10)),
        lambda: counting.post(count.pk, signature=sign(), shown={line.pk: -grams(100)}),
    )

    assert names(results) == ("Posting", "CountedMeanwhile")
    assert (Posting.objects.filter(kind="count").count(), books.of(wax)[0]) == (0, grams(9_950))


# Documents


def test_the_same_file_lies_beside_an_item_once(wax, sign):
    file, paper = uploads.receive("sheet.pdf", pdf("wax")), services.Paper(Document.Kind.SAFETY)

    results = twice(lambda: services.add(wax.item_id, paper, file, signature=sign()))

    assert results == ("Document", "AlreadyThere")
    assert Document.objects.count() == 1


def test_a_document_is_withdrawn_by_one_of_two(books, wax, sign):
    sheet = books.paper("wax")

    assert twice(lambda: services.withdraw(sheet.pk, signature=sign())) == ("Document", "AlreadySo")
    assert DocumentRecord.objects.get().document == sheet
