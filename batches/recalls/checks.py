"""What `manage.py check_books` proves about complaints and recalls; see `inventory.checks`."""

from collections.abc import Iterator

from django.db.models import F, Sum

from batches.models import Complaint, ComplaintPhoto, RecallAnswer, RecallLot, RecallSent
from inventory.models import Movement


def what_was_erased_is_gone() -> Iterator[str]:
    """No complaint names a customer who was erased, and an erased one shows nothing of them any more."""
    naming = Complaint.objects.filter(customer__erased_at__isnull=False)
    erased = Complaint.objects.filter(erased_at__isnull=False)
    telling = erased.exclude(customer=None, reference="", what="", answer="")
    shown = ComplaintPhoto.objects.filter(complaint__erased_at__isnull=False, size__gt=0)
    codes = {*naming.values_list("code", flat=True), *telling.values_list("code", flat=True)}
    for code in sorted(codes | {*shown.values_list("complaint__code", flat=True)}):
        yield f"Complaint {code} still says something of somebody who was erased."


def recalls_add_up() -> Iterator[str]:
    """What a recall froze of a lot adds up, no more went to somebody than its dispatch sent, and no more came back."""
    parts = F("used") + F("decanted") + F("sent") + F("lost") + F("on_hand") + F("unexplained")
    for code in RecallLot.objects.exclude(came=parts).values_list("recall__code", flat=True).distinct():
        yield f"Recall {code}: where a lot stood does not add up."
    pairs = RecallSent.objects.order_by().values_list("recall__code", "lot", "dispatch__posting")
    frozen = {(code, lot, posting): total for code, lot, posting, total in pairs.annotate(Sum("quantity"))}
    left = Movement.objects.filter(kind=Movement.Kind.DISPATCHED, posting__dispatch__recalled__isnull=False)
    # By their keys, so that a dispatch which several recalls froze is not added up more than once.
    rows_left = left.order_by().values_list("pk", "lot", "posting", "quantity").distinct()
    sent: dict[tuple[int, int], int] = {}
    for _, lot_id, posting_id, quantity in rows_left:
        sent[lot_id, posting_id] = sent.get((lot_id, posting_id), 0) - quantity
    for code in sorted({code for (code, *pair), total in frozen.items() if total > sent.get((*pair,), 0)}):
        yield f"Recall {code}: more went to somebody than its dispatch sent."
    rows = RecallSent.objects.order_by().values_list("party", "lot__item").annotate(Sum("quantity"))
    got = {(party, item): quantity for party, item, quantity in rows}
    known = RecallAnswer.objects.standing().exclude(item=None).order_by()
    done = known.values_list("party__recall__code", "party", "item").annotate(Sum("quantity"))
    for code, party, item, quantity in done:
        if quantity > got.get((party, item), 0):
            yield f"Recall {code}: more came back of somebody than went there."


CHECKS = (what_was_erased_is_gone, recalls_add_up)
