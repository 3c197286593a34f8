"""How many random examples a property is tried on: `ci` has the same ones in every run, `nightly` many, and new ones.

`ci` is what runs; HYPOTHESIS_PROFILE or `--hypothesis-profile` names the other.
"""

import os

from hypothesis import HealthCheck, settings

IN_CI = 100
NIGHTLY = 2_000
# A busy machine makes an example slow, not wrong.
PATIENT = {"deadline": None, "suppress_health_check": [HealthCheck.too_slow], "print_blob": True}


def load_profile() -> None:
    """Make both known, and take the one that the environment names."""
    settings.register_profile("ci", max_examples=IN_CI, derandomize=True, **PATIENT)
    settings.register_profile("nightly", max_examples=NIGHTLY, derandomize=False, **PATIENT)
    settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "ci"))


def costly(examples: int) -> int:
    """The examples of a test each of which takes long: so many in `ci`, as many times more in others as any test has."""
    return examples * settings.default.max_examples // IN_CI
