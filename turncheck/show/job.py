"""The work on one sheet of a survey, as it is handed to a worker."""

from __future__ import annotations

import os
from dataclasses import dataclass, replace
from pathlib import Path

from turncheck.errors import shown
from turncheck.show.cache import key_of, named
from turncheck.show.record import Record
from turncheck.show.search import Found


@dataclass(frozen=True)
class Job:
    """A sheet to check.

    Attributes
    ----------
    file, path, fault
        As `Found` has them.
    folder, out, cache
        The folder below which it lies, the survey's, and its cache's; none of them relative.
    magnified
        Whether its worst points are to be magnified.
    key
        What its entry in the cache is known by.
    """

    file: Path
    path: str
    fault: str
    folder: Path
    out: Path
    cache: Path
    magnified: bool
    key: str = ""

    @staticmethod
    def of(found: Found, folder: Path, out: Path, cache: Path, *, magnified: bool) -> Job:
        """Return the work on a sheet as it is now."""
        return Job(found.file, found.path, found.fault, folder, out, cache, magnified).now()

    def now(self) -> Job:
        """Return it with the key of the sheet as it is now."""
        if self.fault:
            return self
        return replace(self, key=key_of(self.file, self.path, self.out, magnified=self.magnified))

    @property
    def report(self) -> str:
        """The folder of its report, seen from the survey's."""
        return "/".join(("sheets", *(part for part in self.path.split("/") if part != ".")))


def unusable(job: Job, reason: str) -> Record:
    """Return the record of a sheet that can't be used, with as much as its file tells."""
    try:
        held = named(job.file.read_bytes()) if job.file.is_file() else {}
    except OSError:
        held = {}
    told = (held.get(key) for key in ("character", "revision"))
    character, revision = (shown(text) if isinstance(text, str) else "" for text in told)
    line = " ".join(shown(reason.replace(f"{job.folder}{os.sep}", "")).split())
    return Record(job.path, character, revision, reason=line)
