"""Burn tests: started, read, struck out, decided; every refusal leaves all as it was."""

from fractions import Fraction
from importlib import import_module
from pathlib import Path

import pytest
from django.apps import apps
from django.db import DatabaseError, transaction

import batches.migrations
from batches.burn_tests import burning
from batches.burn_tests.record import record_of, with_readings
from batches.burn_tests.sources import sources
from batches.burn_tests.verdict import verdict_of
from batches.formulas import approving
from batches.formulas import writing as formulas
from batches.formulas.approving import owners_word
from batches.models import BurnJar, BurnLimits, BurnReading, BurnTest, FormulaVersion
from inventory.models import Item
from studio.models import Role, User
from studio.web import uploads
from tests.files import picture
from tests.house import NOW, Books, day, grams, refused

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("agreeing")]


@pytest.fixture
def maker(books):
    return Books(User.objects.create(username="tobin", first_name="Tobin", role=Role.MAKER))


@pytest.fixture
def test(books, version):
    """Two jars of 100 g of melt, 351 g and 352 g."""
    return books.light(version, "351 g", "352 g", at=day(10))


def record(test):
    return record_of(with_readings(BurnTest.objects.filter(pk=test.pk)).get())


def missing(version):
    """What an approval of the version lacks, in words."""
    fresh = FormulaVersion.objects.prefetch_related("lines__item").get(pk=version.pk)
    return approving.missing(approving.conditions(fresh))


def burned_but_for_a_slip(maker, version):
    """A test of one jar of 350 g; of its first cycle a flame of 150 mm was read and struck out, all else is calm."""
    calm = {"flame_um": 40_000, "soot": "none", "mushrooming": "none"}
    test = maker.light(version, "350 g")
    (slip,) = maker.read(test, 1, {"weight": "330 g", **calm, "flame_um": 150_000})
    burning.strike(slip.pk, signature=maker.sign(reason="slip"))
    for cycle, weight in ((1, "330 g"), (2, "310 g"), (3, "290 g")):
        maker.read(test, cycle, {"weight": weight, **calm})
    end = {"weight": "265 g", "minutes": 300, "wax_left_um": 12_000, "went_out": "put_out", "soot": "none"}
    maker.read(test, 4, {**end, "flame_um": 40_000}, kind="end")
    return test


def test_a_struck_reading_beyond_a_limit_is_the_owners_to_pass_and_named_at_the_approval(books, maker):
    version = books.candle()
    Item.objects.filter(name__in=("wax", "fragrance")).update(
        maximum_load_ppm=200_000, maximum_load_basis="of_wax"
    )
    test = burned_but_for_a_slip(maker, version)
    words = "Jar 1, cycle 1, struck out by Tobin: Flame 150 mm, above 75 mm. Why: slip."

    with pytest.raises(burning.OwnerDecides) as told:
        burning.decide(test.pk, "passed", signature=maker.sign(reason="Burned evenly"))
    assert [each.replace("\N{NO-BREAK SPACE}", " ") for each in told.value.why] == [words]
    because = "I saw the jar, it was the ruler"
    burning.decide(test.pk, "passed", accepted_because=because, signature=books.sign(reason="Burned evenly"))

    fresh = FormulaVersion.objects.prefetch_related("lines__item").get(pk=version.pk)
    found = approving.conditions(fresh)[0].found.replace("\N{NO-BREAK SPACE}", " ")
    assert found.count(words) == 1
    assert because in found
    maker.approve(version)
    assert words in owners_word(version).replace("\N{NO-BREAK SPACE}", " ")


def test_a_struck_breach_passed_before_anybody_was_asked_does_not_speak_for_the_design(books, maker):
    test = burned_but_for_a_slip(maker, books.candle())
    BurnTest.objects.filter(pk=test.pk).update(
        state="passed", verdict="Burned evenly", decided_by=maker.by, decided_at=NOW
    )

    verdict = verdict_of(test)

    assert not verdict.speaks
    assert "struck out by Tobin" in verdict.lacking


