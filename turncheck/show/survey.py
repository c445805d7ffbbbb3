"""The survey: every sheet below a folder checked where it has changed, and all on one page."""

from __future__ import annotations

import random
import tempfile
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from turncheck.errors import Fault, TurncheckError
from turncheck.files.atomic import alone_in, not_written
from turncheck.files.own import PAGE, refuse_foreign, save_own
from turncheck.files.user_files import is_folder
from turncheck.plain import counted
from turncheck.show.cache import (
    forget_others,
    kept_drifts,
    kept_findings,
    kept_record,
    open_cache,
)
from turncheck.show.job import Job, unusable
from turncheck.show.one_sheet import survey_sheet
from turncheck.show.record import Record
from turncheck.show.search import sheets_below
from turncheck.show.workers import each, on_cluster, on_this_machine

if TYPE_CHECKING:
    import pandas as pd

#: Called with how many sheets are done and how many there are.
Progress = Callable[[int, int], None]
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
    folder
        Where it is written.
    """

    records: tuple[Record, ...]
    checked: int
    folder: Path

    @property
    def exit_code(self) -> int:
        """2 where a sheet can't be used, else 1 where one is off model, else 0."""
        verdicts = {record.verdict for record in self.records}
        return 2 if "" in verdicts else 1 if "off_model" in verdicts else 0

    @cached_property
    def findings(self) -> pd.DataFrame:
        """The findings of all sheets, with the columns of `findings.csv`."""
        import pandas as pd

        return pd.read_parquet(self.folder / "findings.parquet")


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
    used has a record that says why.

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
        0 for all of them.
    progress
        Called at the start and as sheets end.

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
    refuse_foreign(Path(out), _own())
    try:
        cache = open_cache(place)
    except OSError as error:
        raise not_written(error) from error
    with alone_in(cache):
        jobs = [Job.of(one, root, place, cache, magnified=bool(sample)) for one in picked]
        records = {job.path: record for job in jobs if (record := _as_it_was(job)) is not None}
        changed = [job for job in jobs if job.path not in records]
        if progress is not None:
            progress(len(records), len(jobs))
        keys = {job.path: job.key for job in jobs}
        for key, record in _checked(changed, workers, cluster):
            records[record.path], keys[record.path] = record, key
            if progress is not None:
                progress(len(records), len(jobs))
        if not sample:
            forget_others(place, {*keys.values()})
        whole = [records[job.path] for job in jobs]
        what = f"{counted(len(picked), 'sheet')} of {len(found)}, picked at random by seed {seed}."
        _save(root, Path(out), cache, whole, keys, what if sample else "")
    return Survey(tuple(whole), len(changed), Path(out))


def _as_it_was(job: Job) -> Record | None:
    """Return what is known of a sheet that has not changed, with its report; None otherwise."""
    if job.fault:
        return unusable(job, job.fault)
    record = kept_record(job.cache, job.key)
    if record is None:
        return None
    beside = [record.report, *(spot.picture for spot in record.spots)]
    beside += [record.figure.picture] if record.figure else []
    return record if all((job.out / name).is_file() for name in beside) else None


def _checked(jobs: Sequence[Job], workers: int, cluster: str) -> Iterable[tuple[str, Record]]:
    """Yield the key and the record of each sheet, as they end."""
    if not jobs:
        return
    with on_cluster(cluster) if cluster else on_this_machine(workers) as pool:
        for job, result in each(survey_sheet, jobs, pool):
            if isinstance(result, BaseException):
                yield job.key, unusable(job, _ended(result))
                continue
            key, record = result
            if not record.reason and kept_record(job.cache, key) is None:
                says = "its result did not arrive; workers need both folders at the same places"
                record = unusable(job, says)
            yield key, record


def _ended(error: BaseException) -> str:
    """Return what is said of a sheet whose worker is gone."""
    return (
        "the process that checked it was ended, or ran out of memory "
        f"({type(error).__name__}); run the survey again"
    )


def _own() -> dict[str, bytes]:
    """Return the files of a survey, and what each of them has held since the first version."""
    from turncheck.show.tables import COLUMNS_OF_FINDINGS, COLUMNS_OF_SHEETS, PARQUET_MARK

    return {
        "index.html": PAGE,
        "sheets.csv": ",".join(COLUMNS_OF_SHEETS[:5]).encode(),
        "findings.csv": ",".join(COLUMNS_OF_FINDINGS[:5]).encode(),
        "findings.parquet": PARQUET_MARK,
    }


def _save(
    root: Path,
    out: Path,
    cache: Path,
    records: Sequence[Record],
    keys: Mapping[str, str],
    sampled: str,
) -> None:
    from turncheck.show.habits import habits_of
    from turncheck.show.habits_page import habits_section
    from turncheck.show.index import render_index
    from turncheck.show.tables import drifts_table, join_findings, make_parquet, sheets_csv

    usable = [keys[record.path] for record in records if not record.reason]
    with tempfile.TemporaryDirectory(dir=cache) as at:
        table, parquet = Path(at) / "findings.csv", Path(at) / "findings.parquet"
        join_findings((kept_findings(cache, key) for key in usable), table)
        make_parquet(table, parquet)
        habits = None
        if not sampled:
            kept = [(one, kept_drifts(cache, keys[one.path])) for one in records if not one.reason]
            habits = habits_section(habits_of(drifts_table(kept)))
        page = render_index(records, title=root.resolve().name, habits=habits, sampled=sampled)
        save_own(out, _own(), (page, sheets_csv(records), table, parquet))
