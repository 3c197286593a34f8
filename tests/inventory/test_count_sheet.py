"""The printed count sheet, read back from its bytes."""

import io
from dataclasses import replace

import pytest
from pypdf import PdfReader

from inventory.counting.count_sheet import CountSheet, SheetLine, sheet_pdf
from inventory.counting.count_sheet_text import sheet_of
from inventory.counting.figures import findings
from inventory.models import Lot
from studio.models import Studio
from tests.house import grams

LINE = SheetLine(
    code="L04K7C",
    item="Rain on Slate fragrance",
    place="Shelf A2",
    container="jar 3",
    expires="expires 1 Apr 2027",
    unit="g",
    book="1,250 g",
    tare="310 g",
    weighed=True,
)
SHEET = CountSheet(
    studio="Ninefold Lane",
    title="Shelf A2",
    started="Started 20 Mar 2026, 12:00 by Maren",
    blind=False,
    lines=(LINE,),
    printed="Printed 20 Mar 2026, 12:00 by Maren",
    page_size="A4",
)


def pages(sheet):
    return PdfReader(io.BytesIO(sheet_pdf(sheet))).pages


def words(sheet):
    return " ".join(page.extract_text() for page in pages(sheet)).replace("\xa0", " ")


def test_a_line_says_all_that_is_needed_at_the_shelf():
    text = words(SHEET)

    for said in (
        "count sheet",
        "Shelf A2",
        "L04 K7C",
        "Rain on Slate fragrance",
        "jar 3",
        "expires 1 Apr 2027",
        "1,250 g",
        "310 g",
        "Gross",
        "Tare",
        "Net",
        "By",
        "Time",
        "Not on this sheet",
        "page 1 of 1",
    ):
        assert said in text, said


def test_a_blind_sheet_has_no_column_for_the_books():
    text = words(replace(SHEET, blind=True))

    assert "By the books" not in text
    assert "1,250" not in text
    assert "blind" in text


@pytest.mark.parametrize(("size", "width", "height"), [("A4", 842, 595), ("Letter", 792, 612)])
def test_it_lies_across_the_page(size, width, height):
    box = pages(replace(SHEET, page_size=size))[0].mediabox

    assert (round(box.width), round(box.height)) == (width, height)


def test_an_unknown_page_size_is_a_sentence():
    with pytest.raises(ValueError, match="A4 or Letter"):
        sheet_pdf(replace(SHEET, page_size="A3"))


def test_many_lots_run_over_pages_that_are_numbered_and_repeat_the_head():
    lines = tuple(
        replace(LINE, code=f"L{number:05d}", place=f"Shelf {number // 4:02d}") for number in range(80)
    )
    sheet = replace(SHEET, lines=lines)
    found = pages(sheet)

    assert len(found) > 4
    for number, page in enumerate(found, start=1):
        text = page.extract_text()
        assert f"page {number} of {len(found)}" in text
        assert "Gross" in text
    text = words(sheet)
    assert all(f"L{number // 1000:02d} {number % 1000:03d}" in text for number in range(80))
    # A heading never stands alone at the foot of a page.
    for page in found:
        rows = [row for row in page.extract_text().splitlines() if row.startswith(("L0", "Shelf"))]
        assert not rows[-1].startswith("Shelf") or "Printed" in rows[-1]


def test_what_was_counted_already_is_printed():
    text = words(replace(SHEET, lines=(replace(LINE, gross="1,558 g", counted="1,248 g", by="Tobin"),)))

    assert "1,558 g" in text
    assert "1,248 g" in text
    assert "Tobin" in text


@pytest.mark.parametrize("odd", ["W" * 300, "<b>&amp;", "蠟燭", "\x00\x07", "Ω ž ø", "a\nb", ""])
def test_odd_texts_do_not_spoil_the_sheet(odd):
    line = replace(LINE, item=odd, place=odd, container=odd, by=odd)

    assert sheet_pdf(replace(SHEET, lines=(line,), title=odd, studio=odd)).startswith(b"%PDF")


def test_the_same_sheet_gives_the_same_bytes():
    assert sheet_pdf(SHEET) == sheet_pdf(SHEET)


@pytest.mark.django_db
def test_the_lots_come_by_place_and_then_by_item(books, studio):
    lots = {name: books.receive(name, "1 kg", cost=1) for name in ("wax", "fragrance", "dye")}
    wicks = books.receive("wick", 20, cost=1)
    for name, place in (("wax", "Shelf B"), ("fragrance", "Shelf A"), ("dye", "Shelf A")):
        Lot.objects.filter(pk=lots[name].pk).update(place=place, tare_ug=grams("12.5"))
    count = books.start_count()
    books.look(count, (wicks, 19))

    sheet = sheet_of(count, findings(count), Studio.objects.get(), printed="now")

    assert [(line.place, line.item) for line in sheet.lines] == [
        ("", "wick"),
        ("Shelf A", "dye"),
        ("Shelf A", "fragrance"),
        ("Shelf B", "wax"),
    ]
    first, dye, *_ = sheet.lines
    assert (first.weighed, first.book, first.counted, first.by) == (False, "20", "19", "Maren")
    assert (dye.tare, dye.book, dye.counted) == ("12.5\xa0g", "1,000\xa0g", "")
