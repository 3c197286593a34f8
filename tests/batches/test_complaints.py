"""Complaints: which candle, narrowed where the code is lost; changed on the record, closed, erased; what they share."""

from datetime import date
from fractions import Fraction

import pytest
from django.db import DatabaseError, connection, transaction
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from batches.complaints import complaining
from batches.complaints.candidates import Gone, candidates, rank
from batches.complaints.common_lot_of import common
from batches.complaints.forms import ComplaintForm
from batches.complaints.patterns import Pattern, by_lot, by_product
from batches.models import Complaint, ComplaintChange, ComplaintPhoto
from batches.recalls import recalling
from inventory.customers import customers, retention
from inventory.customers.customers import Contact, StillOpen, customer_named
from inventory.lots.holding import release
from inventory.models import Channel, Customer
from inventory.shipments import dispatching
from inventory.shipments.dispatching import Back
from studio.web import uploads
from tests.files import picture
from tests.house import NOW, day, refused

pytestmark = pytest.mark.django_db


@pytest.fixture
def poured(books, shelf, version, agreeing):
    """Two batches of ten, the second with a wax of its own; eight of each are sold."""
    other = books.receive("wax", "2 kg", cost=10, supplier_lot="TW-99")
    lots = []
    for wax in (shelf["wax"], other):
        batch = books.plan(version, 10)
        books.fill(shelf | {"wax": wax}, batch, at=day(4))
        (lot,) = books.finish(batch, 10, at=day(5))
        books.send(lot, 8, at=day(10))
        lots.append(lot)
    return {"lots": lots, "wax": shelf["wax"], "other": other, "item": version.formula.item}


@pytest.fixture
def take(sign, poured):
    """Take down a complaint about a lot, or about nothing known but the product."""

    def make(lot=None, *, at=NOW, **said):
        item = lot.item if lot else poured["item"]
        batch = lot.outcome.batch if lot else None
        fields = {"kind": "glass", "what": "It cracked.", "item": item, "lot": lot, "batch": batch}
        return complaining.take(signature=sign(at=at), **(fields | said))

    return make


def test_a_code_on_the_jar_means_its_lot_whether_of_lot_or_batch(poured):
    lot = poured["lots"][0]

    for code in (lot.code, lot.outcome.batch.code):
        candle = complaining.candle_of(code)
        assert (candle.lot, candle.batch) == (lot, lot.outcome.batch)
    # A code of wax is no candle.
    assert complaining.candle_of(poured["wax"].code) is None


def test_a_batch_with_seconds_means_the_batch(books, shelf, version):
    batch = books.plan(version, 10)
    books.fill(shelf, batch)
    books.finish(batch, 7, 3)

    candle = complaining.candle_of(batch.code)

    assert (candle.lot, candle.batch) == (None, batch)


def test_a_mistyped_code_offers_what_is_one_slip_away(poured):
    right = poured["lots"][0].code
    wrong = right[:4] + right[5] + right[4]
    form = ComplaintForm({"kind": "glass", "what": "Cracked", "units": "1", "code": wrong})

    assert not form.is_valid()
    assert "Did you mean" in form.errors["code"][0]
    assert right in [miss.code for miss in form.misses]


def test_what_was_changed_stays_on_record_but_no_name(take, sign, maker):
    complaint = take()

    complaining.change(
        complaint.pk, signature=sign(by=maker), kind="smoke", what="Mrs Harrow says it smoked."
    )

    kept = set(ComplaintChange.objects.values_list("what", "before", "after", "by"))
    assert kept == {
        ("what it is about", "Cracked or broken vessel", "Smoke or soot", maker.pk),
        ("what happened", "", "", maker.pk),
    }


def test_saying_the_same_again_keeps_nothing(take, sign):
    complaint = take()

    complaining.change(complaint.pk, signature=sign(), kind="glass")

    assert not ComplaintChange.objects.exists()


