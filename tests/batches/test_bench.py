"""What happens at the bench: one entry, one posting, however often it is sent, by whom and when."""

from dataclasses import replace
from datetime import date, timedelta
from uuid import uuid4

import pytest
from django.db import IntegrityError, transaction
from django.db.utils import DatabaseError

from batches import checks
from batches.bench import entries as bench
from batches.bench.state import allowed_off, bench_state
from batches.formulas.cautions import ALWAYS, UNTESTED
from batches.models import BatchNote, BenchEntry, FormulaLine, Reading
from batches.planning import plans
from batches.production import runs
from batches.production.meanwhile import Meanwhile
from inventory.ledger import books as stock
from inventory.lots import holding
from inventory.models import Item, Movement, Posting
from studio.core.durations import clock
from studio.models import Studio
from studio.web import uploads
from tests.files import phone_photo
from tests.house import NOW, TODAY, base, day, grams, refused

pytestmark = pytest.mark.usefixtures("agreeing")


@pytest.fixture
def batch(books, version):
    """Ten candles: 920 g of wax, 80 g of fragrance, ten wicks, ten vessels."""
    # Some days ago, so that the tablet may have entries from before today.
    then = replace(books.sign(day(10)), recorded_at=day(10))
    return plans.plan(version, 10, planned_on=TODAY, signature=then)


def weigh(books, batch, lot, gross, tare="0 g", **more):
    weights = {"gross_ug": base(gross), "tare_ug": base(tare)}
    quantity = f"{(weights['gross_ug'] - weights['tare_ug']) // 10**6} g"
    return books.bench(batch, "draw", lot=lot, quantity=quantity, **weights, **more)


def test_what_the_scale_shows_less_the_vessel_is_drawn(books, shelf, batch):
    entry = weigh(books, batch, shelf["wax"], "1450 g", "530 g")

    assert books.of(shelf["wax"]) == (grams(9080), 45_400_000)
    assert (entry.gross_ug, entry.tare_ug, entry.line.item.name) == (grams(1450), grams(530), "wax")
    batch.refresh_from_db()
    assert batch.state == "started"
    assert plans.drawn_by_line(batch) == {entry.line_id: grams(920)}


def test_an_entry_sent_again_is_posted_once(books, shelf, batch):
    key = uuid4()
    first = weigh(books, batch, shelf["wax"], "920 g", key=key)
    again = weigh(books, batch, shelf["wax"], "920 g", key=key)

    assert again == first
    assert Posting.objects.filter(kind="draw").count() == 1
    assert books.of(shelf["wax"])[0] == grams(9080)


def test_another_content_under_the_same_key_is_refused(books, shelf, batch, maker):
    key = uuid4()
    first = weigh(books, batch, shelf["wax"], "920 g", key=key)
    other = books.plan(batch.version, 2)

    for act in (
        lambda: weigh(books, batch, shelf["wax"], "921 g", key=key),
        lambda: weigh(books, other, shelf["wax"], "920 g", key=key),
        lambda: weigh(books, batch, shelf["wax"], "920 g", key=key, by=maker),
    ):
        with refused(bench.BenchClash, "saved before") as caught:
            act()
        assert caught.value.entry == first


def test_a_tablet_that_did_not_know_of_anothers_weight_is_asked_before_it_is_too_much(
    books, shelf, batch, maker
):
    weigh(books, batch, shelf["wax"], "500 g", by=maker)

    # 420 g make it what is wanted, and within a step of the scale more.
    weigh(books, batch, shelf["wax"], "421 g", seen=0)
    with refused(
        Meanwhile, r"Meanwhile 921.g went in already, the last by .*it would be 922.g, where 920.g are wanted"
    ):
        weigh(books, batch, shelf["wax"], "1 g", seen=grams(500))

    assert books.of(shelf["wax"])[0] == grams(9079)
    # It went in as well; and whoever knew is not asked.
    weigh(books, batch, shelf["wax"], "1 g", seen=grams(500), as_well=True)
    weigh(books, batch, shelf["wax"], "10 g", seen=grams(922))
    assert books.of(shelf["wax"])[0] == grams(9068)


