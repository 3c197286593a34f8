"""A batch recorded under the wrong version or product: corrected with a reason, both on record. Figures by hand."""

import pytest
from django.db import IntegrityError, transaction

from batches.models import Batch, FormulaVersion, VersionCorrection
from batches.planning import plans
from batches.planning.plans import BatchError
from batches.production import releasing, versions
from batches.production.off_formula import off_formula
from batches.production.off_formula_of import made_of
from batches.records.record_facts import RecordFacts
from inventory.ledger.books import LotNotUsable
from inventory.lots import holding
from inventory.lots.succession import endings
from inventory.models import Item, Lot
from inventory.shipments import dispatching
from studio.models import Role, User
from tests.house import TODAY, Books, day, grams, money, refused

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("agreeing")]


def correct(books, batch, version, reason="Version 1 was on the bench"):
    return versions.correct_version(batch.pk, version.pk, signature=books.sign(reason=reason))


@pytest.fixture
def strong(books, version):
    """A second version of the same candle: 90 g of wax and 10 g of fragrance, no wick of its own."""
    lines = [("wax", "wax_share", 1_000_000), ("fragrance", "of_melt", 100_000), ("vessel", "per_unit", 1)]
    return books.formula(version.formula.item.name, lines, fill="100 g", name="Strong", cure_days=7)


def test_targets_cost_and_cure_follow_and_the_record_keeps_both(books, shelf, version, strong):
    other = books.plan(version, 5)
    batch = books.plan(version, 10)
    books.fill(shelf, batch, at=day(10))
    (lot,) = books.finish(batch, 10, at=day(11))

    said = correct(books, batch, strong)

    batch = Batch.objects.get(pk=batch.pk)
    assert (batch.version, said.before, said.after, said.by) == (strong, version, strong, books.by)
    drawn = {
        strong.lines.get(pk=pk).item.name: quantity
        for pk, quantity in plans.drawn_by_line(batch).items()
        if strong.lines.filter(pk=pk)
    }
    assert drawn == {"wax": grams(920), "fragrance": grams(80), "vessel": 10}
    assert [(draw.line.item.name, draw.quantity) for draw in versions.off_the_formula(batch)] == [
        ("wick", 10)
    ]
    assert books.of(lot) == (10, money("28.80"))
    assert lot.ready_on == day(18).date()
    assert books.of(shelf["wax"]) == (grams(9_080), money("45.40"))
    other.refresh_from_db()
    assert other.version == version


def test_another_product_is_corrected_before_output_and_the_old_code_leads_on(books, shelf, version):
    right = books.candle("Fig Leaf")
    batch = books.plan(version, 10)
    books.fill(shelf, batch, at=day(10))
    (wrong,) = books.finish(batch, 10, at=day(11))
    with refused(BatchError, "Open the batch again first"):
        correct(books, batch, right)

    books.undo(batch)
    correct(books, batch, right)
    batch = Batch.objects.get(pk=batch.pk)
    (made,) = books.finish(batch, 10, at=day(11))

    assert (made.item, books.of(made)) == (right.formula.item, (10, money("28.80")))
    assert [lot.pk for lot in endings([wrong.pk])[wrong.pk].lots] == [made.pk]


def test_a_version_that_is_the_same_or_of_another_unit_is_refused(books, shelf, version):
    batch = books.plan(version, 10)
    with refused(BatchError, "is of .* already"):
        correct(books, batch, version)
    blend = books.formula("blend", [("wax", "wax_share", 1_000_000)])
    with refused(BatchError, "not planned in the same unit"):
        correct(books, batch, blend)


def test_a_version_changes_only_with_its_correction(books, shelf, version, strong):
    batch = books.plan(version, 10)
    with pytest.raises(IntegrityError, match="what it was planned as"), transaction.atomic():
        Batch.objects.filter(pk=batch.pk).update(version=strong)
    correct(books, batch, strong)
    with pytest.raises(IntegrityError, match="never changed"), transaction.atomic():
        VersionCorrection.objects.update(reason="x")
    assert plans.drawn_by_line(batch) == {}


