"""Papers of items and lots: added once, withdrawn, put back and erased with a name; and which items lack a sheet."""

import hashlib
from datetime import date

import pytest
from django.db import DatabaseError, IntegrityError, connection, transaction

from inventory.checks import CHECKS
from inventory.documents import queries, services
from inventory.documents.services import AlreadySo, AlreadyThere, Paper
from inventory.models import Document, DocumentContent, DocumentRecord, Item
from studio import guards
from studio.web.uploads import Received, receive
from tests.files import pdf, phone_photo
from tests.house import NOW, TODAY, refused

pytestmark = pytest.mark.django_db

SHEET = Paper(Document.Kind.SAFETY, date(2025, 11, 3), None, "Section 9 on page 6")


@pytest.fixture
def wax(books):
    return books.item("wax")


@pytest.fixture
def add(books):
    """Add a paper: to an item, or to a lot of it."""

    def do(item, paper=SHEET, data=None, lot=None):
        file = receive("sheet.pdf", data or pdf())
        return services.add(item.pk, paper, file, signature=books.sign(), lot_id=lot and lot.pk)

    return do


def names(items):
    return sorted(item.name for item in items)


# Adding


def test_a_paper_lies_beside_its_item_with_its_bytes_and_their_fingerprint(wax, add, owner):
    data = pdf("of wax")

    paper = add(wax, data=data)

    assert (paper.item, paper.lot, paper.kind, paper.dated_on) == (wax, None, "safety", date(2025, 11, 3))
    assert (paper.name, paper.media_type, paper.size) == ("sheet.pdf", "application/pdf", len(data))
    assert paper.digest == hashlib.sha256(data).hexdigest()
    assert (paper.added_by, paper.added_at) == (owner, NOW)
    assert bytes(paper.content.data) == data


def test_a_photo_is_kept_as_it_was_written_anew(wax, books):
    file = receive("photo.jpg", phone_photo())

    paper = services.add(wax.pk, Paper(Document.Kind.PHOTO), file, signature=books.sign())

    assert bytes(paper.content.data) == file.data
    assert b"secret" not in bytes(paper.content.data)
    assert paper.is_picture


def test_the_same_file_is_not_kept_twice_beside_one_item(wax, add):
    first = add(wax)

    with pytest.raises(AlreadyThere) as caught:
        add(wax, Paper(Document.Kind.OTHER))

    assert caught.value.document == first
    assert (Document.objects.count(), DocumentContent.objects.count()) == (1, 1)


def test_a_withdrawn_paper_counts_as_being_there_an_erased_one_does_not(wax, add, books):
    first = add(wax)
    services.withdraw(first.pk, signature=books.sign())
    with pytest.raises(AlreadyThere):
        add(wax)

    services.erase(first.pk, signature=books.sign(reason="Somebody's letter"))

    assert add(wax) != first


def test_the_same_file_may_lie_beside_another_item_and_beside_a_lot(wax, add, books):
    lot, other = (books.receive("wax", "1 kg", cost=6) for _ in range(2))
    add(wax)

    for place in (lot, other):
        assert add(wax, lot=place).lot == place
        with pytest.raises(AlreadyThere):
            add(wax, lot=place)
    assert add(books.item("fragrance")).item.name == "fragrance"
    assert Document.objects.count() == 4


def test_the_database_itself_refuses_the_same_bytes_twice(wax, add, books):
    lot = books.receive("wax", "1 kg", cost=6)
    for paper in (add(wax), add(wax, lot=lot)):
        copy = Document.objects.get(pk=paper.pk)
        copy.pk = None
        with pytest.raises(IntegrityError), transaction.atomic():
            Document.objects.bulk_create([copy])


# Withdrawing, putting back, erasing


def test_a_paper_is_withdrawn_and_put_back_with_a_name_and_a_time(wax, add, books):
    paper = add(wax)

    services.withdraw(paper.pk, signature=books.sign())
    assert Document.objects.get().state(TODAY) == ("plain", "Withdrawn")
    services.put_back(paper.pk, signature=books.sign())

    assert Document.objects.get().state(TODAY) == ("good", "Valid")
    assert [(record.what, record.by, record.at) for record in paper.records.order_by("pk")] == [
        ("withdrawn", books.by, NOW),
        ("put_back", books.by, NOW),
    ]