def test_what_went_into_another_pot_is_not_too_much_for_this_one(books, shelf):
    """Two pours of five: 460 g of wax each."""
    batch = books.plan(books.candle(pot_ug=grams(500)), 10)
    weigh(books, batch, shelf["wax"], "460 g", pour=1)

    weigh(books, batch, shelf["wax"], "460 g", pour=2, seen=0)
    with refused(Meanwhile, "460.g went in already"):
        weigh(books, batch, shelf["wax"], "460 g", pour=2, seen=0)


def test_gross_less_tare_must_be_what_was_taken(books, shelf, batch):
    with refused(plans.BatchError, "Gross less tare"):
        books.bench(batch, "draw", lot=shelf["wax"], quantity="920 g", gross_ug=grams(920), tare_ug=grams(1))
    with refused(plans.BatchError, "Gross less tare"):
        books.bench(batch, "draw", lot=shelf["wax"], quantity="920 g", gross_ug=grams(920))
    with refused(plans.BatchError, "Choose a lot"):
        books.bench(batch, "draw")


def test_several_lots_make_one_line(books, shelf, batch):
    second = books.receive("wax", "5 kg", cost=30)
    weigh(books, batch, shelf["wax"], "500 g")
    weigh(books, batch, second, "420 g")

    line = batch.version.lines.get(item__name="wax").pk
    assert plans.drawn_by_line(batch) == {line: grams(920)}
    assert {draw.movement.lot_id for draw in batch.draws.all()} == {shelf["wax"].pk, second.pk}


def test_more_than_the_books_held_is_booked_as_found_when_the_bench_says_so(books, batch):
    # Design: the scale says 128 g of a jar the books gave 120 g; 8 g are found in the same posting.
    jar = books.receive("fragrance", "120 g", cost="6.00")
    key = uuid4()
    with refused(stock.LotShort, "holds 120.g by the books; 128.g was asked") as caught:
        weigh(books, batch, jar, "128 g", key=key)
    assert caught.value.short == grams(8)

    # Nothing stayed behind, so the corrected entry may come under the same key.
    entry = weigh(books, batch, jar, "128 g", key=key, book_found=True)

    kinds = dict(entry.posting.movements.values_list("kind", "quantity"))
    assert kinds == {Movement.Kind.FOUND: grams(8), Movement.Kind.DRAWN: -grams(128)}
    assert books.of(jar) == (0, 0)
    assert list(Posting.objects.to_review()) == [entry.posting]


@pytest.mark.parametrize("why", ["held", "expired", "another item"])
def test_a_lot_that_may_not_be_used_is_stopped(books, shelf, batch, why):
    if why == "held":
        lot = shelf["wax"]
        holding.hold(lot.pk, signature=books.sign(reason="Specks"))
    elif why == "expired":
        lot = books.receive("wax", "1 kg", cost=5, expires_on=date(2026, 3, 19))
    else:
        lot = shelf["fragrance"]
    with refused(stock.LotNotUsable, {"held": "on hold", "expired": "expired"}.get(why, "is fragrance, not")):
        weigh(books, batch, lot, "920 g", line="wax")
    assert not BenchEntry.objects.exists()


def test_it_happened_when_it_was_entered_and_is_recorded_when_it_arrives(books, shelf, batch):
    entry = weigh(books, batch, shelf["wax"], "920 g", at=day(19, 15))

    assert (entry.at, entry.recorded_at) == (day(19, 15), NOW)
    assert (entry.posting.happened_at, entry.posting.recorded_at) == (day(19, 15), NOW)


def test_what_the_books_cannot_have_then_happened_when_it_arrived(books, batch):
    lot = books.receive("wax", "1 kg", cost=5, at=day(20, 11))

    entry = weigh(books, batch, lot, "920 g", at=day(20, 10))

    assert entry.at == day(20, 10)
    assert entry.posting.happened_at == NOW


def test_a_lot_that_expired_while_the_network_was_away_was_used_in_time(books, batch):
    lot = books.receive("wax", "1 kg", cost=5, expires_on=date(2026, 3, 19))

    entry = weigh(books, batch, lot, "920 g", at=day(19, 15))

    assert entry.posting.happened_at == day(19, 15)


def test_a_clock_that_was_set_meanwhile_puts_nothing_before_the_plan(books, shelf, batch):
    entry = weigh(books, batch, shelf["wax"], "920 g", at=day(9))

    assert (entry.at, entry.posting.happened_at) == (day(9), NOW)


