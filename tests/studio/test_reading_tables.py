"""Files made by hand, and files made to do harm: what is read of them, and with which sentence they are refused.

OWASP Cheat Sheet Series, File Upload and XML External Entity Prevention (from memory).
"""

import io
import time
import zipfile
from datetime import date, datetime

import pytest
from openpyxl import Workbook

from studio.web.reading_tables import Figure, UnreadableTable, pack, unpack
from studio.web.reading_xlsx import plain_decimal, read_table

HEADS = {"item", "quantity", "arrived"}


def recognised(cells):
    return len({cell.strip().lower() for cell in cells} & HEADS)


def read(data):
    return read_table(data, recognised)


def rows(data):
    return read(data).sheets[0].rows


def xlsx(*lines, change=None, **sheets):
    """A workbook of these rows; `change` may alter its sheet, and further sheets come by name."""
    book = Workbook()
    book.active.title = "Stock"
    for line in lines:
        book.active.append(line)
    for name, more in sheets.items():
        sheet = book.create_sheet(name)
        for line in more:
            sheet.append(line)
    if change:
        change(book.active)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def with_part(data, name, content):
    """The workbook with one of its parts replaced, or a further one."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for part in old.namelist():
            if part != name:
                new.writestr(part, old.read(part))
        new.writestr(name, content)
    return out.getvalue()


def sheet_xml(data):
    with zipfile.ZipFile(io.BytesIO(data)) as parts:
        return parts.read("xl/worksheets/sheet1.xml").decode()


# CSV


@pytest.mark.parametrize(
    ("encoding", "mark"),
    [("utf-8", b""), ("utf-8", b"\xef\xbb\xbf"), ("utf-16-le", b"\xff\xfe"), ("utf-16-be", b"\xfe\xff")],
)
def test_text_is_read_in_the_alphabet_the_file_says_it_is_in(encoding, mark):
    assert rows(mark + "Item,Quantity\nCire d'été,5 g\n".encode(encoding)) == [
        (1, ["Item", "Quantity"]),
        (2, ["Cire d'été", "5 g"]),
    ]


def test_text_that_is_not_utf_8_is_read_as_windows_text_and_says_so():
    table = read("Item,Quantity\nCire d'été,5 g\n".encode("cp1252"))

    assert table.sheets[0].rows[1] == (2, ["Cire d'été", "5 g"])
    assert "cp1252" in table.notes[0]


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_what_sets_cells_apart_is_decided_by_the_headings(separator):
    # Every other row holds more of the other signs than of the right one.
    text = f"Item{separator}Quantity{separator}Arrived\nwax, soy; white{separator}5 g{separator}a,b;c,d;e,f\n"
    if separator != "\t":
        text = text.replace("wax, soy; white", '"wax, soy; white"').replace("a,b;c,d;e,f", '"a,b;c,d;e,f"')

    assert rows(text.encode())[1] == (2, ["wax, soy; white", "5 g", "a,b;c,d;e,f"])


def test_a_line_break_inside_quotation_marks_is_part_of_the_cell_and_empty_rows_are_counted_and_left_out():
    assert rows(b'Item,Quantity\n"wax\nsoy",5 g\n\n,\n wax , 6 g \n') == [
        (1, ["Item", "Quantity"]),
        (2, ["wax\nsoy", "5 g"]),
        (5, ["wax", "6 g"]),
    ]


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "is empty"),
        (b"\n \n,,\n", "no rows"),
        (b"\xff\xfeI\x00t\x00e", "damaged"),
        (b"\xff\xfe\x00\xd8", "damaged"),  # a lone surrogate in UTF-16
        ("Item,Quantity\nwax,5".encode("utf-16-le"), "not a table of text"),  # without its mark: null bytes
        (b"Item,Quantity\nwax\x00,5 g\n", "not a table of text"),
        (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR", "not a table of text"),
        (b"%PDF-1.7\n", "a PDF"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "password"),
        (b"Item,Quantity\nwax," + b"5" * 1_000_000, "never ends"),
        (b'Item,Quantity\n"wax,5 g\n' + b"wax,5 g\n" * 30_000, "never ends"),
        (b"Item," + b"x," * 10_000 + b"\n", "more than 100 columns"),
        (b"Item,Quantity\n" + b"wax,5 g\n" * 20_100, "more than 20,000 rows"),
    ],
)
def test_what_is_no_table_is_refused_with_a_sentence(data, says):
    with pytest.raises(UnreadableTable, match=says):
        read(data)


def test_a_lone_surrogate_in_utf_8_is_read_as_what_its_bytes_are_in_windows_text():
    # ED A0 80 is no character in UTF-8; in cp1252 it is í, a no-break space and €.
    assert rows(b"Item,Quantity\nw\xed\xa0\x80x,5 g\n")[1] == (2, ["wí €x".replace(" ", "\xa0"), "5 g"])


def test_a_cell_that_cannot_be_kept_is_named_and_the_others_are_read():
    sheet = read(b"Item,Quantity\nwa\x07x," + b"5" * 3_000 + b"\nwax,5 g\n").sheets[0]

    assert [(fault.row, fault.column, fault.typed[:4]) for fault in sheet.faults] == [
        (2, 0, "wa�x"),
        (2, 1, "5555"),
    ]
    assert sheet.rows[1:] == [(2, ["", ""]), (3, ["wax", "5 g"])]


# XLSX


def test_numbers_come_out_as_they_were_typed():
    # IEEE 754: 12.3 is held as 12.300000000000000711…; 0.1 + 0.2 as 0.30000000000000004, which a sheet shows as 0.3.
    data = xlsx(
        ["Item", "Quantity"], ["wax", 12.3], ["wax", 0.1 + 0.2], ["wax", 1500], ["wax", 1e-7], ["wax", 1e16]
    )

    assert [cells[1] for _, cells in rows(data)[1:]] == [
        "12.3",
        "0.3",
        "1500",
        "0.0000001",
        "10000000000000000",
    ]
    assert all(isinstance(cells[1], Figure) for _, cells in rows(data)[1:])


@pytest.mark.parametrize("typed", ["12.3", "0.1", "98.75", "4.35", "1234567.89", "0.000001", "1.1", "2.675"])
def test_every_decimal_of_fifteen_figures_survives_the_way_into_a_float_and_back(typed):
    assert plain_decimal(float(typed)) == typed


def test_days_words_and_ticks_of_a_sheet():
    data = xlsx(
        ["Item", "Quantity", "Arrived"],
        [" wax ", True, date(2026, 3, 3)],
        ["wax", "5 g", datetime(2026, 3, 3, 14, 30)],  # noqa: DTZ001  # a sheet knows no zones
        [None, None, None],
        ["12", None, None],
    )

    assert rows(data)[1:] == [
        (2, ["wax", "yes", "2026-03-03"]),
        (3, ["wax", "5 g", "2026-03-03 14:30"]),
        (5, ["12"]),
    ]
    assert not isinstance(rows(data)[3][1][0], Figure)


def test_a_unit_drawn_by_the_number_format_is_part_of_what_a_person_sees():
    def change(sheet):
        sheet["B2"].number_format = '0.0 "kg"'
        sheet["B3"].number_format = "[$€-407]#,##0.00"
        sheet["B4"].number_format = "0%"

    data = xlsx(["Item", "Quantity"], ["wax", 2.5], ["wax", 1250], ["wax", 0.08], change=change)

    assert [cells[1] for _, cells in rows(data)[1:]] == ["2.5 kg", "€1250", "8%"]


def test_a_format_that_shows_another_figure_than_the_cell_holds_is_refused_at_the_cell():
    def change(sheet):
        sheet["B2"].number_format = '#,##0,"k"'

    (fault,) = read(xlsx(["Item", "Quantity"], ["wax", 2500], change=change)).sheets[0].faults

    assert (fault.row, fault.column, fault.typed) == (2, 1, "2500")
    assert "Cell B2 shows another figure" in fault.sentence


@pytest.mark.parametrize(
    "formula", ["=1+1", "=SUM(A1:A9)", '=HYPERLINK("http://elsewhere.example")', "=[1]x!A1"]
)
def test_a_formula_is_refused_with_the_address_of_its_cell(formula):
    sheet = read(xlsx(["Item", "Quantity"], ["wax", formula])).sheets[0]

    (fault,) = sheet.faults
    assert (fault.row, fault.column, fault.typed) == (2, 1, formula)
    assert "Cell B2 holds a formula" in fault.sentence
    assert sheet.rows[1] == (2, ["wax"])


def test_an_error_in_a_cell_is_named():
    (fault,) = read(xlsx(["Item", "Quantity"], ["wax", "#REF!"])).sheets[0].faults

    assert "Cell B2 holds an error" in fault.sentence


def test_sheets_with_headings_are_read_and_hidden_ones_and_others_are_not():
    table = read(
        xlsx(
            ["just", "notes"], ["on", "wax"], May=[["Item", "Quantity"], ["wax", 5]], June=[["Item"], ["oil"]]
        )
    )
    hidden = read(
        xlsx(
            ["Item"],
            ["wax"],
            change=lambda sheet: setattr(sheet, "sheet_state", "hidden"),
            May=[["Item"], ["oil"]],
        )
    )

    assert [sheet.name for sheet in table.sheets] == ["May", "June"]
    assert [sheet.name for sheet in hidden.sheets] == ["May"]


def test_of_a_workbook_without_headings_the_first_sheet_is_kept_for_saying_so():
    assert [sheet.name for sheet in read(xlsx(["just", "notes"])).sheets] == ["Stock"]


def test_headings_may_stand_below_a_title_that_covers_several_cells():
    data = xlsx(
        ["Ninefold Lane: the old book"], [], ["Item", "Quantity"], ["wax", 5],
        change=lambda sheet: sheet.merge_cells("A1:F1"),
    )  # fmt: skip

    assert rows(data) == [(1, ["Ninefold Lane: the old book"]), (3, ["Item", "Quantity"]), (4, ["wax", "5"])]


PLAIN = xlsx(["Item", "Quantity"], ["wax", 5])


def test_a_zip_bomb_is_refused_before_it_is_unpacked():
    bomb = with_part(PLAIN, "xl/worksheets/sheet1.xml", b"<row/>" * 10_000_000)
    assert len(bomb) < 100_000
    before = time.perf_counter()

    with pytest.raises(UnreadableTable, match="unpacks to far more"):
        read(bomb)
    assert time.perf_counter() - before < 1


def test_many_small_parts_are_refused():
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as parts:
        parts.writestr("xl/workbook.xml", "<x/>")
        for number in range(600):
            parts.writestr(f"xl/{number}.xml", "<x/>")

    with pytest.raises(UnreadableTable, match="far more"):
        read(out.getvalue())


ENTITIES = '<!DOCTYPE x [<!ENTITY a "wax"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]>'


@pytest.mark.parametrize("code", ["utf-8", "utf-16"])
@pytest.mark.parametrize(
    "declared", [ENTITIES, '<!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/passwd">]>', "<!DOCTYPE x>"]
)
def test_entities_are_refused_before_they_are_parsed(code, declared):
    xml = f'<?xml version="1.0" encoding="{code}"?>{declared}<worksheet>&a;</worksheet>'

    for part in ("xl/worksheets/sheet1.xml", "xl/sharedStrings.xml", "xl/elsewhere.bin"):
        with pytest.raises(UnreadableTable, match="damaged or holds something unusual"):
            read(with_part(PLAIN, part, xml.encode(code)))


def test_xml_in_an_alphabet_that_hides_what_it_says_is_refused():
    xml = f'<?xml version="1.0" encoding="cp037"?>{ENTITIES}<worksheet/>'

    with pytest.raises(UnreadableTable, match="unusual"):
        read(with_part(PLAIN, "xl/worksheets/sheet1.xml", xml.encode("cp037")))


@pytest.mark.parametrize(
    "data",
    [
        b"PK\x03\x04",
        PLAIN[:-200],
        PLAIN[: len(PLAIN) // 2],
        with_part(PLAIN, "xl/worksheets/sheet1.xml", b"<worksheet"),
        with_part(PLAIN, "[Content_Types].xml", b"<Types/>"),
    ],
)
def test_a_damaged_workbook_is_a_sentence(data):
    with pytest.raises(UnreadableTable):
        read(data)


def test_another_archive_is_no_workbook():
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as parts:
        parts.writestr("../../etc/passwd", "root")

    with pytest.raises(UnreadableTable, match="an archive"):
        read(out.getvalue())


def test_a_cell_far_down_and_one_far_to_the_right_are_refused():
    for address, says in (
        ("A1048576", "goes on to row"),
        ("CX2", "more than 100 columns"),
        ("XFD2", "columns"),
    ):
        data = xlsx(["Item", "Quantity"], ["wax", 5], change=lambda sheet: sheet.__setitem__(address, "x"))  # noqa: B023
        with pytest.raises(UnreadableTable, match=says):
            read(data)


def test_too_many_rows_are_refused():
    data = xlsx(["Item", "Quantity"], *[["wax", number] for number in range(20_100)])

    with pytest.raises(UnreadableTable, match="more than 20,000 rows"):
        read(data)


@pytest.mark.parametrize("hidden", ["_x0000_", "_xD800_", "_x0007_"])
def test_signs_that_xml_cannot_hold_but_spreadsheets_write_in_code_reach_no_cell(hidden):
    xml = sheet_xml(PLAIN)
    data = with_part(
        PLAIN,
        "xl/worksheets/sheet1.xml",
        xml.replace(
            "</sheetData>",
            f'<row r="3"><c r="A3" t="inlineStr"><is><t>wa{hidden}x</t></is></c></row></sheetData>',
        ),
    )

    sheet = read(data).sheets[0]

    for _, cells in sheet.rows:
        for cell in cells:
            cell.encode()
            assert not set(cell) & {"\x00", "\x07"}


def test_what_was_read_is_kept_as_it_is():
    table = read(xlsx(["Item", "Quantity"], ["wax", 12.5], ["oil", "=1"]))

    kept = unpack(pack(table))

    assert kept == table
    assert isinstance(kept.sheets[0].rows[1][1][1], Figure)
    assert not isinstance(kept.sheets[0].rows[1][1][0], Figure)
