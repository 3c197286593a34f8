"""The printed batch ticket: what stands on it, that it scans, and that nothing typed can break it."""

import io
from dataclasses import replace

import pypdf
import pypdfium2
import pytest
import zxingcpp
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from reportlab.graphics.barcode.code128 import Code128

from batches.records import ticket_pdf as ticket_module
from batches.records.ticket_pdf import Ticket, TicketLine, TicketLot, ticket_pdf
from studio.web.pdf import clipped, code128, grouped, markup, plain

FRAGRANCE = TicketLine(
    item="Cedar & Black Tea",
    note="fragrance · 8 % of wax",
    target="806.8 g",
    tolerance="± 0.5 g",
    per_pour=(),
    lots=(TicketLot("F3N 5T2", "Flammables cupboard", "806.8 g", "9 Jan 2027"),),
    short="",
)


def _component(item: str, count: str, *lots: tuple[str, str]) -> TicketLine:
    suggested = tuple(TicketLot(code, "Rack 3", take, "") for code, take in lots)
    return TicketLine(item, "component", count, "", (), suggested, "")


ORDINARY = Ticket(
    studio="Ninefold Lane",
    batch_code="B04K7C",
    batch_url="https://ninefold.example/batches/B04K7C",
    product="Cedar & Black Tea 220 g",
    formula="Cedar & Black Tea 220 g, version 3",
    formula_state="tested",
    planned="48 units",
    planned_on="25 Nov 2026",
    melt="10,891.2 g",
    load="8 % of wax = 7.41 % of melt",
    pours="1 pour of 10,891 g; 48 vessels",
    materials=(
        TicketLine(
            "Soy wax, flake",
            "wax",
            "8,068 g",
            "± 5 g",
            (),
            (
                TicketLot("W7K 2M9", "Pallet shelf 1", "6,400 g", "12 Mar 2027"),
                TicketLot("W7R 8QD", "Pallet shelf 2", "1,668 g", "30 Apr 2027"),
            ),
            "",
        ),
        TicketLine(
            "Coconut wax",
            "wax",
            "2,017 g",
            "± 2 g",
            (),
            (TicketLot("W8A 11X", "Shelf A2", "2,017 g", "2 Feb 2027"),),
            "",
        ),
        FRAGRANCE,
        TicketLine("UV inhibitor", "additive", "10.9 g", "± 0.1 g", (), (), "short by 10.9 g"),
    ),
    components=(
        _component("Amber jar 220 g", "49", ("V2C 9PP", "30"), ("V2D 1A4", "19")),
        _component("Cotton wick, size 18", "50", ("K5M 7ZZ", "50")),
        _component("Black lid 73 mm", "48", ("D1X 4RT", "48")),
        _component("Front label, Cedar & Black Tea", "50", ("P8S 2LK", "50")),
        _component("Warning label, 38 mm", "50", ("P6Y 3CW", "50")),
    ),
    steps=(
        ("Warm the vessels to", "40 °C"),
        ("Heat the wax to", "85 °C"),
        ("Add fragrance at", "72 °C"),
        ("Stir for", "2 min"),
        ("Pour at", "60 °C"),
        ("Cure until", "9 Dec 2026"),
    ),
    cautions=(
        "Flash point of the fragrance 93 °C: add it below, away from any flame.",
        "Never above 10 % of wax, the published maximum load for this wax.",
        "Burn-test every combination of wax, wick, vessel and fragrance before sale.",
        "A warning label on every unit, in sight and uncovered (ASTM F2058, EN 15494).",
        "Hot wax burns and can catch fire: never leave it alone, no water on burning wax.",
        "Ventilate; wear gloves and eye protection when handling fragrance.",
    ),
    printed="Printed 25 Nov 2026 by Ines",
    page_size="A4",
    notes="Jars from the new delivery: rinse and dry first.",
)


def _long_line(number: int) -> TicketLine:
    place = "Back of the long cold store, behind the door"
    return TicketLine(
        item=f"Line {number:02d} Hydrogenated soy and rapeseed wax blend for containers, winter quality",
        note="wax · 4 % of wax",
        target="12,345.678 kg",
        tolerance="± 0.005 kg",
        per_pour=("6,172.840 kg", "6,172.838 kg"),
        lots=tuple(TicketLot(f"L{number:02d} {at}XQ", place, "2,469 kg", "30 Apr 2027") for at in range(5)),
        short="short by 120 g",
    )