def test_a_jar_read_as_used_up_with_half_its_melt_left_is_the_owners_to_pass(books, maker):
    """350 g with 100 g of melt weigh 300 g at the end: 50 g burned."""
    version = books.candle()
    calm = {"flame_um": 40_000, "soot": "none", "mushrooming": "none"}
    test = books.light(version, "350 g")
    for cycle, weight in ((1, "332 g"), (2, "316 g"), (3, "302 g")):
        books.read(test, cycle, {"weight": weight, **calm})
    end = {"weight": "300 g", "minutes": 10, "wax_left_um": 0, "went_out": "put_out", "soot": "none"}
    books.read(test, 4, {**end, "flame_um": 40_000}, kind="end")

    signature = maker.sign(reason="Burned evenly")
    with pytest.raises(burning.OwnerDecides) as told:
        burning.decide(test.pk, "passed", signature=signature)

    assert [each.replace("\N{NO-BREAK SPACE}", " ") for each in told.value.why] == [
        "Jar 1: read as used up, with no wax left, but by weight 50 g of 100 g of melt had burned after cycle 4. "
        "One of the two is wrong."
    ]


def test_a_test_is_read_cycle_by_cycle_and_says_how_fast_it_burns(books, test):
    # 20 and 22 g, 22 and 24 g: 88 g in 16 h, 5.5 g an hour; 100 g of melt last 18.18 h, jar 1 alone 19.05 h.
    books.read(test, 1, {"weight": "331 g"}, {"weight": "330 g"}, at=day(10, 13))
    books.read(test, 2, {"weight": "309 g"}, {"weight": "306 g"}, at=day(11, 13))

    found = record(test)
    assert (found.cycles, found.next_cycle, found.unread) == (2, 3, ())
    assert (found.burned.burned_ug, found.burned.hours, found.burned.rate) == (grams(88), 16, 5_500_000)
    assert round(found.life, 2) == Fraction("18.18")
    assert round(found.jars[0].life, 2) == Fraction("19.05")
    assert [(jar.number, jar.start_ug, jar.melt_ug) for jar in test.jars.all()] == [
        (1, grams(351), grams(100)),
        (2, grams(352), grams(100)),
    ]


def test_hours_are_expected_by_the_fill_weight_where_nobody_noted_the_melt(books, version):
    # The formula fills 100 g: at 5 g an hour 20 h.
    test = books.light(version, "351 g", melt=None)
    books.read(test, 1, {"soot": "none"})
    assert record(test).hours_words.replace("\N{NO-BREAK SPACE}", " ") == (
        "4 h; how many to expect is not known yet"
    )

    books.read(test, 2, {"weight": "311 g"})

    assert record(test).burned.rate == 5_000_000
    assert (record(test).life, record(test).jars[0].left) == (20, 12)
    assert record(test).hours_words.replace("\N{NO-BREAK SPACE}", " ") == (
        "8 h of about 20 h expected (an estimate)"
    )


def test_a_slip_is_struck_out_and_read_anew_and_both_stay(books, test):
    wrong, _ = books.read(test, 1, {"weight": "301 g"}, {"weight": "330 g"})
    burning.strike(wrong.pk, signature=books.sign(reason="Read upside down"))

    found = record(test)
    assert [(number, jar.number) for number, jar in found.unread] == [(1, 1)]
    books.read(test, 1, {"weight": "331 g"})
    found = record(test)
    assert (found.unread, found.cycles) == ((), 1)
    assert [row.reading.weight_ug for row in found.rows[0][1]] == [grams(301), grams(331), grams(330)]
    assert [row.burned and row.burned.burned_ug for row in found.rows[0][1]] == [None, grams(20), grams(22)]
    wrong.refresh_from_db()
    assert (wrong.struck_by, wrong.struck_because) == (books.by, "Read upside down")


