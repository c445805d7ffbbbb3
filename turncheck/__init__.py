"""turncheck: measures a character's turnaround drawings against each other before rigging.

The library calls have the commands' names: `turncheck.check`, `turncheck.new`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from turncheck.errors import TurncheckError

if TYPE_CHECKING:
    from turncheck.checking import check
    from turncheck.starting import new

__version__ = "0.1.0"
__all__ = ["TurncheckError", "__version__", "check", "new"]


def __getattr__(name: str) -> object:
    """Import the library calls when they are first used, so that `--help` stays quick."""
    if name == "check":
        from turncheck.checking import check

        return check
    if name == "new":
        from turncheck.starting import new

        return new
    raise AttributeError(f"module 'turncheck' has no attribute {name!r}")
