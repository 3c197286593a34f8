"""Questions about papers: which items lack a safety data sheet and why, and what lies beside an item or a lot."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import BooleanField, Exists, ExpressionWrapper, F, OuterRef, Q, QuerySet, Subquery

from inventory.models import Document, Item

# Newest first, what no longer counts at the end.
PAST_LAST = ("erased", "withdrawn", "-added_at", "-pk")
PAPERS_AT_MOST, PICTURES_AT_MOST = 12, 3
SHEETS = Document.objects.filter(kind=Document.Kind.SAFETY, item=OuterRef("pk"))


def with_sheet(items: QuerySet[Any], on: date) -> QuerySet[Any]:
    """Items with `sheet_missing`, whether one should have a safety data sheet and has none that is valid on a day,
    and `sheet_ran_out_on`, the last day of the one that ran out last."""
    needs = Exists(Item.objects.needing_safety_sheet().filter(pk=OuterRef("pk")))
    ran_out = SHEETS.kept().filter(valid_until__lt=on).order_by("-valid_until").values("valid_until")
    annotated: QuerySet[Any] = items.annotate(
        sheet_missing=ExpressionWrapper(Q(needs) & ~Q(Exists(SHEETS.valid(on))), BooleanField()),
        sheet_ran_out_on=Subquery(ran_out[:1]),
    )
    return annotated


def without_sheet(on: date) -> QuerySet[Any]:
    """The items that should have a safety data sheet and have none that is valid on a day."""
    lacking = Item.objects.needing_safety_sheet().filter(~Exists(SHEETS.valid(on)))
    return with_sheet(lacking, on)


def why_missing(item: Any) -> str:
    """Why an item of `with_sheet` has no safety data sheet, in a sentence."""
    if ran_out := item.sheet_ran_out_on:
        return f"The last one ran out on {ran_out.day} {ran_out:%b %Y}."
    return "None was added."


@dataclass(frozen=True)
class Beside:
    """The papers a page shows, newest first, each with its tone and word; `more` where the list goes on elsewhere."""

    valid: list[tuple[Document, tuple[str, str]]]
    past: list[tuple[Document, tuple[str, str]]]
    pictures: list[Document]
    more: bool


def beside(papers: QuerySet[Document], day: date) -> Beside:
    """The papers of an item or a lot as its page shows them on a day. One query."""
    found = papers.select_related("lot", "added_by").order_by(*PAST_LAST)[: PAPERS_AT_MOST + 1]
    rows = [(paper, paper.state(day)) for paper in found]
    shown = rows[:PAPERS_AT_MOST]
    valid = [row for row in shown if row[1][0] == "good"]
    return Beside(
        valid=valid,
        past=[row for row in shown if row[1][0] != "good"],
        pictures=[paper for paper, _ in valid if paper.is_picture][:PICTURES_AT_MOST],
        more=len(rows) > PAPERS_AT_MOST,
    )


def sources(item: Item, day: date) -> dict[str, Document]:
    """The papers an item's figures come from: the latest valid safety data sheet and certificate, by kind. One query."""
    papers = item.documents.valid(day).filter(kind__in=(Document.Kind.SAFETY, Document.Kind.IFRA))
    latest: dict[str, Document] = {}
    for paper in papers.order_by(F("dated_on").asc(nulls_first=True), "added_at", "pk"):
        latest[paper.kind] = paper
    return latest
