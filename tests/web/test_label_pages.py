"""Printing labels from the pages, and saying where labels lie on their paper."""

import io

import pypdf
import pypdfium2
import pytest
import zxingcpp
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.labels.texts import layout_of
from inventory.models import LabelLayout, Lot
from tests.web.conftest import enter
from tests.web.forms import key

A4 = "A4, 3 × 8, 70 × 37 mm"
ROLL = "Roll, 62 × 29 mm"
LAYOUTS = "/stock/labels/"


@pytest.fixture
def maker(filled):
    return enter(filled.people.maker)


@pytest.fixture
def owner(filled):
    return enter(filled.people.owner)


def layout(name=A4):
    return LabelLayout.objects.get(name=name)


def lot_url(lot):
    return reverse("inventory:lot-labels", args=[lot.code])


def delivery_url(delivery):
    return reverse("inventory:delivery-labels", args=[delivery.pk])


def asked(name=A4, start="1", **counts):
    """Everything the page sends when labels are asked for."""
    return {"layout": str(layout(name).pk), "start": start, "print": "1", **counts}


def texts(answer):
    return [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(answer.content)).pages]


def test_a_lots_labels_carry_its_code_and_lead_to_its_page(filled, maker):
    wax = filled.shelf["wax"]

    answer = maker.get(lot_url(wax), asked(ROLL, **{wax.code: "2"}))

    assert answer.headers["Content-Type"] == "application/pdf"
    assert answer.headers["Content-Disposition"] == f'inline; filename="labels-lot-{wax.code}.pdf"'
    said = texts(answer)
    assert len(said) == 2
    # 10 kg came; 920, 368, 500 and 460 g went: 7,752 g. Supplier's lot TW-88, arrived on 1 March 2026.
    for words in (
        wax.spaced_code,
        "wax",
        "7,752 g on 20 Mar 2026",
        "Supplier's lot TW-88",
        "Arrived 1 Mar 2026",
    ):
        assert words in said[0].replace("\N{NO-BREAK SPACE}", " ")
    page = pypdfium2.PdfDocument(answer.content)[0].render(scale=300 / 72).to_pil()
    assert {symbol.text for symbol in zxingcpp.read_barcodes(page)} == {
        wax.code,
        f"http://testserver/stock/lots/{wax.code}/",
    }


def test_a_deliverys_labels_are_as_many_as_were_asked_for_of_each(filled, maker):
    wax, oil = filled.shelf["wax"], filled.shelf["fragrance"]

    answer = maker.get(delivery_url(filled.delivery), asked(A4, "23", **{wax.code: "3", oil.code: "1"}))

    first, second = texts(answer)
    assert (first.count(wax.spaced_code), first.count(oil.spaced_code)) == (2, 0)
    assert (second.count(wax.spaced_code), second.count(oil.spaced_code)) == (1, 1)


def test_as_many_labels_are_offered_as_containers_came(filled, maker):
    books = filled.books
    delivery = books.deliver(
        books.arrival("wax", "5 kg", 30, packs=4), books.arrival("dye", "10 g", 5, packs=2, lot_per_pack=True)
    )
    offered = maker.get(delivery_url(delivery)).context["form"].initial

    lots = Lot.objects.filter(delivery_line__delivery=delivery).order_by("pk")
    assert [offered[lot.code] for lot in lots] == [4, 1, 1]
    assert offered["layout"] == layout(A4)


def test_what_was_made_and_what_was_decanted_say_so(filled, maker):
    (jar,) = filled.books.decant((filled.shelf["wax"], "300 g"))

    for lot, words in ((filled.cured, "Made 10 Mar 2026"), (jar, "Decanted 20 Mar 2026")):
        (said,) = texts(maker.get(lot_url(lot), asked(ROLL, **{lot.code: "1"})))
        assert words in said.replace("\N{NO-BREAK SPACE}", " ")
        # Goods for sale are not opened here.
        assert ("Opened" in said) is (lot is jar)


