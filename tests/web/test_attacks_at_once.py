"""Two benches at the same lots in opposite order: real threads through the pages, on whichever database."""

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.db import connections

from batches import checks as batch_checks
from inventory import checks as stock_checks
from inventory.models import Posting
from tests.house import Books, grams
from tests.web.conftest import enter
from tests.web.forms import draw_url, key

TURNS = 15


@pytest.mark.django_db(transaction=True)
def test_benches_that_take_the_same_lots_in_opposite_order_do_not_block_each_other(studio, owner):
    # Each sends both lines in one form. The lines of one formula run the other way round, and with them the lots.
    books = Books(owner)
    lots = {"wax": books.receive("wax", "9 kg"), "fragrance": books.receive("fragrance", "9 kg")}
    lines = [("wax", "wax_share", 1_000_000), ("fragrance", "of_melt", 80_000)]
    runs = [
        books.plan(books.formula(name, order, fill="100 g"), 100)
        for name, order in (("Cedar", lines), ("Slate", lines[::-1]))
    ]
    barrier = Barrier(2)

    def bench(batch):
        client = enter(owner)
        data = {}
        for name, lot in lots.items():
            prefix = f"line{books.line(batch, name)}-0"
            data |= {f"{prefix}-code": lot.code, f"{prefix}-amount": "1"}
        barrier.wait(timeout=20)
        try:
            return [
                client.post(draw_url(batch), data | {"submission_key": key()}).status_code
                for _ in range(TURNS)
            ]
        finally:
            connections.close_all()

    with ThreadPoolExecutor(2) as pool:
        answers = list(pool.map(bench, runs))

    assert answers == [[302] * TURNS] * 2
    assert Posting.objects.filter(kind="draw").count() == 4 * TURNS
    # 9 kg less a gram for each of thirty turns.
    assert [books.of(lot)[0] for lot in lots.values()] == [grams(8970)] * 2
    assert [said for check in (*stock_checks.CHECKS, *batch_checks.CHECKS) for said in check()] == []