@pytest.mark.parametrize(
    ("jars", "more", "match"),
    [
        ((), {}, "from 1 to 12"),
        (("300 g",) * 13, {}, "from 1 to 12"),
        (("99 g",), {}, "less than the melt"),
    ],
)
def test_a_test_that_cannot_be_is_not_started(books, version, jars, more, match):
    with refused(burning.BurnError, match):
        books.light(version, *jars, **more)


def test_a_blend_is_not_burned(books):
    blend = books.formula("Lane blend", [("wax", "wax_share", 1_000_000)])

    with refused(burning.BurnError, "A blend is not burned"):
        books.light(blend, "300 g")


def test_jars_of_a_batch_are_of_a_run_that_was_poured_from_this_version(books, shelf, version):
    other = books.plan(books.candle("Quince Orchard"), 2)
    planned = books.plan(version, 2)
    for batch in (other, planned):
        with refused(burning.BurnError, "No jars of this version came from"):
            books.light(version, "351 g", batch_id=batch.pk)
    books.fill(shelf, planned, 2)

    assert books.light(version, "351 g", batch_id=planned.pk).batch == planned


@pytest.mark.parametrize(
    ("cycle", "seen", "match"),
    [
        (3, [{"weight": "300 g"}], "Cycle 2 comes first"),
        (1, [{"weight": "330 g"}], "read already"),
        (2, [], "at least one jar"),
        (2, [{"weight": "332 g"}], "331.g before and cannot have gained"),
        (2, [{"weight": "250 g"}], "lost more than the 100.g"),
        (2, [None, {"weight": "340 g"}], "cannot have gained"),
        (2, [{"minutes": 60, "full_pool_after": 61}], "after the cycle ended"),
        (0, [{"weight": "300 g"}], "at most 60"),
    ],
)
def test_a_reading_that_cannot_be_is_refused_as_a_whole(books, test, cycle, seen, match):
    books.read(test, 1, {"weight": "331 g"}, {"weight": "330 g"})

    with refused(burning.BurnError, match):
        books.read(test, cycle, *seen)


def test_a_cycle_read_anew_fits_between_its_neighbours(books, test):
    books.read(test, 1, {"weight": "331 g"})
    (wrong,) = books.read(test, 2, {"weight": "309 g"})
    books.read(test, 3, {"weight": "289 g"})
    burning.strike(wrong.pk, signature=books.sign(reason="slip"))

    with refused(burning.BurnError, "cannot have weighed less"):
        books.read(test, 2, {"weight": "288 g"})
    books.read(test, 2, {"weight": "310 g"})
    assert record(test).burned.burned_ug == grams(62)


def test_a_reading_before_the_test_and_one_of_another_test_are_refused(books, version, test):
    with refused(burning.BurnError, "before the test began"):
        books.read(test, 1, {"weight": "331 g"}, at=day(9))
    other = books.light(version, "400 g").jars.get()
    with refused(burning.BurnError, "another test"):
        burning.read_cycle(test.pk, 1, [burning.Observation(other.pk, 240)], signature=books.sign())


def three_cycles(books, test, **seen):
    for cycle in (1, 2, 3):
        calm = {"flame_um": 40_000, "soot": "none", "mushrooming": "slight", **seen}
        books.read(test, cycle, *({"weight": f"{start - 20 * cycle} g", **calm} for start in (351, 352)))


def whole_life(books, test, **seen):
    """Three cycles, and the end of life with 12 mm of wax left."""
    three_cycles(books, test, **seen)
    end = {"flame_um": 50_000, "soot": "slight", "wax_left_um": 12_000, "went_out": "put_out"}
    books.read(test, 4, {"weight": "270 g", **end}, {"weight": "271 g", **end}, kind="end")


def test_a_maker_passes_what_the_readings_speak_for(maker, test):
    whole_life(maker, test)

    decided = burning.decide(test.pk, "passed", signature=maker.sign(reason="Burned evenly"))

    assert (decided.state, decided.verdict, decided.decided_by) == ("passed", "Burned evenly", maker.by)
    assert (decided.lacked, verdict_of(decided).speaks) == ("", True)


