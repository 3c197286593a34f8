"""Who may open which page. Every view says so; a view that does not is closed to everybody.

`see` are the roles that may look (GET), `do` those that may change (POST). `costs` closes a page to makers whom
the owner has not allowed to see costs.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from ipaddress import ip_address
from typing import Any, TypeVar
from urllib.parse import urlencode

from django.core.exceptions import PermissionDenied
from django.http import (
    HttpRequest,
    HttpResponse,
    HttpResponseNotAllowed,
    HttpResponseRedirect,
    JsonResponse,
)
from django.urls import reverse
from django.utils.deprecation import MiddlewareMixin

from studio.models import Role

EVERYONE = frozenset({Role.OWNER, Role.MAKER, Role.BOOKKEEPER})
MAKERS = frozenset({Role.OWNER, Role.MAKER})
BOOKS = frozenset({Role.OWNER, Role.BOOKKEEPER})
OWNER = frozenset({Role.OWNER})
NOBODY: frozenset[Role] = frozenset()

View = TypeVar("View", bound=Callable[..., Any])


@dataclass(frozen=True)
class Access:
    """What a view declares about its visitors. `public` views answer strangers too."""

    see: frozenset[Role] = NOBODY
    do: frozenset[Role] = NOBODY
    costs: bool = False
    public: bool = False
    methods: tuple[str, ...] = ("GET", "HEAD")


def allow(
    *, see: Iterable[Role] = NOBODY, do: Iterable[Role] = NOBODY, costs: bool = False
) -> Callable[[View], View]:
    """Declare the roles that may see a view and those that may act in it."""
    seen, done = frozenset(see), frozenset(do)
    methods = (("GET", "HEAD") if seen else ()) + (("POST",) if done else ())

    def declare(view: View) -> View:
        view.access = Access(see=seen, do=done, costs=costs, methods=methods)  # type: ignore[attr-defined]
        return view

    return declare


def public(*methods: str) -> Callable[[View], View]:
    """Declare a view that answers strangers: signing in, the first visit, the health check."""

    def declare(view: View) -> View:
        view.access = Access(public=True, methods=methods)  # type: ignore[attr-defined]
        return view

    return declare


class AccessMiddleware(MiddlewareMixin):
    """Holds every view to what it declared, before any of it runs."""

    def process_view(
        self, request: HttpRequest, view: Callable[..., Any], args: list[Any], kwargs: dict[str, Any]
    ) -> HttpResponse | None:
        """Let the request through, or answer it: sign in first, not for your role, not this way."""
        access: Access = getattr(view, "access", Access())
        if access.public:
            return None if request.method in access.methods else HttpResponseNotAllowed(access.methods)
        if not request.user.is_authenticated:
            return sign_in_first(request)
        roles = access.see if request.method in {"GET", "HEAD"} else access.do
        if request.method not in access.methods and (access.see | access.do):
            return HttpResponseNotAllowed(access.methods)
        if request.user.role not in roles or (access.costs and not request.user.sees_costs):
            raise PermissionDenied
        return None


def sign_in_first(request: HttpRequest) -> HttpResponse:
    """Send a stranger to the sign-in page and back again afterwards."""
    if asks_for_json(request):
        return JsonResponse({"refused": "sign-in", "sentence": "Sign in again; nothing is lost."}, status=401)
    back = request.get_full_path() if request.method == "GET" else ""
    url = reverse("sign-in") + (f"?{urlencode({'next': back})}" if back and back != "/" else "")
    if request.headers.get("HX-Request"):
        # A swapped-in sign-in form would sit in the middle of the old page.
        return HttpResponse(status=204, headers={"HX-Redirect": reverse("sign-in")})
    return HttpResponseRedirect(url)


def asks_for_json(request: HttpRequest) -> bool:
    """Whether a script asks, which can do nothing with a page."""
    return request.headers.get("Accept", "").startswith("application/json")


def client_address(request: HttpRequest) -> str:
    """Where a visitor comes from, for counting wrong passwords when a proxy stands in front.

    The proxy adds the address it saw at the end of X-Forwarded-For; what stands before it the visitor wrote, and
    it is not believed. Without the header, or with something else in it than an address, it is the peer itself.
    """
    seen = request.META.get("HTTP_X_FORWARDED_FOR", "").rpartition(",")[2].strip()
    try:
        return str(ip_address(seen))
    except ValueError:
        return str(request.META.get("REMOTE_ADDR", ""))
