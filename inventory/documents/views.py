"""Papers and photos of items and lots: added, listed, handed out, withdrawn and erased."""

import re
import unicodedata
from datetime import date
from typing import Any
from urllib.parse import quote

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect

from inventory.documents import services
from inventory.documents.forms import PaperChangeForm, PaperForm
from inventory.documents.queries import PAST_LAST, why_missing, without_sheet
from inventory.fetch import lot_of
from inventory.models import Document, Item, Lot
from inventory.querysets import DocumentQuerySet
from studio.people.access import EVERYONE, MAKERS, OWNER, allow
from studio.web import tables
from studio.web.filters import text_of
from studio.web.forms import ReasonForm
from studio.web.requests import StudioRequest, answer, page_of, sign, today
from studio.web.submissions import once
from studio.web.tables import Column, Format, Table
from studio.web.uploads import in_megabytes

SHOWN = {
    "valid": "Valid",
    "past": "No longer valid",
    "all": "All papers",
    "missing": "Missing sheets",
}
# Whatever is in the file, nothing of it runs: neither where it is shown nor where it is opened.
SHUT = "sandbox; default-src 'none'"
FIGURES_IN = {Document.Kind.SAFETY, Document.Kind.IFRA}


def _papers() -> DocumentQuerySet:
    return Document.objects.select_related("item", "lot", "added_by")


@allow(see=EVERYONE)
def document_list(request: StudioRequest) -> HttpResponse:
    """The papers of all items, the latest first; or the items that lack a safety data sheet."""
    day = today()
    show = request.GET.get("show", "valid")
    show = show if show in SHOWN else "valid"
    kind = request.GET.get("kind", "")
    text = text_of(request, "q")
    if show == "missing":
        return _missing(request, day, text)
    papers = {
        "valid": _papers().valid(day),
        "past": _papers().exclude(pk__in=Document.objects.valid(day)),
        "all": _papers(),
    }[show]
    if kind in Document.Kind.values:
        papers = papers.filter(kind=kind)
    if text:
        papers = papers.filter(item__name__icontains=text)
    if tables.wanted(request):
        return _table(day).file(request, papers.iterator(chunk_size=2000))
    page = page_of(request, papers)
    context = {
        "page": page,
        "rows": [(paper, paper.state(day)) for paper in page],
        "shown": SHOWN,
        "show": show,
        "kinds": Document.Kind.choices,
        "kind": kind,
        "text": text,
        "lacking": without_sheet(day).count(),
        "any": Document.objects.exists(),
    }
    return answer(request, "inventory/document_list.html", context)


def _missing(request: StudioRequest, day: date, text: str) -> HttpResponse:
    items = without_sheet(day)
    if text:
        items = items.filter(name__icontains=text)
    if tables.wanted(request):
        return MISSING.file(request, items)
    page = page_of(request, items)
    context = {
        "page": page,
        "lacking_items": [(item, why_missing(item)) for item in page],
        "shown": SHOWN,
        "show": "missing",
        "text": text,
        "any": True,
    }
    return answer(request, "inventory/document_list.html", context)


MISSING = Table(
    "missing-safety-data-sheets",
    "Missing sheets",
    [Column("Item", "name"), Column("Kind", "kind_words"), Column("Why", why_missing)],
)


def _table(day: date) -> Table:
    return Table(
        "papers",
        "Papers",
        [
            Column("Item", "item.name"),
            Column("Lot", "lot.code"),
            Column("What it is", "get_kind_display"),
            Column("File", "name"),
            Column("Date on it", "dated_on", Format.DAY),
            Column("Valid until", "valid_until", Format.DAY),
            Column("State", lambda paper: paper.state(day), Format.STATE),
            Column("Note", "note"),
            Column("Size in bytes", "size", Format.NUMBER),
            Column("Added by", "added_by"),
            Column("Added", "added_at", Format.TIME),
        ],
    )


@allow(see=EVERYONE)
def item_documents(request: StudioRequest, pk: int) -> HttpResponse:
    """Every paper of an item and of its lots."""
    item = get_object_or_404(Item, pk=pk)
    day = today()
    papers = _papers().filter(item=item).order_by(*PAST_LAST)
    if tables.wanted(request):
        return _table(day).file(request, papers.iterator(chunk_size=2000))
    page = page_of(request, papers)
    context = {"item": item, "page": page, "rows": [(paper, paper.state(day)) for paper in page]}
    return answer(request, "inventory/item_documents.html", context)


@allow(see=MAKERS, do=MAKERS)
def document_add(request: StudioRequest, pk: int) -> HttpResponse:
    """A paper or a photo of an item."""
    return _add(request, get_object_or_404(Item, pk=pk), None)


