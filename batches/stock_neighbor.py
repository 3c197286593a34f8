"""What batches tell stock; see `inventory.neighbors`."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import date

from django.db.models import Q

from batches.complaints import complaining
from batches.formulas import approved
from batches.planning import for_orders, sales_order_demand
from batches.production import succession
from inventory.models import Customer
from inventory.neighbors import Neighbor
from studio.people.signature import Signature


class Batches(Neighbor):
    """Batches, formulas and complaints as stock knows them."""

    def units_being_made(self, line_ids: Collection[int]) -> Mapping[int, int]:
        return for_orders.being_made(line_ids)

    def materials_of_orders(self, on: date) -> Iterable[tuple[int, date, int]]:
        return sales_order_demand.materials_of_orders(on)

    def products_never_approved(self, item_ids: Collection[int]) -> Collection[int]:
        return approved.never_approved(item_ids)

    def lots_never_approved(self, lot_ids: Collection[int]) -> Collection[int]:
        return approved.lots_never_approved(lot_ids)

    def lots_of_codes(self, codes: Collection[str]) -> Mapping[str, Sequence[int]]:
        return for_orders.lots_of_codes(codes)

    def lots_instead(self, lot_ids: Collection[int]) -> Mapping[int, Sequence[int]]:
        return succession.lots_instead(lot_ids)

    def results_awaited(self, lot_ids: Collection[int]) -> Mapping[int, tuple[str, str]]:
        return succession.open_again(lot_ids)

    def why_customer_is_needed(self, customer: Customer) -> str:
        return complaining.still_needed(customer)

    def customers_needed(self) -> Q:
        return complaining.needed()

    def erase_customer(self, customer: Customer, signature: Signature) -> None:
        complaining.erase_along(customer, signature)
