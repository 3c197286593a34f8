"""A messy old notebook of Ninefold Lane, brought in through the pages from end to end, and files that do harm.

The notebook is invented. Figures are worked out by hand.
"""

import csv
import io
from datetime import date

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from openpyxl import Workbook, load_workbook

from inventory.models import Import, Item, Lot, Movement, Offer, Supplier, WaitingTable
from tests.house import grams, money
from tests.web.conftest import enter
from tests.web.forms import key, nothing_moves
from tests.web.inspection import csv_of, text_of

SCENT, GLASS = "Make-Believe Scent House (invented)", "No-Such Glass & Tin (invented)"


@pytest.fixture
def owner(people):
    return enter(people.owner)


def send(client, table, data, name="notebook.csv"):
    """Choose a file on a table's page."""
    data = data.encode() if isinstance(data, str) else data
    file = SimpleUploadedFile(name, data)
    return client.post(f"/stock/import/{table}/", {"file": file, "submission_key": key()})


def look(client, table, data, name="notebook.csv"):
    """Choose a file that can be read, and look at what is in it."""
    answer = send(client, table, data, name)
    assert answer.status_code == 302, text_of(answer)
    return client.get(answer.headers["Location"])


def press(client, page):
    """Press the button that brings in what the page shows."""
    waiting, plan = page.context["waiting"], page.context["plan"]
    return client.post(waiting.get_absolute_url(), {"shown": plan.fingerprint, "submission_key": key()})


def bring_in(client, table, data, name="notebook.csv"):
    """Choose a file and bring it in; gives back the page that says what came of it."""
    answer = press(client, look(client, table, data, name))
    assert answer.status_code == 302, text_of(answer)
    return client.get(answer.headers["Location"])


HEADS = [
    "  ITEM",
    "Qty. ",
    "Unit",
    "Paid",
    "bought from",
    "Batch no",
    "Received",
    "Colour",
    None,
    "best before",
]


def notebook(*changes):
    """The old notebook as a workbook, with changes of single cells: an address, and what stands there instead."""
    book = Workbook()
    sheet = book.active
    sheet.title = "Shelf 2026"
    oil, jar, wax = "Cedar & Black Tea oil", "amber jar 220 g", "Soy-type container wax"
    for line in (
        ["Ninefold Lane, what stands on the shelf"],
        [],
        HEADS,
        [
            f"{oil}  ",
            "2.5 kg",
            None,
            98.75,
            SCENT,
            "SF-31",
            date(2026, 1, 20),
            "clear",
            None,
            date(2027, 6, 30),
        ],
        [],
        [jar, 144, "pcs", "$122.40", GLASS.lower(), None, "3 Feb 2026"],
        [wax, "approx 20 kg", None, 89.4, None, "W-1", "2026-02-10"],
        [wax, "1,500 g", None, 6.71, None, "W-2", "2026-02-10"],
        ["Soy type  container wax", "5 lb", None, "2.49/lb", None, "W-3", "10 Feb 2026", None, "ask Jonah"],
        [wax, 10, "kg", 44.7, None, "W-4", date(2026, 2, 11)],
        [wax, 10, "kg", 44.7, None, "W-4", date(2026, 2, 11)],
        ["Rain on Slate oil", "=2*500", "g", 43, SCENT, "RS-7", "02/03/2026"],
        [jar, 6, None, None, None, None, "2026-02-12"],
        [None, "   ", None],
    ):
        sheet.append(line)
    sheet.merge_cells("A1:H1")
    for address, value in changes:
        sheet[address] = value
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


MENDED = (("B7", "20 kg"), ("A9", "Soy-type container wax"), ("B12", "1000"))


@pytest.fixture
def named(owner):
    """The items and suppliers of the notebook, from tables of their own."""
    bring_in(
        owner,
        "items",
        "Name;Type;Unit;Where\nCedar & Black Tea oil;scent;g;Shelf A1\nAmber jar 220 g;jar;pcs;Rack 2\n"
        "Soy-type container wax;wax;kg;Floor F1\nRain on Slate oil;fragrance;g;\n",
    )
    bring_in(owner, "suppliers", f"Name\tLead time\n{SCENT}\t8 days\n{GLASS}\t9\n".encode("utf-16"))
    assert (Item.objects.count(), Supplier.objects.count()) == (4, 2)


