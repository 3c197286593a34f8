"""Migrations on books with something in them, back to how they first stood and forwards again."""

import pytest
from django.core.management import call_command

from inventory import checks
from inventory.models import Lot
from studio import guards
from studio.models import Role, User
from tests.house import Books, grams, snapshot

FIRST = (("costing", "0001"), ("batches", "0001"), ("inventory", "0001"), ("studio", "0001"))


@pytest.mark.django_db(transaction=True)
def test_books_survive_every_migration_back_and_forth():
    books = Books(User.objects.create(username="maren", role=Role.OWNER))
    wax = books.receive("wax", "10 kg", cost="61.30", freight="6.13")
    books.take_out(wax, "500 g")
    batch = books.plan(books.formula("Lane blend", [("wax", "wax_share", 1_000_000)]), grams(500))
    books.draw_into(batch, (wax, "500 g"))
    books.finish(batch, good=grams(490))
    before = snapshot()

    for app, name in FIRST:
        call_command("migrate", app, name, verbosity=0)
    call_command("migrate", verbosity=0)

    assert snapshot() == before
    assert guards.missing() == []
    assert [said for check in checks.CHECKS for said in check()] == []
    assert books.of(Lot.objects.get(pk=wax.pk)) == (grams(9_000), 60_687_000)  # 67.43 × 9 / 10
