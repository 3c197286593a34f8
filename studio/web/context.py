"""What the frame of every page shows."""

from typing import Any

from django.conf import settings
from django.http import HttpRequest

SECTIONS = {"inventory": "stock", "batches": "batches", "costing": "costing"}
OF_TRACE = ("trace", "complaint", "recall")


def frame(request: HttpRequest) -> dict[str, Any]:
    """The studio, whether this is the demonstration, and the section of the page in the navigation."""
    match = request.resolver_match
    section = ""
    if match:
        section = SECTIONS.get(match.app_name, "studio")
        if match.url_name in {"today"}:
            section = "today"
        elif match.url_name and match.url_name.startswith(OF_TRACE):
            section = "trace"
    return {"studio": getattr(request, "studio", None), "section": section, "demo": settings.DEMO}
