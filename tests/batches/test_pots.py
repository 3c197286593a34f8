"""Each pot of a batch is judged by itself, and what nobody said of a pot is not known.

Ten candles of 100 g in two pots: at 7.5 % of wax each pot takes 465 g of wax and 35 g of fragrance (500/1.075 = 465.116,
34.884; a scale of 1 g). The wax holds at most 10 % of itself. By hand: 51.6/465 = 11.10 %, 18.1/465 = 3.89 %, and
together 69.7/930 = 7.49 %.
"""

from dataclasses import replace
from types import SimpleNamespace

import pytest

from batches.bench.state import bench_state
from batches.models import Batch, BatchNote, Reading
from batches.production import releasing, runs
from batches.production.off_formula import off_formula
from batches.production.off_formula_of import made_of
from batches.production.restoring import wax_words
from batches.records.record_facts import RecordFacts
from batches.records.record_text import record_of
from inventory.lots import holding
from inventory.models import HoldRecord, Item, Lot
from studio.demonstration.pots import two_pots
from tests.house import NOW, day, grams, refused

pytestmark = pytest.mark.usefixtures("agreeing")

LINES = [
    ("wax", "wax_share", 1_000_000),
    ("fragrance", "of_wax", 75_000),
    ("wick", "per_unit", 1),
    ("vessel", "per_unit", 1),
]


@pytest.fixture
def batch(books, shelf):
    Item.objects.filter(name="wax").update(maximum_load_ppm=100_000, maximum_load_basis="of_wax")
    version = books.formula("Fig", LINES, fill="100 g", pot_ug=grams(500))
    return books.plan(version, 10, on=day(10).date())


def weigh(books, batch, shelf, first, second):
    """Wax as planned in both pots; so many grams of fragrance in each; counted parts as planned."""
    for pot, scent in ((1, first), (2, second)):
        books.bench(batch, "draw", lot=shelf["wax"], quantity="465 g", pour=pot, at=day(10))
        books.bench(batch, "draw", lot=shelf["fragrance"], quantity=f"{scent} g", pour=pot, at=day(10, 10))
    for name in ("wick", "vessel"):
        books.draw_into(batch, (shelf[name], 10), at=day(10))


def fresh(batch):
    return Batch.objects.select_related("version__formula__item", "planned_by").get(pk=batch.pk)


def said(batch):
    return [plain(each.words) for each in off_formula(made_of(fresh(batch)))]


def plain(words):
    return words.replace("\N{NO-BREAK SPACE}", " ")


OFF = [
    "Pot 1: the load of 11.1 % of wax is above the 10 % of wax stated for wax.",
    "Pot 1: fragrance: out of tolerance: 16.6 g over",
    "Pot 2: fragrance: out of tolerance: 16.9 g under",
]


def test_two_pots_off_their_load_are_two_findings_and_not_one_that_is_right(books, shelf, batch):
    weigh(books, batch, shelf, "51.6", "18.1")
    books.finish(batch, 10, release=False)

    made = made_of(fresh(batch))
    assert [plain(pot.load.words) for pot in made.pots] == [
        "11.1 % of wax = 9.99 % of melt",  # 51.6/516.6
        "3.89 % of wax = 3.75 % of melt",  # 18.1/483.1
    ]
    assert plain(made.whole.words) == "7.49 % of wax = 6.97 % of melt"  # 69.7/999.7
    assert said(batch) == OFF
    assert not made.all_within


def test_the_same_list_stands_on_the_record_and_before_the_release(books, shelf, batch):
    weigh(books, batch, shelf, "51.6", "18.1")
    books.finish(batch, 10, release=False)

    facts = RecordFacts(fresh(batch), books.by)
    checks = releasing.checks_of(fresh(batch))
    verdicts = {line.line.item.name: plain(line.verdict) for line in facts.lines}

    assert [plain(each.words) for each in off_formula(facts.as_made)] == OFF
    assert [plain(each.words) for each in off_formula(checks.made)] == OFF
    assert verdicts == {
        "wax": "within tolerance",
        "fragrance": "pot 1: out of tolerance: 16.6 g over; pot 2: out of tolerance: 16.9 g under",
        "wick": "as planned",
        "vessel": "as planned",
    }
    assert "the load is above a maximum" in checks.against