@pytest.mark.parametrize(
    "seen", [{"soot": "heavy"}, {"flame_um": 75_001}, {"flame_um": None}, {"soot": ""}, {"mushrooming": ""}]
)
def test_what_the_readings_do_not_speak_for_only_the_owner_passes(books, maker, test, seen):
    whole_life(maker, test, **seen)
    with refused(burning.OwnerDecides, "only the owner may pass"):
        burning.decide(
            test.pk, "passed", accepted_because="Looks fine", signature=maker.sign(reason="Looks fine")
        )
    with refused(burning.SayWhy, "Say why it passes"):
        burning.decide(test.pk, "passed", signature=books.sign(reason="Draughty room"))

    decided = burning.decide(
        test.pk, "passed", accepted_because="The room was draughty", signature=books.sign(reason="It will do")
    )

    assert (decided.state, decided.accepted_because) == ("passed", "The room was draughty")
    assert "Jar 2, cycle 3: " in decided.lacked


def test_a_test_that_stops_short_passes_on_the_owner_s_word_alone(books, maker, version, test):
    # Twelve hours at 5 g an hour of 100 g, which last 20 h.
    three_cycles(maker, test)
    with refused(burning.OwnerDecides, "only the owner"):
        burning.decide(test.pk, "passed", signature=maker.sign(reason="In a hurry"))
    assert verdict_of(test).speaks is False

    burning.decide(
        test.pk,
        "passed",
        accepted_because="The same jar was burned to its end last spring.",
        signature=books.sign(reason="Even"),
    )

    decided = BurnTest.objects.get(pk=test.pk)
    said = [each.replace("\N{NO-BREAK SPACE}", " ") for each in decided.lacked.split("\n")]
    assert said == [
        "Burned 12 h of about 20 h expected (an estimate).",
        "Jar 1: no end of life; a test runs until 12 mm of wax is left.",
        "Jar 2: no end of life; a test runs until 12 mm of wax is left.",
    ]
    verdict = verdict_of(decided)
    assert verdict.speaks
    assert (
        "on the owner's word: The same jar was burned to its end last spring. Burned" in verdict.owners_word
    )
    assert "burn test" not in missing(version)
    books.approve(version, "Burned evenly")
    assert "The same jar was burned to its end last spring" in owners_word(version)


def test_a_pass_of_before_without_all_readings_does_not_speak_for_its_design(books, version, test):
    # As such a test stood before anybody was asked: passed, with no flame height at all.
    three_cycles(books, test, flame_um=None)
    BurnTest.objects.filter(pk=test.pk).update(state="passed", decided_by=books.by, decided_at=NOW)

    assert verdict_of(BurnTest.objects.get(pk=test.pk)).speaks is False
    assert f"{test} was passed without all that its limits ask for" in missing(version)
    assert "Jar 1, cycle 1: flame height not observed." in missing(version)


def test_a_life_ends_once_and_nothing_burns_after_it(books, test):
    books.read(test, 1, {"weight": "331 g"}, {"weight": "330 g"})
    with refused(burning.BurnError, "as a cycle of its own"):
        books.read(test, 2, {"wax_left_um": 12_000})
    with refused(burning.BurnError, "burned on after cycle 1"):
        books.read(test, 2, {"weight": "311 g"})
        struck = BurnReading.objects.get(jar__test=test, cycle=1, jar__number=1)
        burning.strike(struck.pk, signature=books.sign(reason="slip"))
        books.read(test, 1, {"weight": "331 g"}, kind="end")
    (end,) = books.read(test, 2, {"weight": "270 g", "wax_left_um": 9_000}, kind="end")
    books.read(test, 2, None, {"weight": "310 g"})
    for kind in ("cycle", "end"):
        with refused(burning.BurnError, "came to its end in cycle 2"):
            books.read(test, 3, {"weight": "260 g"}, kind=kind)
    found = record(test)
    assert [jar.number for jar in found.burning] == [2]
    books.read(test, 3, None, {"weight": "290 g"})
    assert record(test).unread == ()

    burning.strike(end.pk, signature=books.sign(reason="It burned on"))
    assert [(number, jar.number) for number, jar in record(test).unread] == [(2, 1), (3, 1)]


