"""Papers through the pages: added, refused, handed out, withdrawn and erased; and what the item's page says of them.

OWASP Cheat Sheet Series, File Upload; OWASP ASVS 5.0, V5 File Handling (from memory).
"""

import io
import logging
from datetime import date
from html import unescape

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from PIL import Image

from inventory.documents import services
from inventory.models import Document, Item
from tests.files import ATTACKS, NAMES, pdf, phone_photo
from tests.web.conftest import ROLES, enter
from tests.web.forms import key, nothing_moves
from tests.web.inspection import csv_of, inspect, policy, text_of


@pytest.fixture
def maker(filled):
    return enter(filled.people.maker)


@pytest.fixture
def owner(filled):
    return enter(filled.people.owner)


@pytest.fixture
def oil(filled):
    return filled.books.item("Rain on Slate oil")


def add_url(item):
    return reverse("inventory:document-add", args=[item.pk])


def file_url(paper):
    return reverse("inventory:document-file", args=[paper.pk])


def sent(name="SDS Rain.pdf", content=None, **fields):
    """Everything the page "add a paper" sends."""
    file = SimpleUploadedFile(name, pdf("rain") if content is None else content, content_type="text/html")
    return {"file": file, "kind": "safety", "submission_key": key(), **fields}


def wrong(page, field, *words):
    """The page is refused with a sentence of these words at the field."""
    assert page.status_code == 422
    (said, *_) = page.context["form"].errors.get(field, ["nothing"])
    assert said in unescape(page.content.decode())
    for word in words:
        assert word.lower() in said.lower().replace("\N{NO-BREAK SPACE}", " "), said


# Adding


def test_a_sheet_is_added_and_its_page_offers_to_enter_its_figures(maker, oil):
    data = sent(dated_on="2026-01-15", valid_until="2029-01-15", note="Section 9 on page 6")

    answer = maker.post(add_url(oil), data)

    paper = Document.objects.get(item=oil)
    assert answer.headers["Location"] == paper.get_absolute_url()
    assert (paper.name, paper.dated_on, paper.valid_until) == (
        "SDS Rain.pdf",
        date(2026, 1, 15),
        date(2029, 1, 15),
    )
    page = maker.get(paper.get_absolute_url())
    assert f"{reverse('inventory:item-change', args=[oil.pk])}#from-its-papers" in page.content.decode()
    assert "flash point" in text_of(page)


def test_a_certificate_of_a_lot_shows_on_the_lot_and_on_its_item(filled, maker):
    lot = filled.shelf["fragrance"]

    maker.post(
        reverse("inventory:lot-document-add", args=[lot.code]), sent(kind="analysis", note="CoA SF-31")
    )

    paper = Document.objects.latest("pk")
    assert (paper.item_id, paper.lot) == (lot.item_id, lot)
    for page in (lot.get_absolute_url(), lot.item.get_absolute_url()):
        assert "CoA SF-31" in text_of(maker.get(page))


def test_a_paper_sent_twice_is_added_once(maker, oil):
    data = sent()
    again = sent(submission_key=data["submission_key"])

    first, second = maker.post(add_url(oil), data), maker.post(add_url(oil), again)

    assert first.headers["Location"] == second.headers["Location"]
    assert Document.objects.filter(item=oil).count() == 1


def test_another_file_under_the_same_key_clashes(maker, oil):
    data = sent()
    maker.post(add_url(oil), data)

    other = maker.post(add_url(oil), sent(content=pdf("other"), submission_key=data["submission_key"]))

    assert other.status_code == 409
    assert Document.objects.filter(item=oil).count() == 1


def test_the_same_file_again_leads_to_the_one_that_is_there(maker, oil):
    maker.post(add_url(oil), sent())
    there = Document.objects.get(item=oil)

    page = maker.post(add_url(oil), sent(name="another name.pdf", kind="other", note="typed"))

    wrong(page, "file", "lies there already")
    assert there.get_absolute_url() in page.content.decode()
    assert 'value="typed"' in page.content.decode()
    assert Document.objects.filter(item=oil).count() == 1


