"""How many small wrong changes of the core its tests notice: `python -m tests.mutants [module …]`, by night.

Each module (`core.py`) is changed in one place at a time, in a copy of the tree, and the tests that import it are run.
What nobody notices is printed, then how many were noticed of each module. A change that changes nothing counts as
unnoticed too: such a score is below 100 % where nothing is amiss.
"""

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from time import monotonic

from tests.mutants.changes import changes
from tests.mutants.core import TREE, core, dotted, files_of, noticing

COPIED = ("studio", "inventory", "batches", "costing", "templates", "tests")
# A change may make a loop endless; tests take this many times as long as they did unchanged, and these seconds more.
PATIENCE, SECONDS = 5, 30


def copy_of_the_tree(place: Path) -> Path:
    """What the tests ask for, in a folder of its own."""
    for name in COPIED:
        shutil.copytree(TREE / name, place / name, ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("pyproject.toml", "manage.py"):
        shutil.copy(TREE / name, place)
    return place


def passes(tree: Path, tests: list[str], patience: float | None = None) -> bool:
    """Whether all tests named pass, within so many seconds."""
    line = [sys.executable, "-B", "-m", "pytest", "-n", "0", "-q", "-x", "--no-header", *tests]
    try:
        return (
            subprocess.run(line, cwd=tree, capture_output=True, timeout=patience, check=False).returncode == 0
        )
    except subprocess.TimeoutExpired:
        return False


def score(tree: Path, original: Path) -> tuple[int, int]:
    """How many changes of a module were noticed, and how many there were."""
    path, tests, module = tree / original.relative_to(TREE), noticing(original), dotted(original)
    source = path.read_text(encoding="utf-8")
    if not passes(tree, tests):
        raise SystemExit(f"{module}: its tests fail as it is: {' '.join(tests)}")
    took = _seconds_of(tree, tests)
    noticed = tried = 0
    for change in changes(source):
        path.write_text(change.source, encoding="utf-8")
        tried += 1
        if passes(tree, tests, PATIENCE * took + SECONDS):
            print(f"  {module}:{change.line}: {' '.join(change.now.split())[:120]}", flush=True)
        else:
            noticed += 1
    path.write_text(source, encoding="utf-8")
    return noticed, tried


def _seconds_of(tree: Path, tests: list[str]) -> float:
    """How long tests take, once their database is made."""
    began = monotonic()
    passes(tree, tests)
    return monotonic() - began


def main(names: list[str]) -> None:
    """Print the score of each module, and of all."""
    paths = [path for name in names for path in files_of(name)] or core()
    scores = {}
    with tempfile.TemporaryDirectory() as place:
        tree = copy_of_the_tree(Path(place))
        for path in paths:
            scores[path] = score(tree, path)
            print(_words(dotted(path), *scores[path]), flush=True)
    print(
        _words(
            "all", sum(noticed for noticed, _ in scores.values()), sum(tried for _, tried in scores.values())
        )
    )


def _words(name: str, noticed: int, tried: int) -> str:
    return f"{name}: {noticed} of {tried} noticed, {100 * noticed // max(tried, 1)} %"


if __name__ == "__main__":
    main(sys.argv[1:])
