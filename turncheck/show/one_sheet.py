"""One sheet of a survey: what is handed to a worker, and what that does with it.

All that it needs is imported when it is at work, so that who only hands it out need not.
"""

from __future__ import annotations

import gc
import os
import time
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from turncheck.errors import TurncheckError, shown
from turncheck.files.atomic import put_in_place
from turncheck.files.user_files import fingerprint
from turncheck.show.cache import contents, keep, key_of, named, picture_of
from turncheck.show.record import Record
from turncheck.show.search import Found

if TYPE_CHECKING:
    from turncheck.checking import Checked

#: How often a sheet is checked that is changed meanwhile; common practice, no source.
_TRIES = 3


@dataclass(frozen=True, slots=True)
class Job:
    """A sheet to check.

    Attributes
    ----------
    found, number
        The sheet, and its place among those of the survey.
    folder, out, cache
        The folder below which it lies, the survey's, and its cache's; none of them relative.
    magnified
        Whether its worst points are to be magnified.
    key
        What its entry in the cache is known by.
    """

    found: Found
    number: int
    folder: Path
    out: Path
    cache: Path
    magnified: bool
    key: str = ""

    def now(self) -> Job:
        """Return it with the key of the sheet as it is now."""
        file, path = self.found.file, self.found.path
        if self.found.fault:
            return self
        return replace(self, key=key_of(file, path, self.out, magnified=self.magnified))

    @property
    def report(self) -> str:
        """The folder of its report, seen from the survey's."""
        return "/".join(("sheets", *(part for part in self.found.path.split("/") if part != ".")))


def unusable(job: Job, reason: str) -> Record:
    """Return the record of a sheet that can't be used, with as much as its file tells."""
    held = named(contents(job.found.file))
    told = (held.get(key) for key in ("character", "revision"))
    character, revision = (shown(text) if isinstance(text, str) else "" for text in told)
    line = " ".join(shown(reason.replace(f"{job.folder}{os.sep}", "")).split())
    return Record(job.found.path, character, revision, reason=line)


def survey_sheet(job: Job) -> tuple[str, Record]:
    """Check a sheet, write its report and pictures, and keep what was found.

    Returns
    -------
    tuple
        The key of its entry in the cache, and its record; of a sheet that can't be used one that
        says why, whatever happened.
    """
    try:
        for _ in range(_TRIES):
            record = _surveyed(job)
            now = job.now()
            if now.key == job.key:
                return job.key, record
            job = now
        reason = "was changed while it was checked; run the survey again"
    except TurncheckError as error:
        more = len(error.faults) - 1
        reason = f"{error.faults[0]}{f' (and {more} more)' if more else ''}"
    except Exception as error:  # whatever turncheck itself does wrong ends no survey
        reason = (
            f"turncheck itself failed on it ({type(error).__name__}: {error}); "
            'leave it out, and tell its makers what "turncheck check" says of it'
        )
    return job.key, unusable(job, reason)


def _surveyed(job: Job) -> Record:
    import cv2

    from turncheck.checking import check
    from turncheck.report import OWN
    from turncheck.show.recording import drifts_by_view
    from turncheck.show.tables import findings_csv

    cv2.setNumThreads(1)  # the other cores have sheets of their own
    started = time.process_time()
    gc.disable()  # what is made lives to the end, and looking for garbage takes time
    try:
        checked = check(job.found.file)
        checked.save(job.out / job.report)
        record = _recorded(job, checked)
        drifts, findings = drifts_by_view(checked), findings_csv(record, checked)
    finally:
        gc.enable()
    record = replace(record, seconds=round(time.process_time() - started, 3))
    names = [f"{job.report}/{name}" for name in OWN]
    files = {name: fingerprint((job.out / name).read_bytes()) for name in names}
    keep(job.cache, job.key, record, drifts, files, findings)
    return record


def _recorded(job: Job, checked: Checked) -> Record:
    """Return a checked sheet's record; its pictures are written."""
    from turncheck.show.pictures import cut_out, magnified
    from turncheck.show.recording import record_of

    pictures: dict[Path, bytes] = {}
    figure = None
    if found := cut_out(checked):
        figure = replace(found[0], picture=picture_of(job.key))
        pictures[job.out / figure.picture] = found[1]
    spots = []
    for number, (spot, picture) in enumerate(magnified(checked) if job.magnified else (), start=1):
        spots.append(replace(spot, picture=picture_of(job.key, f"_{number}")))
        pictures[job.out / spots[-1].picture] = picture
    put_in_place(pictures)
    return replace(
        record_of(job.found.path, checked),
        report=f"{job.report}/report.html",
        figure=figure,
        spots=tuple(spots),
    )
