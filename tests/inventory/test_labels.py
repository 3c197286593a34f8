"""Printed lot labels: where each lies to the micrometre, that its symbols scan, and that nothing typed overflows."""

import io
from collections import Counter
from dataclasses import replace

import pypdf
import pypdfium2
import pytest
import zxingcpp
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.labels.sheets import Label, Layout, LayoutError, labels_pdf
from tests.examples import costly

A4 = Layout(210_000, 297_000, 8, 3, 0, 500, 70_000, 37_000, 0, 0)
LETTER = Layout(215_900, 279_400, 10, 3, 4_762, 12_700, 66_675, 25_400, 3_175, 0)
ROLL = Layout(62_000, 29_000, 1, 1, 0, 0, 62_000, 29_000, 0, 0)
TINY = Layout(50_000, 25_000, 1, 1, 0, 0, 50_000, 25_000, 0, 0)

URL = "https://ninefold.example/stock/lots/L04K7C/"
OIL = Label(
    code="L04K7C",
    url=URL,
    item="Cedar & Black Tea",
    kind="Fragrance",
    quantity="2.5 kg on 20 Mar 2026",
    supplier_lot="SF-31",
    arrived="Arrived 1 Mar 2026",
    expires="Expires 1 Mar 2027",
    place="Flammables cupboard",
    note="jar 3",
)

DOTS_PER_INCH = 300
TO_THE_DOT = 25_400 / DOTS_PER_INCH
LONG = "Hydrogenated soy and rapeseed wax blend for containers " * 3


def numbered(count):
    """Labels told apart by their codes."""
    return [replace(OIL, code=f"L{number:05d}", url=f"{URL}{number}") for number in range(count)]


def pages(pdf):
    """Every page as it comes out of a printer of 300 dots an inch."""
    document = pypdfium2.PdfDocument(pdf)
    return [page.render(scale=DOTS_PER_INCH / 72).to_pil().convert("L") for page in document]


def scanned(image):
    """What a scanner reads, by kind of symbol."""
    found = {"Code 128": [], "QR Code": []}
    for symbol in zxingcpp.read_barcodes(image):
        found[
            {"Code128": "Code 128", "QRCode": "QR Code"}.get(symbol.format.name, str(symbol.format))
        ].append(symbol.text)
    return found


def symbols(pdf):
    """How many symbols were drawn: bars are many black boxes in a row, squares many more below each other."""
    (page,) = pypdf.PdfReader(io.BytesIO(pdf)).pages
    (form,) = page["/Resources"]["/XObject"].values()
    drawn = pypdf.generic.ContentStream(form.get_object(), None).operations
    boxes = [operands for operands, operator in drawn if operator == b"re"]
    sides = Counter(round(float(high), 3) for _, _, _, high in boxes)
    return sum(many >= 20 for many in sides.values())


def text_of(pdf):
    return "\n".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages)


def ink(image):
    """Left, top, right and bottom of everything drawn, in µm from the top left corner; None on a blank page."""
    box = image.point(lambda grey: 255 if grey < 200 else 0).getbbox()
    return box and tuple(side * TO_THE_DOT for side in box)


# Where labels lie


def test_corners_by_hand():
    # Letter: third column 4,762 + 2 × (66,675 + 3,175); tenth row 12,700 + 9 × 25,400.
    assert LETTER.corner(0) == (4_762, 12_700)
    assert LETTER.corner(2) == (144_462, 12_700)
    assert LETTER.corner(29) == (144_462, 241_300)
    assert LETTER.reach() == (211_137, 266_700)
    # A4: place 5 counted from 1 is the second of the second row.
    assert A4.corner(4) == (70_000, 37_500)
    assert A4.reach() == (210_000, 296_500)


def test_the_page_has_the_size_of_the_layout():
    for layout, width, height in ((A4, 595.2756, 841.8898), (LETTER, 612, 792), (ROLL, 175.7480, 82.2047)):
        (page,) = pypdf.PdfReader(io.BytesIO(labels_pdf([OIL], layout))).pages

        assert [float(side) for side in page.mediabox[2:]] == pytest.approx([width, height], abs=0.001)


def test_labels_are_drawn_at_their_corners_to_the_micrometre():
    # Inside of the first label: 4,762 + 2,000 right, 12,700 + 2,000 down; of the fifth one column and one row on:
    # 76,612 and 40,100. A point is 25,400 / 72 µm.
    (page,) = pypdf.PdfReader(io.BytesIO(labels_pdf(numbered(5), LETTER))).pages
    moves = [
        [float(part) for part in operands[4:]]
        for operands, operator in page.get_contents().operations
        if operator == b"cm" and [float(part) for part in operands[:4]] == [1, 0, 0, 1]
    ]
    placed = {(round(right * 25_400 / 72), round(279_400 - up * 25_400 / 72)) for right, up in moves}

    assert {(6_762, 14_700), (76_612, 14_700), (146_462, 14_700), (6_762, 40_100), (76_612, 40_100)} <= placed


