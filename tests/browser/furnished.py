"""A small studio with something of everything on its pages: every state a lot, a run and a form can be in."""

from datetime import UTC, date, datetime, timedelta

from batches.models import Reading
from batches.planning import plans
from batches.production import runs
from costing.models import OverheadRate
from costing.rates.rates import set_labour_rate, set_overhead_rate
from inventory.lots import holding
from inventory.models import Kind
from studio.web import uploads
from tests.browser.furnished_more import around
from tests.files import picture
from tests.house import Books, base, day, money

# Names as long as people make them, and one without a place to break.
WAX = "Soy and coconut wax, flake, for containers, winter quality"
SCENT = "Quince Orchard with a long afterword of rain"
WICK = "Cotton wick, size 18, pre-tabbed, 150 mm"
VESSEL = "Amber jar 220 g, straight-sided, with thread"
LABEL = "Warning-label-round-38mm-on-a-roll-of-a-thousand"
BLEND = "House wax, melted and cast into blocks"
CANDLE = "Quince Orchard, amber jar 220 g"


def furnish(books: Books) -> list[str]:
    """Deliveries, formulas, runs in every state, a lot on hold, one expired, goods sent out, rates, a found draw.

    Gives back the addresses of pages that are unlike others of their kind.
    """
    today = datetime.now(UTC).date()
    for name, kind in (
        (WAX, Kind.WAX),
        (SCENT, Kind.FRAGRANCE),
        (WICK, Kind.WICK),
        (VESSEL, Kind.VESSEL),
        (LABEL, Kind.LABEL),
    ):
        books.item(name, kind, place="Shelf B2, at the back")
    books.item(SCENT).__class__.objects.filter(name=SCENT).update(
        flash_point_mc=93_000,
        maximum_load_ppm=100_000,
        maximum_load_basis="of_wax",
        density_ug_per_ml=960_000,
    )
    delivery = books.deliver(
        books.arrival(WAX, "25 kg", "137.25", packs=2, supplier_lot="SW-2291/B"),
        books.arrival(SCENT, "2.5 kg", "132.00", supplier_lot="Q-77", expires_on=today + timedelta(days=9)),
        books.arrival(WICK, 1_000, "84.00"),
        books.arrival(VESSEL, 480, "552.00"),
        books.arrival(LABEL, 1_000, "19.00"),
        freight="48.50",
    )
    shelf = {line.item.name: line.lots.first() for line in delivery.lines.all()}
    old = books.receive(SCENT, "500 g", cost="31.00", expires_on=date(2026, 3, 25))
    doubtful = books.receive(WAX, "12.5 kg", cost="70.00")
    holding.hold(doubtful.pk, signature=books.sign(reason="Yellow specks all through; the supplier is asked"))
    holding.allow_use(
        old.pk,
        today + timedelta(days=20),
        on=today,
        signature=books.sign(reason="Smells as fresh as the new one does"),
    )

    books.item(BLEND, Kind.WAX, made_here=True)
    blend = books.formula(BLEND, [(WAX, "wax_share", 1_000_000)])
    version = books.formula(
        CANDLE,
        [
            (WAX, "wax_share", 1_000_000),
            (SCENT, "of_wax", 80_000, 0, 12_500),
            (WICK, "per_unit", 1, 20_000),
            (VESSEL, "per_unit", 1),
            (LABEL, "per_unit", 1),
        ],
        fill="220 g",
        loss_ppm=30_000,
        pot_ug=base("8 kg"),
        heat_to_mc=85_000,
        fragrance_at_mc=95_000,
        pour_from_mc=57_000,
        pour_to_mc=62_000,
        cure_days=14,
        notes="Warm the jars.\nStir two minutes.",
        what_changed="First try with the new wax",
        stir_minutes=3,
        label_words="Contains quince-blossom aldehyde and rain ketone (invented). May produce an allergic reaction.",
    )
    set_labour_rate(from_on=today, person=None, per_hour=money(19), by=books.by, now=books.sign().recorded_at)
    set_overhead_rate(
        from_on=today,
        basis=OverheadRate.Basis.LABOUR_HOUR,
        amount=money(6),
        by=books.by,
        now=books.sign().recorded_at,
    )

    finished = books.plan(version, 48)
    for line in finished.version.lines.all():
        takes = {WAX: "10080 g", SCENT: "806 g", WICK: 49, VESSEL: 48, LABEL: 48}[line.item.name]
        books.draw_into(finished, (shelf[line.item.name], takes), at=day(2))
    runs.take_reading(
        finished.pk, Reading.Kind.POUR, 59_500, note="left end of the table", signature=books.sign()
    )
    runs.note_labour(
        finished,
        person_id=books.by.pk,
        step="pouring",
        minutes=95,
        worked_on=books.sign().happened_at.date(),
        signature=books.sign(),
    )
    good, _ = books.finish(finished, good=44, seconds=3, scrap={"Frosting": 1}, at=day(3))
    books.send(good, 12)

    started = books.plan(version, 12, on=today)
    wrong = books.draw_into(started, (shelf[WAX], "25 kg"))
    books.correct(wrong, (shelf[WAX], "2520 g"))
    books.draw_into(started, (old, "508 g"), found=True)
    books.bench(started, "draw", lot=shelf[WICK], quantity=12)
    books.bench(started, "note", note_kind="stirred", seconds=125)
    books.bench(started, "photo", photo=uploads.receive("pot.jpg", picture()), text="The pot, all clear")
    planned = books.plan(version, 600, on=today + timedelta(days=2))
    books.plan(blend, base("200 g"), on=today)
    called_off = books.plan(version, 6, on=today)
    plans.call_off(called_off.pk, signature=books.sign(reason="The market was called off"))
    unused = books.formula("Cedar & Black Tea", [(WAX, "wax_share", 1_000_000)], fill="90 g")
    unlike = (finished, started, planned, called_off, good, doubtful, old, unused)
    more = around(books, version, finished, (WAX, SCENT, LABEL))
    one_off = f"/stock/ledger/{finished.draws.earliest('pk').movement.posting_id}/one-off/"
    return [*(each.get_absolute_url() for each in unlike), one_off, *more]
