"""What `check_books` proves of buying."""

from collections.abc import Iterator

from django.db.models import Exists, OuterRef

from inventory.models import USES, Item, Movement, OneOff


def one_offs_are_uses() -> Iterator[str]:
    """What is left out of the usual use is a draw or a dispatch, and its records turn it one way and the other in turn."""
    uses = Movement.objects.filter(posting=OuterRef("posting"), kind__in=USES)
    for pk in OneOff.objects.filter(~Exists(uses)).order_by("pk").values_list("posting", flat=True):
        yield f"Posting {pk} is left out of the usual use and used nothing."
    said: dict[int, bool] = {}
    for pk, is_one_off in OneOff.objects.order_by("pk").values_list("posting", "is_one_off"):
        if said.get(pk, False) == is_one_off:
            yield f"Posting {pk} was marked the same way twice, or taken back before it was left out."
        said[pk] = is_one_off


def replacements_end() -> Iterator[str]:
    """No item takes its own place, by whatever way round."""
    follows = dict(Item.objects.filter(replaced_by__isnull=False).values_list("pk", "replaced_by"))
    for begins in sorted(follows):
        seen, here = {begins}, follows.get(begins)
        while here is not None and here not in seen:
            seen.add(here)
            here = follows.get(here)
        if here == begins:
            yield f"Item {begins} takes its own place in the end."


CHECKS = (one_offs_are_uses, replacements_end)