def test_a_photo_the_limits_ask_for_is_of_its_cycle_and_its_jar(books, version):
    books_limits = {"photo_asked": True, "soot": "heavy", "mushrooming": "heavy", "cycles": 1}
    burning.set_limits(limits=books_limits, signature=books.sign())
    test = books.light(version, "351 g", "352 g")
    other = books.light(version, "400 g").jars.get()
    books.read(test, 1, {}, {})
    shown, sign = uploads.receive("pool.jpg", picture()), books.sign()
    no_photo = ("Jar 1, cycle 1: photo not observed.", "Jar 2, cycle 1: photo not observed.")
    assert record(test).judgement.missing == no_photo

    burning.add_photo(test.pk, shown, text="Of the bench", signature=sign)
    burning.add_photo(test.pk, shown, text="Of another cycle", cycle=2, signature=sign)
    assert record(test).judgement.missing == no_photo
    first, _ = test.jars.all()
    burning.add_photo(test.pk, shown, text="The pool", cycle=1, jar_id=first.pk, signature=sign)
    assert record(test).judgement.missing == no_photo[1:]
    burning.add_photo(test.pk, shown, text="Both", cycle=1, signature=sign)
    assert record(test).judgement.suggests == "pass"
    for jar, cycle in ((other.pk, 1), (first.pk, None)):
        with refused(burning.BurnError, "cycle|another test"):
            burning.add_photo(test.pk, shown, text="", cycle=cycle, jar_id=jar, signature=sign)


def test_a_studio_begins_with_limits_that_ask_for_a_whole_life_and_says_where_each_comes_from(books):
    limits = burning.limits_in_force()
    said = sources(limits)

    assert (limits.wax_left_um, limits.flame_um, limits.end_flame_um) == (12_000, 75_000, 75_000)
    assert (limits.weight_asked, limits.photo_asked, limits.cycles) == (True, False, 3)
    for name in ("flame_um", "end_flame_um"):
        assert "EN 15493:2019" in said[name]
        assert "from memory" in said[name]
    for name in ("soot", "mushrooming", "cycles", "weight_asked", "wax_left_um"):
        assert said[name].startswith("Common practice, no source"), name
    assert said["vessel_mc"] == said["end_vessel_mc"] == "Not judged."

    columns = {name: getattr(limits, name) for name in said}
    changed = burning.set_limits(
        limits=columns | {"flame_um": 60_000, "vessel_mc": 60_000}, signature=books.sign()
    )
    now = sources(changed)
    assert now["flame_um"] == now["vessel_mc"] == "The studio's own figure."
    assert {name for name in said if now[name] != said[name]} == {"flame_um", "vessel_mc"}


def test_a_decision_needs_readings_a_reason_and_a_word_that_is_known(books, maker, test):
    for state in ("passed", "failed"):
        with refused(burning.BurnError, "Nothing was read yet"):
            burning.decide(test.pk, state, signature=books.sign(reason="x"))
    with refused(burning.BurnError, "Say whether"):
        burning.decide(test.pk, "running", signature=books.sign(reason="x"))
    with refused(burning.BurnError, "why"):
        burning.decide(test.pk, "broken_off", signature=books.sign())

    assert (
        burning.decide(test.pk, "broken_off", signature=maker.sign(reason="Jar fell")).state == "broken_off"
    )


def test_nothing_is_added_to_a_decided_test(books, version):
    test = books.burn(version)
    reading = BurnReading.objects.earliest("pk")

    for act in (
        lambda: books.read(test, 4, {"weight": "270 g"}),
        lambda: burning.strike(reading.pk, signature=books.sign(reason="slip")),
        lambda: burning.decide(test.pk, "failed", signature=books.sign(reason="second thoughts")),
    ):
        with refused(burning.BurnEnded, "decided already"):
            act()


