"""What was brought in, looked up and undone, and by whom it may be."""

from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from inventory.models import Posting, WaitingTable
from tests.house import snapshot
from tests.web.conftest import enter
from tests.web.forms import key
from tests.web.inspection import text_of


def test_history_says_what_was_brought_in_when_and_by_whom(filled):
    owner, bookkeeper = enter(filled.people.owner), enter(filled.people.bookkeeper)

    for client in (owner, bookkeeper):
        text = text_of(client.get("/stock/import/"))
        assert "Opening lots" in text
        assert "Maren" in text
        detail = text_of(client.get(filled.table.get_absolute_url()))
        assert f'value="{filled.opened.code}"' in detail
        assert Posting.objects.get(kind="opening").get_absolute_url() in detail
    assert filled.waiting.get_absolute_url() in text_of(owner.get("/stock/import/"))
    assert filled.waiting.get_absolute_url() not in text_of(bookkeeper.get("/stock/import/"))
    assert 'type="file"' not in text_of(bookkeeper.get("/stock/import/lots/"))


def test_an_opening_is_reversed_from_its_page(filled):
    owner = enter(filled.people.owner)
    earlier, opening = Posting.objects.get(kind="earlier"), Posting.objects.get(kind="opening")
    for posting in (earlier, opening):
        url = reverse("inventory:posting-reverse", args=[posting.pk])
        owner.post(url, {"reason": "Counted twice", "submission_key": key()})

    assert filled.books.of(filled.opened) == (0, 0)
    assert "Reversed" in text_of(owner.get(filled.table.get_absolute_url()))


def test_a_long_posting_lists_its_first_lines_among_the_books(filled):
    rows = "".join(f"old box,{number},1,2026-03-02\n" for number in range(1, 31))
    filled.books.bring_in("lots", f"Item,Quantity,Cost,Arrived\n{rows}")

    text = text_of(enter(filled.people.owner).get("/stock/ledger/?kind=opening"))

    assert "and 26 more" in text


def test_nothing_is_kept_or_brought_in_by_those_who_may_not(filled):
    for role in ("maker", "costly", "bookkeeper"):
        client = enter(getattr(filled.people, role))
        file = SimpleUploadedFile("notebook.csv", b"Item,Quantity,Cost,Arrived\nold box,1,1,2026-02-12\n")
        before, waiting = snapshot(), WaitingTable.objects.count()
        assert client.post("/stock/import/lots/", {"file": file}).status_code == 403
        assert client.post(filled.waiting.get_absolute_url(), {"shown": "x"}).status_code == 403
        assert (snapshot(), WaitingTable.objects.count()) == (before, waiting)
