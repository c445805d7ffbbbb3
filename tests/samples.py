"""The sample sheets, checked once for all the tests that only read the result."""

from __future__ import annotations

from functools import cache

import turncheck
from tests.places import SAMPLES
from turncheck.checking import Checked


@cache
def checked(name: str) -> Checked:
    """A sample sheet as `turncheck.check` gives it."""
    return turncheck.check(SAMPLES / name)