def test_a_load_not_known_by_pot_is_the_owners_to_release(books, shelf, batch, maker):
    """35 g and 35 g of fragrance, of which the second does not say its pot: it may be 70/465, 15.05 %, in one of them."""
    weigh(books, batch, shelf, 35, 0.001)
    books.draw_into(batch, (shelf["fragrance"], "35 g"), at=day(10, 11))
    (lot,) = books.finish(batch, 10, release=False)
    assert (
        releasing.checks_of(fresh(batch)).against
        == "the load is not known by pot and the design is not approved"
    )
    assert not lot.held
    books.approve(batch.version, "Sold since the spring")
    ticks = {"label_right": True, "warning_on": True, "unweighed": True, "on": day(20).date()}

    with refused(
        releasing.NeedsOwner, "The load is not known by pot. Put that right first, or have the owner"
    ):
        releasing.release(lot.pk, **ticks, signature=replace(books.sign(), by=maker))
    kept = releasing.release(lot.pk, **ticks, despite="Both pots were seen", signature=books.sign())

    assert kept.note == "Although the load is not known by pot: Both pots were seen"


def test_a_load_known_in_every_pot_is_anybodys_to_release(books, shelf, batch, maker):
    weigh(books, batch, shelf, 35, 35)
    books.finish(batch, 10, release=False)
    assert releasing.checks_of(fresh(batch)).against == "the design is not approved"


def test_a_batch_right_in_every_pot_is_within(books, shelf, batch):
    weigh(books, batch, shelf, 35, 35)
    books.finish(batch, 10, release=False)

    assert said(batch) == []
    assert made_of(fresh(batch)).all_within
    assert not Lot.objects.filter(outcome__batch=batch, held=True).exists()


def test_a_weight_without_its_pot_is_not_known_by_pot_and_nothing_is_within(books, shelf, batch):
    """Written up on the batch's page, all of it as planned in sum."""
    books.draw_into(batch, (shelf["wax"], "930 g"), at=day(10))
    for pot in (1, 2):
        books.bench(batch, "draw", lot=shelf["fragrance"], quantity="35 g", pour=pot, at=day(10))
    for name in ("wick", "vessel"):
        books.draw_into(batch, (shelf[name], 10), at=day(10))
    books.finish(batch, 10, release=False)

    made = made_of(fresh(batch))
    assert [pot.load for pot in made.pots] == [None, None]
    assert said(batch) == [
        "The fragrance load is not known by pot: some weights do not say which pot.",
        "wax: the weight is not known by pot",
    ]
    assert not any(each.is_known for each in off_formula(made))
    assert not made.all_within
    line = next(line for line in RecordFacts(fresh(batch), books.by).lines if line.line.item.name == "wax")
    assert line.verdict == "not known by pot"


def test_more_than_all_pots_may_hold_is_above_whichever_pot_it_went_into(books, shelf, batch):
    # 93/930 = 10 % is at the maximum; 94/930 = 10.11 % is above it in one pot at least.
    books.draw_into(batch, (shelf["wax"], "930 g"), at=day(10))
    drawn = books.draw_into(batch, (shelf["fragrance"], "93 g"), at=day(10))
    assert not made_of(fresh(batch)).is_above

    books.correct(drawn, (shelf["fragrance"], "94 g"))

    assert made_of(fresh(batch)).is_above
    assert "all pots together, the load of 10.11 % of wax is above the 10 % of wax stated for wax." in said(
        batch
    )


def test_a_batch_of_one_pot_needs_nobody_to_say_which(books, shelf):
    batch = books.plan(books.candle(), 10)
    books.fill(shelf, batch)
    books.finish(batch, 10, release=False)

    made = made_of(fresh(batch))
    assert (len(made.pots), made.all_within, said(batch)) == (1, True, [])