def test_a_messy_notebook_comes_in_from_end_to_end(owner, named):
    with nothing_moves():
        page = look(owner, "lots", notebook(), "Old book.xlsx")

    # Everything that is wrong, at once, by row and column as the file counts, with what was meant.
    plan = page.context["plan"]
    assert (plan.rows, plan.wrong_rows, plan.known) == (9, 5, 0)
    assert [(each.row, each.column, each.typed, each.suggestion) for each in plan.problems] == [
        (7, "Qty.", "approx 20 kg", "Did you mean 20 kg?"),
        (8, "Qty.", "1,500 g", "Write 1500 g or 1.5 g, or say above what commas mean."),
        (9, "ITEM", "Soy type  container wax", "Did you mean Soy-type container wax?"),
        (12, "Qty.", "=2*500", "Copy the column and paste it as values only."),
        (
            12,
            "Received",
            "02/03/2026",
            "Say above which figure is the day, or write 2 Mar 2026 or 3 Feb 2026.",
        ),
        (13, "Paid", "", "Write the cost, or tick above that lots without one are worth nothing."),
    ]
    text = text_of(page)
    assert "Cell B12 holds a formula. Write the value itself." in text
    assert "The headings were found in row 3; what stands above is left out." in text
    assert "Columns this table does not have, left out: Colour." in text
    assert "Cells in columns without a heading are left out." in text
    assert 'name="shown"' not in text
    rows = csv_of(owner, f"{plan_url(page)}?format=csv")
    assert [row["Row"] for row in rows] == ["7", "8", "9", "12", "12", "13"]
    assert (rows[0]["Typed"], rows[3]["Typed"]) == ("approx 20 kg", "'=2*500")

    # Mended where it is kept, chosen again; what can be read two ways is said on the page.
    page = look(owner, "lots", notebook(*MENDED), "Old book.xlsx")
    url = plan_url(page)
    choices = {"choose": "1", "days": "day", "marks": "point", "worthless": "on"}
    assert list(page.context["form"].fields) == ["days", "marks", "worthless"]
    assert owner.post(url, choices).headers["Location"] == url
    with nothing_moves():
        page = owner.get(url)
    plan = page.context["plan"]
    assert (plan.problems, plan.new_rows) == ([], 9)
    text = text_of(page)
    assert "Bring in 9 rows" in text
    assert "03/04/2026 means 3 April here, not 4 March, as you chose." in text
    assert "2.268 kg" in text

    done = owner.get(press(owner, page).headers["Location"])

    assert "Opening lots: 9 brought in." in text_of(done)
    assert all(f'value="{lot.code}"' in text_of(done) for lot in Lot.objects.all())
    # 5 lb = 5 × 453,592,370 µg, at 2.49 each 12.45. The two pails alike are two lots.
    kept = Lot.objects.order_by("arrived_at", "supplier_lot", "pk")
    assert [(lot.item.name[:5], lot.supplier_lot, lot.on_hand, lot.value, lot.place) for lot in kept] == [
        ("Cedar", "SF-31", grams(2500), money("98.75"), "Shelf A1"),
        ("Amber", "", 144, money("122.40"), "Rack 2"),
        ("Soy-t", "W-1", grams(20_000), money("89.40"), "Floor F1"),
        ("Soy-t", "W-2", grams(1500), money("6.71"), "Floor F1"),
        ("Soy-t", "W-3", 2_267_961_850, money("12.45"), "Floor F1"),
        ("Soy-t", "W-4", grams(10_000), money("44.70"), "Floor F1"),
        ("Soy-t", "W-4", grams(10_000), money("44.70"), "Floor F1"),
        ("Amber", "", 6, 0, "Rack 2"),
        ("Rain ", "RS-7", grams(1000), money("43.00"), ""),
    ]
    first = kept[0]
    assert (first.supplier.name, first.expires_on) == (SCENT, date(2027, 6, 30))
    assert kept[1].supplier.name == GLASS

    # What was used of it before: 420 g carry 98.75 × 420/2500 = 16.59.
    heads = "Date;Lot;Material;What happened;Amount;Remarks"
    row = "14 Feb 2026;sf-31;cedar & black tea OIL;poured;420 g;for March"
    moves = f"{heads}\n{row}\n"
    bring_in(owner, "movements", moves)
    used = Movement.objects.get(posting__kind="earlier")
    assert (used.lot, used.quantity, used.value, used.posting.reason) == (
        first,
        -grams(420),
        -money("16.59"),
        "for March",
    )
    shown = text_of(owner.get(used.posting.get_absolute_url()))
    assert "From earlier records" in shown
    assert "notebook.csv" in shown
    balance = owner.get(reverse("batches:trace-code", args=[first.code])).context["balance"]
    assert ("Used before these books", grams(420)) in balance.went

    # Again: nothing is added, and there is nothing to press.
    again = look(owner, "lots", notebook(*MENDED), "Old book.xlsx")
    owner.post(plan_url(again), choices)
    again = owner.get(plan_url(again))
    assert (again.context["plan"].known, again.context["plan"].new) == (9, [])
    assert "Everything in this file is there already." in text_of(again)
    with nothing_moves():
        assert press(owner, again).status_code == 422