def off(batch):
    batch = Batch.objects.select_related("version__formula__item").get(pk=batch.pk)
    return [each.words.replace("\N{NO-BREAK SPACE}", " ") for each in off_formula(made_of(batch))]


def in_two_pots(books, *, name="Fig", without=""):
    """Ten of 100 g at 7.5 % of wax in pots of 500 g: 465 g of wax and 35 g of fragrance each."""
    lines = [("wax", "wax_share", 1_000_000), ("fragrance", "of_wax", 75_000), ("wick", "per_unit", 1)]
    lines = [*(line for line in lines if line[0] != without), ("vessel", "per_unit", 1)]
    return books.formula("Fig", lines, fill="100 g", pot_ug=grams(500), name=name)


def weigh(books, shelf, batch, *scents):
    for pot, scent in enumerate(scents, 1):
        books.bench(batch, "draw", lot=shelf["wax"], quantity="465 g", pour=pot)
        books.bench(batch, "draw", lot=shelf["fragrance"], quantity=f"{scent} g", pour=pot)
    for name in ("wick", "vessel"):
        books.draw_into(batch, (shelf[name], 10))


def test_what_was_weighed_stays_in_its_pot(books, shelf):
    """51.6/465 = 11.1 % in one pot and 18.1/465 = 3.89 % in the other, before and after."""
    Item.objects.filter(name="wax").update(maximum_load_ppm=100_000, maximum_load_basis="of_wax")
    batch = books.plan(in_two_pots(books), 10)
    weigh(books, shelf, batch, "51.6", "18.1")
    before = off(batch)

    correct(books, batch, in_two_pots(books, name="Fig again"))

    assert off(batch) == before
    assert "Pot 1: the load of 11.1 % of wax is above the 10 % of wax stated for wax." in before


def plain_pots(batch):
    made = made_of(Batch.objects.select_related("version__formula__item").get(pk=batch.pk))
    return {pot.number: pot.load and pot.load.words.replace("\N{NO-BREAK SPACE}", " ") for pot in made.pots}


def in_one_pot(books, name="Fig in one pot"):
    lines = [("wax", "wax_share", 1_000_000), ("fragrance", "of_wax", 75_000), ("wick", "per_unit", 1)]
    return books.formula("Fig", [*lines, ("vessel", "per_unit", 1)], fill="100 g", name=name)


def test_two_pots_stay_two_where_the_right_version_plans_one(books, shelf):
    """Averaged they were 69.7/930 = 7.49 %, which is right; the first is 51.6/465 = 11.1 %."""
    Item.objects.filter(name="wax").update(maximum_load_ppm=100_000, maximum_load_basis="of_wax")
    batch = books.plan(in_two_pots(books), 10)
    weigh(books, shelf, batch, "51.6", "18.1")

    correct(books, batch, in_one_pot(books))
    (lot,) = books.finish(batch, 10, release=False)

    assert plain_pots(batch) == {1: "11.1 % of wax = 9.99 % of melt", 2: "3.89 % of wax = 3.75 % of melt"}
    assert off(batch) == [
        "Pot 1: the load of 11.1 % of wax is above the 10 % of wax stated for wax.",
        "Divided into pots 1, 2, where the formula plans 1 pot: each is judged by its load, the weights all together",
    ]
    assert Lot.objects.get(pk=lot.pk).held
    batch = Batch.objects.get(pk=batch.pk)
    assert {each.line.item.name: each.verdict for each in RecordFacts(batch, books.by).lines} == {
        "wax": "not planned by pot",
        "fragrance": "not planned by pot",
        "wick": "as planned",
        "vessel": "as planned",
    }


