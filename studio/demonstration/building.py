"""The demonstration studio: eighteen months of an invented workshop, told through the screens' own functions.

`build` fills an empty database and ends at the moment it is given, with something of everything that needs a
hand still open. Nothing in it is real: people, suppliers, shops and customers are invented.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from batches.models import FormulaVersion
from batches.planning import planning, plans
from inventory.lots.decanting import Jar, decant
from inventory.lots.moving import Taking
from inventory.lots.write_offs import take_out
from inventory.models import Lot, Posting, Reason
from studio.demonstration import complaints, story
from studio.demonstration.at_bench import weigh_up
from studio.demonstration.buying import Buying
from studio.demonstration.closed import close_quarters
from studio.demonstration.corrected import count_again
from studio.demonstration.counts import ShelfCounts
from studio.demonstration.covered import write_a_stronger_tin
from studio.demonstration.goods import KG, G
from studio.demonstration.grave import answer_two_more
from studio.demonstration.label_words import write_labels
from studio.demonstration.ordered import take_orders
from studio.demonstration.papers import file_papers
from studio.demonstration.pots import two_pots
from studio.demonstration.prices import set_prices, think_of_scents
from studio.demonstration.rates import overhead_paid, set_rates, set_standards
from studio.demonstration.remelt import remelt
from studio.demonstration.reordering import decide
from studio.demonstration.script import Script
from studio.demonstration.sent import Sending, bring_in_orders, tell_who_is_who
from studio.demonstration.stage import People, working_day
from studio.demonstration.work import Workshop
from studio.models import Role, Studio, User
from studio.people.signature import Signature


@dataclass(frozen=True)
class Person:
    """Somebody to sign in as on the demonstration, where passwords are no secret."""

    username: str
    name: str
    role: Role
    password: str


PEOPLE = (
    Person("marit", "Marit", Role.OWNER, "nine-wicks-owner"),
    Person("jonah", "Jonah", Role.MAKER, "nine-wicks-maker"),
    Person("priya", "Priya", Role.BOOKKEEPER, "nine-wicks-books"),
)


class NotEmpty(Exception):
    """There are books already; the demonstration is only built where there are none."""


def is_empty() -> bool:
    """Whether nobody has set up a studio here."""
    return not Studio.objects.exists() and not User.objects.exists()


def last_day() -> date | None:
    """The last day anything was written down, by the clock in force; None when nothing was."""
    latest = Posting.objects.aggregate(latest=Max("recorded_at"))["latest"]
    return timezone.localtime(latest).date() if latest else None


@transaction.atomic
def build(now: datetime, seed: int = 9, progress: Callable[[], None] = lambda: None) -> People:
    """Tell the eighteen months that end at `now`, an aware instant: all of it or nothing.

    The same seed and instant give the same books. `progress` is called once a month. Raises NotEmpty.
    """
    if not is_empty():
        raise NotEmpty("This database is not empty. Start with a fresh one: manage.py demo --fresh")
    zone = ZoneInfo(settings.TIME_ZONE)
    with timezone.override(zone):
        people = _people(now)
        today = timezone.localtime(now).date()
        shop = Workshop(people=people, today=today, zone=zone, seed=seed)
        shop.furnish()
        set_rates(shop)
        set_standards(shop)
        counts = ShelfCounts(shop, seed)
        buying = Buying(shop)
        buying.first_prices()
        shop.live(Script(shop, counts, buying).days() | Sending(shop).days(), progress)
        _leave_open(shop, now)
        set_prices(shop)
        think_of_scents(
            shop, Signature(people.owner, now - timedelta(minutes=38), now - timedelta(minutes=37))
        )
        write_a_stronger_tin(
            shop, Signature(people.owner, now - timedelta(minutes=36), now - timedelta(minutes=35))
        )
        shop.burns.burn_on(shop.products["fig_jar"].current())
        buying.draft(Signature(people.owner, now - timedelta(minutes=34), now - timedelta(minutes=33)))
        decide(shop, Signature(people.owner, now - timedelta(minutes=30), now - timedelta(minutes=29)))
        remelt(shop, now)
        # Before the count begins: what is entered late of a counted lot would stand against it.
        two_pots(shop, now)
        counts.half_counted(Signature(people.owner, now - timedelta(minutes=14), now - timedelta(minutes=13)))
        complaints.complain(shop, now)
        answer_two_more(shop, now)
        count_again(shop, now)
        overhead_paid(shop, now)
        file_papers(shop, now)
        write_labels(shop, now)
        close_quarters(shop, now)
    return people


def _people(now: datetime) -> People:
    Studio.objects.create(
        pk=1,
        name=story.STUDIO_NAME,
        currency="USD",
        time_zone=settings.TIME_ZONE,
        address=story.ADDRESS,
    )
    made = []
    for person in PEOPLE:
        user = User(
            username=person.username,
            first_name=person.name,
            role=person.role,
            date_joined=now - timedelta(days=story.DAYS),
        )
        user.set_password(person.password)
        user.save()
        made.append(user)
    return People(*made)


def _leave_open(shop: Workshop, now: datetime) -> None:
    """What is under way at this moment: a run half weighed, and two planned for the days to come."""

    def ago(minutes: int, by: User) -> Signature:
        happened_at = now - timedelta(minutes=minutes)
        return Signature(by, happened_at, happened_at + timedelta(minutes=1))

    maker, owner = shop.people.maker, shop.people.owner
    version, quantity = _what_can_be_poured(shop)
    batch = plans.plan(version, quantity, planned_on=shop.today, signature=ago(55, owner))
    for key, days, note in (
        ("rain_jar", 1, "For the market."),
        ("quince_jar", 2, "As soon as the scent is in."),
    ):
        product = shop.products[key]
        day = working_day(shop.today + timedelta(days=days))
        plans.plan(product.current(), product.story.run, planned_on=day, note=note, signature=ago(50, owner))
    take_orders(shop, ago)
    tell_who_is_who()
    bring_in_orders(shop, ago)
    weigh_up(batch, maker, ago)
    _fill_jars(ago(15, maker))


def _fill_jars(signature: Signature) -> None:
    """A pail of the best seller is decanted for the bench, and a little of it is kept as a sample."""
    pails = Lot.objects.filter(item__name="Cedar & Black Tea fragrance", held=False).order_by(
        "-on_hand", "pk"
    )
    filled = [Jar(500 * G, f"bench jar {number}", "Bench", 310 * G) for number in (1, 2)]
    jars = decant([Taking(pails[0].pk, KG)], filled, signature=signature)
    kept = signature.because("Retained sample: to compare the next pail with")
    take_out(jars[0].pk, 20 * G, kind=Reason.Kind.SAMPLE, signature=kept)


def _what_can_be_poured(shop: Workshop) -> tuple[FormulaVersion, int]:
    """The best seller, or the next the shelf is enough for, and how many of it."""
    for key in ("cedar_jar", "cedar_tin", "tides_jar", "cedar_bowl"):
        product = shop.products[key]
        most = planning.most_from_shelf(product.current(), on=shop.today).quantity
        if most >= product.story.run // 2:
            return product.current(), min(most, product.story.run)
    return shop.products["cedar_jar"].current(), 12