LONG = replace(
    ORDINARY,
    materials=tuple(_long_line(number) for number in range(1, 13)),
    components=tuple(_long_line(number) for number in range(13, 21)),
    steps=tuple(
        (f"Layer {number:02d} is firm, pour the next at", "55 °C to 58 °C") for number in range(1, 15)
    ),
    cautions=ORDINARY.cautions * 3,
)


def _pages(ticket: Ticket) -> list[str]:
    """The words of each page, every run of spaces and line ends as one space."""
    reader = pypdf.PdfReader(io.BytesIO(ticket_pdf(ticket)))
    return [" ".join(page.extract_text().split()) for page in reader.pages]


def _words(ticket: Ticket) -> str:
    return " ".join(_pages(ticket))


def _scanned(data: bytes) -> dict[str, str]:
    """What a scanner reads from the first page at 200 dpi, by kind of symbol."""
    page = pypdfium2.PdfDocument(data)[0].render(scale=200 / 72).to_pil().convert("L")
    return {str(symbol.format): symbol.text for symbol in zxingcpp.read_barcodes(page)}


@pytest.mark.parametrize("page_size", ["A4", "Letter"])
def test_an_ordinary_batch_is_weighed_from_its_first_page_and_ends_on_its_second(page_size):
    first, second = _pages(replace(ORDINARY, page_size=page_size))

    assert "page 1 of 2" in first
    assert all(line.item in first for line in (*ORDINARY.materials, *ORDINARY.components))
    assert "Steps" not in first
    assert all(step in second for step, _ in ORDINARY.steps)
    assert "Released by" in second


@pytest.mark.parametrize("page_size", ["A4", "Letter"])
def test_a_small_batch_fits_one_page(page_size):
    small = replace(
        ORDINARY,
        page_size=page_size,
        materials=(ORDINARY.materials[1], FRAGRANCE),
        components=ORDINARY.components[1:3],
        steps=ORDINARY.steps[1:5],
    )
    [words] = _pages(small)

    assert "page 1 of 1" in words
    assert "Released by" in words


def test_the_pourers_number_and_the_day_it_is_ready_stand_on_top():
    now = "The melt weighs 11,110 g, 10,891.2 g was planned: it fills 49 at that weight, 48 planned."
    words = _words(
        replace(ORDINARY, fill="205 g", ready="Wed 09 Dec 2026 if finished as planned", fill_now=now)
    )

    assert "Fill each to 205 g" in words
    assert "Wed 09 Dec 2026 if finished as planned" in words
    assert now in words


def _sizes(ticket):
    """Every run of text on all pages with its size in points, as it is drawn."""
    found = []
    for page in pypdf.PdfReader(io.BytesIO(ticket_pdf(ticket))).pages:

        def visit(text, _matrix, _text_matrix, _font, size):
            if text.strip():
                found.append((plain(text.strip()), size))

        page.extract_text(visitor_text=visit)
    return found


@pytest.mark.parametrize(
    "ticket",
    [
        ORDINARY,
        replace(ORDINARY, materials=(replace(FRAGRANCE, target="806.8 g", per_pour=("403.4 g", "403.4 g")),)),
    ],
    ids=["one pour", "two pours"],
)
def test_nothing_is_too_small_to_read_at_a_bench(ticket):
    assert min(size for _, size in _sizes(ticket)) >= 8


def test_lot_codes_and_weights_are_written_at_one_readable_size():
    sizes = _sizes(ORDINARY)
    codes = ("W7K 2M9", "W8A 11X", "F3N 5T2", "V2C 9PP")
    weights = ("6,400 g", "8,068", "2,017", "10.9")
    read = [size for text, size in sizes if text.startswith((*codes, *weights))]

    assert len(read) >= len(codes) + len(weights)
    assert set(read) == {12}


