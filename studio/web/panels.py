"""Places on a page where a package further up the house adds a part.

The batch page belongs to `batches`, what the batch cost to `costing`; the arrows of the house point down, so
costing hands its part to the place and the page shows whatever was handed over.
"""

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from django.utils.safestring import SafeString

if TYPE_CHECKING:
    # Packages hand over panels while Django starts, before there are models to import.
    from studio.web.requests import StudioRequest


Panel = Callable[["StudioRequest", Any], SafeString | str]
_panels: dict[str, list[Panel]] = {}


def add(place: str, panel: Panel) -> None:
    """Hand a panel to a place; called from a package's AppConfig.ready."""
    wanted = _panels.setdefault(place, [])
    if panel not in wanted:
        wanted.append(panel)


def shown(place: str, request: "StudioRequest", subject: Any) -> list[SafeString | str]:
    """The panels of a place, drawn for this visitor and subject; a panel that has nothing to say is left out."""
    return [drawn for panel in _panels.get(place, []) if (drawn := panel(request, subject))]
