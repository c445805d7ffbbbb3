"""`turncheck survey`: check every sheet of a show."""

from __future__ import annotations

import sys
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING

import click

from turncheck.cli.options import UserPath, out_option, quiet_option

if TYPE_CHECKING:
    from turncheck.show.survey import Survey

#: So many sheets are named in the terminal; chosen by eye.
_MOST = 8


@click.command(short_help="Check every sheet below a folder, on one page.")
@click.argument("folder", type=UserPath())
@out_option("page and the reports", "reports/survey")
@click.option(
    "--workers",
    type=click.IntRange(1),
    help="How many sheets are checked at once.  [default: one a core]",
)
@click.option("--cluster", metavar="ADDRESS", help="Let a Dask cluster check them instead.")
@click.option("--sample", type=click.IntRange(1), help="Pick so many at random, with close-ups.")
@click.option("--seed", type=int, default=0, help="Picks others.  [default: 0]")
@quiet_option
def survey(
    folder: Path,
    out: Path | None,
    workers: int | None,
    cluster: str | None,
    sample: int | None,
    seed: int,
    quiet: bool,
) -> None:
    """Check every sheet in FOLDER and below, and write one page over all of them.

    Writes index.html, sheets.csv, findings.csv and findings.parquet, and each sheet's report. Only
    what has changed since is checked again; a sheet that can't be used is listed with its reason.

    \b
    Example:      turncheck survey show --out reports/show
    Exit status:  0 all on model, 1 one is off model, 2 one can't be used, 130 stopped
    """
    from turncheck.show.survey import OUT
    from turncheck.show.survey import survey as survey_sheets

    with ExitStack() as shown:
        bar = None

        def progress(unchanged: int, checked: int, of: int) -> None:
            nonlocal bar
            if bar is None:
                steps = click.progressbar(
                    length=of,
                    label="Checking",
                    show_pos=True,
                    file=sys.stderr,
                    hidden=quiet or not sys.stderr.isatty(),
                )
                bar = shown.enter_context(steps)
            bar.length = of - unchanged  # of what has changed alone, to tell the time left
            bar.update(checked - bar.pos)

        surveyed = survey_sheets(
            folder,
            out or OUT,
            workers=workers or 0,
            cluster=cluster or "",
            sample=sample or 0,
            seed=seed,
            progress=progress,
        )
    if not quiet:
        _say(surveyed)
    sys.exit(surveyed.exit_code)


def _say(surveyed: Survey) -> None:
    from turncheck.errors import shown
    from turncheck.plain import counted, listed
    from turncheck.wording.findings import RANK, VERDICTS

    records = surveyed.records
    found = {verdict: sum(one.verdict == verdict for one in records) for verdict in VERDICTS}
    told = [f"{count} {VERDICTS[verdict]}" for verdict, count in found.items() if count]
    broken = [one for one in records if one.reason]
    told += [f"{len(broken)} can't be used"] if broken else []
    click.echo(f"{counted(len(records), 'sheet')}: {listed(told)}")
    if surveyed.checked < len(records):
        click.echo(f"  {len(records) - surveyed.checked} unchanged since the last survey")
    for one in broken[:_MOST]:
        click.echo(f"  {one.path}: {one.reason}")
    off = sorted((one for one in records if one.worst), key=lambda one: RANK[one.verdict])
    for one in off[: max(_MOST - len(broken), 0)]:
        click.echo(f"  {one.character}, revision {one.revision}: {one.worst}")
    more = len(broken) + len(off) - _MOST
    if more > 0:
        click.echo(f"  and {more} more on the page")
    for file in surveyed.left:
        click.echo(f"  {shown(str(file))}: stays, changed since; its sheet is gone")
    click.echo(f"Wrote {shown(str(surveyed.page))}")