def plan_url(page):
    return page.context["waiting"].get_absolute_url()


def test_offers_come_in_through_the_page(owner, named):
    text = f"Vendor,Item,Size,Price,Date,From packs\n{SCENT},Rain on Slate oil,0.5 kg,26.40,2026-01-12,\n"

    page = bring_in(owner, "offers", text + f"{SCENT},rain on slate OIL,500 g,24.90,12 Jan 2026,4\n")

    assert "Offers: 1 brought in." in text_of(page)
    offer = Offer.objects.get()
    assert list(offer.breaks.values_list("from_packs", "price")) == [(1, money("26.40")), (4, money("24.90"))]


def test_a_sheet_is_chosen_where_several_have_headings(owner, named):
    book = Workbook()
    for name, quantity in (("May", 1), ("June", 2)):
        sheet = book.create_sheet(name)
        sheet.append(["Item", "Quantity", "Cost", "Arrived"])
        sheet.append(["Amber jar 220 g", quantity, 1, "2026-02-12"])
    out = io.BytesIO()
    book.save(out)

    page = look(owner, "lots", out.getvalue(), "two.xlsx")
    assert "sheet May" in text_of(page)
    owner.post(plan_url(page), {"choose": "1", "sheet": "2"})
    page = owner.get(plan_url(page))

    assert "sheet June" in text_of(page)
    press(owner, page)
    assert Lot.objects.get().on_hand == 2


def test_a_choice_that_is_none_is_refused(owner, named):
    page = look(owner, "lots", "Item,Quantity,Cost,Arrived\nAmber jar 220 g,1,1,02/03/2026\n")

    answer = owner.post(plan_url(page), {"choose": "1", "days": "backwards"})

    assert answer.status_code == 422
    assert "Choose one from the list." in text_of(answer)


def test_when_the_books_changed_meanwhile_the_page_is_shown_again(owner, named):
    page = look(owner, "lots", "Item,Quantity,Cost,Arrived\nAmber jar 220 g,1,1,2026-02-12\n")
    Item.objects.filter(name="Amber jar 220 g").update(name="Brown jar 220 g")
    with nothing_moves():
        answer = press(owner, page)

    assert answer.status_code == 422
    assert "Nothing was brought in. The books changed since this was shown." in text_of(answer)
    assert "There is no item of this name." in text_of(answer)
    assert WaitingTable.objects.exists()


def test_a_second_press_leads_to_the_same_page_and_brings_nothing_in_twice(owner, named):
    page = look(owner, "lots", "Item,Quantity,Cost,Arrived\nAmber jar 220 g,1,1,2026-02-12\n")
    data = {"shown": page.context["plan"].fingerprint, "submission_key": key()}

    first, second = (owner.post(plan_url(page), data) for _ in range(2))

    assert (
        first.headers["Location"]
        == second.headers["Location"]
        == Import.objects.latest("pk").get_absolute_url()
    )
    assert Lot.objects.count() == 1


def test_a_made_up_fingerprint_brings_nothing_in(owner, named):
    page = look(owner, "lots", "Item,Quantity,Cost,Arrived\nAmber jar 220 g,1,1,2026-02-12\n")
    with nothing_moves():
        for odd in ("", "x", "\x00", "0" * 64, "y" * 10_000):
            answer = owner.post(plan_url(page), {"shown": odd, "submission_key": key()})
            assert answer.status_code == 422
        assert owner.post(plan_url(page), {"shown": "x"}).status_code == 409


def test_problems_are_listed_up_to_two_hundred_and_exported_all(owner, named):
    page = look(owner, "lots", "Item,Quantity,Cost,Arrived\n" + "Marzipan,1,1,2026-02-12\n" * 230)

    text = text_of(page)
    assert text.count("There is no item of this name.") == 200
    assert "And 30 more. Export them all below." in text
    assert len(csv_of(owner, f"{plan_url(page)}?format=csv")) == 230


