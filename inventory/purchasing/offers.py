"""What suppliers ask: offers entered and withdrawn, the price at a quantity, and how long delivery takes."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Protocol

from django.db import transaction

from inventory.models import Item, Offer, OfferBreak, Supplier
from studio.people.signature import Signature

BREAKS_AT_MOST = 6


class OfferError(Exception):
    """An offer cannot be taken as it is. Its text is a sentence; `problems` says where, for a form."""

    def __init__(self, problems: "Sequence[Problem]", sentence: str = "") -> None:
        super().__init__(sentence or " ".join(problem.sentence for problem in problems))
        self.problems = tuple(problems)


class Priced(Protocol):
    """A price of one pack, in millionths, that holds from so many packs on."""

    @property
    def from_packs(self) -> int: ...

    @property
    def price(self) -> int: ...


@dataclass(frozen=True)
class Break:
    """From `from_packs` packs on, every pack of the order costs `price` millionths."""

    from_packs: int
    price: int


@dataclass(frozen=True)
class Problem:
    """What is wrong with the break at `place` (from 0): its number of packs or its price, and a sentence."""

    place: int
    field: str
    sentence: str


def price_at(breaks: Iterable[Priced], packs: int) -> int | None:
    """The price of each pack, in millionths, when `packs` are ordered at once; None below the first break.

    All units: every pack has the price of the highest break reached, as suppliers of materials quote, and as in
    Snyder & Shen, Fundamentals of Supply Chain Theory, 2nd ed., section 3.4 (all-units discounts).
    """
    reached = [each for each in breaks if each.from_packs <= packs]
    return max(reached, key=lambda each: each.from_packs).price if reached else None


def problems_of(breaks: Sequence[Break], minimum_packs: int) -> list[Problem]:
    """Whatever keeps these breaks from being a price list: none, not rising, twice, or not from the minimum on."""
    if not breaks:
        return [Problem(0, "price", "Enter the price of a pack.")]
    found = []
    first = breaks[0].from_packs
    if first > minimum_packs:
        found.append(
            Problem(
                0,
                "from_packs",
                f"Nothing says what {minimum_packs} to {first - 1} packs cost. "
                f"Begin at {minimum_packs}, or make {first} the least that can be ordered.",
            )
        )
    elif first < minimum_packs:
        found.append(
            Problem(
                0,
                "from_packs",
                f"Fewer than {minimum_packs} cannot be ordered. Begin at {minimum_packs}, or lower the least.",
            )
        )
    seen = set()
    for place, each in enumerate(breaks):
        if each.price <= 0:
            found.append(Problem(place, "price", "Enter a price above zero."))
        if each.from_packs in seen:
            found.append(Problem(place, "from_packs", f"A price from {each.from_packs} is there already."))
        elif place and each.from_packs < breaks[place - 1].from_packs:
            found.append(Problem(place, "from_packs", "Enter the quantities in order, the smallest first."))
        seen.add(each.from_packs)
    return found


def dearer_places(breaks: Sequence[Break]) -> list[int]:
    """The places of breaks (from 0) that cost more per pack than the one before: usually a slip."""
    return [place for place in range(1, len(breaks)) if breaks[place].price > breaks[place - 1].price]


@transaction.atomic
def enter_offer(
    *,
    supplier: Supplier,
    item: Item,
    pack_quantity: int,
    typed_pack: str,
    breaks: Sequence[Break],
    quoted_on: date,
    signature: Signature,
    minimum_packs: int = 1,
    valid_until: date | None = None,
    lead_days: int | None = None,
    supplier_code: str = "",
    note: str = "",
) -> Offer:
    """Keep what a supplier quoted. An earlier offer of the same pack is replaced by it and stays as history.

    `pack_quantity` in the item's base unit; the prices of `breaks` in millionths for one pack. Raises OfferError.
    """
    if problems := problems_of(breaks, minimum_packs):
        raise OfferError(problems)
    offer = Offer.objects.create(
        supplier=supplier,
        item=item,
        pack_quantity=pack_quantity,
        typed_pack=typed_pack,
        supplier_code=supplier_code,
        minimum_packs=minimum_packs,
        lead_days=lead_days,
        quoted_on=quoted_on,
        valid_until=valid_until,
        note=note,
        by=signature.by,
        recorded_at=signature.recorded_at,
    )
    OfferBreak.objects.bulk_create(
        OfferBreak(offer=offer, from_packs=each.from_packs, price=each.price) for each in breaks
    )
    return offer


@transaction.atomic
def withdraw(offer_id: int) -> Offer:
    """Take an offer that was entered by mistake out of use; it stays on record. Raises OfferError when it was before."""
    offer = Offer.objects.select_for_update(of=("self",), no_key=True).get(pk=offer_id)
    if offer.withdrawn:
        raise OfferError((), "This offer was withdrawn before.")
    offer.withdrawn = True
    offer.save(update_fields=["withdrawn"])
    return offer


def by_pack(supplier: Supplier, item_ids: Collection[int], on: date) -> dict[tuple[int, int], Offer]:
    """The supplier's standing offers of some items by item and pack size, with their breaks; two queries."""
    offers = Offer.objects.standing(on).filter(supplier=supplier, item__in=set(item_ids))
    return {
        (offer.item_id, offer.pack_quantity): offer
        for offer in offers.select_related("item").prefetch_related("breaks")
    }
