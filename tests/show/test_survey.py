"""A survey: one row a sheet whatever happens, only what changed checked again, all runs equal."""

from __future__ import annotations

import csv
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pandas as pd
import pytest

from tests.sheets import edit
from tests.show.small_show import VERDICTS, make_show, surveyed_here
from turncheck import TurncheckError
from turncheck.show import one_sheet
from turncheck.show import survey as module
from turncheck.show.one_sheet import Job, survey_sheet, unusable
from turncheck.show.record import Record
from turncheck.show.search import Found
from turncheck.show.survey import Survey, survey

#: Sheets that can't be used are looked at every time.
BROKEN = sum(not verdict for verdict in VERDICTS.values())


@pytest.fixture(scope="module")
def show(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_show(tmp_path_factory.mktemp("kettle") / "show")


@pytest.fixture(scope="module")
def serial(show: Path) -> Survey:
    with surveyed_here():
        return survey(show, show.parent / "serial", workers=1)


def rows(file: Path) -> list[dict[str, str]]:
    with file.open(encoding="utf-8", newline="") as opened:
        return list(csv.DictReader(opened))


def written(out: Path) -> dict[str, bytes]:
    """All that a survey wrote but its cache, and but the time that each sheet took."""
    files = [path for path in sorted(out.rglob("*")) if path.is_file()]
    found = {path.relative_to(out).as_posix(): path.read_bytes() for path in files}
    found = {name: data for name, data in found.items() if not name.startswith(".cache/")}
    timed = [row | {"seconds": ""} for row in rows(out / "sheets.csv")]
    return found | {"sheets.csv": repr(timed).encode()}


def test_every_sheet_has_a_row_and_those_of_no_use_say_why(serial: Survey) -> None:
    table = rows(serial.page.parent / "sheets.csv")
    assert {row["path"]: row["verdict"] for row in table} == VERDICTS
    by_path = {row["path"]: row for row in table}
    assert [by_path[path]["character"] for path in ("pair", "pair/tub.toml", "torn")] == [
        "Tib",
        "'=Tub, of the mill",
        "",
    ]
    assert by_path["reel/low"]["to_redraw"] == "1" and "Chin" in by_path["reel/low"]["worst"]
    assert [by_path[path]["approval"] for path in ("pair", "reel/low")] == ["stale", "none"]
    assert by_path["torn"]["reason"].startswith("torn/sheet.toml")
    assert "landmarks.csv" in by_path["unplaced"]["reason"]
    assert by_path["unplaced"]["character"] == "Tib"
    for row in table:
        assert bool(row["reason"]) != bool(row["verdict"]) and row["reason"].isprintable()
    assert serial.exit_code == 2 and serial.checked == len(VERDICTS)


def test_a_record_tells_what_the_cast_needs(serial: Survey) -> None:
    by_path = {record.path: record for record in serial.records}
    tub, low = by_path["pair/tub.toml"], by_path["reel/low"]
    assert tub.height_cm == 90 and tub.drawn_by == dict.fromkeys(tub.drawn_by, "")
    assert tub.heads == pytest.approx(100 / 16, rel=1e-4)  # as the body of tests.sheets has it
    assert low.worst_pct is not None and low.worst_pct == pytest.approx(-2.5, abs=0.4)
    assert tub.changed == ("approval.json can't be read",)
    for record in (tub, low):
        assert (serial.page.parent / record.report).is_file()
        assert record.figure is not None and (serial.page.parent / record.figure.picture).is_file()


def test_one_table_has_the_findings_of_all_sheets(serial: Survey) -> None:
    whole = rows(serial.page.parent / "findings.csv")
    for path, verdict in VERDICTS.items():
        of_sheet = [dict(list(row.items())[3:]) for row in whole if row["path"] == path]
        own = serial.page.parent / "sheets" / path / "findings.csv"
        assert of_sheet == (rows(own) if verdict else [])
    assert serial.findings.columns.tolist() == list(whole[0])
    as_text = pd.read_csv(
        serial.page.parent / "findings.csv", dtype=serial.findings.dtypes.to_dict()
    )
    for name, column in serial.findings.items():
        if column.dtype == "float64":
            assert column.equals(as_text[name])
        else:
            assert column.tolist() == [row[name] for row in whole]


def test_two_processes_write_the_same_bytes_as_one(serial: Survey, show: Path) -> None:
    out = show.parent / "two"
    survey(show, out, workers=2)
    assert written(out) == written(serial.page.parent)


def test_a_dask_cluster_writes_the_same_bytes(
    serial: Survey, show: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    distributed = pytest.importorskip("distributed")
    monkeypatch.setenv("OPENBLAS_NUM_THREADS", "1")
    out = show.parent / "cluster"
    with distributed.LocalCluster(
        n_workers=2,
        threads_per_worker=1,
        dashboard_address=None,
        silence_logs=50,
    ) as cluster:
        survey(show, out, cluster=cluster.scheduler_address)
    assert written(out) == written(serial.page.parent)


def test_a_cluster_that_does_not_answer_is_said(
    show: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("turncheck.show.workers._PATIENCE", 1)
    with pytest.raises(TurncheckError, match="no Dask scheduler answers at"):
        survey(show, tmp_path, cluster="tcp://127.0.0.1:9")


def test_what_has_not_changed_is_not_checked_again(serial: Survey, show: Path) -> None:
    before = written(serial.page.parent)
    with surveyed_here():
        again = survey(show, serial.page.parent, workers=1)
    assert again.checked == BROKEN and again.records == serial.records
    assert written(serial.page.parent) == before
    (serial.page.parent / "sheets/reel/low/report.html").unlink()
    with surveyed_here():
        assert survey(show, serial.page.parent, workers=1).checked == BROKEN + 1
    assert written(serial.page.parent) == before


def test_a_stopped_survey_goes_on_where_it_was(show: Path, tmp_path: Path) -> None:
    told = []

    def stop(unchanged: int, checked: int, of: int) -> None:
        told.append((unchanged, checked, of))
        if checked == 3:
            raise KeyboardInterrupt

    with surveyed_here(), pytest.raises(KeyboardInterrupt):
        survey(show, tmp_path, workers=1, progress=stop)
    assert told == [(0, checked, len(VERDICTS)) for checked in range(4)]
    assert not (tmp_path / "index.html").exists()
    kept = len([*(tmp_path / ".cache").glob("??/*")])
    assert kept >= 1
    with surveyed_here():
        assert survey(show, tmp_path, workers=1).checked == len(VERDICTS) - kept


def _deadly(job: Job) -> tuple[str, Record]:
    """Look at a sheet as a worker does, though not closely; one of them is its end."""
    if job.found.path == "reel/low":
        time.sleep(0.2)  # while others are at work
        os.kill(os.getpid(), signal.SIGKILL)
    return job.key, unusable(job, "was looked at")


def test_a_worker_that_dies_costs_one_row(
    show: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "survey_sheet", _deadly)
    found = survey(show, tmp_path, workers=2)
    (lost,) = (one for one in found.records if one.path == "reel/low")
    assert "was ended" in lost.reason and lost.character == "Tib"
    others = {one.path: one.reason for one in found.records if one is not lost}
    assert others == dict.fromkeys(VERDICTS.keys() - {lost.path}, "was looked at")


#: Hands out two calls that take a minute to two workers, and tells their process ids.
BUSY = """
import os, sys, time
from pathlib import Path
from turncheck.show.workers import each, on_this_machine

def busy(folder):
    (folder / str(os.getpid())).touch()
    time.sleep(60)

with on_this_machine(2) as pool:
    for _ in each(busy, [Path(sys.argv[1])] * 2, pool):
        pass
"""


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGKILL])
def test_workers_end_with_a_survey_that_is_stopped(tmp_path: Path, how: signal.Signals) -> None:
    """As Ctrl-C does it, and what ends the parent without a word."""
    program = subprocess.Popen([sys.executable, "-c", BUSY, tmp_path], stderr=subprocess.DEVNULL)
    try:
        until(lambda: len([*tmp_path.iterdir()]) == 2)
        program.send_signal(how)
        assert program.wait(timeout=30)
        workers = [int(path.name) for path in tmp_path.iterdir()]
        until(lambda: not any(Path(f"/proc/{worker}").exists() for worker in workers))
    finally:
        program.kill()


def until(is_so: Callable[[], bool]) -> None:
    """Wait for what comes soon."""
    late = time.monotonic() + 30
    while not is_so():
        assert time.monotonic() < late
        time.sleep(0.05)


@pytest.fixture
def job(show: Path, tmp_path: Path) -> Iterator[Job]:
    found = Found(show / "pair" / "sheet.toml", "pair")
    yield Job(found, 0, show, tmp_path, tmp_path / ".cache", magnified=False).now()


def test_whatever_goes_wrong_with_a_sheet_is_its_row(
    job: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("turncheck.checking.check", lambda file: 1 / 0)
    _, record = survey_sheet(job)
    assert "ZeroDivisionError" in record.reason and record.character == "Tib"


def test_a_sheet_that_changes_while_it_is_checked_is_checked_again(
    job: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    keys = []

    def surveyed(job: Job) -> Record:
        keys.append(job.key)
        if len(keys) == 1:
            edit(job.found.file, 'revision = "A"', 'revision = "B"')
        return Record(job.found.path)

    monkeypatch.setattr(one_sheet, "_surveyed", surveyed)
    key, record = survey_sheet(job)
    edit(job.found.file, 'revision = "B"', 'revision = "A"')
    assert not record.reason and keys == [job.key, key] and key != job.key