def test_every_box_to_write_in_is_at_least_ten_millimeters_high(monkeypatch):
    heights, blank, rows = [], ticket_module.Blank.__init__, ticket_module.write_in

    def measured(self, height, caption=""):
        heights.append(height)
        blank(self, height, caption)

    def measured_row(captions, width, height, *more):
        heights.append(height)
        return rows(captions, width, height, *more)

    monkeypatch.setattr(ticket_module.Blank, "__init__", measured)
    monkeypatch.setattr(ticket_module, "write_in", measured_row)
    two = replace(FRAGRANCE, per_pour=("403.4 g", "403.4 g"))
    for ticket in (ORDINARY, LONG, replace(ORDINARY, materials=(two,))):
        ticket_pdf(ticket)

    # 10 mm at 72 pt to the inch of 25.4 mm
    assert len(heights) > 50
    assert min(heights) * 25.4 / 72 >= 10


# A4 is 210 mm × 297 mm (ISO 216), Letter 8.5 in × 11 in (ASME Y14.1); both from memory. 72 pt to the inch.
@pytest.mark.parametrize(("page_size", "points"), [("A4", (595.28, 841.89)), ("Letter", (612, 792))])
def test_the_page_has_the_size_asked_for(page_size, points):
    data = ticket_pdf(replace(ORDINARY, page_size=page_size))
    box = pypdf.PdfReader(io.BytesIO(data)).pages[0].mediabox

    assert (float(box.width), float(box.height)) == pytest.approx(points, abs=0.01)


def test_the_sheet_says_what_to_weigh_from_which_lot_and_where_it_stands():
    words = _words(ORDINARY)

    for said in (
        "B04 K7C",
        "version 3 · tested",
        "48 units · 25 Nov 2026",
        "8 % of wax = 7.41 % of melt",
        "8,068 g",
        "± 5 g",
        "W7R 8QD 1,668 g · Pallet shelf 2 · exp. 30 Apr 2027",
        "! short by 10.9 g",
        "Heat the wax to 85 °C",
        "Flash point of the fragrance 93 °C",
        "Printed 25 Nov 2026 by Ines",
    ):
        assert said in words


# What a batch record holds: 21 CFR 211.188 and 21 CFR 111.260, read: dates of each step, equipment, each
# lot used, weights and measures, area check before, in-process results, actual yield, label, who did and who
# checked. Release by a person: the same sections, from memory.
@pytest.mark.parametrize(
    "room",
    [
        "Poured on",
        "Started",
        "Finished",
        "Scale",
        "Pot",
        "Bench clean before",
        "Lot used",
        "Actual",
        "Reading",
        "Time",
        "Good",
        "Seconds",
        "Scrap",
        "Remelt",
        "Defects",
        "Label text and net weight",
        "Warning label on every unit",
        "Poured by",
        "Checked by",
        "Released by",
    ],
)
def test_there_is_room_for_what_a_batch_record_must_hold(room):
    assert room in _words(ORDINARY)


def test_the_sheet_defers_to_local_codes_on_every_page():
    for words in _pages(LONG):
        assert "does not certify. Local codes, the supplier's safety data sheet" in words


@pytest.mark.parametrize("page_size", ["A4", "Letter"])
def test_a_long_batch_flows_on_without_losing_a_row(page_size):
    pages = _pages(replace(LONG, page_size=page_size))
    words = " ".join(pages)

    assert len(pages) > 1
    for number in range(1, 21):
        assert f"Line {number:02d} Hydrogenated" in words
        assert all(f"L{number:02d} {at}XQ" in words for at in range(5))
    assert all(f"Layer {number:02d} is firm" in words for number in range(1, 15))


def test_a_row_is_never_cut_by_the_end_of_a_page():
    pages = _pages(LONG)

    for number in range(1, 21):
        [page] = [words for words in pages if f"Line {number:02d} Hydrogenated" in words]
        assert all(f"L{number:02d} {at}XQ" in page for at in range(5))


def test_every_page_carries_the_batch_code_and_its_number():
    pages = _pages(LONG)

    for number, words in enumerate(pages, start=1):
        assert f"page {number} of {len(pages)}" in words
        assert "B04 K7C" in words


def test_cautions_come_before_the_first_weighing_when_the_ticket_has_several_pages():
    first = _pages(LONG)[0]

    assert first.index("Cautions") < first.index("Materials")