def test_a_slip_of_the_unit_is_refused(books, shelf, batch):
    with pytest.raises(plans.BatchError, match=r"More than 2,000,000.g of wax is not expected at once"):
        weigh(books, batch, shelf["wax"], "2000001 g", book_found=True)

    assert books.of(shelf["wax"])[0] == grams(10_000)
    assert not BenchEntry.objects.exists()


def test_nothing_is_taken_back_at_the_bench_once_the_run_is_over(books, shelf, batch):
    an_hour_ago = NOW - timedelta(hours=1)
    entry = weigh(books, batch, shelf["wax"], "920 g", at=an_hour_ago)
    books.finish(batch, good=10, without=True, at=an_hour_ago)

    with pytest.raises(plans.BatchError, match="Put it right on the batch's page"):
        books.bench(batch, "undo", takes_back=entry.key)
    with pytest.raises(plans.BatchError, match="noted on the batch's page"):
        books.bench(batch, "reading", reading="pour", temperature_mc=400_000)

    assert books.of(shelf["wax"])[0] == grams(9080)


def test_a_run_of_which_all_was_taken_back_is_planned_again(books, batch):
    slip = books.bench(batch, "reading", reading="pour", temperature_mc=60_000)
    books.bench(batch, "undo", takes_back=slip.key)

    batch.refresh_from_db()
    assert batch.state == "planned"


def test_the_last_step_is_taken_back_whole(books, shelf, batch):
    before = books.of(shelf["wax"])
    entry = weigh(books, batch, shelf["wax"], "920 g")
    undo = books.bench(batch, "undo", takes_back=entry.key)

    assert books.of(shelf["wax"]) == before
    assert undo.takes_back == entry
    assert (undo.posting.reverses, undo.posting.reason) == (entry.posting, bench.TAKEN_BACK)
    assert plans.drawn_by_line(batch) == {}
    for again in (entry.key, undo.key, uuid4()):
        with refused(plans.BatchError, "before, by Maren" if again == entry.key else "not saved here"):
            books.bench(batch, "undo", takes_back=again)


def test_taking_back_is_done_once_too(books, shelf, batch):
    entry = weigh(books, batch, shelf["wax"], "920 g")
    key = uuid4()

    first = books.bench(batch, "undo", takes_back=entry.key, key=key)

    assert books.bench(batch, "undo", takes_back=entry.key, key=key) == first
    assert Posting.objects.filter(kind="reversal").count() == 1


def test_what_was_put_right_on_the_page_is_not_taken_back_at_the_bench(books, shelf, batch):
    entry = weigh(books, batch, shelf["wax"], "920 g")
    books.correct(entry.posting, (shelf["wax"], "900 g"))

    with refused(plans.BatchError, "put right on the batch's page"):
        books.bench(batch, "undo", takes_back=entry.key)


def test_a_reading_that_was_taken_back_stays_and_no_longer_counts(books, batch):
    entry = books.bench(batch, "reading", reading="melt", temperature_mc=185_000)
    books.bench(batch, "undo", takes_back=entry.key)
    books.bench(batch, "reading", reading="melt", temperature_mc=85_000)

    assert Reading.objects.count() == 2
    assert [reading.temperature_mc for reading in batch.readings.standing()] == [85_000]


def test_a_reading_struck_out_on_the_page_is_not_taken_back_at_the_bench(books, studio, owner, batch):
    entry = books.bench(batch, "reading", reading="melt", temperature_mc=185_000)
    runs.strike_reading(entry.reading.pk, signature=books.sign(reason="Typed 185 for 85"))

    with refused(plans.BatchError, "struck out on the batch's page"):
        books.bench(batch, "undo", takes_back=entry.key)

    told = bench_state(batch, studio, owner, NOW)
    assert told["readings"] == []
    assert [(each["stands"], each["fate"]) for each in told["entries"]] == [(False, "put right")]


def test_a_reading_taken_back_at_the_bench_is_not_struck_out_too(books, batch):
    entry = books.bench(batch, "reading", reading="melt", temperature_mc=185_000)
    books.bench(batch, "undo", takes_back=entry.key)

    with refused(plans.BatchError, "struck out or taken back already"):
        runs.strike_reading(entry.reading.pk, signature=books.sign(reason="Typed 185 for 85"))


