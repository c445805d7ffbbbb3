"""turncheck: measures a character's turnaround drawings against each other before rigging.

The library calls have the commands' names: `turncheck.check`, `turncheck.new` and so on.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

from turncheck.errors import TurncheckError
from turncheck.files.version import VERSION

if TYPE_CHECKING:
    from turncheck.checking import check, compare, guides, pivots
    from turncheck.placing import mark
    from turncheck.placing.dots import dots
    from turncheck.sheet.create import new
    from turncheck.sheet.wide_sheet import split
    from turncheck.show.learning import learn
    from turncheck.show.survey import survey

__version__ = VERSION
__all__ = [
    "TurncheckError",
    "__version__",
    "check",
    "compare",
    "dots",
    "guides",
    "learn",
    "mark",
    "new",
    "pivots",
    "split",
    "survey",
]

_CALLS = {
    "check": "turncheck.checking",
    "compare": "turncheck.checking",
    "dots": "turncheck.placing.dots",
    "guides": "turncheck.checking",
    "learn": "turncheck.show.learning",
    "mark": "turncheck.placing",
    "new": "turncheck.sheet.create",
    "pivots": "turncheck.checking",
    "split": "turncheck.sheet.wide_sheet",
    "survey": "turncheck.show.survey",
}


def __getattr__(name: str) -> object:
    """Import the library calls when they are first used, so that `--help` stays quick."""
    if name in _CALLS:
        call: object = getattr(import_module(_CALLS[name]), name)
        return call
    raise AttributeError(f"module 'turncheck' has no attribute {name!r}")