def test_a_line_with_more_lots_than_a_row_holds_goes_on_in_another_row():
    lots = tuple(TicketLot(f"F{at:02d} AAA", "Shelf", "1 g", "") for at in range(60))
    words = _words(replace(ORDINARY, materials=(replace(FRAGRANCE, lots=lots),)))

    assert all(f"F{at:02d} AAA" in words for at in range(60))
    assert "Cedar & Black Tea (continued)" in words


def test_equal_pours_show_the_weight_of_one_and_the_whole():
    line = replace(FRAGRANCE, target="806.8 g", per_pour=("403.4 g", "403.4 g"))
    words = _words(replace(ORDINARY, materials=(line,)))

    assert "2 × 403.4 g" in words
    assert "806.8 g in all" in words
    assert words.count("pour 2") == 1 + 6  # once for the weight and once for each of six steps


def test_unequal_pours_show_each_weight():
    line = replace(FRAGRANCE, target="10.9 g", per_pour=("5.5 g", "5.4 g"))
    words = _words(replace(ORDINARY, materials=(line,)))

    assert "1: 5.5 g 2: 5.4 g" in words


@pytest.mark.parametrize("page_size", ["A4", "Letter"])
def test_both_symbols_can_be_scanned_from_the_page(page_size):
    scanned = _scanned(ticket_pdf(replace(ORDINARY, page_size=page_size)))

    assert sorted(scanned.values()) == ["B04K7C", "https://ninefold.example/batches/B04K7C"]


@pytest.mark.parametrize("code", ["7", "B04", "345678", "B-2026-11-25-0048-ZX", "A" * 20])
def test_short_and_long_codes_can_be_scanned(code):
    url = "https://ninefold.example/batches/" + "x" * 150 + code

    scanned = _scanned(ticket_pdf(replace(ORDINARY, batch_code=code, batch_url=url)))

    assert sorted(scanned.values()) == sorted([code, url])


# Code 128 check values, ISO/IEC 15417: check = (start + Σ position × value) mod 103. "abcdef" in set B gives
# 1,539 mod 103 = 97, "345678" in set C gives 485 mod 103 = 73 (barcoderesource, read). "PJJ123C" in set A
# gives 878 mod 103 = 54 (read in an encyclopaedia); the library starts it in set B, whose start value is one
# more while its characters keep theirs, so 879 mod 103 = 55 (derived).
@pytest.mark.parametrize(
    ("data", "start", "check"), [("abcdef", 104, 97), ("345678", 105, 73), ("PJJ123C", 104, 55)]
)
def test_the_barcode_carries_the_published_check_value(data, start, check):
    symbol = code128(data, width=300, height=30)
    symbol.validate()
    symbol.encode()

    assert (symbol.encoded[0], symbol.encoded[-2]) == (start, check)


def test_the_barcode_scans_as_the_published_example():
    scanned = _scanned(ticket_pdf(replace(ORDINARY, batch_code="PJJ123C")))

    assert "PJJ123C" in scanned.values()


@given(st.text("ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-", min_size=1, max_size=20))
def test_any_batch_code_encodes_to_a_symbol_that_reads_back(code):
    symbol = Code128(code)
    symbol.validate()
    *values, check, stop = symbol.encode()

    assert (check, stop) == ((values[0] + sum(at * value for at, value in enumerate(values))) % 103, 106)
    assert _read_back(values) == code


def _read_back(values: list[int]) -> str:
    """Code 128 values to text, sets B and C only (ISO/IEC 15417, from memory: 99 turns to C, 100 to B)."""
    in_c, text = values[0] == 105, ""
    for value in values[1:]:
        if in_c and value == 100:
            in_c = False
        elif not in_c and value == 99:
            in_c = True
        else:
            text += f"{value:02d}" if in_c else chr(value + 32)
    return text


def test_hostile_text_shows_literally():
    hostile = "<script>alert(1)</script> &amp; <b>bold"
    line = replace(FRAGRANCE, item=hostile, note=hostile, short=hostile, lots=())
    words = _words(replace(ORDINARY, product=hostile, notes=hostile, materials=(line,), studio="<para>"))

    assert words.count("<script>alert(1)</script> &amp; <b>bold") >= 4
    assert "<para> · batch ticket" in words


