"""Two tablets at one run: a weight that was entered without knowing what another had put into the pot meanwhile."""

from batches.bench.state import allotted, allowed_off, drawn_of, entries_of
from batches.formulas.sheet import batch_sheet
from batches.models import Batch, BenchEntry
from batches.production.meanwhile import check_meanwhile


def check_pour(batch_id: int, line_id: int, pour: int, quantity: int, seen: int) -> None:
    """Ask before more goes into a pour than is wanted because a tablet did not know of another's entry.

    `quantity` and `seen` are in base units: what is entered now, and what the tablet knew to be in the pour before.
    Raises Meanwhile.
    """
    batch = Batch.objects.with_product().prefetch_related("version__lines__item").get(pk=batch_id)
    line = next((line for line in batch.version.lines.all() if line.pk == line_id), None)
    targets = batch_sheet(batch.version.recipe(), batch.quantity).targets
    target = next((each for each in targets if each.line.key == line_id), None)
    if line is None or target is None or pour > len(target.pours):
        return
    entries = [entry for entry in entries_of(batch) if entry.kind == BenchEntry.Kind.DRAW]
    drawn, by_pour = drawn_of(batch, entries)
    there = allotted(target.pours, drawn.get(line_id, 0), by_pour.get(line_id, {}))[pour - 1]
    wanted = target.pours[pour - 1]
    allowed = allowed_off(line, wanted, batch.version.division_ug)
    check_meanwhile(batch, line, seen=seen, there=there, more=quantity, wanted=wanted, allowed=allowed)
