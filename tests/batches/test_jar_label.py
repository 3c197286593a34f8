"""The label of a finished candle: everything on it, nothing cut, and a refusal where it does not fit."""

import io
from dataclasses import replace

import pypdf
import pypdfium2
import pytest
import zxingcpp
from hypothesis import given, settings
from hypothesis import strategies as st

from batches.models import Batch, FormulaVersion
from batches.records.jar_label_pdf import DoesNotFit, JarLabel, laid_out
from batches.records.jar_label_text import What, jar_texts, labels_of
from inventory.labels.sheets import Layout, sheets_of
from inventory.models import Item, Lot
from studio.core.label_warnings import HEADING, USUAL, standard_of, warning_words
from studio.models import Studio
from studio.web.pdf import height_of

SHEET = Layout(210_000, 297_000, 8, 3, 0, 500, 70_000, 37_000, 0, 0)
ROLL = Layout(62_000, 29_000, 1, 1, 0, 0, 62_000, 29_000, 0, 0)
LARGE = Layout(100_000, 60_000, 1, 1, 0, 0, 100_000, 60_000, 0, 0)
MM = 72 / 25.4

FRONT = JarLabel(
    product="Cedar & Black Tea jar",
    net="Net wt 7.2 oz (205 g)",
    net_height_um=3_175,
    batch_code="B04K7C",
    lot_code="L01A2B",
    maker="Ninefold Lane",
    place="9 Lantern Row\nNowhere-on-Marsh",
)
WHOLE = replace(FRONT, heading=HEADING, warning=USUAL["us"].words, words="Contains an invented allergen.")
LONG = replace(WHOLE, warning=" ".join([USUAL["eu"].words] * 2))


def texts(label, layout):
    pdf = sheets_of([label], layout, 1, laid_out=laid_out, title="Jar labels")
    (page,) = pypdf.PdfReader(io.BytesIO(pdf)).pages
    return " ".join(page.extract_text().replace("\N{NO-BREAK SPACE}", " ").split()), pdf


def test_everything_is_on_it():
    text, _ = texts(WHOLE, LARGE)

    for words in (
        "Cedar & Black Tea jar",
        "Net wt 7.2 oz (205 g)",
        "Batch B04 K7C",
        "Lot L01 A2B",
        "Ninefold Lane · 9 Lantern Row, Nowhere-on-Marsh",
        "WARNING",
        USUAL["us"].words,
        "Contains an invented allergen.",
    ):
        assert words in text


@pytest.mark.parametrize("layout", [SHEET, ROLL, LARGE])
def test_the_batch_code_scans_where_it_has_a_symbol(layout):
    _, pdf = texts(FRONT, layout)
    page = pypdfium2.PdfDocument(pdf)[0].render(scale=300 / 72).to_pil()

    assert [symbol.text for symbol in zxingcpp.read_barcodes(page)] == ["B04K7C"]


def test_what_does_not_fit_is_refused_with_what_it_needs():
    with pytest.raises(DoesNotFit, match=r"takes \d+ mm .* leaves 25 mm.*label of its own") as refused:
        texts(LONG, ROLL)
    assert refused.value.figure == "layout"

    with pytest.raises(DoesNotFit, match="jar label does not fit"):
        laid_out(replace(FRONT, product="Cedar " * 40), 58 * MM, 25 * MM)
    with pytest.raises(DoesNotFit, match="warning with the words below it does not fit"):
        laid_out(JarLabel(heading=HEADING, warning=LONG.warning, words="x"), 58 * MM, 20 * MM)
    with pytest.raises(DoesNotFit, match="net weight with figures of"):
        laid_out(replace(FRONT, net_height_um=4_000), 20 * MM, 60 * MM)


def test_net_weight_figures_are_as_tall_as_they_must_be():
    pdf = sheets_of([replace(FRONT, net_height_um=4_000)], LARGE, 1, laid_out=laid_out, title="x")
    found = []
    pypdf.PdfReader(io.BytesIO(pdf)).pages[0].extract_text(
        visitor_text=lambda text, cm, tm, font, size: found.append((text, size))
    )

    (size,) = [size for text, size in found if "Net wt" in text]

    # A figure is 714 thousandths of the size (the font's own table); 4 mm are 11.34 pt.
    assert size * 0.714 >= 4 * MM - 0.01


@settings(max_examples=25, deadline=None)
@given(
    st.text(max_size=60),
    st.text(max_size=300),
    st.floats(20, 120),
    st.floats(10, 90),
)
def test_a_label_keeps_to_its_room_or_is_refused(product, words, width, height):
    label = replace(WHOLE, product=f"P{product}", words=words)
    try:
        face = laid_out(label, width * MM, height * MM)
    except DoesNotFit as error:
        assert "mm" in str(error)  # noqa: PT017
    else:
        assert sum(tall for _, tall in face.pieces) <= height * MM + 0.01
        assert height_of([piece for piece, _ in face.pieces], width * MM) <= height * MM + 0.01


def test_each_market_has_its_words_and_names_its_standard():
    # ASTM F2058's three messages: from memory, similar text read in a Canadian proposal.
    for market, standard in (("us", "ASTM F2058"), ("eu", "EN 15494")):
        said = warning_words(market).lower()
        for message in ("where you can see it", "anything that can catch fire", "children and pets"):
            assert message in said
        assert standard in standard_of(market)
        assert "check the words against the standard" in standard_of(market)


@pytest.mark.parametrize(
    ("address", "line"),
    [
        ("9 Lantern Row\nNowhere", "Ninefold Lane · 9 Lantern Row, Nowhere"),
        ("9 Ninefold Lane", "Ninefold Lane · 9 Ninefold Lane"),
        ("Ninefold Lane\n9 Lantern Row", "Ninefold Lane, 9 Lantern Row"),
        ("ninefold lane, 9 Lantern Row", "ninefold lane, 9 Lantern Row"),
        ("", "Ninefold Lane"),
    ],
)
def test_the_maker_is_named_once(address, line):
    studio = Studio(name="Ninefold Lane", address=address)
    batch = Batch(code="B04K7C", version=FormulaVersion(fill_ug=205_000_000))

    texts_of_lot = jar_texts(Lot(code="L01A2B", item=Item(name="Cedar")), batch, studio)

    text, _ = texts(labels_of(texts_of_lot, What.FRONT, LARGE)[0], LARGE)
    assert line in text


def test_the_studios_own_words_replace_the_usual_ones():
    assert warning_words("us", " Mind the flame. ") == "Mind the flame."
    assert standard_of("us", "Mind the flame.").startswith("The studio's own words.")
    assert warning_words("us", "  ") == USUAL["us"].words