def test_the_plain_entry_names_its_pot_and_a_correction_keeps_it(books, shelf, batch):
    line = books.line(batch, "wax")
    first = runs.draw_line(
        batch.pk, line, books.take((shelf["wax"], "400 g")), signature=books.sign(day(10)), pot=2
    )
    assert [[w.actual for w in pot.weights] for pot in made_of(fresh(batch)).pots] == [
        [0, 0],
        [grams(400), 0],
    ]

    books.correct(first, (shelf["wax"], "465 g"))

    assert [[w.actual for w in pot.weights] for pot in made_of(fresh(batch)).pots] == [
        [0, 0],
        [grams(465), 0],
    ]


def test_a_corrected_weight_from_the_bench_stays_in_its_pot(books, shelf, batch):
    entry = books.bench(batch, "draw", lot=shelf["wax"], quantity="564 g", pour=2, at=day(10))

    books.correct(entry.posting, (shelf["wax"], "465 g"))

    assert [[w.actual for w in pot.weights] for pot in made_of(fresh(batch)).pots] == [
        [0, 0],
        [grams(465), 0],
    ]


# ---- On hold until the owner decides -----------------------------------------------------------------------------------


def lots_of(batch):
    return list(Lot.objects.filter(outcome__batch=batch, outcome__posting__reversal=None).order_by("pk"))


def test_what_came_of_a_pot_above_its_maximum_is_on_hold_until_the_owner_decides(books, shelf, batch, maker):
    other = books.plan(books.candle(), 10, on=day(10).date())
    books.fill(shelf, other, at=day(10))
    books.finish(other, 10, release=False)
    weigh(books, batch, shelf, "51.6", "18.1")
    good, second = books.finish(batch, 8, 2, release=False)

    assert (good.held, second.held) == (True, True)
    assert not Lot.objects.filter(held=True).exclude(outcome__batch=batch).exists()
    record = HoldRecord.objects.get(lot=good)
    assert plain(record.reason).startswith(
        "Off its formula: Pot 1: the load of 11.1 % of wax is above the 10 % of wax"
    )
    owner, books.by = books.by, maker
    with refused(holding.OwnerDecides, "Only the owner may release this lot"):
        holding.release(good.pk, signature=books.sign(reason="Looks fine"))
    books.by = owner
    holding.release(good.pk, signature=books.sign(reason="Burned two of them, even"))
    assert not Lot.objects.get(pk=good.pk).held
    assert Lot.objects.get(pk=second.pk).held


def test_what_the_owner_released_stays_released_when_another_weight_is_corrected(books, shelf, batch):
    weigh(books, batch, shelf, "51.6", "18.1")
    (good,) = books.finish(batch, 10, release=False)
    holding.release(good.pk, signature=books.sign(reason="Burned two of them, even"))
    wick = batch.draws.get(line__item__name="wick").movement.posting

    books.correct(wick, (shelf["wick"], 11))

    assert not Lot.objects.get(pk=good.pk).held


def test_what_is_found_in_the_last_of_many_pots_is_a_finding_of_its_own(books, shelf):
    """Five pots of 186 g of wax: 20/186 = 10.75 % in four of them. The fifth is put right from 14 g to 60 g, 32.26 %."""
    Item.objects.filter(name="wax").update(maximum_load_ppm=100_000, maximum_load_basis="of_wax")
    batch = books.plan(books.formula("Fig", LINES, fill="100 g", pot_ug=grams(200)), 10, on=day(10).date())
    for pot, scent in enumerate((20, 20, 20, 20, 14), 1):
        books.bench(batch, "draw", lot=shelf["wax"], quantity="186 g", pour=pot, at=day(10))
        last = books.bench(batch, "draw", lot=shelf["fragrance"], quantity=f"{scent} g", pour=pot, at=day(10))
    for name in ("wick", "vessel"):
        books.draw_into(batch, (shelf[name], 10), at=day(10))
    (good,) = books.finish(batch, 10, release=False)
    holding.release(good.pk, signature=books.sign(reason="10.75 % was burned and is even"))

    books.correct(last.posting, (shelf["fragrance"], "60 g"))

    assert Lot.objects.get(pk=good.pk).held
    latest = plain(HoldRecord.objects.filter(lot=good).latest("pk").reason)
    assert "Pot 5: the load of 32.26 % of wax is above the 10 % of wax stated for wax." in latest