@pytest.mark.parametrize("what", ATTACKS)
def test_a_file_that_is_none_of_those_taken_in_is_refused_beside_its_field(filled, maker, oil, what):
    name, content, words = ATTACKS[what]
    with nothing_moves():
        page = maker.post(add_url(oil), sent(name=name, content=content, note="typed"))

    wrong(page, "file", words.split("|")[0] if "|" not in words else "")
    assert 'value="typed"' in page.content.decode()
    assert inspect(page).faults == []


@pytest.mark.parametrize(
    ("fields", "field", "words"),
    [
        ({"kind": ""}, "kind", "choose one"),
        ({"kind": "recipe"}, "kind", "from the list"),
        ({"kind": "photo"}, "kind", "this file is a PDF"),
        ({"dated_on": "yesterday"}, "dated_on", "write a date"),
        ({"dated_on": "1026-01-01"}, "dated_on", "year"),
        ({"dated_on": "2026-02-01", "valid_until": "2026-01-31"}, "valid_until", "before the date"),
        ({"note": "x" * 121}, "note", "120"),
    ],
)
def test_what_is_said_of_a_paper_is_checked_too(maker, oil, fields, field, words):
    with nothing_moves():
        page = maker.post(add_url(oil), sent(**fields))

    wrong(page, field, words)
    assert "Choose the file once more" in text_of(page)


def test_no_file_at_all_is_a_sentence(maker, oil):
    with nothing_moves():
        for nothing in ({}, {"file": ""}, {"file": "text"}):
            page = maker.post(add_url(oil), {"kind": "safety", "submission_key": key(), **nothing})
            wrong(page, "file", "choose the file")


def test_a_file_over_the_limit_is_a_sentence_beside_its_field(maker, oil, settings):
    settings.UPLOAD_LIMIT = 5_000_000
    with nothing_moves():
        # Above 2.5 MB a file is kept on disk while it comes in.
        page = maker.post(add_url(oil), sent(content=pdf("x" * 6_000_000)))

    wrong(page, "file", "6.1 MB", "at most 5 MB")


def test_what_announces_more_than_is_read_is_turned_away_unread(
    filled, maker, oil, settings, monkeypatch, caplog
):
    settings.REQUEST_LIMIT = 100_000
    read = []
    monkeypatch.setattr("django.http.request.HttpRequest.parse_file_upload", lambda *args: read.append(args))
    with nothing_moves(), caplog.at_level(logging.CRITICAL, "django.request"):
        answers = [
            client.post(add_url(oil), sent(content=pdf("x" * 200_000))) for client in (maker, Client())
        ]

    assert [answer.status_code for answer in answers] == [413, 413]
    assert "too large" in answers[0].content.decode()
    assert read == []


def test_a_body_that_announces_nothing_is_not_read(filled, maker, oil):
    with nothing_moves():
        answer = maker.post(add_url(oil), sent(), CONTENT_LENGTH="")

    # Nothing was sent, as far as the studio knows: the empty form is shown again.
    assert answer.status_code == 200


def test_a_photo_loses_the_place_and_shows_in_the_page(filled, maker, oil):
    maker.post(add_url(oil), sent(name="IMG_1.JPG", content=phone_photo(), kind="photo", note="The shelf"))

    paper = Document.objects.get(item=oil)
    answer = maker.get(file_url(paper))

    assert answer.headers["Content-Type"] == "image/jpeg"
    assert b"secret" not in answer.content
    assert dict(Image.open(io.BytesIO(answer.content)).getexif()) == {}
    for page in (paper.get_absolute_url(), oil.get_absolute_url()):
        assert f'<img src="{file_url(paper)}" alt="The shelf"' in maker.get(page).content.decode()


# Handing out


def test_a_file_is_handed_out_to_everybody_signed_in_and_nobody_else(filled):
    for role in ROLES:
        assert enter(getattr(filled.people, role)).get(file_url(filled.sheet)).status_code == 200
    answer = enter(None).get(file_url(filled.sheet))
    assert (answer.status_code, answer.headers["Location"].split("?")[0]) == (302, "/sign-in/")