@pytest.mark.parametrize(
    ("change", "field", "says"),
    [
        ({"start": "25"}, "start", "start at 1 to 24"),
        ({"start": "0"}, "start", "1"),
        ({"start": "x"}, "start", "whole number"),
        ({"layout": "999999"}, "layout", "Choose one from the list."),
        ({"count": "0"}, "", "makes 0 labels"),
        ({"count": ""}, "", "makes 0 labels"),
        ({"count": "1001"}, "", "1000"),
        ({"count": "-1"}, "", "0"),
    ],
)
def test_labels_that_cannot_be_printed_are_refused_at_their_field(filled, maker, change, field, says):
    wax = filled.shelf["wax"]
    data = asked(A4, **{wax.code: change.get("count", "1")}) | {
        name: value for name, value in change.items() if name != "count"
    }

    answer = maker.get(lot_url(wax), data)

    assert answer.status_code == 422
    assert says in " ".join(answer.context["form"].errors[field or wax.code])


def test_a_layout_that_no_longer_fits_its_page_is_a_sentence(filled, maker):
    wax = filled.shelf["wax"]
    LabelLayout.objects.filter(name=A4).update(left_um=5_000)

    answer = maker.get(lot_url(wax), asked(A4, **{wax.code: "1"}))

    assert answer.status_code == 422
    assert "The labels need 215" in answer.context["form"].errors["layout"][0]


def test_without_a_layout_the_page_says_where_to_add_one(filled, maker, owner):
    LabelLayout.objects.update(retired=True)

    for client, words in ((maker, "The owner adds one"), (owner, "Add a layout")):
        assert words in client.get(lot_url(filled.shelf["wax"])).content.decode()


def test_lots_and_deliveries_lead_to_their_labels(filled):
    for role in ("maker", "bookkeeper"):
        client = enter(getattr(filled.people, role))
        for thing, url in ((filled.shelf["wax"], lot_url), (filled.delivery, delivery_url)):
            assert url(thing) in client.get(thing.get_absolute_url()).content.decode()


def test_a_name_that_is_more_than_a_name_prints(filled, maker):
    lot = filled.books.receive('<script>alert("x")</script> & </font> 蠟燭', "1 kg", supplier_lot="<b>7</b>")

    (said,) = texts(maker.get(lot_url(lot), asked(ROLL, **{lot.code: "1"})))

    assert "<script>" in said
    assert "<b>7</b>" in said


# The layouts


def figures(**changed):
    """Everything the page of a layout sends."""
    return {
        "name": "A5, 2 × 4",
        "page_width_um": "148",
        "page_height_um": "210 mm",
        "rows": "4",
        "columns": "2",
        "left_um": "4",
        "top_um": "5",
        "label_width_um": "2.5 in",
        "label_height_um": "48.5",
        "gap_x_um": "0",
        "gap_y_um": "1",
        "submission_key": key(),
        **changed,
    }


def test_a_layout_is_added_in_millimetres_and_inches(filled, owner):
    answer = owner.post(f"{LAYOUTS}add/", figures())

    made = layout("A5, 2 × 4")
    assert (answer.status_code, answer.headers["Location"]) == (302, f"{LAYOUTS}{made.pk}/")
    # 2.5 in = 63,500 µm.
    assert (made.page_width_um, made.page_height_um, made.left_um) == (148_000, 210_000, 4_000)
    assert (made.label_width_um, made.label_height_um, made.gap_y_um) == (63_500, 48_500, 1_000)
    assert (made.rows, made.columns, made.is_default) == (4, 2, False)