def test_a_weight_corrected_afterwards_holds_what_came_of_it(books, shelf, batch):
    weigh(books, batch, shelf, 35, 35)
    (good,) = books.finish(batch, 10, release=False)
    assert not good.held
    wrong = batch.draws.filter(line__item__name="fragrance").order_by("pk").first().movement.posting

    books.correct(wrong, (shelf["fragrance"], "53 g"))  # 53/465 = 11.4 %

    assert Lot.objects.get(pk=good.pk).held


def test_the_answer_that_it_was_poured_all_the_same_stands_on_the_record_and_holds(books, shelf, batch):
    weigh(books, batch, shelf, 35, 35)
    books.bench(
        batch,
        "reading",
        reading=Reading.Kind.POUR,
        temperature_mc=60_000,
        pour=1,
        at=day(10, 11),
        poured_above="The load was 11.1 % of wax, above the maximum of 10 % of wax for wax.",
    )
    (good,) = books.finish(batch, 10, release=False)

    words = "Pot 1: The load was 11.1 % of wax, above the maximum of 10 % of wax for wax. It was poured all the same."
    assert said(batch)[0] == words
    assert BatchNote.objects.get(kind="poured").batch_id == batch.pk
    assert good.held
    assert "a pot was poured above a maximum" in releasing.checks_of(fresh(batch)).against


def test_what_is_taken_back_is_the_temperature_and_not_that_it_was_poured(books, shelf, batch, maker, studio):
    """Drawn at 53/465 = 11.4 %, poured so, the temperature taken back, and the weight corrected to 35/465 = 7.53 %."""
    books.approve(batch.version, "Sold since the spring")
    owner, books.by = books.by, maker
    weigh(books, batch, shelf, 53, 35)
    entry = books.bench(
        batch, "reading", reading="pour", temperature_mc=60_000, pour=1, at=day(10, 11), poured_above="Above."
    )
    books.bench(batch, "undo", takes_back=entry.key, at=day(10, 12))
    wrong = batch.draws.filter(line__item__name="fragrance").order_by("pk").first().movement.posting
    books.correct(wrong, (shelf["fragrance"], "35 g"))
    (part,) = books.finish(batch, 4, release=False, last=False)
    (rest,) = books.finish(batch, 6, release=False)

    assert made_of(fresh(batch)).readings == []
    (poured,) = [each for each in off_formula(made_of(fresh(batch))) if each.kind == "poured"]
    assert poured.words == "Pot 1: Above. It was poured all the same."
    assert poured.detail == f"Its temperature was taken back by {maker}; that it was poured stands."
    facts = RecordFacts(fresh(batch), books.by)
    assert [note.kind for note in facts.notes] == ["poured"]
    assert [
        state["fate"] for state in bench_state(batch, studio, maker, NOW)["entries"] if state["poured_above"]
    ] == [f"temperature taken back by {maker}; that it was poured above a maximum stands"]
    assert releasing.checks_of(fresh(batch)).against == "a pot was poured above a maximum"
    for lot in (part, rest):
        assert Lot.objects.get(pk=lot.pk).held
        with refused(holding.OwnerDecides, "Only the owner may release this lot"):
            holding.release(lot.pk, signature=books.sign(reason="Corrected since"))
    holding.release(rest.pk, signature=replace(books.sign(reason="Burned two of them, even"), by=owner))
    with refused(releasing.NeedsOwner, "A pot was poured above a maximum"):
        books.release(rest, on=day(20).date())


def test_a_batch_of_which_a_pot_was_poured_is_not_planned_again(books, shelf, batch):
    entry = books.bench(
        batch, "reading", reading="pour", temperature_mc=60_000, pour=1, at=day(10, 11), poured_above="Above."
    )

    books.bench(batch, "undo", takes_back=entry.key, at=day(10, 12))

    assert fresh(batch).state == Batch.State.STARTED
    assert said(batch)[0] == "Pot 1: Above. It was poured all the same."