@pytest.mark.parametrize("table", Import.Table.values)
def test_a_template_is_a_table_that_brings_nothing_in(owner, table):
    for kind in ("csv", "xlsx"):
        answer = owner.get(f"/stock/import/{table}/template/?format={kind}")
        page = look(owner, table, answer.content, f"template.{kind}")

        plan = page.context["plan"]
        assert (plan.rows, plan.problems) == (0, []), kind
        assert "There are no rows below the headings." in text_of(page)
    assert load_workbook(io.BytesIO(answer.content)).active.max_row == 3


def test_each_column_is_explained_on_its_page(owner):
    text = text_of(owner.get("/stock/import/lots/"))

    for words in ("Quantity", "qty", "what one unit cost", "needed", "at most 5 MB and 20,000 rows"):
        assert words in text


@pytest.mark.parametrize(
    ("data", "name", "says"),
    [
        (b"", "empty.csv", "is empty"),
        (b"%PDF-1.7\n%%EOF", "table.csv", "a PDF"),
        (b"PK\x03\x04 nothing", "table.xlsx", "damaged"),
        (b"\x00" * 100, "table.csv", "not a table"),
        (b"Item,Quantity\nwax," + b"5" * 1_000_000, "long.csv", "far too long"),
        (b"Item," * 10_000, "wide.csv", "more than 100 columns"),
    ],
)
def test_a_file_that_is_no_table_is_refused_beside_its_field(owner, data, name, says):
    answer = send(owner, "lots", data, name)

    assert answer.status_code == 422
    assert says in answer.context["form"].errors["file"][0]
    assert not WaitingTable.objects.exists()


def test_a_file_over_its_size_and_no_file_at_all_are_refused(owner):
    large = send(owner, "lots", b"Item,Quantity\n" + b"\n" * 5_242_880)
    none = owner.post("/stock/import/lots/", {"submission_key": key()})

    assert "larger than 5 MB" in large.context["form"].errors["file"][0]
    assert none.context["form"].errors["file"] == ["Fill this in."]


@pytest.mark.parametrize(
    ("name", "kept"),
    [
        ("../../etc/passwd.csv", "passwd.csv"),
        ("C:\\books\\old book.csv", "old book.csv"),
        ("a\u202egnp.csv", "agnp.csv"),
        ("x" * 300 + ".csv", "x" * 100),
        ("<script>alert(1)</script>.csv", "script>.csv"),
    ],
)
def test_a_files_name_does_no_harm(owner, name, kept):
    look(owner, "lots", "Item,Quantity,Cost,Arrived\nwax,1,1,2026-02-12\n", name)

    assert WaitingTable.objects.get().name == kept


NASTY = '<script>alert("x")</script>{{ 907*9091 }}'


def test_what_would_run_is_shown_as_it_was_typed(owner):
    text = f'Item,Quantity,Cost,Arrived,"{NASTY.replace(chr(34), chr(34) * 2)}"\n{NASTY},{NASTY},=1,x,\n'.replace(
        'alert("x")</script>{{ 907*9091 }},', "alert(1)</script>{{ 907*9091 }},"
    )
    page = look(owner, "lots", text)

    assert b"<script>alert" not in page.content
    assert b"8245537" not in page.content
    assert "&lt;script&gt;alert" in page.content.decode()
    exported = owner.get(f"{plan_url(page)}?format=csv").content.decode("utf-8-sig")
    assert not [cell for row in csv.reader(io.StringIO(exported)) for cell in row if cell.startswith("=")]


def test_names_with_signs_of_every_kind_come_in_as_they_are(owner):
    names = ["蠟燭 🕯", "Cire d'été", "'quoted'", "a;b", "=sum", "x" * 120, "\N{RIGHT-TO-LEFT OVERRIDE}wax"]
    text = io.StringIO()
    csv.writer(text).writerows([["Name", "Kind", "Unit"], *([name, "wax", "g"] for name in names)])

    bring_in(owner, "items", text.getvalue())

    assert set(Item.objects.values_list("name", flat=True)) == set(names)


def test_empty_pages_offer_to_bring_a_table_in(owner, people):
    for url in ("/stock/", "/stock/suppliers/", "/settings/"):
        assert "/stock/import/" in text_of(owner.get(url)), url
    for url in ("/stock/", "/stock/suppliers/"):
        assert "/stock/import/" not in text_of(enter(people.maker).get(url))