def test_a_reading_says_of_which_pour_it_is_and_the_room_of_none(books, studio, owner, batch):
    second = books.bench(batch, "reading", reading="melt", temperature_mc=85_000, pour=2)
    books.bench(batch, "reading", reading="room", temperature_mc=19_000, pour=1)
    runs.take_reading(batch.pk, "pour", 60_000, note="", signature=books.sign())

    told = bench_state(batch, studio, owner, NOW)["readings"]
    assert {(each["kind"], each["pour"]) for each in told} == {("melt", 2), ("room", None), ("pour", None)}
    assert {each["entry"] for each in told if each["kind"] == "melt"} == {str(second.key)}


def test_notes_times_and_photos_are_kept(books, batch):
    books.bench(batch, "note", text="Draught from the door", at=day(20, 9))
    books.bench(batch, "note", note_kind="stirred", seconds=125)
    taken = uploads.receive("pot.jpg", phone_photo())
    books.bench(batch, "photo", photo=taken, text="The pot")

    notes = list(batch.notes.values_list("kind", "seconds", "text"))
    assert notes == [("note", None, "Draught from the door"), ("stirred", 125, "")]
    photo = batch.photos.get()
    assert b"secret" not in bytes(photo.data)
    assert (photo.text, photo.media_type, photo.size) == ("The pot", "image/jpeg", len(photo.data))
    for kind, words in (("note", "Write the note"), ("photo", "missing"), ("reading", "Enter a temperature")):
        with refused(plans.BatchError, words):
            books.bench(batch, kind)


def test_a_finished_batch_takes_no_more_material_but_remembers(books, shelf, batch):
    books.fill(shelf, batch, 10)
    books.finish(batch, 10)

    with refused(plans.BatchError, "went in all the same, open it again on its page"):
        weigh(books, batch, shelf["wax"], "10 g")
    books.bench(batch, "note", text="Smooth tops")
    assert batch.notes.get().text == "Smooth tops"


def test_the_database_lets_no_entry_be_changed(books, shelf, batch):
    entry = weigh(books, batch, shelf["wax"], "920 g")
    for act in (
        lambda: BenchEntry.objects.filter(pk=entry.pk).update(gross_ug=1),
        lambda: BenchEntry.objects.filter(pk=entry.pk).delete(),
    ):
        with pytest.raises((DatabaseError, IntegrityError)), transaction.atomic():
            act()


def test_check_books_notices_a_weight_that_was_not_drawn(books, shelf, batch):
    entry = weigh(books, batch, shelf["wax"], "920 g")
    with transaction.atomic():
        BenchEntry.objects.create(
            key=uuid4(),
            digest="",
            batch=batch,
            kind="draw",
            gross_ug=grams(5),
            tare_ug=0,
            posting=books.draw_into(batch, (shelf["fragrance"], "4 g")),
            by=books.by,
            at=NOW,
            recorded_at=NOW,
        )
        BenchEntry.objects.create(
            key=uuid4(),
            digest="",
            batch=batch,
            kind="undo",
            takes_back=entry,
            by=books.by,
            at=NOW,
            recorded_at=NOW,
        )
        said = list(checks.bench_weights_fit())
        transaction.set_rollback(True)
    assert said == [
        f"Batch {batch.code}: what was weighed at the bench is not what was drawn.",
        f"Batch {batch.code}: what was taken back at the bench still counts.",
    ]