@allow(see=MAKERS, do=MAKERS)
def lot_document_add(request: StudioRequest, code: str) -> HttpResponse:
    """A paper or a photo of one lot, such as its certificate of analysis."""
    lot = lot_of(code)
    return _add(request, lot.item, lot)


def _add(request: StudioRequest, item: Item, lot: Lot | None) -> HttpResponse:
    form = PaperForm(
        request.POST or None, request.FILES or None, initial={"kind": request.GET.get("kind", "")}
    )
    there = None
    if request.method == "POST" and form.is_valid():

        def act() -> str:
            return services.add(
                item.pk,
                form.paper(),
                form.cleaned_data["file"],
                signature=sign(request),
                lot_id=lot.pk if lot else None,
            ).get_absolute_url()

        try:
            url = once(request, act)
        except services.AlreadyThere as error:
            there = error.document
            form.add_error("file", "This very file lies there already; see below.")
        else:
            messages.success(request, "Added.")
            return redirect(url)
    context = {"form": form, "item": item, "lot": lot, "there": there}
    return answer(request, "inventory/document_add.html", context, refused=form.is_bound)


@allow(see=EVERYONE)
def document_detail(request: StudioRequest, pk: int) -> HttpResponse:
    """One paper: what it is, what was done to it, and the file."""
    paper = get_object_or_404(_papers(), pk=pk)
    context = {
        "paper": paper,
        "state": paper.state(today()),
        "size": in_megabytes(paper.size),
        "records": paper.records.select_related("by"),
        "figures_in": paper.kind in FIGURES_IN and not paper.erased,
    }
    return answer(request, "inventory/document_detail.html", context)


@allow(see=EVERYONE)
def document_file(request: StudioRequest, pk: int) -> HttpResponse:
    """The file itself: a download, or, where the studio wrote the picture anew, a picture for a page."""
    held = Document.objects.filter(erased=False, content__isnull=False).select_related("content")
    paper = get_object_or_404(held, pk=pk)
    response = HttpResponse(bytes(paper.content.data), content_type=paper.media_type)
    response["Content-Disposition"] = disposition(paper.name, inline=paper.is_picture)
    response["Content-Security-Policy"] = SHUT
    response["Cross-Origin-Resource-Policy"] = "same-origin"
    return response


def disposition(name: str, *, inline: bool) -> str:
    """Content-Disposition for a file of any name: plain letters for old readers, all of it for the others.

    RFC 6266, section 4.3 and its appendix D (from memory): both forms, neither quotes nor backslashes in the plain one.
    """
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode()
    plain = re.sub(r"[^A-Za-z0-9 ._()+-]", "_", plain)
    return f"{'inline' if inline else 'attachment'}; filename=\"{plain}\"; filename*=UTF-8''{quote(name, safe='')}"


@allow(see=MAKERS, do=MAKERS)
def document_change(request: StudioRequest, pk: int) -> HttpResponse:
    """Put right what was said of a paper; the file stays."""
    paper = get_object_or_404(_papers(), pk=pk)
    form = PaperChangeForm(request.POST or None, instance=paper)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, "Saved.")
        return redirect(paper)
    return answer(
        request, "inventory/document_change.html", {"form": form, "paper": paper}, refused=form.is_bound
    )


def _mark(request: StudioRequest, pk: int, act: Any, done: str) -> HttpResponse:
    paper = get_object_or_404(Document, pk=pk)
    try:
        url = once(request, lambda: act(paper.pk, signature=sign(request)).get_absolute_url())
    except services.AlreadySo as error:
        messages.warning(request, str(error))
        return redirect(paper)
    messages.success(request, done)
    return redirect(url)


@allow(do=MAKERS)
def document_withdraw(request: StudioRequest, pk: int) -> HttpResponse:
    """The paper no longer counts; it stays to be read."""
    return _mark(request, pk, services.withdraw, "Withdrawn. It stays under “no longer valid”.")


@allow(do=MAKERS)
def document_put_back(request: StudioRequest, pk: int) -> HttpResponse:
    """A withdrawn paper counts again."""
    return _mark(request, pk, services.put_back, "Put back.")


@allow(see=OWNER, do=OWNER)
def document_erase(request: StudioRequest, pk: int) -> HttpResponse:
    """Erase the file for good, with a reason; says first what will happen."""
    paper = get_object_or_404(_papers(), pk=pk)
    if paper.erased and request.method != "POST":
        return redirect(paper)
    form = ReasonForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        signature = sign(request, reason=form.cleaned_data["reason"])
        try:
            url = once(request, lambda: services.erase(paper.pk, signature=signature).get_absolute_url())
        except services.AlreadySo as error:
            messages.warning(request, str(error))
            return redirect(paper)
        messages.success(request, "Erased. What was said of it stays on record.")
        return redirect(url)
    return answer(
        request, "inventory/document_erase.html", {"form": form, "paper": paper}, refused=form.is_bound
    )
