"""Codes for shelf lots and batches: short, said aloud without doubt, and caught when mistyped.

A code is a prefix letter, a number in base 34 and a check character: `L0001` and what ISO/IEC 7064 MOD 37,36
makes of it. The letters I and O are never in one, so that what was read as I or O is 1 or 0. Only figures and
capital letters occur, which every barcode and every label takes.

MOD 37,36 catches every single wrong character but, for a few codes, not every swap of two neighbours: two
neighbours that differ by one can swap unseen. Such codes are never given out and never valid, so that here
every swap is caught as well.
"""

import re

ALPHABET = "0123456789ABCDEFGHJKLMNPQRSTUVWXYZ"
MIN_LENGTH = 6
MAX_LENGTH = 12

_VALUES = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_VALUE = {char: value for value, char in enumerate(_VALUES)}
_READ_AS = str.maketrans("OI", "01")
_BETWEEN = re.compile(
    r"[\s\x00-\x1f\x7f.\-\N{HYPHEN}\N{NON-BREAKING HYPHEN}\N{EN DASH}\N{EM DASH}\N{MINUS SIGN}]+"
)


def make_code(prefix: str, number: int) -> str | None:
    """Return the code of `number` under the letter `prefix`, or None when this number is left out.

    About one number in sixteen is left out: its check character would be I or O, or two of its characters
    could be swapped unseen. Codes have six characters up to number 34^4 − 1 and grow by one after that.
    Raises ValueError for a prefix that is not a letter in use, and for a number below zero or beyond 12
    characters.
    """
    if len(prefix) != 1 or prefix not in ALPHABET[10:]:
        raise ValueError("A code's prefix is one capital letter other than I and O.")
    if number < 0:
        raise ValueError("Codes are numbered from zero up.")
    digits = ""
    while number:
        number, digit = divmod(number, len(ALPHABET))
        digits = ALPHABET[digit] + digits
    body = prefix + digits.rjust(4, "0")
    if len(body) >= MAX_LENGTH:
        raise ValueError(f"A code has at most {MAX_LENGTH} characters.")
    code = body + check_character(body)
    return code if is_valid(code) else None


def check_character(body: str) -> str:
    """Return the ISO/IEC 7064 MOD 37,36 check character of `body`, which is of 0-9 and A-Z."""
    return _VALUES[(1 - _product(body)) % 36]


def normalise(text: str) -> str:
    """Return `text` as a code is stored: capitals, O read as 0 and I as 1, nothing in between.

    Spaces, hyphens, points and the control characters that some scanners send are left out.
    """
    return _BETWEEN.sub("", text).upper().translate(_READ_AS)


def is_valid(code: str) -> bool:
    """Say whether `code`, as stored, could have been given out by make_code."""
    if not MIN_LENGTH <= len(code) <= MAX_LENGTH or code[0] not in ALPHABET[10:]:
        return False
    return set(code) <= set(ALPHABET) and _checks(code) and not any(map(_checks, _swaps(code)))


def spaced(code: str) -> str:
    """Return `code` in groups of three for the eye: `L0001X` is `L00 01X`."""
    return " ".join(code[start : start + 3] for start in range(0, len(code), 3))


def near(code: str) -> list[str]:
    """Return the valid codes one wrong character or one swap of neighbours away from `code`, as stored.

    For "did you mean": swaps first, then wrong characters from left to right. Empty for a text that has not
    the length of a code.
    """
    if not MIN_LENGTH <= len(code) <= MAX_LENGTH:
        return []
    replaced = [
        code[:at] + char + code[at + 1 :] for at in range(len(code)) for char in ALPHABET if char != code[at]
    ]
    return [other for other in [*_swaps(code), *replaced] if is_valid(other)]


def _swaps(code: str) -> list[str]:
    """Return `code` with each pair of unlike neighbours swapped."""
    return [
        code[:at] + code[at + 1] + code[at] + code[at + 2 :]
        for at in range(len(code) - 1)
        if code[at] != code[at + 1]
    ]


def _product(body: str) -> int:
    """Return the running product of the MOD 37,36 scheme after `body`."""
    product = 36
    for char in body:
        product = ((product + _VALUE[char]) % 36 or 36) * 2 % 37
    return product


def _checks(code: str) -> bool:
    return code[-1] == check_character(code[:-1])
