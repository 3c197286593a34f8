"""What a view takes from a request: who signs, and how often. The only readers of the clock are views."""

from collections.abc import Sequence
from datetime import date, datetime
from typing import Any

from django.core.paginator import Page, Paginator
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from studio.models import Studio, User
from studio.people.signature import Signature


class StudioRequest(HttpRequest):
    """A request that came past the doors: somebody is signed in, and it is known whose studio this is."""

    user: User
    studio: Studio


def sign(request: StudioRequest, *, happened_at: datetime | None = None, reason: str = "") -> Signature:
    """The visitor's name under something that happened at a time, or now."""
    now = timezone.now()
    return Signature(by=request.user, happened_at=happened_at or now, recorded_at=now, reason=reason)


def today() -> date:
    """The day it is in the studio."""
    return timezone.localdate()


def answer(
    request: HttpRequest, template: str, context: dict[str, Any], *, refused: bool = False
) -> HttpResponse:
    """Render a page; 422 when a form on it was refused, so that nobody takes it for done."""
    return render(request, template, context, status=422 if refused else 200)


def page_of(request: HttpRequest, rows: QuerySet[Any] | Sequence[Any], size: int = 50) -> "Page[Any]":
    """The page of a list that was asked for; an odd number gives the nearest one."""
    return Paginator(rows, size).get_page(request.GET.get("page"))


def printed_by(request: StudioRequest) -> str:
    """When something is printed and who prints it, for its foot."""
    return f"Printed {timezone.localtime():%d %b %Y, %H:%M} by {request.user}"


def shown_pdf(content: bytes, name: str) -> HttpResponse:
    """A PDF for the browser to show; `name` is what it is called when it is kept, without its ending."""
    headers = {"Content-Disposition": f'inline; filename="{name}.pdf"'}
    return HttpResponse(content, content_type="application/pdf", headers=headers)


def shown_picture(data: bytes | memoryview, media_type: str, name: str) -> HttpResponse:
    """A picture for the studio's own pages to show; `name` is what it is called when it is kept."""
    response = HttpResponse(bytes(data), content_type=media_type)
    response["Content-Disposition"] = f'inline; filename="{name}"'
    response["Cross-Origin-Resource-Policy"] = "same-origin"
    return response
