"""A figure that is not there: named, with what it keeps from being known and where it is entered."""

from dataclasses import dataclass

from django.urls import reverse


@dataclass(frozen=True)
class MissingFigure:
    """A sentence, what it blocks, and the page (by url name, arguments and query) on which it is entered."""

    sentence: str
    blocks: str
    url_name: str = ""
    url_args: tuple[int | str, ...] = ()
    link_words: str = ""
    url_query: str = ""

    @property
    def url(self) -> str:
        """The page; empty where there is none."""
        return reverse(self.url_name, args=self.url_args) + self.url_query if self.url_name else ""
