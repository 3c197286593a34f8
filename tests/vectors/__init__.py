"""Tables worked by hand, each run on both sides: in the studio's own code and in the scripts of the bench."""

import json
from pathlib import Path

HERE = Path(__file__).parent
NUMBERS = json.loads((HERE / "numbers.json").read_text(encoding="utf-8"))
OVERSHOOT = json.loads((HERE / "overshoot.json").read_text(encoding="utf-8"))
