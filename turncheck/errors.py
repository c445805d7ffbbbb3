"""What a person is told when turncheck can't use their input.

A mistake of the user's is a `TurncheckError`: sentences that name the file, the place and
the mend, exit status 2 and no traceback. Anything else is a bug and keeps its traceback.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

#: Characters that can't be shown on one line of text: controls and lone surrogates, line and
#: paragraph separators, and what turns the direction of writing (Unicode 15.0, general
#: categories Cc, Cs, Zl, Zp; Standard Annex 9, table 1).
UNSHOWN = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069\ud800-\udfff]")
#: The exit status of a run that Ctrl-C stopped: 128 and the number of SIGINT, as shells give it
#: (Bash Reference Manual, 'Exit Status').
STOPPED = 130
#: The same of a run whose answer nobody reads to its end: 128 and the number of SIGPIPE.
NOBODY_LISTENS = 141
#: Of what is quoted, and of a place in a file, characters; common practice, no source.
_QUOTED_LONGEST = 60
_PLACE_LONGEST = 100


@dataclass(frozen=True)
class Fault:
    """One thing that is wrong in what a user gave, and its mend.

    Attributes
    ----------
    says
        What is wrong and how to mend it.
    file
        The file, folder or option that it is in; '' where `says` names it.
    place
        The number of a row, or a table or key of the file; '' for the whole file.

    Examples
    --------
    >>> print(Fault("is no view", "a.csv", 2), Fault("is old", "a.csv"), sep="; ")
    a.csv, row 2: is no view; a.csv: is old
    """

    says: str
    file: str = ""
    place: str | int = ""

    def told(self, more: int = 0) -> str:
        """Return its sentence, characters that can't be shown escaped.

        Parameters
        ----------
        more
            How many further rows have it.
        """
        place = self.place
        place = f"row {place}" if isinstance(place, int) else _cut(place, _PLACE_LONGEST)
        where = ", ".join(filter(None, (self.file, place)))
        also = f" and {more} more" if more else ""
        return shown(f"{where}{also}: {self.says}" if where else self.says)

    def __str__(self) -> str:
        return self.told()


class TurncheckError(Exception):
    """Input that can't be used.

    Parameters
    ----------
    *faults
        Each fault found, all of a file together; a bare sentence is a fault that names its place
        itself.
    """

    exit_code = 2

    def __init__(self, *faults: Fault | str) -> None:
        self.faults = tuple(Fault(fault) if isinstance(fault, str) else fault for fault in faults)
        super().__init__(*faults)

    def __str__(self) -> str:
        return "\n".join(map(str, self.faults))


class FileFaults:
    """Gathers every fault of one file, then raises them together.

    Parameters
    ----------
    file
        What each sentence names first; '' where the places are files themselves.
    """

    def __init__(self, file: str) -> None:
        self._file = file
        self._faults: list[Fault] = []

    def add(self, place: str | int, says: str) -> None:
        """Note a fault at a place, see `Fault`."""
        self._faults.append(Fault(says, self._file, place))

    def include(self, error: TurncheckError) -> None:
        """Note the faults of another file that this one rests on."""
        self._faults.extend(error.faults)

    def raise_any(self) -> None:
        """Raise what was gathered.

        Raises
        ------
        TurncheckError
            If a fault was added.
        """
        if self._faults:
            raise TurncheckError(*self._faults)


def quoted(text: str) -> str:
    """Return what a user wrote as a fault's sentence shows it: in quotes, cut where it is long.

    >>> quoted("nee_l"), len(quoted("a" * 10_000))
    ('"nee_l"', 65)
    """
    return f'"{_cut(text, _QUOTED_LONGEST)}"'


def did_you_mean(name: str, known: Iterable[str]) -> str:
    """Name the nearest known name, or all of them when none is near; case does not count.

    Examples
    --------
    >>> did_you_mean("nee_l", ["knee_l", "knee_r", "chin"])
    'did you mean "knee_l"?'
    >>> did_you_mean("zzz", ["front", "side"])
    'known are: front, side'
    """
    return _nearest(name, tuple(sorted(known)))


def unknown(name: str, known: Iterable[str], what: str) -> str:
    """Say that a name is none of those known, and which one it may have meant.

    >>> unknown("frnt", ["front", "side"], "a view")
    '"frnt" is not a view; did you mean "front"?'
    """
    return f"{quoted(name)} is not {what}; {did_you_mean(name, known)}"


@lru_cache(maxsize=4096)  # a table may have one mistyped name in every row
def _nearest(name: str, choices: tuple[str, ...]) -> str:
    folded = {choice.casefold(): choice for choice in reversed(choices)}
    near = difflib.get_close_matches(name.casefold(), folded, n=1, cutoff=0.6)
    if near:
        return f"did you mean {quoted(folded[near[0]])}?"
    listed = ", ".join(choices[:40]) + (", ..." if len(choices) > 40 else "")
    return f"known are: {listed}" if choices else "none is known"


def shown(text: str) -> str:
    """Return a text whose characters that can't be shown are escaped."""
    return UNSHOWN.sub(lambda found: found[0].encode("unicode_escape").decode("ascii"), text)


def _cut(text: str, longest: int) -> str:
    return text if len(text) <= longest else f"{text[:longest]}..."
