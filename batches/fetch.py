"""A batch or a formula version by what stands in an address, or a page that is not there."""

from django.shortcuts import get_object_or_404

from batches.models import Batch, FormulaVersion
from studio.core.codes import normalise


def batch_of(code: str) -> Batch:
    """The batch of a code in whatever way it was typed into the address, with its product and lines."""
    batches = Batch.objects.select_related(
        "version__formula__item", "planned_by", "order_line__order__customer"
    )
    return get_object_or_404(batches.prefetch_related("version__lines__item"), code=normalise(code))


def version_of(pk: int, number: int) -> FormulaVersion:
    """A version by its formula and number, with its lines and their items."""
    versions = FormulaVersion.objects.select_related("formula__item", "written_by").prefetch_related(
        "lines__item"
    )
    # By the formula's own key: a number beyond what the database holds is then simply not found.
    return get_object_or_404(versions, formula__pk=pk, number=number)
