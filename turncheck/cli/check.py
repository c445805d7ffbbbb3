"""`turncheck check`: measure a sheet and write its report."""

from __future__ import annotations

import gc
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from turncheck.cli.options import UserPath, out_option, quiet_option

if TYPE_CHECKING:
    from turncheck.checking import Checked

#: Work that takes longer than this shows its progress, s.
_PATIENCE = 1.0
_MOST_INSTRUCTIONS = 5
_COLOURS = {"on_model": "green", "off_model": "red", "undecided": "yellow"}


@click.command(short_help="Measure a sheet's drawings and write a report.")
@click.argument("sheet", type=UserPath())
@out_option("report")
@click.option(
    "--strict", is_flag=True, help="Count what is too close to call, or warned of, as off model."
)
@click.option("--json", "as_json", is_flag=True, help="Print the summary as JSON.")
@quiet_option
def check(sheet: Path, out: Path | None, strict: bool, as_json: bool, quiet: bool) -> None:
    """Measure the drawings of SHEET against each other and write a report.

    SHEET is a folder with a sheet.toml and a landmarks.csv beside the drawings.
    Writes report.html, findings.csv and summary.json.

    \b
    Example:      turncheck check sample_views/odo
    Exit status:  0 on model, 1 off model, 2 the input can't be used, 130 stopped
    """
    gc.disable()  # what is made lives to the end, and looking for garbage takes time
    try:
        _check(sheet, out, strict, as_json, quiet)
    finally:
        gc.enable()


def _check(sheet: Path, out: Path | None, strict: bool, as_json: bool, quiet: bool) -> None:
    from threading import Thread

    from turncheck.images.paper.paper import make_tables

    Thread(target=make_tables).start()  # beside the imports that follow
    from turncheck.checking import check as check_sheet

    started = time.monotonic()

    def progress(file: str, number: int, total: int) -> None:
        if not quiet and sys.stderr.isatty() and time.monotonic() - started > _PATIENCE:
            click.echo(f"reading {file} ({number} of {total})", err=True)

    checked = check_sheet(sheet, progress)
    folder = out
    if folder is None:
        from turncheck.report import refuse_report_of_another

        folder = Path("reports") / checked.sheet.slug
        refuse_report_of_another(folder, checked.sheet)
    summary = checked.save(folder)
    if as_json:
        from turncheck.files.own import json_text

        click.echo(json_text(summary), nl=False)
    elif not quiet:
        _say(checked, summary, strict, folder / "report.html")
    counted = summary["counts"]
    unsure = counted["undecided"] or summary["warnings"]
    sys.exit(1 if counted["off_model"] or (strict and unsure) else 0)


def _say(checked: Checked, summary: dict[str, Any], strict: bool, report: Path) -> None:
    """Print the verdict, how much there is to redraw, the worst of it, and the report's path."""
    from turncheck.checks.verdicts import waiver_remarks
    from turncheck.errors import quoted, shown
    from turncheck.plain import counted, spoken
    from turncheck.wording.approval import approval_words
    from turncheck.wording.drawings import drawing_remarks
    from turncheck.wording.findings import VERDICTS, subject_title
    from turncheck.wording.instructions import DECIDE_FIRST, also_mends
    from turncheck.wording.placing import placing_remarks

    verdict = summary["verdict"]
    words = click.style(VERDICTS[verdict].upper(), fg=_COLOURS[verdict], bold=True)
    tally = "" if verdict == "undecided" and not checked.instructions else f", {checked.how_much}"
    undecided = summary["counts"]["undecided"]
    tally += f"; {undecided} {VERDICTS['undecided']}" if undecided else ""
    click.echo(f"{checked.sheet.character}, revision {checked.sheet.revision}: {words}{tally}")
    for warning in checked.warnings:
        click.echo(click.style(f"  First: {warning.says}.", bold=True))
    if strict and undecided:
        rows = f"{counted(undecided, 'comparison')} {VERDICTS['undecided']}"
        counts = "counts" if undecided == 1 else "count"
        click.echo(f"  --strict: {rows} {counts} as off model here")
    pictures = [view.picture for view in checked.sheet.views.values()]
    for remark in (*drawing_remarks(pictures), *placing_remarks(checked.measured)):
        click.echo(f"  {remark}")
    for waiver, says in waiver_remarks(checked.rows, checked.sheet):
        if says:
            of = f"{waiver.check} on {waiver.view}, {quoted(waiver.subject)}"
            click.echo(f"  The waiver of {of}, {says}")
    if checked.approval.state != "none":
        click.echo(f"  {approval_words(checked.approval)}")

    def title(row: int) -> str:
        return subject_title(checked.rows[row].subject, checked.sheet.vocabulary.landmarks)

    for number, task in enumerate(checked.instructions[:_MOST_INSTRUCTIONS], start=1):
        where = spoken(task.view) or DECIDE_FIRST
        also = also_mends([title(row) for row in task.follows])
        click.echo(f"  {number}  {where}: {task.says}{also}")
    more = len(checked.instructions) - _MOST_INSTRUCTIONS
    if more > 0:
        click.echo(f"  and {more} more in the report")
    click.echo(f"Report: {shown(str(report))}")
