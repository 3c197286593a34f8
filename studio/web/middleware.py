"""What every request needs to know: whose studio this is, and what time it is there."""

import logging
from collections.abc import Callable
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import IntegrityError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import Resolver404, resolve
from django.utils import timezone
from django.utils.deprecation import MiddlewareMixin

from studio.models import Studio
from studio.web.errors import clash, too_large
from studio.web.submissions import KEY_FIELD, SubmissionClash, accepted

log = logging.getLogger(__name__)

BEFORE_SET_UP = {"welcome", "health"}


class SizeMiddleware:
    """Turns away a request that announces more than is taken in, before any of it is read or kept on disk.

    One that announces nothing (sent in chunks) has an empty body: nothing beyond what was announced is ever read.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        announced = request.META.get("CONTENT_LENGTH") or "0"
        files = request.content_type == "multipart/form-data"
        limit = settings.REQUEST_LIMIT if files else settings.DATA_UPLOAD_MAX_MEMORY_SIZE
        if announced.isascii() and announced.isdigit() and int(announced[:20]) > limit:
            return too_large(request)
        return self.get_response(request)


class StudioMiddleware:
    """Puts the studio on the request, tells the time in its zone and leads the first visitor to the welcome page."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.path_info == "/health/":
            # Must answer, and say what is wrong, even when the database cannot.
            return self.get_response(request)
        studio = Studio.objects.first()
        request.studio = studio  # type: ignore[attr-defined]
        if studio is None:
            try:
                name = resolve(request.path_info).url_name
            except Resolver404:
                name = ""
            if name not in BEFORE_SET_UP:
                return redirect("welcome")
            response = self.get_response(request)
        else:
            with timezone.override(ZoneInfo(studio.time_zone)):
                response = self.get_response(request)
        # Pages hold figures and names; a shared computer must not keep them.
        if "Cache-Control" not in response:
            response["Cache-Control"] = "no-store, private"
        return response

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        """A form sent twice with other content, or overtaken, has one answer, whichever view it was sent to."""
        if isinstance(exception, IntegrityError):
            # Somebody else was faster by a hair: the database keeps what the form had found to be in order.
            log.warning("The database refused a change", exc_info=exception)
        return clash(request) if isinstance(exception, SubmissionClash | IntegrityError) else None


class SubmissionMiddleware(MiddlewareMixin):
    """Answers a form that was accepted before with the first answer again, before anything judges it anew.

    Otherwise the second press of a double click would be told that what the first one made exists already.
    """

    def process_view(
        self, request: HttpRequest, view: Callable[..., Any], args: list[Any], kwargs: dict[str, Any]
    ) -> HttpResponse | None:
        """Lead to the first result; None for a form that is new. Comes after the doors."""
        if request.method != "POST" or not request.user.is_authenticated or KEY_FIELD not in request.POST:
            return None
        try:
            result = accepted(request)  # type: ignore[arg-type]
        except SubmissionClash:
            return clash(request)
        return redirect(result) if result else None
