"""What a person is told when turncheck can't use their input.

A mistake of the user's is a `TurncheckError`: sentences that name the file, the place and
the mend, exit status 2 and no traceback. Anything else is a bug and keeps its traceback.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable


class TurncheckError(Exception):
    """Input that can't be used.

    Parameters
    ----------
    *faults
        One sentence for each fault found; all faults of a file are shown at once.
    """

    exit_code = 2

    def __init__(self, *faults: str) -> None:
        super().__init__("\n".join(faults))
        self.faults = faults


class FileFaults:
    """Gathers every fault of one file, then raises them together."""

    def __init__(self, file: str) -> None:
        self._file = file
        self._faults: list[str] = []

    def add(self, place: str, fault: str) -> None:
        """Note a fault at a place (a row, a table of the file; may be empty)."""
        where = f"{self._file}, {place}" if place else self._file
        self._faults.append(f"{where}: {fault}")

    def raise_any(self) -> None:
        """Raise what was gathered.

        Raises
        ------
        TurncheckError
            If a fault was added.
        """
        if self._faults:
            raise TurncheckError(*self._faults)


def did_you_mean(name: str, known: Iterable[str]) -> str:
    """Name the nearest known name, or all of them when none is near.

    Examples
    --------
    >>> did_you_mean("nee_l", ["knee_l", "knee_r", "chin"])
    'did you mean "knee_l"?'
    >>> did_you_mean("zzz", ["front", "side"])
    'known are: front, side'
    """
    choices = sorted(known)
    near = difflib.get_close_matches(name, choices, n=1, cutoff=0.6)
    if near:
        return f'did you mean "{near[0]}"?'
    shown = ", ".join(choices[:40]) + (", ..." if len(choices) > 40 else "")
    return f"known are: {shown}" if choices else "none is known"
