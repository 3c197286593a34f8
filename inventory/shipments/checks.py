"""What `manage.py check_books` proves about goods that left and came back; see `inventory.checks`."""

from collections.abc import Iterator

from django.db.models import Exists, F, OuterRef, Sum

from inventory.models import Dispatch, Movement, Posting, Return, ReturnLine


def returns_agree() -> Iterator[str]:
    """Every return is of a dispatch that stands, and each of its lots came with exactly what its line says."""
    for pk in Posting.objects.filter(kind=Posting.Kind.RETURN, goods_return=None).values_list(
        "pk", flat=True
    ):
        yield f"Return posting {pk} does not say of which dispatch it is."
    undone = Return.objects.filter(posting__reversal=None, dispatch__posting__reversal__isnull=False)
    for pk in undone.values_list("pk", flat=True):
        yield f"Return {pk} is of a dispatch that was reversed."
    came = Movement.objects.filter(
        kind=Movement.Kind.RETURNED,
        posting=OuterRef("goods_return__posting"),
        lot=OuterRef("lot"),
        quantity=OuterRef("quantity"),
    )
    for pk in ReturnLine.objects.exclude(Exists(came)).order_by("pk").values_list("pk", flat=True):
        yield f"Line {pk} of a return and what came with it do not agree."
    lines = ReturnLine.objects.filter(goods_return__posting=OuterRef("posting"), lot=OuterRef("lot"))
    moved = Movement.objects.filter(kind=Movement.Kind.RETURNED, posting__reverses__isnull=True)
    for pk in moved.exclude(Exists(lines)).order_by("pk").values_list("pk", flat=True):
        yield f"Movement {pk} came back of no lot that was sent."


def no_more_came_back_than_left() -> Iterator[str]:
    """Of each lot of a dispatch no more came back than left by it, in quantity and in value."""
    back = (
        ReturnLine.objects.filter(
            goods_return__posting__reversal__isnull=True, lot__movements__kind=Movement.Kind.RETURNED
        )
        .filter(lot__movements__posting=F("goods_return__posting"))
        .order_by()
        .values_list("goods_return__dispatch", "source")
        .annotate(Sum("quantity"), Sum("lot__movements__value"))
    )
    returned = {(dispatch, lot): (quantity, value) for dispatch, lot, quantity, value in back}
    if not returned:
        return
    gone = (
        Movement.objects.filter(
            kind=Movement.Kind.DISPATCHED, posting__dispatch__in={dispatch for dispatch, _ in returned}
        )
        .order_by()
        .values_list("posting__dispatch", "lot")
        .annotate(Sum("quantity"), Sum("value"))
    )
    left = {(dispatch, lot): (-quantity, -value) for dispatch, lot, quantity, value in gone}
    for key, (quantity, value) in sorted(returned.items()):
        sent, worth = left.get(key, (0, 0))
        if quantity > sent or value > worth or (quantity == sent and value != worth):
            yield f"More of a lot came back of dispatch {key[0]} than left by it, or it is worth another sum."


def dispatches_belong() -> Iterator[str]:
    """A dispatch stands on a posting that sent something."""
    odd = Dispatch.objects.exclude(posting__kind=Posting.Kind.DISPATCH).order_by("pk")
    for pk in odd.values_list("pk", flat=True):
        yield f"Dispatch {pk} stands on a posting that sent nothing."


CHECKS = (returns_agree, no_more_came_back_than_left, dispatches_belong)
