"""What a list is asked to show, read from the address in one place: choices, words searched for, whole numbers.

An address that asks for what is not offered shows what is usual, never an error.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from django.http import HttpRequest

# Wide enough for every key; more digits would overflow the databases' whole numbers.
DIGITS_AT_MOST = 18


def text_of(request: HttpRequest, name: str, longest: int = 100) -> str:
    """Text from the address, trimmed and cut; databases take no NUL."""
    return request.GET.get(name, "").replace("\x00", "").strip()[:longest]


def whole_number(text: str, digits: int = DIGITS_AT_MOST) -> int | None:
    """A whole number of so many plain digits at most; None for anything else."""
    return int(text) if text.isascii() and text.isdigit() and len(text) <= digits else None


@dataclass(frozen=True)
class Choice:
    """One of several, by value; what is not among them is the `usual` one."""

    name: str
    label: str
    options: Mapping[str, str]
    usual: str = ""

    def read(self, request: HttpRequest) -> str:
        """What was chosen."""
        asked = request.GET.get(self.name, self.usual)
        return asked if asked in self.options else self.usual


@dataclass(frozen=True)
class Search:
    """Words to be found."""

    label: str
    name: str = "q"
    options: Mapping[str, str] = field(default_factory=dict)

    def read(self, request: HttpRequest) -> str:
        """What was typed."""
        return text_of(request, self.name)


@dataclass(frozen=True)
class FilterField:
    """A filter as the page shows it: its field, and what is asked for."""

    name: str
    label: str
    options: Mapping[str, str]
    value: str


class Filters:
    """The filters of a list as asked for: `filters["state"]`. `carried` are values to be kept when others change."""

    def __init__(self, request: HttpRequest, *fields: Choice | Search, **carried: object) -> None:
        self.fields = [
            FilterField(each.name, each.label, each.options, each.read(request)) for each in fields
        ]
        self.values = {each.name: each.value for each in self.fields}
        self.carried = {name: value for name, value in carried.items() if value}
        if sort := text_of(request, "sort"):
            self.carried["sort"] = sort

    def __getitem__(self, name: str) -> str:
        return self.values[name]

    def __iter__(self) -> Iterator[FilterField]:
        return iter(self.fields)
