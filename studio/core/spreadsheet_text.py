"""Text that leaves in a table and that no spreadsheet takes for a formula, in every file of the studio's alike.

A sign a spreadsheet takes for the start of a formula (the full-width ones too), at the start of a text or of what it may
take for a cell, after white space or not; and white space at the very start that hides what follows. Such a place gets
an apostrophe (OWASP, CSV Injection). Apostrophes in between count along, so that what is added can be told from what was
there.
"""

import re

_BARE = re.compile(r"((?:\A|[;\t\r\n]))(?=[\s']*[=+\-@\uFF1D\uFF0B\uFF0D\uFF20])|\A(?='*[\t\r\n])")
# Each match is to be replaced by its first group.
ADDED = re.compile(r"((?:\A|[;\t\r\n]))'(?=[\s']*[=+\-@\uFF1D\uFF0B\uFF0D\uFF20])|\A'(?='*[\t\r\n])")


def guarded(text: str) -> str:
    """A text no spreadsheet takes for a formula; `as_typed` gives back what it was."""
    return _BARE.sub(r"\1'", text)


def as_typed(text: str) -> str:
    """The text that `guarded` was given."""
    return ADDED.sub(r"\1", text)