def test_a_pdf_is_a_download_in_which_nothing_runs(filled, maker):
    answer = maker.get(file_url(filled.sheet))

    assert answer.content == bytes(filled.sheet.content.data)
    headers = answer.headers
    assert headers["Content-Type"] == "application/pdf"
    assert headers["Content-Disposition"].startswith("attachment; ")
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert policy(answer) == {"sandbox": "", "default-src": "'none'"}
    assert headers["Cross-Origin-Resource-Policy"] == "same-origin"
    assert headers["X-Frame-Options"] == "DENY"
    assert {part.strip() for part in headers["Cache-Control"].split(",")} == {"private", "no-store"}


def test_a_picture_may_show_in_a_page_and_nothing_in_it_runs(filled, maker):
    answer = maker.get(file_url(filled.photo))

    assert answer.headers["Content-Disposition"].startswith("inline; ")
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert policy(answer) == {"sandbox": "", "default-src": "'none'"}


@pytest.mark.parametrize("name", [name for name in NAMES if name])
def test_whatever_a_file_is_called_its_name_does_no_harm(filled, maker, oil, name):
    body = {"kind": "other", "submission_key": key(), "file": SimpleUploadedFile("x.pdf", pdf())}
    body["file"].name = body["file"]._name = name  # past what would be made of it on the way
    answer = maker.post(add_url(oil), body)
    if answer.status_code == 422:
        # A name that is nothing but a path, or nothing at all, is as good as no file.
        return
    paper = Document.objects.get(item=oil)

    page, file = maker.get(paper.get_absolute_url()), maker.get(file_url(paper))

    assert paper.name.endswith(".pdf")
    assert not {"/", "\\", "\r", "\n", "\0", "\N{RIGHT-TO-LEFT OVERRIDE}"} & set(paper.name)
    assert len(paper.name) <= 100
    assert "<script>alert" not in page.content.decode()
    said = file.headers["Content-Disposition"]
    assert said.isascii()
    plain = said.split('filename="')[1].split('"')[0]
    assert set(plain) <= set("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789 ._()+-")
    assert said.count('"') == 2
    assert "Set-Cookie" not in file.headers


def test_a_name_in_another_script_arrives_whole(filled, maker, oil):
    # RFC 8187 in RFC 6266: the letters as UTF-8, per cent (worked by hand: ä is C3 A4).
    maker.post(add_url(oil), sent(name="Säure 1.pdf"))

    answer = maker.get(file_url(Document.objects.get(item=oil)))

    assert answer.headers["Content-Disposition"] == (
        "attachment; filename=\"Saure 1.pdf\"; filename*=UTF-8''S%C3%A4ure%201.pdf"
    )


def test_an_erased_file_is_gone(filled, owner):
    assert owner.get(file_url(filled.erased)).status_code == 404


# Withdrawing, putting back, erasing, changing


def test_a_paper_is_withdrawn_and_put_back_by_a_press(filled, maker):
    paper = filled.sheet
    for act, word in (("withdraw", "Withdrawn"), ("put-back", "Put back")):
        answer = maker.post(reverse(f"inventory:document-{act}", args=[paper.pk]), {"submission_key": key()})
        assert answer.headers["Location"] == paper.get_absolute_url()
        text = text_of(maker.get(paper.get_absolute_url()))
        assert f"{word}<" in text
        assert "Tobin, 20 Mar 2026, 12:00" in text
    assert not Document.objects.get(pk=paper.pk).withdrawn


def test_a_second_press_says_so_and_changes_nothing(filled, maker):
    url = reverse("inventory:document-withdraw", args=[filled.withdrawn.pk])
    with nothing_moves():
        page = maker.post(url, {"submission_key": key()}, follow=True)

    assert "withdrawn already" in text_of(page)


