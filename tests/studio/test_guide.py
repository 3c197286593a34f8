"""The guide is true: every folder names its modules and no other, and every path it gives is there."""

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
FOLDERS = sorted(
    path.parent
    for package in ("studio", "inventory", "batches", "costing")
    for path in (ROOT / package).glob("*/__init__.py")
    if path.parent.name not in {"migrations", "management", "models", "templatetags"}
)
LINES_AT_MOST = 200
TOP = {
    "CHANGELOG.md",
    "DEVELOPERS.md",
    "LICENSE",
    "README.md",
    "batches",
    "costing",
    "docker-compose.yml",
    "inventory",
    "manage.py",
    "pyproject.toml",
    "requirements.lock",
    "studio",
    "templates",
    "tests",
}
# Made by installing, running or building; never kept.
MADE = {"__pycache__", "build", "data", "candle_studio.egg-info"}


def text_of(folder: Path) -> str:
    """What a folder says of itself: in its README, or where it begins."""
    readme = folder / "README.md"
    if readme.exists():
        return readme.read_text(encoding="utf-8")
    return ast.get_docstring(ast.parse((folder / "__init__.py").read_text(encoding="utf-8"))) or ""


def named_in(text: str) -> set[str]:
    """The modules that a folder's list names."""
    lines = (line for line in text.splitlines() if line.startswith("- `"))
    return {
        name.removesuffix(".py") for line in lines for name in re.findall(r"`([\w.]+)`", line.split(":")[0])
    }


@pytest.mark.parametrize("folder", FOLDERS, ids=lambda folder: folder.relative_to(ROOT).as_posix())
def test_a_folder_names_each_of_its_modules(folder):
    there = {path.stem for path in folder.glob("*.py")} - {"__init__"}

    assert there - named_in(text_of(folder)) == set()


def test_every_path_in_the_guide_is_there():
    paths = set(re.findall(r"`((?:studio|inventory|batches|costing|tests|templates)/[\w/]+\.\w+)`", GUIDE))

    assert len(paths) > 20
    assert {path for path in paths if not (ROOT / path).exists()} == set()


def test_the_top_of_the_house_holds_what_it_always_held():
    there = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}

    assert there - MADE == TOP


def test_the_guide_is_short_enough_to_be_read():
    assert len(GUIDE.splitlines()) <= LINES_AT_MOST