def test_nothing_is_drawn_outside_a_label_or_in_the_white_edge_of_a_printer():
    (page,) = pages(labels_pdf(numbered(24), A4))

    left, top, right, bottom = ink(page)
    # 4.2 mm of white along the edges; the last label ends 0.5 mm above the lower edge.
    assert left >= 4_200 - TO_THE_DOT
    assert top >= 4_200 - TO_THE_DOT
    assert right <= 205_800 + TO_THE_DOT
    assert bottom <= 292_800 + TO_THE_DOT


def test_a_sheet_that_was_begun_goes_on_at_its_first_free_label():
    (page,) = pages(labels_pdf([OIL], A4, start=6))

    # Place 6 is the third of the second row: from 140 mm right and 37.5 mm down, 70 × 37 mm.
    left, top, right, bottom = ink(page)
    assert 140_000 < left < right < 210_000
    assert 37_500 < top < bottom < 74_500


def test_labels_flow_over_as_many_pages_as_they_need():
    # 24 to a page: from place 23 two go on the first, 24 on the second, one on the third.
    printed = pages(labels_pdf(numbered(27), A4, start=23))

    assert [sorted(scanned(page)["Code 128"]) for page in printed] == [
        ["L00000", "L00001"],
        [f"L{number:05d}" for number in range(2, 26)],
        ["L00026"],
    ]


def test_the_last_place_fills_the_page_and_starts_no_empty_one():
    assert len(pages(labels_pdf(numbered(24), A4))) == 1
    assert len(pages(labels_pdf([OIL], A4, start=24))) == 1
    assert len(pages(labels_pdf(numbered(3), ROLL))) == 3


# What stands on them


@pytest.mark.parametrize("layout", [A4, ROLL], ids=["A4", "roll"])
def test_both_symbols_scan(layout):
    # Code 128: ISO/IEC 15417; QR code: ISO/IEC 18004. Read by a decoder that is not ours.
    (page,) = pages(labels_pdf([OIL], layout))

    assert scanned(page) == {"Code 128": ["L04K7C"], "QR Code": [URL]}


def test_a_label_says_what_the_lot_is():
    said = text_of(labels_pdf([OIL], A4))

    for words in (
        "L04 K7C",
        "Cedar & Black Tea",
        "Fragrance",
        "2.5 kg on 20 Mar 2026",
        "Supplier's lot SF-31",
        "Arrived 1 Mar 2026",
        "Expires 1 Mar 2027",
        "Opened",
        "Flammables cupboard",
        "jar 3",
    ):
        assert words in said


def test_an_opening_day_is_printed_or_left_to_be_written_or_left_out():
    assert "Opened 3 Mar 2026" in text_of(labels_pdf([replace(OIL, opened="3 Mar 2026")], A4))
    assert "Opened" not in text_of(labels_pdf([replace(OIL, opened=None)], A4))
    blank, filled = (
        ink(pages(labels_pdf([replace(OIL, opened=opened, url=URL * 5)], TINY))[0]) for opened in ("", None)
    )
    # The line to write on lies below everything else.
    assert blank[3] > filled[3]


def test_a_lower_label_loses_the_qr_code_first():
    (page,) = pages(labels_pdf([OIL], LETTER))

    assert scanned(page) == {"Code 128": ["L04K7C"], "QR Code": []}


def test_a_small_label_loses_both_symbols_before_its_words():
    pdf = labels_pdf([OIL], TINY)
    (page,) = pages(pdf)

    assert scanned(page) == {"Code 128": [], "QR Code": []}
    said = text_of(pdf)
    for words in ("L04 K7C", "Cedar & Black Tea", "SF-31", "Expires 1 Mar 2027", "jar 3", "Opened"):
        assert words in said


def test_a_small_label_with_little_to_say_keeps_its_barcode():
    short = Label(code="L04K7C", url=URL, item="Amber jar", opened=None)

    assert scanned(pages(labels_pdf([short], TINY))[0])["Code 128"] == ["L04K7C"]


def test_the_least_label_carries_its_code():
    least = Layout(20_000, 10_000, 1, 1, 0, 0, 20_000, 10_000, 0, 0)

    assert "L04 K7C" in text_of(labels_pdf([OIL], least))


def test_the_longest_code_scans():
    (page,) = pages(labels_pdf([replace(OIL, code="L0123456789Z")], A4))

    assert scanned(page)["Code 128"] == ["L0123456789Z"]


def test_the_same_labels_give_the_same_bytes():
    assert labels_pdf(numbered(3), A4) == labels_pdf(numbered(3), A4)


# Hostile words