def test_the_owner_erases_with_a_reason_and_the_row_says_so(filled, owner):
    url = reverse("inventory:document-erase", args=[filled.photo.pk])
    with nothing_moves():
        page = owner.post(url, {"reason": "", "submission_key": key()})
    assert page.status_code == 422

    owner.post(url, {"reason": "Shows a neighbour", "submission_key": key()})

    assert owner.get(file_url(filled.photo)).status_code == 404
    text = text_of(owner.get(filled.photo.get_absolute_url()))
    assert "Erased" in text
    assert "Shows a neighbour" in text
    assert "Maren, 20 Mar 2026" in text
    assert '<img src="/stock' not in text
    assert file_url(filled.photo) not in owner.get(filled.photo.item.get_absolute_url()).content.decode()
    # Erased once, there is nothing left to erase.
    with nothing_moves():
        assert "is erased" in text_of(owner.post(url, {"reason": "x", "submission_key": key()}, follow=True))


def test_what_was_said_of_a_paper_is_put_right_and_the_file_is_not(filled, maker):
    url = reverse("inventory:document-change", args=[filled.sheet.pk])
    page = maker.get(url)
    carried = {
        "initial-kind": "safety",
        "initial-dated_on": "2025-11-03",
        "initial-valid_until": "",
        "initial-note": "Section 9 on page 6",
    }
    assert all(
        f'name="{name}" value="{value}"' in page.content.decode() for name, value in carried.items() if value
    )

    fields = {
        "kind": "safety",
        "dated_on": "2025-11-30",
        "valid_until": "",
        "note": "Page 7",
        "digest": "x",
        "name": "x",
    }
    maker.post(url, fields | carried)

    kept = Document.objects.get(pk=filled.sheet.pk)
    assert (kept.dated_on, kept.note) == (date(2025, 11, 30), "Page 7")
    assert (kept.digest, kept.name) == (filled.sheet.digest, filled.sheet.name)


# What the other pages say


def test_an_item_without_a_sheet_says_so_everywhere(filled, maker, oil):
    assert "No safety data sheet." in text_of(maker.get(oil.get_absolute_url()))
    listed = text_of(maker.get("/stock/?q=Rain on Slate oil"))
    assert '<span class="state attention">No safety data sheet</span>' in listed
    # additive, Bayberry dye, dye, fragrance (whose sheet ran out) and the oil; the wax has one.
    missing = set(
        Item.objects.filter(kind__in=("wax", "fragrance", "dye", "additive"), made_here=False, retired=False)
        .exclude(pk=filled.sheet.item_id)
        .values_list("name", flat=True)
    )
    page = maker.get("/stock/documents/?show=missing")
    assert {item.name for item, _ in page.context["lacking_items"]} == missing
    today = text_of(maker.get("/"))
    assert f"{len(missing)} items have no safety data sheet" in today
    assert "/stock/documents/?show=missing" in today


def test_a_sheet_that_ran_out_counts_as_none_and_says_why(filled, maker):
    page = text_of(maker.get(filled.ran_out.item.get_absolute_url()))

    assert "The last one ran out on 28 Feb 2026." in page
    row = {row["Item"]: row for row in csv_of(maker, "/stock/documents/?show=missing&format=csv")}[
        "fragrance"
    ]
    assert row["Why"] == "The last one ran out on 28 Feb 2026."


def test_once_every_item_has_its_sheet_today_is_silent(filled, maker):
    for item in Item.objects.needing_safety_sheet():
        filled.books.paper(item.name, data=pdf(item.name))

    assert "safety data sheet" not in text_of(maker.get("/"))
    assert "Every item that should have" in text_of(maker.get("/stock/documents/?show=missing"))


