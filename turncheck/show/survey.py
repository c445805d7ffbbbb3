"""The survey: every sheet below a folder checked where it has changed, and all on one page."""

from __future__ import annotations

import random
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING

from turncheck.errors import Fault, TurncheckError
from turncheck.files.atomic import alone_in, not_written
from turncheck.files.own import PAGE, refuse_foreign, save_own
from turncheck.files.user_files import is_folder
from turncheck.plain import counted
from turncheck.show.cache import SAMPLE_PAGE, forget_others, kept_record, open_cache
from turncheck.show.gathering import Gathered, Progress
from turncheck.show.one_sheet import Job, survey_sheet, unusable
from turncheck.show.record import Record
from turncheck.show.search import sheets_below
from turncheck.show.workers import each, on_cluster, on_this_machine

if TYPE_CHECKING:
    import pandas as pd

#: Where a survey is written if nothing else is said.
OUT = Path("reports") / "survey"


@dataclass(frozen=True)
class Survey:
    """A surveyed folder.

    Attributes
    ----------
    records
        Of the sheets, by path.
    checked
        How many of them were checked now; the others are as they were.
    page, table
        The page over all of them, and their findings in Parquet.
    left
        Files of reports that stay though their sheets are gone, since somebody has changed them.
    """

    records: tuple[Record, ...]
    checked: int
    page: Path
    table: Path
    left: tuple[Path, ...] = ()

    @property
    def exit_code(self) -> int:
        """2 where a sheet can't be used, else 1 where one is off model, else 0."""
        verdicts = {record.verdict for record in self.records}
        return 2 if "" in verdicts else 1 if "off_model" in verdicts else 0

    @cached_property
    def findings(self) -> pd.DataFrame:
        """The findings of all sheets, with the columns of `findings.csv`."""
        import pandas as pd

        return pd.read_parquet(self.table)


def survey(
    folder: str | Path,
    out: str | Path = OUT,
    *,
    workers: int = 0,
    cluster: str = "",
    sample: int = 0,
    seed: int = 0,
    progress: Progress | None = None,
) -> Survey:
    """Check every sheet below a folder, and write one page and one table over all.

    Only sheets that have changed since the last survey are checked again. A sheet that can't be
    used has a record that says why. Reports of sheets that are gone go too.

    Parameters
    ----------
    out
        Where the page, the tables and each sheet's report are written.
    workers
        How many sheets are checked at once; 0 for one a core.
    cluster
        Address of the scheduler of a Dask cluster that checks them instead, whose workers need
        both folders at the same places; '' for this machine.
    sample, seed
        How many sheets to pick at random and look at closely, the same ones for the same seed;
        0 for all of them. What is written over them is called `sample.html` and so on, and stands
        beside what is over all.
    progress
        As of `Gathered`.

    Raises
    ------
    TurncheckError
        If there is no sheet below the folder, `out` can't be written or a file in it is not
        turncheck's, or no cluster answers.
    """
    root, place = Path(folder).absolute(), Path(out).absolute()
    if not is_folder(root):
        raise TurncheckError(Fault("there is no such folder; check the name", str(folder)))
    found = sheets_below(root, leave_out=place)
    if not found:
        says = 'there is no sheet in or below it; start one with "turncheck new", or name another'
        raise TurncheckError(Fault(says, str(folder)))
    picked = found
    if sample:
        chosen = random.Random(seed).sample(range(len(found)), min(sample, len(found)))
        picked = [found[n] for n in sorted(chosen)]
    own = _own("sample_" if sample else "")
    refuse_foreign(Path(out), own)
    try:
        cache = open_cache(place)
    except OSError as error:
        raise not_written(error) from error
    with alone_in(cache), Gathered(cache, len(picked), progress) as gathered:
        jobs = (
            Job(one, number, root, place, cache, magnified=bool(sample)).now()
            for number, one in enumerate(picked)
        )
        for number, key, record in _checked(_changed(jobs, gathered), workers, cluster):
            gathered.add(number, key, record, checked=True)
        whole, left, says = gathered.records, [], ""
        if sample:
            says = (
                f"{counted(len(whole), 'sheet')} of {len(found)}, picked at random by seed {seed}."
            )
        else:
            usable = {record.path: not record.reason for record in whole}
            left = forget_others(place, gathered.keys, usable)
        files = save_own(Path(out), own, gathered.contents(root.resolve().name, says))
    return Survey(
        tuple(whole), gathered.checked, files[0], files[-1], tuple(Path(out) / one for one in left)
    )


def _own(before: str) -> dict[str, bytes]:
    """Return the files of a survey, and what each of them has held since the first version."""
    from turncheck.show.tables import COLUMNS_OF_FINDINGS, COLUMNS_OF_SHEETS, PARQUET_MARK

    return {
        SAMPLE_PAGE if before else "index.html": PAGE,
        f"{before}sheets.csv": ",".join(COLUMNS_OF_SHEETS[:5]).encode(),
        f"{before}findings.csv": ",".join(COLUMNS_OF_FINDINGS[:5]).encode(),
        f"{before}findings.parquet": PARQUET_MARK,
    }


def _changed(jobs: Iterable[Job], gathered: Gathered) -> Iterator[Job]:
    """Yield the sheets that have changed; what is known of the others is gathered."""
    for job in jobs:
        record = _as_it_was(job)
        if record is None:
            yield job
        else:
            gathered.add(job.number, job.key, record, checked=False)


def _as_it_was(job: Job) -> Record | None:
    """Return what is known of a sheet that has not changed, with its report; None otherwise."""
    if job.found.fault:
        return unusable(job, job.found.fault)
    record = kept_record(job.cache, job.key)
    if record is None:
        return None
    beside = [record.report, *(spot.picture for spot in record.spots)]
    beside += [record.figure.picture] if record.figure else []
    return record if all((job.out / name).is_file() for name in beside) else None


def _checked(jobs: Iterator[Job], workers: int, cluster: str) -> Iterator[tuple[int, str, Record]]:
    """Yield the number, the key and the record of each sheet, as they end."""
    first = next(jobs, None)
    if first is None:  # no worker is needed
        return
    with on_cluster(cluster) if cluster else on_this_machine(workers) as pool:
        for job, result in each(survey_sheet, chain([first], jobs), pool):
            if isinstance(result, BaseException):
                says = "the process that checked it was ended, or ran out of memory "
                says += f"({type(result).__name__}); run the survey again"
                yield job.number, job.key, unusable(job, says)
                continue
            key, record = result
            if not record.reason:
                says = "its result did not arrive; workers need both folders at the same places"
                record = kept_record(job.cache, key) or unusable(job, says)
            yield job.number, key, record