# ---- The whole list ----------------------------------------------------------------------------------------------------


@pytest.fixture
def asking(books, shelf):
    """A formula that asks for everything; the flash point of the scent is 71 °C."""
    Item.objects.filter(name="fragrance").update(flash_point_mc=71_000)
    version = books.formula(
        "Moss",
        LINES,
        fill="100 g",
        pot_ug=grams(500),
        heat_to_mc=82_000,
        fragrance_at_mc=70_000,
        stir_minutes=2,
        pour_from_mc=55_000,
        pour_to_mc=60_000,
        rest_hours=24,
    )
    return books.plan(version, 10, on=day(10).date())


def read(books, batch, pot, melt, scent, pour, stirred):
    for kind, celsius in (("melt", melt), ("fragrance", scent), ("pour", pour)):
        if celsius is not None:
            books.bench(
                batch, "reading", reading=kind, temperature_mc=celsius * 1000, pour=pot, at=day(10, 11)
            )
    if stirred is not None:
        books.bench(batch, "note", note_kind="stirred", seconds=stirred, pour=pot, at=day(10, 11))


def test_everything_that_was_off_is_on_one_list_pot_by_pot(books, shelf, asking):
    weigh(books, asking, shelf, 35, 33)
    read(books, asking, 1, 82, 71, 61, 119)
    read(books, asking, 2, None, 70, 58, 120)
    books.bench(asking, "note", note_kind="rested", seconds=23 * 3600, at=day(11))
    books.finish(asking, 10, release=False)

    assert said(asking) == [
        "Pot 1: fragrance was added at 71 °C, at or above its flash point of 71 °C.",
        "Pot 1: Poured at 61 °C: above the window, 55 °C to 60 °C",
        "Pot 2: fragrance: out of tolerance: 2 g under",
        "Pot 1: Stirring for 1 min 59 s, shorter than the 2 min asked for",
        "Rest for 23 h, shorter than the 24 h asked for",
        "Pot 2: Wax at its hottest: not recorded",
    ]


def test_what_nobody_recorded_is_not_recorded_and_never_within(books, shelf, asking):
    weigh(books, asking, shelf, 35, 35)
    books.finish(asking, 10, release=False)

    found = off_formula(made_of(fresh(asking)))
    assert [plain(each.words) for each in found] == [
        "Pot 1: Stirring: not recorded; 2 min were asked for",
        "Pot 2: Stirring: not recorded; 2 min were asked for",
        "Rest: not recorded; 24 h were asked for",
        "Pot 1: Wax at its hottest: not recorded",
        "Pot 1: Fragrance added at: not recorded",
        "Pot 1: Poured at: not recorded",
        "Pot 2: Wax at its hottest: not recorded",
        "Pot 2: Fragrance added at: not recorded",
        "Pot 2: Poured at: not recorded",
    ]
    assert not any(each.is_known for each in found)


def test_what_a_poured_pot_lacks_was_passed_over_while_the_other_is_still_to_come(books, shelf, asking):
    books.bench(asking, "draw", lot=shelf["wax"], quantity="465 g", pour=1, at=day(10))
    read(books, asking, 1, 82, 70, 58, 120)

    assert said(asking) == ["Pot 1: fragrance: nothing was weighed"]


def test_another_lot_than_the_one_chosen_is_named(books, shelf, batch):
    other = books.receive("wax", "2 kg", cost=10)
    books.choose(batch, (shelf["wax"], "930 g"))
    books.bench(batch, "draw", lot=other, quantity="465 g", pour=1)
    books.bench(batch, "draw", lot=shelf["wax"], quantity="465 g", pour=2)

    assert said(batch) == [
        f"wax: lot {other.spaced_code} in place of the lot chosen, {shelf['wax'].spaced_code}"
    ]


def test_fragrance_above_its_flash_point_stands_on_the_printed_record(books, shelf, asking, studio):
    weigh(books, asking, shelf, 35, 35)
    read(books, asking, 1, 82, 72, 58, 120)

    record = record_of(RecordFacts(fresh(asking), books.by), studio, printed="today")
    section = next(each for each in record.sections if each.title == "Off the formula")
    assert plain(section.rows[0].cells[0]) == (
        "Pot 1: fragrance was added at 72 °C, at or above its flash point of 71 °C."
    )


