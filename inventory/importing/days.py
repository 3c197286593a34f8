"""Days as people write them in tables: 2026-03-03, 3 Mar 2026, 03/04/2026. Plain Python."""

import re
from datetime import date
from typing import Literal

Order = Literal["", "day", "month"]
"""Which figure of 03/04/2026 is the day's: nobody said yet, the first, or the second."""

_TIME = re.compile(r"(.+?)[ T]+\d{1,2}:\d{2}(?::\d{2}(?:\.\d+)?)?(?: ?[ap]\.?m\.?)?", re.IGNORECASE)
_YEAR_FIRST = re.compile(r"(\d{4})([-/.])(\d{1,2})\2(\d{1,2})", re.ASCII)
_YEAR_LAST = re.compile(r"(\d{1,2})([-/.])(\d{1,2})\2(\d{4})", re.ASCII)
_SHORT_YEAR = re.compile(r"\d{1,2}[-/. ](?:\d{1,2}|[A-Za-z]{3,9})[-/., ]+'?\d{2}", re.ASCII)
_NAMED = re.compile(
    r"(\d{1,2})(?:st|nd|rd|th)?[ .\-]*([A-Za-z]{3,9})\.?[ ,\-]*(\d{4})", re.ASCII | re.IGNORECASE
)
_NAME_FIRST = re.compile(
    r"([A-Za-z]{3,9})\.?[ \-]*(\d{1,2})(?:st|nd|rd|th)?[ ,\-]+(\d{4})", re.ASCII | re.IGNORECASE
)
_MONTH_ALONE = re.compile(r"(?:[A-Za-z]{3,9}\.?|\d{1,2}/)[ \-]*\d{4}|\d{4}", re.ASCII)
_MONTHS = (
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
)
EXAMPLE = "Write the day as 2026-03-03 or 3 Mar 2026."


class DayError(ValueError):
    """Text that is not a usable day: a sentence, and what to write instead. `two_ways`: the order was not said."""

    def __init__(self, sentence: str, suggestion: str = EXAMPLE, *, two_ways: bool = False) -> None:
        super().__init__(sentence)
        self.suggestion, self.two_ways = suggestion, two_ways


def without_time(text: str) -> str:
    """The text without a time of day behind its date."""
    match = _TIME.fullmatch(text)
    return match[1] if match else text


def read_day(text: str, order: Order = "") -> date:
    """The day written as `text`; of figures alone, in which `order` the person says they are. Raises DayError."""
    if match := _YEAR_FIRST.fullmatch(text):
        return _day(match[1], match[3], match[4], text)
    if match := _YEAR_LAST.fullmatch(text):
        return _figures(int(match[1]), int(match[3]), match[4], order, text)
    if match := _NAMED.fullmatch(text):
        return _day(match[3], _month(match[2], text), match[1], text)
    if match := _NAME_FIRST.fullmatch(text):
        return _day(match[3], _month(match[1], text), match[2], text)
    if _SHORT_YEAR.fullmatch(text):
        raise DayError("Two figures are not enough for a year.")
    if text.isascii() and text.isdigit() and len(text) == 5:
        raise DayError("This is a spreadsheet's own count of days.", "Format the column as a date.")
    if _MONTH_ALONE.fullmatch(text):
        raise DayError("The day is missing.")
    raise DayError("This is not a day.")


def _figures(first: int, second: int, year: str, order: Order, text: str) -> date:
    """A day written in figures with the year last."""
    if first <= 12 and second <= 12 and first != second:
        if not order:
            one, other = date(int(year) or 1, second, first), date(int(year) or 1, first, second)
            raise DayError(
                "This can be read two ways.",
                f"Say above which figure is the day, or write {words(one)} or {words(other)}.",
                two_ways=True,
            )
        day_first = order == "day"
    else:
        day_first = second <= 12
        if order and day_first is not (order == "day") and first != second:
            raise DayError("The day and the month stand the other way round here.")
    return _day(year, second if day_first else first, first if day_first else second, text)


def words(day: date) -> str:
    """A day as `3 Mar 2026`."""
    return f"{day.day} {day:%b %Y}"


def _month(name: str, text: str) -> int:
    for number, month in enumerate(_MONTHS, 1):
        if month.startswith(name.lower()) or (name.lower() == "sept" and number == 9):
            return number
    raise DayError("This is not the name of a month.")


def _day(year: str | int, month: str | int, day: str | int, text: str) -> date:
    try:
        found = date(int(year), int(month), int(day))
    except ValueError:
        raise DayError("There is no such day.") from None
    if not 2000 <= found.year <= 2200:
        raise DayError("Check the year.")
    return found
