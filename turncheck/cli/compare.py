"""`turncheck compare`: what became of a sheet in its next revision."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from turncheck.cli.options import UserPath, out_option, quiet_option

_MOST = 8


@click.command(short_help="Compare two revisions of a sheet.")
@click.argument("old", type=UserPath())
@click.argument("new", type=UserPath())
@out_option("comparison")
@click.option("--carry", is_flag=True, help="Write the carried placings into NEW's landmarks.csv.")
@quiet_option
def compare(old: Path, new: Path, out: Path | None, carry: bool, quiet: bool) -> None:
    """Check the sheets OLD and NEW and say what was mended, what is worse and what is new.

    NEW may be the next revision or drawings rendered from the rig, of the same names. A point that
    NEW does not have is measured where OLD has it, if the drawing is unchanged around it; all
    others are left to be placed. Writes compare.html, compare.csv and compare.json.

    \b
    Example:      turncheck compare pim_a pim_b --carry
    Exit status:  0 nothing is worse or new, 1 something is, 2 the input can't be used
    """
    from turncheck.checking import compare as compare_sheets
    from turncheck.errors import shown
    from turncheck.plain import spoken
    from turncheck.revisions.save import save_comparison
    from turncheck.revisions.words import became, tally, told, told_beside, where

    found = compare_sheets(old, new, carry=carry)
    folder = out or Path("reports") / found.new.sheet.slug
    written = save_comparison(found, folder)
    if not quiet:
        revisions = f"revision {found.old.sheet.revision} to {found.new.sheet.revision}"
        click.echo(f"{found.new.sheet.character}, {revisions}: {tally(found)}")
        for warning in found.new.warnings:
            click.echo(click.style(f"  First: {warning.says}.", bold=True))
        for number, one in enumerate(found.differences[:_MOST], start=1):
            says = told(one)[1 if one.after else 0]
            click.echo(f"  {number}  {became(one)}, {spoken(where(one.views))}: {says}")
        if len(found.differences) > _MOST:
            click.echo(f"  and {len(found.differences) - _MOST} more on the page")
        for says in told_beside(found):
            click.echo(f"  {says}")
        click.echo(f"Wrote {', '.join(shown(str(path)) for path in written)}")
    sys.exit(1 if found.is_worse else 0)