def test_what_all_pots_together_are_off_shows_where_none_has_a_target_of_its_own(books, shelf):
    """930 g of wax are wanted and 70 g of fragrance, on a scale of 1 g; 465 + 465 and 35 + 37 went in."""
    batch = books.plan(in_two_pots(books), 10)
    weigh(books, shelf, batch, 35, 37)

    correct(books, batch, in_one_pot(books))

    assert off(batch)[1:] == ["fragrance, all pots together: out of tolerance: 2 g over"]


def test_a_pot_that_only_a_reading_names_leaves_the_load_not_known_by_pot(books, shelf):
    batch = books.plan(in_two_pots(books), 10)
    books.draw_into(batch, (shelf["wax"], "930 g"))
    books.draw_into(batch, (shelf["fragrance"], "70 g"))
    for pour in (1, 2):
        books.bench(batch, "reading", reading="pour", temperature_mc=60_000, pour=pour)

    correct(books, batch, in_one_pot(books))

    assert plain_pots(batch) == {1: None, 2: None}
    assert "The fragrance load is not known by pot: some weights do not say which pot." in off(batch)


def test_weights_that_name_no_pot_are_of_one_where_the_right_version_plans_one(books, shelf):
    batch = books.plan(in_two_pots(books), 10)
    books.draw_into(batch, (shelf["wax"], "930 g"))
    books.draw_into(batch, (shelf["fragrance"], "70 g"))

    correct(books, batch, in_one_pot(books))

    assert plain_pots(batch) == {1: "7.53 % of wax = 7 % of melt"}


def test_what_is_above_a_maximum_when_it_is_corrected_is_held_for_the_owner(books, shelf):
    batch = books.plan(in_one_pot(books), 10)
    books.draw_into(batch, (shelf["wax"], "930 g"))
    books.draw_into(batch, (shelf["fragrance"], "69.7 g"))
    (lot,) = books.finish(batch, 10, release=False, without=True)
    # Read from the supplier's paper only since: 69.7/930 = 7.49 %.
    Item.objects.filter(name="wax").update(maximum_load_ppm=70_000, maximum_load_basis="of_wax")
    assert not Lot.objects.get(pk=lot.pk).held

    correct(books, batch, in_two_pots(books))

    assert Lot.objects.get(pk=lot.pk).held


def of_wax_and_of_melt(books, name, *shares):
    """Ten of 100 g, fragrance on several lines: 3 % of 1,000 g is 30 g; the rest is wax and 4 % of it, 932.69 and 37.31."""
    scents = [("fragrance", basis, share) for basis, share in shares]
    lines = [("wax", "wax_share", 1_000_000), *scents, ("wick", "per_unit", 1), ("vessel", "per_unit", 1)]
    return books.formula("Fig", lines, fill="100 g", name=name)


def test_an_item_on_two_lines_keeps_each_of_them(books, shelf):
    batch = books.plan(of_wax_and_of_melt(books, "Fig", ("of_wax", 40_000), ("of_melt", 30_000)), 10)
    of_wax, of_melt = batch.version.lines.filter(item__name="fragrance")
    for line, scent in ((of_wax, "37 g"), (of_melt, "30 g")):
        books.bench(batch, "draw", line=line.pk, lot=shelf["fragrance"], quantity=scent)
    books.draw_into(batch, (shelf["wax"], "933 g"))
    for name in ("wick", "vessel"):
        books.draw_into(batch, (shelf[name], 10))
    books.finish(batch, 10)

    right = of_wax_and_of_melt(books, "Fig again", ("of_melt", 30_000), ("of_wax", 40_000))
    correct(books, batch, right)

    assert off(batch) == []
    drawn = plans.drawn_by_line(batch)
    assert drawn[right.lines.get(basis="of_wax").pk] == grams(37)
    assert drawn[right.lines.get(basis="of_melt").pk] == grams(30)


