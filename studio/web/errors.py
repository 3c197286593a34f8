"""Pages for what went wrong: every one a sentence and a way on."""

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render

from studio.people.access import asks_for_json


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    """The form's token is missing, wrong or from an earlier sign-in."""
    if asks_for_json(request):
        return JsonResponse(
            {"refused": "token", "sentence": "The page is from an earlier sign-in."}, status=403
        )
    return render(request, "403_csrf.html", status=403)


def locked_out(
    request: HttpRequest, credentials: dict[str, str], *args: object, **kwargs: object
) -> HttpResponse:
    """Too many wrong passwords for one name from one address."""
    return render(request, "429.html", status=429)


def clash(request: HttpRequest) -> HttpResponse:
    """A page was sent again with other content under a key that was already used."""
    return render(request, "409.html", status=409)


def too_large(request: HttpRequest) -> HttpResponse:
    """More was announced than is taken in at once; none of it was read."""
    response = render(request, "413.html", status=413)
    response["Cache-Control"] = "no-store, private"
    return response
