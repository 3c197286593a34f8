"""Migrations on books with something in them, back to how they first stood and forwards again."""

import pytest
from django.core.management import call_command
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.recorder import MigrationRecorder

from batches.production import runs
from inventory import checks
from inventory.models import Customer, Dispatch, Lot
from studio import guards
from studio.models import Role, User
from tests.house import TODAY, Books, grams, snapshot

FIRST = [(package, "0001_initial") for package in ("costing", "batches", "inventory", "studio")]


@pytest.mark.django_db(transaction=True)
def test_books_survive_every_migration_back_and_forth():
    books = Books(User.objects.create(username="maren", role=Role.OWNER))
    wax = books.receive("wax", "10 kg", cost="61.30", freight="6.13")
    books.take_out(wax, "500 g")
    batch = books.plan(books.formula("Lane blend", [("wax", "wax_share", 1_000_000)]), grams(500))
    books.draw_into(batch, (wax, "500 g"))
    books.finish(batch, good=grams(490))
    for person in (books.by, User.objects.create(username="tobin")):
        runs.note_labour(
            batch, person_id=person.pk, step="pour", minutes=5, worked_on=TODAY, signature=books.sign()
        )
    before = snapshot()

    # All packages at once: the command goes back one package at a time, and works out every state again for each.
    guards.remove()
    MigrationExecutor(connection).migrate(FIRST)
    applied = MigrationRecorder(connection).applied_migrations()
    assert sorted(row for row in applied if row[0] in dict(FIRST)) == sorted(FIRST)
    call_command("migrate", verbosity=0)

    assert snapshot() == before
    assert guards.missing() == []
    assert [said for check in checks.CHECKS for said in check()] == []
    assert list(batch.labour.values_list("person__username", "by_owner")) == [
        ("maren", True),
        ("tobin", False),
    ]
    assert books.of(Lot.objects.get(pk=wax.pk)) == (grams(9_000), 60_687_000)  # 67.43 × 9 / 10

    books.item("Slate tin", kind="finished")
    tins = books.receive("Slate tin", 10)
    books.send(tins, 2, to="Harbour Street Market")
    order = books.order_of("Ida Fennimore", ("Slate tin", 3), reach="555 0100", channel="Web shop")
    books.send_for(order, (tins, 1))
    before = snapshot()

    call_command("migrate", "inventory", "0009", verbosity=0)
    call_command("migrate", verbosity=0)

    assert snapshot() == before
    heads = Dispatch.objects.order_by("pk").values_list("customer__name", "channel__name")
    assert list(heads) == [("Harbour Street Market", "market"), ("Ida Fennimore", "Web shop")]
    ida = Customer.objects.get(name="Ida Fennimore")
    assert (ida.reach, ida.orders.count(), ida.dispatches.count()) == ("555 0100", 1, 1)