@pytest.mark.parametrize(
    "words",
    [
        LONG,
        "W" * 120,
        "<b>bold</b> & <img src='x'/> </font>",
        "蠟燭 \N{CANDLE} \N{RIGHT-TO-LEFT OVERRIDE}abc\N{ZERO WIDTH SPACE}" * 4,
        "a\nb\r\nc\td\x00\x1b",
        " ",
    ],
    ids=["long", "unbroken", "markup", "foreign", "controls", "blank"],
)
@pytest.mark.parametrize("layout", [A4, ROLL, TINY], ids=["A4", "roll", "tiny"])
def test_no_words_break_a_label(layout, words):
    odd = replace(OIL, item=words, supplier_lot=words, place=words, note=words, kind=words)
    pdf = labels_pdf([odd], layout)
    (page,) = pages(pdf)

    left, top, right, bottom = ink(page)
    assert left > 0
    assert top > layout.top_um
    assert right < layout.left_um + layout.label_width_um
    assert bottom < layout.top_um + layout.label_height_um
    assert "L04 K7C" in text_of(pdf)
    assert "<b>bold" in text_of(pdf) or "<b>" not in words
    # A symbol that is there scans, however far the words beside it go.
    assert sum(map(len, scanned(page).values())) == symbols(pdf)


def test_a_long_name_runs_over_lines_and_keeps_both_symbols():
    pdf = labels_pdf([replace(OIL, item=LONG[:110], place="", note="")], A4)

    assert scanned(pages(pdf)[0]) == {"Code 128": ["L04K7C"], "QR Code": [URL]}
    said = text_of(pdf)
    for word in ("Hydrogenated", "rapeseed", "containers"):
        assert word in said


@settings(max_examples=costly(25))
@given(
    item=st.text(max_size=120),
    lot=st.text(max_size=60),
    place=st.text(max_size=60),
    width=st.integers(20_000, 110_000),
    height=st.integers(10_000, 80_000),
)
def test_any_words_stay_on_a_label_of_any_size(item, lot, place, width, height):
    label = replace(OIL, item=item, supplier_lot=lot, place=place)
    margin = 5_000
    page = Layout(width + 2 * margin, height + 2 * margin, 1, 1, margin, margin, width, height, 0, 0)

    (image,) = pages(labels_pdf([label], page))

    left, top, right, bottom = ink(image)
    assert left >= margin
    assert top >= margin
    assert right <= margin + width
    assert bottom <= margin + height


# Refusals


@pytest.mark.parametrize(
    ("change", "figure", "says"),
    [
        ({"label_width_um": 71_000}, "label_width_um", "need 213 mm across and the page has 210 mm"),
        ({"left_um": 1}, "label_width_um", "need 210.001 mm across"),
        ({"gap_y_um": 72}, "label_height_um", "need 297.004 mm down and the page has 297 mm"),
        ({"rows": 0}, "rows", "number of rows from 1 to 50"),
        ({"columns": 51}, "columns", "number of columns from 1 to 50"),
        ({"top_um": -1}, "top_um", "cannot be below zero"),
        ({"label_height_um": 9_999}, "label_height_um", "height of at least 10 mm"),
        ({"label_width_um": 19_999}, "label_width_um", "width of at least 20 mm"),
        ({"page_width_um": 1_200_001}, "page_width_um", "check the unit"),
    ],
)
def test_a_layout_that_does_not_fit_says_what_to_change(change, figure, says):
    with pytest.raises(LayoutError) as caught:
        labels_pdf([OIL], replace(A4, **change))

    assert says in str(caught.value).replace("\N{NO-BREAK SPACE}", " ")
    assert caught.value.figure == figure


def test_labels_to_the_very_edge_of_the_page_fit():
    # Seven gaps of 71 µm: 500 + 8 × 37,000 + 7 × 71 = 296,997.
    replace(A4, gap_y_um=71).check()


@pytest.mark.parametrize("start", [0, -1, 25])
def test_a_place_that_is_not_on_the_page_is_refused(start):
    with pytest.raises(LayoutError, match="has 24 labels: start at 1 to 24"):
        labels_pdf([OIL], A4, start=start)


def test_a_roll_has_one_place():
    with pytest.raises(LayoutError, match="is one label: start at 1"):
        labels_pdf([OIL], ROLL, start=2)


@pytest.mark.parametrize("count", [0, 1_001])
def test_no_labels_and_too_many_are_refused(count):
    with pytest.raises(LayoutError, match=f"makes {count} labels"):
        labels_pdf([OIL] * count, A4)


@pytest.mark.parametrize("code", ["", "LÄ04K7"])
def test_a_code_that_cannot_be_a_barcode_is_refused(code):
    with pytest.raises(ValueError, match="cannot be a barcode"):
        labels_pdf([replace(OIL, code=code)], A4)
