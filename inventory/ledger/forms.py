"""When something happened that goes into the books: never where they are closed, and the form says up to when."""

from datetime import datetime
from typing import Any

from django.core.exceptions import ValidationError
from django.utils.functional import lazystr

from inventory.ledger import closing
from inventory.ledger.books import BooksClosed
from studio.web.forms import WhenField


class HappenedField(WhenField):
    """When something happened that is posted; empty means now."""

    def __init__(self, **kwargs: Any) -> None:
        usual = kwargs.pop("help_text", "Empty means now.")
        # Asked when the page is drawn: the field itself is made once, as the program starts.
        kwargs["help_text"] = lazystr(_Help(usual))
        super().__init__(**kwargs)

    def clean(self, value: Any) -> datetime | None:
        """An aware instant at which the books are open, or None."""
        moment = super().clean(value)
        if moment and (opened := closing.open_from()) and moment < opened:
            raise ValidationError(str(BooksClosed(opened)))
        return moment


class _Help:
    """What stands below the field, with up to when the books are closed."""

    def __init__(self, usual: str) -> None:
        self.usual = usual

    def __str__(self) -> str:
        return f"{self.usual} {closing.closed_sentence(closing.open_from())}".strip()
