"""Two people at one batch: what somebody enters without knowing what another drew or recorded meanwhile."""

from collections.abc import Sequence

from django.utils import timezone

from batches.models import Batch, FormulaLine, Outcome
from batches.planning.plans import BatchError


class Meanwhile(BatchError):
    """More went in than whoever entered this knew, and with it that is too much. Its text asks which of the two is so."""


def check_meanwhile(
    batch: Batch, line: FormulaLine, *, seen: int, there: int, more: int, wanted: int, allowed: int
) -> None:
    """Ask before `more` goes in than is `wanted`, give or take `allowed`, where others drew beyond what was `seen`.

    All in base units of the line's item; `there` is what is in already. Raises Meanwhile.
    """
    if there <= seen or there + more <= wanted + allowed:
        return
    draws = batch.draws.standing().filter(line=line).select_related("movement__posting__by")
    last = draws.order_by("-pk").first()
    by = f", the last by {last.movement.posting.by}" if last else ""
    said = line.item.quantity
    raise Meanwhile(
        f"Meanwhile {said(there)} went in already{by}. With this it would be {said(there + more)}, where "
        f"{said(wanted)} are wanted. Did this go in as well, or is it the same once more?"
    )


class CameMeanwhile(BatchError):
    """Somebody recorded output that whoever enters this had not seen. Its text asks which of the two is so."""


def check_came_meanwhile(batch: Batch, seen: int) -> None:
    """Ask before more output is recorded where a colleague recorded some after the posting `seen` (by key, 0: none).

    Raises CameMeanwhile.
    """
    fresh = (
        batch.outcomes.standing().filter(posting__gt=seen).select_related("posting__by", "lot__item", "batch")
    )
    lines = list(fresh.order_by("pk"))
    if not lines:
        return
    last = lines[-1].posting
    words = _words(batch, lines)
    raise CameMeanwhile(
        f"Meanwhile {last.by} recorded {words}, {timezone.localtime(last.recorded_at):%d %b, %H:%M}. Is yours output "
        "beside that? Then tick that it is and save. If it is the same output, go back to the batch: nothing of yours "
        "was saved."
    )


def check_last_part(batch: Batch, part: Sequence[Outcome], seen: int) -> None:
    """Ask before a part is taken back that is not the one the page showed (the key of its posting; 0: none was).

    `part` is what came out last, each with its posting; none where the batch was given up. Raises CameMeanwhile.
    """
    if seen == (part[0].posting_id if part else 0):
        return
    shown = list(batch.outcomes.filter(posting=seen).select_related("posting__reversal__by", "lot__item"))
    if shown and hasattr(shown[0].posting, "reversal"):
        told = f"Meanwhile {shown[0].posting.reversal.by} took back {_words(batch, shown)}, which this page showed. "
    elif part:
        told = f"Meanwhile {part[0].posting.by} recorded {_words(batch, part)}. "
    else:
        told = "Meanwhile the batch was given up. "
    last = f"What came out last is {_words(batch, part)}" if part else "Nothing of it stands"
    raise CameMeanwhile(
        f"{told}{last}: nothing of yours was done. If that is to be taken back too, press again."
    )


def _words(batch: Batch, lines: Sequence[Outcome]) -> str:
    return ", ".join(batch_words(batch, line) for line in lines)


def batch_words(batch: Batch, line: Outcome) -> str:
    """One line of output in words: `60 good`."""
    item = line.item if line.result == Outcome.Result.MELT else batch.item
    return f"{item.quantity(line.quantity)} {line.get_result_display().lower()}"
