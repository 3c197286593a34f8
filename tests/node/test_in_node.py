"""The bench's scripts without a browser: `node --test`, each file of this folder by itself.

Without Node they are skipped, which fails where CI is set; Node 18 or later, no packages.
"""

import json
import os
import re
import shutil
import subprocess
from fractions import Fraction
from pathlib import Path
from random import Random

import pytest

from batches.formulas.overshoot import overshoot
from studio.core.codes import is_valid, make_code

HERE = Path(__file__).parent
FILES = sorted(path.name for path in HERE.glob("*.test.js"))
NODE = shutil.which("node") or shutil.which("nodejs")


def in_node(name: str, tables: Path | None = None) -> int:
    """Run a file of tests, by the tables of another folder where one is given; how many passed. Fails as they do."""
    if NODE is None:
        pytest.skip("There is no Node on this machine; install Debian's nodejs.")
    more = {} if tables is None else {"STUDIO_TABLES": str(tables)}
    run = subprocess.run(
        [NODE, "--test", "--test-reporter=tap", name],
        cwd=HERE,
        env={**os.environ, **more},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert run.returncode == 0, run.stdout + run.stderr
    said = {word: int(number) for word, number in re.findall(r"^# (\w+) (\d+)$", run.stdout, re.MULTILINE)}
    assert said["fail"] + said["cancelled"] + said["skipped"] + said["todo"] == 0, run.stdout
    return said["pass"]


def test_there_are_tests_of_the_scripts():
    assert {"codes.test.js", "sums.test.js"} <= set(FILES)


@pytest.mark.parametrize("name", FILES)
def test_scripts_of_the_bench(name):
    assert in_node(name) > 1


def test_random_loads_and_codes_come_out_as_the_studio_has_them(tmp_path):
    """A thousand pots, a third of them exactly at their maximum, a third one microgram of fragrance above it."""
    random = Random(9)  # noqa: S311
    pots = [pot(random, number) for number in range(1000)]
    at, above = (sum(case["above_maximum"] is found for case in pots) for found in (False, True))
    assert min(at, above) > 300
    codes = [code for number in range(0, 60_000, 311) for code in like(random, make_code("L", number))]
    judged = [[code, is_valid(code)] for code in codes]
    assert {valid for _, valid in judged} == {True, False}
    known = json.loads((HERE.parent / "vectors" / "overshoot.json").read_text(encoding="utf-8"))
    for name in ("numbers", "shown"):
        shutil.copy(HERE.parent / "vectors" / f"{name}.json", tmp_path)
    (tmp_path / "overshoot.json").write_text(json.dumps(known | {"cases": pots}), encoding="utf-8")
    (tmp_path / "codes.json").write_text(
        json.dumps({"valid": judged, "stored": [["", ""]], "spaced": []}), encoding="utf-8"
    )

    assert in_node("sums.test.js", tmp_path) > 1000
    assert in_node("codes.test.js", tmp_path) > 1


def pot(random: Random, number: int) -> dict[str, object]:
    """One row of the table, with what the studio makes of it."""
    wax = random.randint(1, 10**5) * 10**6
    other = random.choice([0, random.randint(0, 10**9)])
    of_wax = Fraction(random.randint(1, 300_000), 10**6)
    fragrance = wax * of_wax + (number % 3 == 1) if number % 3 < 2 else random.randint(0, 10**10)
    assert int(fragrance) == fragrance
    maximum = of_wax if number % 3 < 2 else random.choice([None, of_wax])
    of_melt = random.choice([None, Fraction(random.randint(1, 300_000), 10**6)])
    wanted = Fraction(random.randint(1, 300_000), 10**6)
    fill, loss = random.choice([None, random.randint(1, 10**9)]), random.randint(0, 200_000)
    result = overshoot(
        int(fragrance), wax, wanted, fill, loss, maximum, maximum_of_melt=of_melt, other_ug=other
    )
    return {
        "says": f"pot {number}",
        "fragrance": int(fragrance),
        "wax": wax,
        "other": other,
        "wanted": text(wanted),
        "fill": fill,
        "loss": loss,
        "maximum": text(maximum),
        "maximum_of_melt": text(of_melt),
        "load_of_wax": text(result.load_of_wax),
        "load_of_melt": text(result.load_of_melt),
        "wax_to_add": result.wax_to_add_ug,
        "melt": result.melt_ug,
        "units": result.units,
        "above_maximum": result.above_maximum,
    }


def text(share: Fraction | None) -> str | None:
    """A share as the tables have it."""
    return None if share is None else f"{share.numerator}/{share.denominator}"


def like(random: Random, code: str | None) -> list[str]:
    """A code, the same with its last character wrong perhaps, and with its first two swapped."""
    code = code or "L00000"
    return [
        code,
        code[:-1] + random.choice("0123456789ABCDEFGHJKLMNPQRSTUVWXYZ"),
        code[1] + code[0] + code[2:],
    ]