@pytest.mark.parametrize(
    ("said", "field"),
    [
        ({"state": "closed"}, "outcome"),
        ({"state": "closed", "outcome": "replaced"}, "cause"),
        ({"happened_on": date(2026, 3, 21)}, "happened_on"),
    ],
)
def test_what_is_not_answered_is_not_closed(take, sign, said, field):
    complaint = take()

    with pytest.raises(complaining.ComplaintError) as refused:
        complaining.change(complaint.pk, signature=sign(), **said)

    assert refused.value.field == field
    complaint.refresh_from_db()
    assert (complaint.state, complaint.happened_on) == ("open", None)
    assert not ComplaintChange.objects.exists()


def test_closing_says_how_long_it_took_and_opening_again_takes_it_away(take, sign):
    complaint = take(at=day(17, 12))

    closed = complaining.change(
        complaint.pk, signature=sign(), state="closed", outcome="replaced", cause="A chip in the glass"
    )
    assert (closed.took.days, closed.took.seconds) == (3, 0)

    opened = complaining.change(complaint.pk, signature=sign(), state="open")
    assert opened.took is None


def test_injury_and_fire_are_grave(take):
    assert take(kind="injury").is_grave
    assert take(kind="burn", fire=True).is_grave
    assert not take(kind="glass").is_grave


def test_what_may_have_to_be_reported_is_marked_by_kind_and_by_words(take):
    for said in ({}, {"kind": "injury"}, {"kind": "scent", "fire": True}):
        assert take(**({"what": "See the photo."} | said)).may_be_reportable, said
    for told in ("Hot wax ran over the table.", "Smoke filled the room.", "A fire!", "She was injured."):
        told_of = take(kind="scent", what=told)
        assert (told_of.may_be_reportable, told_of.tone) == (True, "problem"), told
    harmless = take(kind="scent", what="It smells of nothing.")
    assert (harmless.may_be_reportable, harmless.tone) == (False, "attention")


def test_names_words_and_photos_can_be_erased_and_the_facts_stay(take, sign, owner, maker, poured):
    who = Customer.objects.create(name="Wilf Harrow", added_at=NOW)
    complaint = take(poured["lots"][0], customer=who, reference="W-1")
    photo = complaining.add_photo(
        complaint.pk, uploads.receive_picture("jar.png", picture()), text="Wilf's", signature=sign()
    )
    with pytest.raises(complaining.ComplaintError, match="close it first"):
        complaining.erase(complaint.pk, signature=sign())
    complaining.change(
        complaint.pk, signature=sign(), state="closed", outcome="replaced", cause="Chip", answer="Dear Wilf"
    )
    with pytest.raises(complaining.ComplaintError, match="Only the owner"):
        complaining.erase(complaint.pk, signature=sign(by=maker))

    complaining.erase(complaint.pk, signature=sign(reason="Asked for it"))

    complaint.refresh_from_db()
    photo.refresh_from_db()
    assert (complaint.customer, complaint.reference, complaint.what, complaint.answer) == (None, "", "", "")
    assert (bytes(photo.data), photo.text, photo.size) == (b"", "", 0)
    assert (complaint.lot, complaint.kind, complaint.cause) == (poured["lots"][0], "glass", "Chip")
    with pytest.raises(complaining.ComplaintError, match="erased"):
        complaining.change(complaint.pk, signature=sign(), what="Wilf wrote again")


def test_erasing_a_customer_takes_their_complaints_words_along(take, sign, poured):
    who = customer_named(Contact("Wilf Harrow"), at=NOW)
    complaint = take(poured["lots"][0], customer=who)
    with refused(StillOpen, "Complaint .* is still open"):
        customers.erase(who.pk, signature=sign())
    complaining.change(complaint.pk, signature=sign(), state="closed", outcome="advised", cause="Draught")

    customers.erase(who.pk, signature=sign())

    complaint.refresh_from_db()
    assert (complaint.customer, complaint.what, complaint.cause) == (None, "", "Draught")


