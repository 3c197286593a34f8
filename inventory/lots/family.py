"""Which lots were decanted into which, and which came back as which; and statements asked for many keys at once.

Plain SQL, because tracing asks for whole shelves: each statement begins at the keys it is given and reaches the rest by
an index, one query however many they are. What was reversed does not count.
"""

import json
from collections.abc import Collection
from typing import Any, NamedTuple

from django.db import connection


class LotTransfer(NamedTuple):
    """`quantity` of one lot became another: by decanting, or, once sent out, because it was `returned`."""

    parent: int
    child: int
    quantity: int
    returned: bool = False


def poured_from(lot_ids: Collection[int]) -> list[LotTransfer]:
    """What left these lots and became another."""
    return [LotTransfer(*row) for row in rows_of(POURED_FROM_LOTS, lot_ids)]


def poured_into(lot_ids: Collection[int]) -> list[LotTransfer]:
    """What these lots were before, as far as it was another lot."""
    return [LotTransfer(*row) for row in rows_of(POURED_INTO_LOTS, lot_ids)]


# For a row of a posting: the posting was not reversed.
STANDS = "NOT EXISTS (SELECT 1 FROM inventory_posting AS undone WHERE undone.reverses_id = {}.posting_id)"
# A decanting has one parent or one child, so the smaller of the two is what went along between them.
_POURED = f"""
    SELECT gave.lot_id, got.lot_id,
        CAST(SUM(CASE WHEN -gave.quantity < got.quantity THEN -gave.quantity ELSE got.quantity END) AS bigint),
        FALSE
    FROM inventory_movement AS {{own}}
    JOIN inventory_posting AS posting ON posting.id = {{own}}.posting_id AND posting.kind = 'decant'
    JOIN inventory_movement AS {{other}} ON {{other}}.posting_id = {{own}}.posting_id
    WHERE {{own}}.lot_id {{{{among}}}} AND gave.kind = 'decanted' AND gave.quantity < 0
        AND got.kind = 'decanted' AND got.quantity > 0 AND {STANDS.format("gave")}
    GROUP BY gave.lot_id, got.lot_id
    UNION ALL
    SELECT line.source_id, line.lot_id, line.quantity, TRUE
    FROM inventory_returnline AS line
    JOIN inventory_return AS back ON back.id = line.goods_return_id
    WHERE line.{{side}} {{{{among}}}} AND {STANDS.format("back")}
"""
POURED_FROM_LOTS = _POURED.format(own="gave", other="got", side="source_id")
POURED_INTO_LOTS = _POURED.format(own="got", other="gave", side="lot_id")


def rows_of(statement: str, keys: Collection[int]) -> list[tuple[Any, ...]]:
    """What a statement finds for these keys, which travel as one parameter however many there are, once for each place
    it names them in."""
    if not keys:
        return []
    # PostgreSQL reckons with the keys of an array that stands in the condition itself, and so takes the index.
    condition = "= ANY(%s::bigint[])" if connection.vendor == "postgresql" else f"IN ({among(keys)[0]})"
    with connection.cursor() as cursor:
        cursor.execute(statement.format(among=condition), [among(keys)[1]] * statement.count("{among}"))
        rows: list[tuple[Any, ...]] = cursor.fetchall()
        return rows


def among(keys: Collection[int]) -> tuple[str, list[int] | str]:
    """These keys as the rows of a statement of one parameter, and that parameter."""
    if connection.vendor == "postgresql":
        return "SELECT unnest(%s::bigint[])", list(keys)
    return "SELECT value FROM json_each(%s)", json.dumps(list(keys))