def test_an_erased_paper_leaves_its_row_and_why(wax, add, books):
    paper = add(wax)

    services.erase(paper.pk, signature=books.sign(reason="A private photo"))

    kept = Document.objects.get()
    assert (kept.name, kept.erased, kept.state(TODAY)) == ("sheet.pdf", True, ("plain", "Erased"))
    assert not DocumentContent.objects.exists()
    record = kept.records.get()
    assert (record.what, record.reason, record.by) == ("erased", "A private photo", books.by)


def test_what_is_so_already_is_refused_and_leaves_no_record(wax, add, books):
    paper = add(wax)
    with refused(AlreadySo, "counts already"):
        services.put_back(paper.pk, signature=books.sign())
    services.withdraw(paper.pk, signature=books.sign())
    with refused(AlreadySo, "withdrawn already"):
        services.withdraw(paper.pk, signature=books.sign())
    services.erase(paper.pk, signature=books.sign(reason="x"))
    for act in (services.withdraw, services.put_back, services.erase):
        with refused(AlreadySo, "erased"):
            act(paper.pk, signature=books.sign())

    assert DocumentRecord.objects.count() == 2


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE inventory_document SET digest = 'x'",
        "UPDATE inventory_document SET size = 1",
        "UPDATE inventory_document SET name = 'x'",
        "UPDATE inventory_documentcontent SET data = NULL",
        "DELETE FROM inventory_documentcontent",
        "DELETE FROM inventory_document",
        "UPDATE inventory_documentrecord SET reason = 'x'",
        "DELETE FROM inventory_documentrecord",
    ],
)
def test_the_database_lets_no_paper_be_swapped_or_lost(wax, add, books, statement):
    paper = add(wax)
    services.withdraw(paper.pk, signature=books.sign())
    with (
        pytest.raises(DatabaseError, match=r"paper|Paper"),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute(statement)


def test_what_was_said_of_a_paper_may_be_put_right(wax, add):
    paper = add(wax)
    paper.kind, paper.valid_until = Document.Kind.OTHER, date(2027, 1, 1)
    paper.save(update_fields=["kind", "valid_until"])

    assert Document.objects.get().kind == "other"


# Which items lack a safety data sheet


def test_what_is_melted_and_was_bought_should_have_a_sheet(books):
    for kind in ("wax", "fragrance", "dye", "additive", "wick", "vessel", "label", "finished"):
        books.item(kind)
    books.item("Lane blend", kind="wax", made_here=True)
    books.item("Old dye", kind="dye", retired=True)

    assert names(queries.without_sheet(TODAY)) == ["additive", "dye", "fragrance", "wax"]
    assert {queries.why_missing(item) for item in queries.without_sheet(TODAY)} == {"None was added."}
    assert names(Item.objects.needing_safety_sheet()) == names(
        item for item in Item.objects.filter(retired=False) if item.needs_safety_sheet
    )


@pytest.mark.parametrize(
    ("paper", "missing"),
    [
        (SHEET, False),
        (Paper(Document.Kind.SAFETY, valid_until=TODAY), False),
        (Paper(Document.Kind.SAFETY, valid_until=date(2026, 3, 19)), True),
        (Paper(Document.Kind.IFRA), True),
        (Paper(Document.Kind.OTHER), True),
    ],
)
def test_only_a_valid_sheet_counts(wax, add, paper, missing):
    add(wax, paper)

    assert queries.without_sheet(TODAY).exists() is missing
    assert queries.with_sheet(Item.objects.all(), TODAY).get().sheet_missing is missing


def test_a_withdrawn_and_an_erased_sheet_do_not_count(wax, add, books):
    paper = add(wax)
    services.withdraw(paper.pk, signature=books.sign())
    assert queries.without_sheet(TODAY).exists()
    services.put_back(paper.pk, signature=books.sign())
    assert not queries.without_sheet(TODAY).exists()
    services.erase(paper.pk, signature=books.sign(reason="x"))
    assert queries.without_sheet(TODAY).exists()


def test_why_a_sheet_is_missing_names_the_day_the_last_one_ran_out(wax, add):
    for number, day in enumerate((date(2025, 5, 4), date(2026, 2, 28))):
        add(wax, Paper(Document.Kind.SAFETY, valid_until=day), pdf(str(number)))

    assert queries.why_missing(queries.without_sheet(TODAY).get()) == "The last one ran out on 28 Feb 2026."


def test_a_page_shows_the_newest_first_and_what_no_longer_counts_apart(wax, add, books):
    old, gone, late, new = (
        add(wax, paper, pdf(str(number)))
        for number, paper in enumerate(
            (SHEET, SHEET, Paper(Document.Kind.IFRA, valid_until=date(2026, 1, 1)), SHEET)
        )
    )
    services.withdraw(gone.pk, signature=books.sign())

    found = queries.beside(wax.documents.all(), TODAY)

    assert [paper for paper, _ in found.valid] == [new, old]
    assert [(paper, word) for paper, (_, word) in found.past] == [(late, "Out of date"), (gone, "Withdrawn")]
    assert not found.more


def test_a_page_shows_a_dozen_and_says_that_there_are_more(wax, add):
    for number in range(queries.PAPERS_AT_MOST + 1):
        add(wax, data=pdf(str(number)))

    found = queries.beside(wax.documents.all(), TODAY)

    assert (len(found.valid), found.more) == (12, True)


def test_figures_come_from_the_paper_with_the_latest_date(wax, add, books):
    newer = add(wax, Paper(Document.Kind.SAFETY, date(2026, 1, 5)), pdf("1"))
    add(wax, Paper(Document.Kind.SAFETY, date(2024, 1, 5)), pdf("2"))
    add(wax, Paper(Document.Kind.SAFETY), pdf("3"))
    gone = add(wax, Paper(Document.Kind.SAFETY, date(2026, 2, 5)), pdf("4"))
    services.withdraw(gone.pk, signature=books.sign())

    assert queries.sources(wax, TODAY) == {"safety": newer}


# What check_books proves


def told():
    """Everything check_books says."""
    return [sentence for check in CHECKS for sentence in check()]


def broken(statement):
    """Run a statement past the guards."""
    guards.remove()
    with connection.cursor() as cursor:
        cursor.execute(statement)
    guards.install()


def test_papers_that_are_whole_give_no_cause(wax, add, books):
    add(wax)
    services.erase(add(wax, data=pdf("x")).pk, signature=books.sign(reason="x"))
    services.withdraw(add(wax, data=pdf("y")).pk, signature=books.sign())

    assert told() == []


@pytest.mark.parametrize(
    ("statement", "words"),
    [
        ("UPDATE inventory_document SET digest = '00' WHERE id = {pk}", "not the one that was added"),
        ("UPDATE inventory_document SET size = size + 1 WHERE id = {pk}", "not the one that was added"),
        ("DELETE FROM inventory_documentcontent WHERE document_id = {pk}", "has lost its file"),
        (
            "UPDATE inventory_document SET erased = {true} WHERE id = {pk}",
            "is erased and its file is still there",
        ),
        (
            "UPDATE inventory_document SET withdrawn = {true} WHERE id = {pk}",
            "not what its last record says",
        ),
    ],
)
def test_a_paper_that_was_tampered_with_is_found(wax, add, statement, words):
    paper = add(wax)
    true = "1" if connection.vendor == "sqlite" else "true"
    broken(statement.format(pk=paper.pk, true=true))

    said = told()

    assert any(words in sentence for sentence in said), said
    assert all(f"Paper {paper.pk}" in sentence for sentence in said)


def test_a_file_swapped_for_another_of_the_same_size_is_found(wax, add):
    paper = add(wax, data=pdf("1"))
    other = pdf("2").hex()
    value = f"X'{other}'" if connection.vendor == "sqlite" else f"'\\x{other}'"
    broken(f"UPDATE inventory_documentcontent SET data = {value}")

    assert told() == [f"Paper {paper.pk}, sheet.pdf: its file is not the one that was added."]


def test_a_file_of_ten_megabytes_is_kept_whole(wax, books):
    data = b"%PDF-" + bytes(9_000_000) + b"%%EOF"
    paper = services.add(wax.pk, SHEET, Received("big.pdf", "application/pdf", data), signature=books.sign())

    assert bytes(DocumentContent.objects.get(pk=paper.pk).data) == data
    assert told() == []
