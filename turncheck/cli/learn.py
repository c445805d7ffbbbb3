"""`turncheck learn`: proposals for placing points, learned from a show's marked sheets."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from turncheck.cli.options import UserPath, quiet_option

if TYPE_CHECKING:
    from turncheck.placing.learned.model_file import About

#: Of what was left out, so many lines are printed; chosen by eye.
_MOST = 8


@click.command(short_help="Learn from a show's marked sheets where points lie.")
@click.argument("folder", type=UserPath())
@quiet_option
def learn(folder: Path, quiet: bool) -> None:
    """Learn from all marked sheets below FOLDER where the points of a character lie.

    From then on the page of "turncheck mark" proposes points for every sheet below FOLDER by them,
    where that was nearer than its other proposals. It takes 20 marked characters. Each is left out
    in turn and its points are proposed by the others: the table says how near that came. Writes
    proposals.npz and proposals.json into FOLDER; delete them to do without.

    \b
    Example:      turncheck learn my_show
    Exit status:  0 learned, 2 too few characters are marked or the folder can't be used
    """
    from turncheck.errors import shown
    from turncheck.plain import listed
    from turncheck.show.learning import learn as learn_show

    def progress(path: str, number: int, total: int) -> None:
        if not quiet and sys.stderr.isatty():
            click.echo(f"reading {shown(path)} ({number} of {total})", err=True)

    found = learn_show(folder, progress=progress)
    if not quiet:
        _say(found.about)
        click.echo(f"Wrote {listed(shown(str(path)) for path in found.files)}")


def _say(about: About) -> None:
    """Print what was learned from, how near it comes, and what was left out."""
    from turncheck.errors import shown
    from turncheck.plain import counted

    sheets = counted(len(about.sheets), "sheet")
    click.echo(f"Learned from {counted(about.characters, 'marked character')}, {sheets}.")
    click.echo("Each character left out in turn, and its points proposed by the others;")
    click.echo("how many were proposed, and how many of those lie within 1 and 2 % of the height:")
    row = "  {:<20}{:>8}{:>12}{:>7}{:>7}{:>16}{:>7}{:>7}"
    click.echo(row.format("placed", "points", "learned", "1 %", "2 %", "as before", "1 %", "2 %"))
    for one in about.figures:
        click.echo(
            row.format(
                one.placed,
                one.points,
                _percent(100.0 * one.offered / one.points),
                _percent(one.within_1),
                _percent(one.within_2),
                _percent(100.0 * one.before_offered / one.points),
                _percent(one.before_within_1),
                _percent(one.before_within_2),
            )
        )
    left = [f"{shown(one.path)}: {shown(one.reason)}" for one in about.left_out]
    left += [shown(says) for says in about.left_out_points]
    for says in left[:_MOST]:
        click.echo(f"  left out: {says}")
    if len(left) > _MOST:
        click.echo(f"  and {len(left) - _MOST} more, all in proposals.json")


def _percent(share: float | None) -> str:
    return "–" if share is None else f"{share:.0f} %"
