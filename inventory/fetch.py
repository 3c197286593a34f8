"""A lot by what stands in an address, or a page that is not there."""

from django.shortcuts import get_object_or_404

from inventory.models import Lot
from studio.core.codes import normalise


def lot_of(code: str) -> Lot:
    """The lot of a code in whatever way it was typed into the address."""
    lots = Lot.objects.select_related("item", "supplier", "delivery_line__delivery")
    return get_object_or_404(lots, code=normalise(code))