def test_a_customer_of_an_open_recall_is_not_erased(books, poured, sign):
    lot = poured["lots"][0]
    market = Customer.objects.get(name="Harbour Street Market")
    recall = books.recall(lot)
    with refused(StillOpen, "Recall .* is still open"):
        customers.erase(market.pk, signature=sign())
    recalling.close(recall.pk, finding="Found.", signature=sign())

    assert customers.erase(market.pk, signature=sign()).erased_at


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE batches_complaintchange SET after = 'nothing'",
        "DELETE FROM batches_complaintchange",
        "DELETE FROM batches_complaint",
        "UPDATE batches_complaintphoto SET digest = 'x'",
        "DELETE FROM batches_complaintphoto",
    ],
)
def test_the_database_keeps_the_record(take, sign, statement):
    complaint = take()
    complaining.change(complaint.pk, signature=sign(), kind="smoke")
    complaining.add_photo(complaint.pk, uploads.receive_picture("jar.png", picture()), signature=sign())

    with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement)
    assert (ComplaintChange.objects.count(), ComplaintPhoto.objects.count()) == (1, 1)


def test_a_photo_is_kept_once(take, sign):
    complaint = take()
    file = uploads.receive_picture("jar.png", picture())
    complaining.add_photo(complaint.pk, file, signature=sign())

    with pytest.raises(complaining.ComplaintError, match="lies beside"):
        complaining.add_photo(complaint.pk, file, signature=sign())


# Which lot it may be, where the code is lost


GONE = [
    Gone(1, 30, date(2026, 3, 5)),
    Gone(2, 6, date(2026, 3, 6), same_customer=True),
    Gone(3, 2, date(2026, 2, 1), same_reference=True),
    Gone(4, 12, date(2026, 1, 10), to_a_shop=True),
    Gone(5, 50, date(2026, 1, 10)),  # before the days, and to nobody who sells on
    Gone(6, 50, date(2026, 4, 1)),  # after it was bought
    Gone(7, 50, date(2025, 10, 1), to_a_shop=True),  # no shop keeps it that long
]


@pytest.mark.parametrize(
    ("gone", "expected"),
    [
        (GONE, [(3, Fraction(1))]),
        ([each for each in GONE if not each.same_reference], [(2, Fraction(1))]),
        # 30 and 12 units fit.
        ([GONE[0], *GONE[3:]], [(1, Fraction(30, 42)), (4, Fraction(12, 42))]),
    ],
)
def test_what_is_known_for_sure_leaves_no_room_for_the_rest(gone, expected):
    found = rank(gone, bought=(date(2026, 3, 1), date(2026, 3, 31)), others={})

    assert [(one.lot_id, one.share) for one in found] == expected


def test_every_candidate_says_why():
    (one, _) = rank([GONE[0], GONE[3]], bought=(date(2026, 3, 1), date(2026, 3, 31)), others={1: 2})

    assert one.reasons == ["30 went out in these days", "2 other complaints about it"]


def test_candidates_are_read_from_what_was_sent(books, take, poured, sign):
    first, second = poured["lots"]
    market = Channel.objects.get(name__iexact="market")
    take(second)

    found = candidates(take(channel=market, sold_from=date(2026, 3, 9), sold_until=date(2026, 3, 12)))

    # Eight of each went out; another complaint speaks for the second.
    assert [(one.lot, one.share) for one in found] == [(second, Fraction(1, 2)), (first, Fraction(1, 2))]
    assert not candidates(take(sold_until=date(2026, 3, 9)))


# What complaints share


def test_complaints_about_one_batch_point_at_its_own_wax(take, poured):
    _, second = poured["lots"]
    for _ in range(3):
        take(second)
    unknown = take()

    found = common(Complaint.objects.with_candle(), same_products=False)

    assert (found.sent, list(found.unknown)) == (16, [unknown])
    best = found.rows[0]
    assert list(best.lots) == [poured["other"]]
    # All three complaints, five other jars with it, eight without: C(8,3) of C(16,3) ways.
    shared = best.shared
    assert (shared.with_it, shared.without, shared.others_with, shared.others_without) == (3, 0, 5, 8)
    assert shared.chance == Fraction(56, 560)
    # What is in every jar says nothing, and fragrance, wick and vessel cannot be told apart.
    assert (len(found.rows), len(found.rows[1].lots), found.rows[1].shared.chance) == (2, 3, 1)
    assert "Three complaints can hardly tell" in found.sentence


def test_comparing_twice_the_complaints_takes_the_same_queries(take, poured):
    def asked():
        with CaptureQueriesContext(connection) as context:
            common(Complaint.objects.with_candle(), same_products=False)
        return len(context)

    take(poured["lots"][0])
    first = asked()
    for _ in range(4):
        take(poured["lots"][1])

    assert asked() == first