@pytest.mark.parametrize(
    ("field", "typed", "says"),
    [
        ("label_width_um", "75", "need 154 mm across and the page has 148 mm"),
        ("label_height_um", "51", "need 212 mm down and the page has 210 mm"),
        ("label_height_um", "9", "at least 10 mm"),
        ("page_width_um", "148 g", "is a weight"),
        ("left_um", "-4", "minus"),
        ("rows", "0", "from 1 to 50"),
        ("name", ROLL.upper(), "exists already"),
    ],
)
def test_a_layout_that_cannot_be_is_refused_at_its_figure(filled, owner, field, typed, says):
    answer = owner.post(f"{LAYOUTS}add/", figures(**{field: typed}))

    assert answer.status_code == 422
    errors = answer.context["form"].errors
    assert says in " ".join(errors.get(field, errors.get("__all__", []))).replace("\N{NO-BREAK SPACE}", " ")
    assert f'value="{typed}"' in answer.content.decode()
    assert LabelLayout.objects.count() == 5


def changes(client, made, **changed):
    """What the page of a layout sends back with something changed, from what it showed."""
    url = made.get_absolute_url()
    form = client.get(url).context["form"]
    data = {"submission_key": key()}
    for name in form.fields:
        value = form[name].value()
        shown = "" if value is False or value is None else "on" if value is True else str(value)
        data |= {form.add_initial_prefix(name): str(form[name].initial)}
        data |= {name: shown} if shown else {}
    return client.post(url, {name: value for name, value in (data | changed).items() if value is not None})


def test_another_layout_becomes_the_usual_one_and_only_that(filled, owner):
    assert changes(owner, layout(ROLL), usual="on").status_code == 302

    assert [made.name for made in LabelLayout.objects.filter(is_default=True)] == [ROLL]
    offered = owner.get(lot_url(filled.shelf["wax"])).context["form"].initial
    assert offered["layout"] == layout(ROLL)


def test_saving_a_layout_untouched_moves_nothing(filled, owner):
    # 4,762 µm of margin is 0.18748 in and comes back the same.
    name = "US Letter, 3 × 10, 2.625 × 1 in"
    before = LabelLayout.objects.filter(name=name).values().get()

    assert changes(owner, layout(name)).status_code == 302

    assert LabelLayout.objects.filter(name=name).values().get() == before


def test_a_retired_layout_is_no_longer_offered(filled, owner):
    assert changes(owner, layout(ROLL), retired="on").status_code == 302

    wax = filled.shelf["wax"]
    assert f"{ROLL}</option>" not in owner.get(lot_url(wax)).content.decode()
    assert f"{A4}</option>" in owner.get(lot_url(wax)).content.decode()
    assert owner.get(lot_url(wax), asked(ROLL, **{wax.code: "1"})).status_code == 422


def test_the_usual_layout_is_not_retired(filled, owner):
    answer = changes(owner, layout(A4), retired="on")

    assert answer.status_code == 422
    assert "Make another the usual one first" in answer.context["form"].errors["retired"][0]
    assert not layout(A4).retired


def test_the_first_layouts_fit_their_paper(filled, owner):
    assert [made.name for made in LabelLayout.objects.all()] == [
        "A4, 2 × 4, 99.1 × 67.7 mm",
        A4,
        ROLL,
        "US Letter, 2 × 5, 4 × 2 in",
        "US Letter, 3 × 10, 2.625 × 1 in",
    ]
    for made in LabelLayout.objects.all():
        layout_of(made).check()


def test_the_database_keeps_one_usual_layout_and_labels_on_every_layout(filled):
    for change in ({"is_default": True}, {"rows": 0}, {"label_width_um": 0}):
        with pytest.raises(IntegrityError), transaction.atomic():
            LabelLayout.objects.filter(name=ROLL).update(**change)


def test_a_delivery_of_many_lots_takes_as_many_queries_as_one_of_few(filled, maker):
    books = filled.books

    def queries(packs):
        delivery = books.deliver(books.arrival("dye", "10 g", packs, packs=packs, lot_per_pack=True))
        codes = Lot.objects.filter(delivery_line__delivery=delivery).values_list("code", flat=True)
        url = delivery_url(delivery)
        counts = []
        for data in ({}, asked(A4, **dict.fromkeys(codes, "1"))):
            with CaptureQueriesContext(connection) as caught:
                assert maker.get(url, data).status_code == 200
            counts.append(len(caught))
        return counts

    assert queries(2) == queries(12)
