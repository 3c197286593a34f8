"""What is in one case, roll or ream: asked once, and remembered for that supplier's item.

What a supplier's quote says of its packs ("case of 24") is known as well; what was said last goes before it.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime

from django.utils import timezone

from inventory.models import Item, Offer, PackContent, Supplier
from studio.core.quantities import (
    Packed,
    PackQuestion,
    QuantityError,
    entry_text,
    parse_quantity,
    read_packed,
)
from studio.people.signature import Signature

Known = Mapping[int, Mapping[str, int]]


@dataclass(frozen=True)
class PackLine:
    """Packs of an item as they were understood. `was_said` is true where somebody said now what is in one."""

    item: Item
    packed: Packed
    was_said: bool

    @property
    def each(self) -> int:
        """What one holds, in base units."""
        return self.packed.each or 0

    @property
    def typed(self) -> str:
        """One pack as it would be typed: "case of 24"."""
        return f"{self.packed.word} of {_typed(self.each, self.item)}"

    @property
    def words(self) -> str:
        """The sum, for the eye: "4 cases of 24 = 96 of Amber jar"."""
        whole = self.item.quantity(self.packed.number * self.each)
        return f"{self.packed.words(self.item.quantity(self.each))} = {whole} of {self.item}"


def _typed(quantity: int, item: Item) -> str:
    number = entry_text(quantity, item.unit)
    return number if item.unit == "each" else f"{number} {item.unit}"


def known_packs(supplier_id: int | None) -> dict[int, dict[str, int]]:
    """What is in one pack, by item's key and the pack's word, of everything of a supplier. Two queries.

    A delivery or order said it on the day it was entered, a quote on its own day, whenever that was entered.
    """
    if supplier_id is None:
        return {}
    said: list[tuple[date, datetime, int, str, int]] = []
    for offer in Offer.objects.filter(supplier=supplier_id, withdrawn=False).select_related("item"):
        try:
            packed = read_packed(offer.typed_pack, offer.item.dimension)
        except QuantityError:
            continue
        if packed and packed.each and packed.number == 1:
            said.append((offer.quoted_on, offer.recorded_at, offer.item_id, packed.word, packed.each))
    for row in PackContent.objects.filter(supplier=supplier_id).order_by("said_at", "pk"):
        said.append(
            (timezone.localtime(row.said_at).date(), row.said_at, row.item_id, row.word, row.quantity)
        )
    known: dict[int, dict[str, int]] = {}
    for _, _, item_id, word, quantity in sorted(said, key=lambda told: told[:2]):
        known.setdefault(item_id, {})[word] = quantity
    return known


class WrongInOne(QuantityError):
    """What is said beside packs of one of them cannot be read, or the packs say otherwise. Its text says what to do."""


def understand(text: str, in_one: str, item: Item, known: Known) -> PackLine | None:
    """The packs a text names, with what is in one: in the text, said beside it, or known. None where it names none.

    Raises PackQuestion where nobody knows, WrongInOne, QuantityError where what was typed cannot be read.
    """
    packed = read_packed(text, item.dimension)
    try:
        beside = parse_quantity(in_one, item.dimension) if in_one.strip() else None
    except QuantityError as error:
        raise WrongInOne(str(error)) from error
    if packed is None:
        if beside is not None and beside != parse_quantity(text, item.dimension):
            raise WrongInOne(
                f"{text} names no packs, so this is not counted in. Write what they are, for example 4 cases, or "
                "clear this field."
            )
        return None
    if packed.each is not None:
        check_packs(packed, beside, item)
        return PackLine(item, packed, was_said=True)
    if beside is not None:
        return PackLine(item, packed._replace(each=beside), was_said=True)
    if each_known := known.get(item.pk, {}).get(packed.word):
        return PackLine(item, packed._replace(each=each_known), was_said=False)
    raise PackQuestion(packed.word, packed.number, item.dimension)


def check_packs(packed: Packed | None, beside: int | None, item: Item) -> None:
    """Packs that say what is in one, against what is said of it beside them. Raises WrongInOne."""
    each = packed.each if packed else None
    if packed and each is not None and beside is not None and each != beside:
        said = packed.words(item.quantity(each))
        raise WrongInOne(
            f"The quantity says {said}, and this says {item.quantity(beside)}. Correct one of them."
        )


def remember(supplier: Supplier, lines: Iterable[PackLine], *, signature: Signature) -> None:
    """Keep what was said of a supplier's packs, also where it was known: a quote of an earlier day may be entered later.

    Inside a transaction.
    """
    rows = {(line.item.pk, line.packed.word): line.each for line in lines if line.was_said}
    PackContent.objects.bulk_create(
        PackContent(
            supplier=supplier,
            item_id=item,
            word=word,
            quantity=quantity,
            said_by=signature.by,
            said_at=signature.recorded_at,
        )
        for (item, word), quantity in rows.items()
    )