@pytest.mark.parametrize("name", ["Свеча «Кедр»", "Sáp đậu nành hữu cơ", "Κερί σόγιας", "Świeca ąęł"])
def test_names_in_other_alphabets_print_and_can_be_copied_out(name):
    assert name in _words(replace(ORDINARY, materials=(replace(FRAGRANCE, item=name),)))


def test_a_decomposed_name_prints_composed():
    assert "Sáp đậu" in _words(replace(ORDINARY, notes="Sa\u0301p \u0111a\u0323\u0302u"))


def test_signs_come_from_a_second_font_and_unknown_characters_show_as_missing():
    words = _words(replace(ORDINARY, notes="≤ 60 °C → −5 | 蝋 | 🕯"))

    assert "≤ 60 °C → −5 | \ufffd | \ufffd" in words


def test_control_and_format_characters_are_left_out():
    assert plain("a\x00b\x1bc\u202ed\u200be\ud7ff") == "abcde\ud7ff"
    assert plain("one\r\ntwo\u2028three\tfour") == "one\ntwo\nthree four"
    assert plain("1\u202f250\u2009g") == "1\u00a0250\u00a0g"


def test_line_ends_are_kept_where_asked_for():
    assert markup("one\ntwo", lines=True) == '<font name="Studio">one<br/>two</font>'
    assert markup("one\ntwo") == '<font name="Studio">one two</font>'


def test_codes_are_grouped_in_threes():
    assert (grouped("B04K7C"), grouped("B04K7C2"), grouped("B0")) == ("B04 K7C", "B04 K7C 2", "B0")


def test_a_text_too_long_ends_in_an_ellipsis():
    assert (clipped("abcdef", 6), clipped("abcdefg", 6)) == ("abcdef", "abcde…")


def test_the_same_ticket_gives_the_same_bytes():
    assert ticket_pdf(ORDINARY) == ticket_pdf(ORDINARY)
    assert ticket_pdf(LONG) == ticket_pdf(LONG)


def test_an_almost_empty_ticket_still_prints():
    bare = dict.fromkeys(("materials", "components", "steps", "cautions"), ())
    blank = dict.fromkeys(("planned", "planned_on", "melt", "load", "pours", "notes", "formula_state"), "")

    assert "Poured by" in _words(replace(ORDINARY, **bare, **blank))


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"page_size": "A5"}, "Choose A4 or Letter as the page size, not 'A5'."),
        ({"batch_code": ""}, "A batch code on a ticket has 1 to 20 characters."),
        ({"batch_code": "B" * 21}, "A batch code on a ticket has 1 to 20 characters."),
        ({"batch_code": "КЕДР"}, "'КЕДР' cannot be a barcode: use letters A-Z, digits and hyphens only."),
        ({"batch_url": ""}, "A QR code needs an address of 1 to 300 characters."),
        ({"batch_url": "x" * 301}, "A QR code needs an address of 1 to 300 characters."),
    ],
)
def test_what_cannot_be_printed_is_refused_with_a_sentence(change, said):
    with pytest.raises(ValueError, match=r".") as refusal:
        ticket_pdf(replace(ORDINARY, **change))

    assert str(refusal.value) == said


LONG_TEXT = st.sampled_from(["W" * 500, "a b " * 150, "<" * 200, "\n" * 300])
ANY_TEXT = st.text(st.characters(), max_size=40) | LONG_TEXT


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@example(words="0", few="a b " * 160, count=7, page_size="A4")  # two gaps in turn at the end of a page
@given(words=ANY_TEXT, few=ANY_TEXT, count=st.integers(0, 14), page_size=st.sampled_from(["A4", "Letter"]))
def test_no_text_and_no_number_of_rows_can_stop_a_ticket_from_printing(words, few, count, page_size):
    lot = TicketLot(words, few, words, few)
    line = TicketLine(words, few, words, few, (words, few) * (count // 2), (lot,) * count, few)
    ticket = Ticket(
        studio=words,
        batch_code="B04K7C",
        batch_url="https://ninefold.example/b",
        product=few,
        formula=words,
        formula_state=few,
        planned=words,
        planned_on=few,
        melt=words,
        load=few,
        pours=words,
        materials=(line,),
        components=(line,),
        steps=((words, few),) * count,
        cautions=(words, few),
        printed=words,
        page_size=page_size,
        notes=words,
    )

    assert ticket_pdf(ticket).startswith(b"%PDF")