def test_a_reading_is_struck_out_once_and_with_a_reason(books, test):
    (reading,) = books.read(test, 1, {"weight": "331 g"})
    with refused(burning.BurnError, "Say what was wrong"):
        burning.strike(reading.pk, signature=books.sign())
    burning.strike(reading.pk, signature=books.sign(reason="slip"))
    with refused(burning.BurnError, "already"):
        burning.strike(reading.pk, signature=books.sign(reason="slip"))


def test_a_burned_version_stays_as_it_is(books, version, test):
    wax = formulas.Ingredient(books.item("wax"), "wax_share", 1_000_000)
    process = {"fill_ug": grams(120), "loss_ppm": 0, "division_ug": grams(1)}

    with refused(formulas.VersionUsed, "burned"):
        formulas.rewrite_version(version, process, [wax])
    with pytest.raises(DatabaseError, match="was used"), transaction.atomic():
        version.lines.update(amount=1)


def test_the_owner_sets_limits_and_older_tests_keep_theirs(books, maker, test):
    limits = {"flame_um": 50_000, "soot": "none", "mushrooming": "none", "cycles": 2}
    with refused(burning.BurnError, "Only the owner"):
        burning.set_limits(limits=limits, signature=maker.sign())

    made = burning.set_limits(limits=limits, signature=books.sign())

    assert burning.limits_in_force() == made
    assert (made.set_by, BurnLimits.objects.count()) == (books.by, 2)
    assert test.limits.flame_um == 75_000
    assert books.light(test.version, "351 g").limits == made


def test_the_database_keeps_what_was_read(books, version, test):
    (reading,) = books.read(test, 1, {"weight": "331 g"})
    decided = books.burn(version)
    attempts = [
        lambda: BurnReading.objects.filter(pk=reading.pk).update(weight_ug=1),
        lambda: BurnReading.objects.filter(pk=reading.pk)._raw_delete("default"),
        lambda: BurnReading.objects.filter(jar__test=decided).update(
            struck_at=NOW, struck_by=books.by, struck_because="x"
        ),
        lambda: BurnReading.objects.create(jar=decided.jars.get(), cycle=4, minutes=240, by=books.by, at=NOW),
        lambda: BurnReading.objects.create(jar=test.jars.first(), cycle=1, minutes=240, by=books.by, at=NOW),
        lambda: BurnTest.objects.filter(pk=decided.pk).update(state="failed"),
        lambda: BurnTest.objects.filter(pk=test.pk).update(cycle_minutes=1),
        lambda: BurnTest.objects.filter(pk=test.pk)._raw_delete("default"),
        lambda: BurnJar.objects.update(start_ug=1),
        lambda: BurnLimits.objects.update(flame_um=1),
    ]
    for attempt in attempts:
        with pytest.raises(DatabaseError, match=r"never|decided"), transaction.atomic():
            attempt()


def test_limits_of_before_carry_on_and_ask_for_a_whole_life_while_older_tests_keep_theirs(books, version):
    (step,) = Path(batches.migrations.__path__[0]).glob("*_whole_life_limits.py")
    before = BurnLimits.objects.create(
        flame_um=60_000, soot="none", mushrooming="heavy", cycles=5, set_by=books.by, set_at=NOW
    )
    test = books.light(version, "351 g")

    import_module(f"batches.migrations.{step.stem}").ask(apps, None)

    now = burning.limits_in_force()
    assert (now.flame_um, now.soot, now.mushrooming, now.cycles) == (60_000, "none", "heavy", 5)
    assert (now.wax_left_um, now.end_flame_um, now.weight_asked, now.set_by) == (12_000, 75_000, True, None)
    test.refresh_from_db()
    assert (test.limits, test.limits.wax_left_um) == (before, None)
    assert sources(now)["flame_um"] == "The studio's own figure."
    # What is set from now on comes after it.
    later = burning.set_limits(limits={"cycles": 2, "wax_left_um": 0}, signature=books.sign())
    assert burning.limits_in_force() == later