def test_a_late_weight_for_an_item_on_two_lines_counts_for_its_own(books, shelf):
    batch = books.plan(of_wax_and_of_melt(books, "Fig", ("of_wax", 40_000), ("of_melt", 30_000)), 10)
    old = batch.version.lines.get(basis="of_melt")
    right = of_wax_and_of_melt(books, "Fig again", ("of_wax", 40_000), ("of_melt", 30_000))
    correct(books, batch, right)

    arrived = books.bench(batch, "draw", line=old.pk, lot=shelf["fragrance"], quantity="30 g", seen=0)

    assert arrived.line == right.lines.get(basis="of_melt")


def test_what_the_right_version_does_not_have_is_off_the_formula_and_can_be_put_right(books, shelf):
    batch = books.plan(in_two_pots(books), 10)
    weigh(books, shelf, batch, 35, 35)
    books.finish(batch, 10)
    assert off(batch) == []

    correct(books, batch, in_two_pots(books, name="Fig again", without="wick"))

    batch = Batch.objects.get(pk=batch.pk)
    assert off(batch) == ["wick: 10 went in, and the formula asks for none"]
    assert not made_of(batch).all_within
    assert {each.line.item.name: each.verdict for each in RecordFacts(batch, books.by).lines} == {
        "wax": "within tolerance",
        "fragrance": "within tolerance",
        "vessel": "as planned",
    }
    (wick,) = versions.off_the_formula(batch)

    books.correct(wick.movement.posting, (shelf["wick"], 9))

    assert off(batch) == ["wick: 9 went in, and the formula asks for none"]
    assert books.of(shelf["wick"])[0] == 91


def test_scent_that_the_right_version_does_not_have_still_counts_as_load(books, shelf):
    """70 g of fragrance in 930 g of wax is 7.53 %, above 5 %; each pot has 35 of 465."""
    Item.objects.filter(name="wax").update(maximum_load_ppm=50_000, maximum_load_basis="of_wax")
    batch = books.plan(in_two_pots(books), 10)
    weigh(books, shelf, batch, 35, 35)

    correct(books, batch, in_two_pots(books, name="Plain", without="fragrance"))

    assert "Pot 1: the load of 7.53 % of wax is above the 5 % of wax stated for wax." in off(batch)


def test_a_version_written_after_the_pour_is_the_owners_to_name(books, shelf, version, strong):
    batch = books.plan(version, 10)
    books.fill(shelf, batch, at=day(10))
    FormulaVersion.objects.filter(pk=strong.pk).update(written_at=day(11))
    maker = Books(User.objects.create(username="tobin", role=Role.MAKER))

    with pytest.raises(BatchError, match=r"was written on 11 Mar 2026.*after the first draw on 10 Mar 2026"):
        correct(maker, batch, strong)

    assert not VersionCorrection.objects.exists()
    correct(books, batch, strong)
    batch.refresh_from_db()
    assert batch.version == strong


def ticks(**more):
    return {"label_right": True, "warning_on": True, "unweighed": True, "on": TODAY, **more}


@pytest.fixture
def trial(books, version):
    """A version of the same candle on trial; the first one is approved."""
    books.approve(version)
    lines = [("wax", "wax_share", 1_000_000), ("fragrance", "of_melt", 80_000), ("wick", "per_unit", 1)]
    lines.append(("vessel", "per_unit", 1))
    return books.formula(version.formula.item.name, lines, fill="100 g", name="On trial")


def test_what_was_released_is_held_where_the_right_version_was_never_approved(books, shelf, version, trial):
    """Of ten, two were put into a box of their own and one was sent and came back; another batch stands beside it."""
    tobin = Books(User.objects.create(username="tobin", role=Role.MAKER))
    other, batch = books.plan(version, 10), books.plan(version, 10)
    for each in (other, batch):
        books.fill(shelf, each)
    (bystander,) = books.finish(other, 10)
    (made,) = books.finish(batch, 10)
    (box,) = books.decant((made, 2))
    gone = dispatching.send(books.take((made, 1)), signature=books.sign())
    (back,) = dispatching.take_back(
        gone.pk, [dispatching.Back(made.pk, 1)], signature=books.sign(reason="Lid")
    )

    correct(tobin, batch, trial)

    for lot in (made, box, back):
        with refused(
            holding.OwnerDecides, "The design is not approved: it was recorded as .* 1 and is On trial"
        ):
            holding.release(lot.pk, signature=tobin.sign(reason="Fine"))
    with refused(LotNotUsable, "on hold"):
        books.send(made, 1)
    bystander.refresh_from_db()
    assert not bystander.held
    # What the owner releases stays so when another weight is corrected.
    holding.release(made.pk, signature=books.sign(reason="Burned two of them, even"))
    wick = batch.draws.standing().get(line__item__name="wick").movement.posting
    books.correct(wick, (shelf["wick"], 11))
    assert not Lot.objects.get(pk=made.pk).held


