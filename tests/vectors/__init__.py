"""Tables worked by hand, each run on both sides: in the studio's own code and in the scripts of the bench."""

import json
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent


def _table(name: str) -> Any:
    return json.loads((HERE / f"{name}.json").read_text(encoding="utf-8"))


CODES = _table("codes")
JUDGED = _table("judged")
LOADS = _table("loads")
NUMBERS = _table("numbers")
OVERSHOOT = _table("overshoot")
SHOWN = _table("shown")
