"""Places on a page where a package further up the house adds a part.

The batch page belongs to `batches`, what the batch cost to `costing`; the arrows of the house point down, so
costing says what its part shows, and the page draws it. Which parts a place has is listed in `studio.wiring`.
"""

from collections.abc import Callable
from functools import cache
from typing import Any, NamedTuple

from django.conf import settings
from django.utils.module_loading import import_string

from studio.web.requests import StudioRequest


class Panel(NamedTuple):
    """A part of a page: the template that draws it, and what the template is handed."""

    template: str
    context: dict[str, Any]


Teller = Callable[[StudioRequest, Any], Panel | None]


def shown(place: str, request: StudioRequest, subject: Any) -> list[Panel]:
    """The panels of a place for this visitor and subject, to be drawn by `{% draw panel %}`; a panel that has nothing to
    say is left out."""
    return [panel for teller in _tellers(place) if (panel := teller(request, subject))]


@cache
def _tellers(place: str) -> tuple[Teller, ...]:
    return tuple(import_string(name) for name in settings.PANELS[place])