class TestState:
    """What the tablet is told."""

    @pytest.fixture(autouse=True)
    def _studio(self, studio):
        self.studio = studio

    def state(self, batch, now=NOW):
        return bench_state(type(batch).objects.get(pk=batch.pk), Studio.objects.get(), batch.planned_by, now)

    def line(self, state, name):
        return next(line for line in state["lines"] if line["name"] == name)

    def test_lines_come_as_one_works_and_carry_what_is_in_already(self, books, shelf, batch):
        weigh(books, batch, shelf["wax"], "500 g")

        state = self.state(batch)

        assert [line["name"] for line in state["lines"]] == ["wax", "fragrance", "wick", "vessel"]
        wax = self.line(state, "wax")
        assert wax["pours"] == [{"target": grams(920), "drawn": grams(500), "tolerance": grams(1)}]
        assert wax["picks"] == [{"lot": shelf["wax"].pk, "quantity": grams(420)}]
        # 80 g of fragrance is plenty for a scale of 1 g; and 80 g on 920 g of wax.
        assert self.line(state, "fragrance")["coarse"] == ""
        assert state["wanted"] == ["2", "23"]

    def test_each_pour_keeps_what_was_weighed_for_it(self, books, shelf):
        # 500 g a pot: two pots of five, 460 g of wax each. The first got 462 g; the second still needs its own 460 g.
        version = books.candle("Two pots", pot_ug=grams(500))
        batch = books.plan(version, 10)
        weigh(books, batch, shelf["wax"], "462 g", pour=1)

        state = self.state(batch)

        assert state["pours"] == [5, 5]
        drawn = [(pour["target"], pour["drawn"]) for pour in self.line(state, "wax")["pours"]]
        assert drawn == [(grams(460), grams(462)), (grams(460), 0)]

    def test_what_was_recorded_elsewhere_fills_the_pours_from_the_first(self, books, shelf):
        batch = books.plan(books.candle("Two pots", pot_ug=grams(500)), 10)
        books.draw_into(batch, (shelf["wax"], "700 g"))

        drawn = [pour["drawn"] for pour in self.line(self.state(batch), "wax")["pours"]]

        assert drawn == [grams(460), grams(240)]

    def test_a_lot_that_may_not_be_used_says_why(self, books, shelf, batch):
        holding.hold(shelf["wax"].pk, signature=books.sign(reason="Specks"))

        lot = next(lot for lot in self.state(batch)["lots"] if lot["id"] == shelf["wax"].pk)

        assert "is on hold" in lot["stop"]
        assert self.line(self.state(batch), "wax")["picks"] == []

    def test_it_brings_every_caution_and_the_owners_word_along(self, books, shelf, batch, version):
        loaded = self.state(batch)
        assert loaded["cautions"][-1] == UNTESTED
        assert loaded["always"] == list(ALWAYS)
        assert loaded["word"] == ""

        books.approve(version, "Sold at fairs for two years")

        assert "Sold at fairs for two years" in self.state(batch)["word"]
        assert UNTESTED not in self.state(batch)["cautions"]

    def test_no_costs_are_in_it(self, books, shelf, batch):
        weigh(books, batch, shelf["wax"], "920 g")
        text = repr(self.state(batch))
        assert "value" not in text
        assert "cost" not in text

    def test_what_was_taken_back_does_not_count_and_says_by_whom(self, books, shelf, batch, maker):
        entry = weigh(books, batch, shelf["wax"], "920 g")
        books.bench(batch, "undo", takes_back=entry.key, by=maker, at=NOW + timedelta(minutes=1))

        state = self.state(batch)

        undo, drawn = state["entries"]
        assert (undo["kind"], drawn["stands"], drawn["fate"]) == ("undo", False, "taken back by Tobin")
        assert drawn["words"] == f"920\N{NO-BREAK SPACE}g of wax from {shelf['wax'].spaced_code}"
        assert self.line(state, "wax")["pours"][0]["drawn"] == 0

    def test_asks_the_database_as_often_for_twenty_entries_as_for_two(
        self, books, shelf, batch, django_assert_max_num_queries
    ):
        for number in range(2):
            weigh(books, batch, shelf["wax"], f"{number + 1} g")
        with django_assert_max_num_queries(40) as few:
            self.state(batch)
        for number in range(18):
            weigh(books, batch, shelf["wax"], f"{number + 1} g")
            books.receive("wax", "1 kg", cost=5)
        with django_assert_max_num_queries(len(few.captured_queries)):
            self.state(batch)


def test_what_is_weighed_may_be_off_and_what_is_counted_may_not():
    wax = Item(name="wax", kind="wax", unit="g")
    wick = Item(name="wick", kind="wick", unit="each")
    division = grams("0.1")
    # Common practice, no source: 0.5 % of 920 g is 4.6 g.
    assert allowed_off(FormulaLine(item=wax, tolerance_ppm=5_000), grams(920), division) == grams("4.6")
    assert allowed_off(FormulaLine(item=wax), grams(920), division) == division
    assert allowed_off(FormulaLine(item=wick), 10, division) == 0


def test_times_read_like_a_clock():
    shown = [clock(seconds).replace("\N{NO-BREAK SPACE}", " ") for seconds in (5, 125, 3_600, 14_410)]
    assert shown == ["0:05 min", "2:05 min", "1:00:00 h", "4:00:10 h"]


def test_a_note_says_something(batch):
    with pytest.raises(IntegrityError), transaction.atomic():
        BatchNote.objects.create(batch=batch, by=batch.planned_by, at=NOW, recorded_at=NOW)