def test_a_released_lot_entered_again_as_of_a_trial_is_held(books, shelf, version, trial):
    batch = books.plan(version, 10)
    books.fill(shelf, batch)
    (made,) = books.finish(batch, 10)
    books.undo(batch)
    correct(books, batch, trial)

    (again,) = books.finish(Batch.objects.get(pk=batch.pk), 10, release=False)

    assert again == made
    assert holding.waits_for_owner([again.pk])


def test_a_correction_to_an_approved_version_leaves_the_release_to_the_owner(books, shelf, version, trial):
    """Poured by a maker as of a trial, and corrected by the maker: it is still the owner's to release."""
    tobin = Books(User.objects.create(username="tobin", first_name="Tobin", role=Role.MAKER))
    batch = tobin.plan(trial, 10)
    tobin.fill(shelf, batch)
    (made,) = tobin.finish(batch, 10, release=False)
    with refused(releasing.NeedsOwner, "The design is not approved"):
        releasing.release(made.pk, **ticks(), signature=tobin.sign())

    correct(tobin, batch, version)

    words = "It was recorded as On trial, version 1, whose design is not approved, until Tobin corrected that"
    with refused(releasing.NeedsOwner, words):
        releasing.release(made.pk, **ticks(), signature=tobin.sign())
    kept = releasing.release(made.pk, **ticks(despite="Version 1 it was"), signature=books.sign())
    assert "until Tobin corrected that: Version 1 it was" in kept.note


def test_a_version_corrected_before_anything_was_weighed_or_by_the_owner_is_anybodys(
    books, shelf, version, trial
):
    tobin = Books(User.objects.create(username="tobin", role=Role.MAKER))
    planned, poured = tobin.plan(trial, 10), tobin.plan(trial, 10)
    correct(tobin, planned, version)
    tobin.fill(shelf, poured)
    correct(books, poured, version)
    for batch in (planned, poured):
        batch = Batch.objects.select_related("version__formula__item").get(pk=batch.pk)
        if batch.pk == planned.pk:
            tobin.fill(shelf, batch)
        (made,) = tobin.finish(batch, 10, release=False)
        releasing.release(made.pk, **ticks(), signature=tobin.sign())


def test_a_weight_entered_before_the_correction_arrives_after_it(books, shelf, version, strong):
    """Weighed without the network for version 1: 300 g of wax and two wicks. The right version has wax, and no wick."""
    batch = books.plan(version, 10)
    old = {line.item.name: line for line in version.lines.select_related("item")}
    correct(books, batch, strong)

    arrived = books.bench(batch, "draw", line=old["wax"].pk, lot=shelf["wax"], quantity="300 g", seen=0)
    books.bench(batch, "draw", line=old["wick"].pk, lot=shelf["wick"], quantity="2", seen=0)

    assert arrived.line == strong.lines.get(item__name="wax")
    assert plans.drawn_by_line(batch)[arrived.line_id] == grams(300)
    assert off(Batch.objects.get(pk=batch.pk))[-1] == "wick: 2 went in, and the formula asks for none"
    stranger = books.candle("Fig Leaf").lines.get(item__name="wax")
    with refused(BatchError, "not in the batch's formula"):
        books.bench(batch, "draw", line=stranger.pk, lot=shelf["wax"], quantity="1 g")
