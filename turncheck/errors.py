"""What a person is told when turncheck can't use their input.

A mistake of the user's is a `TurncheckError`: sentences that name the file, the place and
the mend, exit status 2 and no traceback. Anything else is a bug and keeps its traceback.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable

#: Characters that can't be shown on one line of text: controls and lone surrogates, line and
#: paragraph separators, and what turns the direction of writing (Unicode 15.0, general
#: categories Cc, Cs, Zl, Zp; Standard Annex 9, table 1).
UNSHOWN = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069\ud800-\udfff]")
#: The exit status of a run that Ctrl-C stopped: 128 and the number of SIGINT, as shells give it
#: (Bash Reference Manual, 'Exit Status').
STOPPED = 130
_LONGEST_SHOWN = 60
_LONGEST_PLACE = 100


class TurncheckError(Exception):
    """Input that can't be used.

    Parameters
    ----------
    *faults
        One sentence for each fault found, all of a file together. Characters that can't be
        shown are escaped.
    file
        The file that the faults were found in, '' where they are of none or several.
    """

    exit_code = 2

    def __init__(self, *faults: str, file: str = "") -> None:
        self.faults = tuple(map(_shown, faults))
        self.file = _shown(file)
        super().__init__("\n".join(self.faults))


class FileFaults:
    """Gathers every fault of one file, then raises them together.

    Parameters
    ----------
    file
        What each sentence names first; '' where the places are files themselves.
    """

    def __init__(self, file: str) -> None:
        self._file = file
        self._faults: list[str] = []
        self._included = False

    def add(self, place: str, fault: str) -> None:
        """Note a fault at a place (a row, a table of the file; may be empty)."""
        where = ", ".join(filter(None, (self._file, _cut(place, _LONGEST_PLACE))))
        self._faults.append(f"{where}: {fault}")

    def include(self, error: TurncheckError) -> None:
        """Note the faults of another file that this one rests on."""
        self._faults.extend(error.faults)
        self._included = True

    def raise_any(self) -> None:
        """Raise what was gathered.

        Raises
        ------
        TurncheckError
            If a fault was added.
        """
        if self._faults:
            raise TurncheckError(*self._faults, file="" if self._included else self._file)


def quoted(text: str) -> str:
    """Return what a user wrote as a fault's sentence shows it: in quotes, cut where it is long.

    >>> quoted("nee_l"), len(quoted("a" * 10_000))
    ('"nee_l"', 65)
    """
    return f'"{_cut(text, _LONGEST_SHOWN)}"'


def did_you_mean(name: str, known: Iterable[str]) -> str:
    """Name the nearest known name, or all of them when none is near; case does not count.

    Examples
    --------
    >>> did_you_mean("nee_l", ["knee_l", "knee_r", "chin"])
    'did you mean "knee_l"?'
    >>> did_you_mean("zzz", ["front", "side"])
    'known are: front, side'
    """
    choices = sorted(known)
    folded = {choice.casefold(): choice for choice in reversed(choices)}
    near = difflib.get_close_matches(name.casefold(), folded, n=1, cutoff=0.6)
    if near:
        return f"did you mean {quoted(folded[near[0]])}?"
    shown = ", ".join(choices[:40]) + (", ..." if len(choices) > 40 else "")
    return f"known are: {shown}" if choices else "none is known"


def _shown(text: str) -> str:
    return UNSHOWN.sub(lambda found: found[0].encode("unicode_escape").decode("ascii"), text)


def _cut(text: str, longest: int) -> str:
    return text if len(text) <= longest else f"{text[:longest]}..."
