"""Words can be read on everything they are written on, in light and in dark: WCAG 2.2, 1.4.3, at least 4.5:1."""

import re
from pathlib import Path

import pytest

CSS = Path(__file__).parents[2] / "studio" / "static" / "studio" / "studio.css"
WORDS = ("ink", "muted", "accent", "attention", "problem", "good")
ON = {
    "paper": WORDS,
    "surface": WORDS,
    "attention-paper": ("attention",),
    "problem-paper": ("problem",),
    "good-paper": ("good",),
    "plain-paper": ("ink", "muted"),
}


def tokens(scheme: str) -> dict[str, str]:
    """The colors of one scheme, by name; what the dark one does not say is as in the light one."""
    light, dark = CSS.read_text(encoding="utf-8").split("@media (prefers-color-scheme: dark)", 1)
    dark = dark.split("\n}", 1)[0]
    named = dict(re.findall(r"--([\w-]+): (#\w{6});", light))
    return named if scheme == "light" else named | dict(re.findall(r"--([\w-]+): (#\w{6});", dark))


def luminance(color: str) -> float:
    """Relative luminance, 0 to 1, as WCAG 2.2 defines it."""
    parts = [int(color[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """How far two colors are apart: 1, the same, to 21, black on white."""
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def test_the_measure_is_that_of_the_guideline():
    assert contrast("#000000", "#FFFFFF") == 21
    # The gray that is just dark enough on white, and the next one that is not: common practice, from memory.
    assert contrast("#767676", "#FFFFFF") >= 4.5 > contrast("#777777", "#FFFFFF")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_words_are_faint(scheme):
    color = tokens(scheme)

    faint = {
        (word, ground): round(contrast(color[word], color[ground]), 2)
        for ground, words in ON.items()
        for word in words
        if contrast(color[word], color[ground]) < 4.5
    }

    assert faint == {}


def test_the_dark_scheme_has_colors_of_its_own():
    light, dark = tokens("light"), tokens("dark")

    assert [name for name in (*WORDS, *ON) if light[name] == dark[name]] == []