def test_nobody_whose_complaint_or_recall_is_open_is_counted_as_over(take, poured, books):
    customer = Customer.objects.get(name="Harbour Street Market")
    in_august = date(2026, 8, 1)
    assert [each.customer for each in retention.due(2, in_august)] == [customer]

    recall = books.recall(poured["wax"])
    assert retention.due(2, in_august) == []
    recalling.close(recall.pk, finding="Nothing", signature=books.sign())
    # A complaint of nobody known keeps nobody.
    take(poured["lots"][0])
    assert len(retention.due(2, in_august)) == 1
    take(poured["lots"][0], customer=customer)
    assert retention.due(2, in_august) == []


def test_days_are_those_of_the_studio_s_clock(take, poured, sign, books):
    # 19:00 in Greenwich on the 20th is eight o'clock the next morning in Auckland.
    evening, next_day = day(20, 19), date(2026, 3, 21)
    with timezone.override("Pacific/Auckland"):
        told = take(poured["lots"][0], at=evening, happened_on=next_day)
        recall = books.recall(poured["wax"], at=evening, drill=True)
        party = recall.parties.first()
        recalling.answer(party.pk, "told", on=next_day, signature=sign(at=evening, recorded=evening))
        with refused(recalling.RecallError, "before the recall"):
            recalling.answer(
                party.pk, "told", on=date(2026, 3, 20), signature=sign(at=evening, recorded=evening)
            )

    assert told.happened_on == next_day


# What comes back


def test_a_rate_needs_enough_that_was_sent(poured):
    item = poured["item"]

    assert Pattern(item, 3, 1_500).per_thousand == 2
    assert Pattern(item, 3, 1_500).says == "a handful: it may be chance"
    assert Pattern(item, 7, 1_500).says == ""
    assert Pattern(item, 1, 99).per_thousand is None
    assert "too few" in Pattern(item, 1, 99).says
    assert "more than the books say" in Pattern(item, 3, 2).says
    # Wilson 1927 for 3 of 1,500, by an independent calculator (from memory of the formula): 0.68 to 5.86 in a thousand.
    assert (round(Pattern(item, 3, 1_500).low, 2), round(Pattern(item, 3, 1_500).high, 2)) == (0.68, 5.86)


def test_complaints_are_counted_by_product_and_by_lot(take, poured):
    first, second = poured["lots"]
    take(second)
    take(second)
    take(batch=first.outcome.batch)
    take()

    (product,) = by_product()
    assert (product.subject, product.complaints, product.sent) == (poured["item"], 4, 16)
    assert [(each.subject, each.complaints, each.sent) for each in by_lot()] == [
        (second, 2, 8),
        (first.outcome.batch, 1, 8),
    ]


def test_what_came_back_was_had_by_somebody_unless_it_is_for_sale_again(take, poured, books, sign):
    first, second = poured["lots"]
    take(first)
    take(batch=second.outcome.batch)

    def back(lot, quantity):
        dispatch = lot.movements.get(kind="dispatched").posting.dispatch
        return dispatching.take_back(dispatch.pk, [Back(lot.pk, quantity)], signature=sign())[0]

    def had():
        (product,) = by_product()
        return {each.subject: each.sent for each in (product, *by_lot())}

    unsold = back(first, 3)
    back(second, 2)
    assert had() == {poured["item"]: 16, first: 8, second.outcome.batch: 8}

    # Three stood on a stall and are sold again: one to somebody by now. The two that cracked stay counted.
    release(unsold.pk, signature=sign(reason="As new"))
    books.send(unsold, 1)
    assert had() == {poured["item"]: 14, first: 6, second.outcome.batch: 8}

    found = common(Complaint.objects.with_candle(), same_products=False)
    assert found.sent == 14
    wax = next(row.shared for row in found.rows if poured["other"] in row.lots)
    # Of eight jars with the other wax one is complained of, of six without one.
    assert (wax.with_it, wax.without, wax.others_with, wax.others_without) == (1, 1, 7, 5)
