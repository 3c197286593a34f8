"""What people send from the pages, field by field, and how a refusal is looked at."""

from contextlib import contextmanager
from html import unescape
from uuid import uuid4

from django.urls import reverse

from tests.house import snapshot

ADD = "/stock/deliveries/add/"


def key():
    """A fresh key, as a page hands one out."""
    return str(uuid4())


def line(house, name="wax", **fields):
    """A line of a delivery: 10 kg for 60.00 unless told otherwise."""
    return {"item": str(house.books.item(name).pk), "packs": "1", "each": "10 kg", "price": "60.00", **fields}


def delivery(house, *lines, **head):
    """Everything the delivery page sends."""
    data = {
        "supplier": str(house.shelf["wax"].supplier_id),
        "reference": "T-300",
        "arrived_at": "",
        "freight": "",
        "spread": "value",
        "submission_key": key(),
        **_management(len(lines)),
        **head,
    }
    return data | _numbered(lines)


def formula(lines, **process):
    """Everything the page of a formula's version sends."""
    fields = {"fill_ug": "100", "loss_ppm": "", "division_ug": "1", "cure_days": "7", "submission_key": key()}
    return fields | process | _management(len(lines)) | _numbered(lines)


def ingredient(house, name, basis, amount, spare=""):
    """A line of a formula."""
    return {"item": str(house.books.item(name).pk), "basis": basis, "amount": amount, "spare": spare}


def _management(total):
    return {"lines-TOTAL_FORMS": str(total), "lines-INITIAL_FORMS": "0"}


def _numbered(lines):
    return {
        f"lines-{number}-{name}": value for number, line in enumerate(lines) for name, value in line.items()
    }


def drawn(house, batch, name, *rows, **more):
    """Everything the page "what went in" sends for one line: (code, amount), a third word where it was found."""
    line = house.books.line(batch, name)
    data = {"happened_at": "", "submission_key": key(), **more}
    for number, (code, amount, *found) in enumerate(rows):
        prefix = f"line{line}-{number}"
        data |= {f"{prefix}-code": code, f"{prefix}-amount": amount}
        data |= {f"{prefix}-found": "on"} if found else {}
    return data


def draw_url(batch):
    return reverse("batches:batch-draw", args=[batch.code])


def send_url(lot):
    return reverse("inventory:lot-send", args=[lot.code])


def sent(quantity, **more):
    """Everything the page "send out" sends."""
    return {
        "quantity": quantity,
        "kind": "sale",
        "customer": "Harbour Street Market",
        "channel": "market",
        "reference": "",
        "happened_at": "",
        "submission_key": key(),
        **more,
    }


@contextmanager
def nothing_moves():
    """The block leaves lots, movements, postings and batches as they were."""
    before = snapshot()
    yield
    assert snapshot() == before


def refused(page, form, field, *words, typed=()):
    """The page is refused: 422, a sentence with these words at this field, and what was typed still there."""
    assert page.status_code == 422
    said = " ".join(form.errors.get(field, ["nothing"]))
    text = unescape(page.content.decode())
    for word in words:
        assert word.lower() in said.lower(), said
    assert form.errors[field][0] in text
    for value in typed:
        assert f'value="{value}"' in text, value