# ---- Wax to restore a load ---------------------------------------------------------------------------------------------


def test_wax_that_brings_a_load_back_is_not_proposed_where_the_pot_does_not_take_it(books, shelf, batch):
    """Wanted 7.5 % of wax: 51.6/0.075 = 688 g, 223 g more than 465. The melt is then 739.6 g; the pot takes 500 g."""
    weigh(books, batch, shelf, "51.6", "18.1")
    made = made_of(fresh(batch))

    assert plain(wax_words(made, made.pots[0])) == (
        "223 g of wax would bring it back, and the melt would then be 739.6 g. "
        "The pot takes 500 g: divide the melt into two pots first."
    )
    assert wax_words(made, made.pots[1]) == ""


def test_wax_that_the_pot_takes_is_proposed(books, shelf):
    Item.objects.filter(name="wax").update(maximum_load_ppm=100_000, maximum_load_basis="of_wax")
    batch = books.plan(books.formula("Pear", LINES, fill="100 g", pot_ug=grams(800)), 10)
    books.bench(batch, "draw", lot=shelf["wax"], quantity="465 g", pour=1)
    books.bench(batch, "draw", lot=shelf["fragrance"], quantity="51.6 g", pour=1)
    made = made_of(fresh(batch))

    assert (
        plain(wax_words(made, made.pots[0])) == "Add 223 g of wax to bring it back; the melt is then 739.6 g."
    )


def test_reading_how_a_batch_was_made_takes_as_many_queries_for_many_draws(
    books, shelf, batch, django_assert_max_num_queries
):
    weigh(books, batch, shelf, 20, 20)
    with django_assert_max_num_queries(8) as first:
        off_formula(made_of(fresh(batch)))
    weigh(books, batch, shelf, 15, 15)
    read(books, batch, 1, 82, 70, 58, 120)
    with django_assert_max_num_queries(len(first)):
        off_formula(made_of(fresh(batch)))


def test_the_demonstration_pours_two_pots_off_their_load_and_its_output_waits_for_the_owner(
    books, shelf, maker
):
    """Ten of 60 g at 8 % of melt: 24 g of fragrance for each pot of 276 g of wax. 36/276 = 13.04 %, 12/276 = 4.35 %."""
    Item.objects.filter(name="wax").update(maximum_load_ppm=100_000, maximum_load_basis="of_wax")
    like = books.candle("Cedar tin")
    people = SimpleNamespace(owner=books.by, maker=maker)
    product = SimpleNamespace(current=lambda: like)

    two_pots(SimpleNamespace(people=people, today=NOW.date(), products={"cedar_tin": product}), NOW)

    batch = Batch.objects.get(version__formula__name="Small tin, poured in two pots")
    made = made_of(fresh(batch))
    assert [plain(pot.load.words) for pot in made.pots] == [
        "13.04 % of wax = 11.54 % of melt",
        "4.35 % of wax = 4.17 % of melt",
    ]
    assert plain(made.whole.words) == "8.7 % of wax = 8 % of melt"
    assert made.poured_above
    assert Lot.objects.get(outcome__batch=batch).held


def test_wax_to_add_is_told_by_weight_whichever_line_of_the_formula_comes_first(books, shelf):
    """100 g of fragrance want 100/0.075 = 1,333.3 g of wax: 404 g more than 930 g, on a scale of 1 g."""
    Item.objects.filter(name="wax").update(maximum_load_ppm=100_000, maximum_load_basis="of_wax")
    batch = books.plan(books.formula("Fig", [LINES[2], LINES[3], *LINES[:2]], fill="100 g"), 10)
    books.draw_into(batch, (shelf["wax"], "930 g"))
    books.draw_into(batch, (shelf["fragrance"], "100 g"))

    made = made_of(fresh(batch))

    assert (
        plain(wax_words(made, made.pots[0])) == "Add 404 g of wax to bring it back; the melt is then 1,434 g."
    )