def test_the_list_shows_what_is_asked_for_and_leaves_as_a_table(filled, maker):
    valid = csv_of(maker, "/stock/documents/?format=csv")
    assert {row["State"] for row in valid} == {"Valid"}
    assert {(row["Item"], row["What it is"]) for row in valid} == {
        ("wax", "Safety data sheet"),
        ("wax", "Photo"),
        ("wax", "Certificate of analysis"),
    }
    past = csv_of(maker, "/stock/documents/?show=past&format=csv")
    assert {row["State"] for row in past} == {"Out of date", "Withdrawn", "Erased"}
    assert len(csv_of(maker, "/stock/documents/?show=all&format=csv")) == 6
    (sheet,) = csv_of(maker, "/stock/documents/?kind=safety&q=WAX&format=csv")
    assert (sheet["Date on it"], sheet["Note"], sheet["Added by"]) == (
        "2025-11-03",
        "Section 9 on page 6",
        "Maren",
    )
    assert sheet["Size in bytes"] == str(filled.sheet.size)


def test_an_item_names_the_paper_its_figures_come_from(filled, maker):
    item = filled.sheet.item
    Item.objects.filter(pk=item.pk).update(density_ug_per_ml=890_000, flash_point_mc=195_000)

    page = text_of(maker.get(item.get_absolute_url()))

    assert f'0.89 g per mL<span class="sub">From the <a href="{filled.sheet.get_absolute_url()}">' in page
    assert "195 °C" in page
    assert "of 3 Nov 2025" in page


def test_the_figures_of_a_certificate_are_entered_on_the_item(filled, maker, oil):
    url = reverse("inventory:item-change", args=[oil.pk])
    page = maker.get(url)
    assert "From its papers" in text_of(page)
    initial = {f"initial-{name}": "" for name in page.context["form"].fields}
    data = {"name": oil.name, "kind": "fragrance", "unit": "g"}
    data |= {f"initial-{name}": value for name, value in data.items()}
    figures = {
        "flash_point_mc": "88",
        "density_ug_per_ml": "0.978",
        "maximum_load_ppm": "9",
        "maximum_load_basis": "of_melt",
        "certificate_on": "2026-01-15",
        "certificate_amendment": "51",
    }

    assert maker.post(url, initial | data | figures | {"submission_key": key()}).status_code == 302

    oil.refresh_from_db()
    assert (oil.flash_point_mc, oil.density_ug_per_ml, oil.maximum_load_ppm) == (88_000, 978_000, 90_000)
    assert (oil.certificate_on, oil.certificate_amendment) == (date(2026, 1, 15), "51")
    assert "amendment 51, dated 15 Jan 2026" in text_of(maker.get(oil.get_absolute_url()))


def test_a_bookkeeper_sees_papers_and_no_buttons(filled):
    client = enter(filled.people.bookkeeper)

    page = client.get(filled.sheet.get_absolute_url()).content.decode()

    assert file_url(filled.sheet) in page
    for name in ("change", "withdraw", "erase"):
        assert reverse(f"inventory:document-{name}", args=[filled.sheet.pk]) not in page
    item = client.get(filled.sheet.item.get_absolute_url()).content.decode()
    assert add_url(filled.sheet.item) not in item


def test_only_the_owner_is_offered_to_erase(filled, maker, owner):
    url = reverse("inventory:document-erase", args=[filled.sheet.pk])

    assert url not in maker.get(filled.sheet.get_absolute_url()).content.decode()
    assert url in owner.get(filled.sheet.get_absolute_url()).content.decode()


def test_a_withdrawn_paper_stays_to_be_read(filled, maker):
    page = text_of(maker.get(filled.withdrawn.item.get_absolute_url()))

    assert "No longer valid" in page
    assert filled.withdrawn.get_absolute_url() in page
    assert maker.get(file_url(filled.withdrawn)).status_code == 200


def test_a_race_for_the_same_file_ends_with_one_of_it(filled, maker, oil, monkeypatch):
    # The other one landed between the look and the writing: the database refuses the second.
    monkeypatch.setattr(services.Document.objects, "filter", lambda **said: Document.objects.none())
    maker.post(add_url(oil), sent())
    answer = maker.post(add_url(oil), sent(name="again.pdf"))

    assert answer.status_code == 409
    monkeypatch.undo()
    assert Document.objects.filter(item=oil).count() == 1
