"""Two people at one run: what somebody enters without knowing what another one drew meanwhile."""

from batches.models import Batch, FormulaLine
from batches.runs.runs import BatchError


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
