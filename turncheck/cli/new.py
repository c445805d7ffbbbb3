"""`turncheck new`: start a sheet folder from drawings."""

from __future__ import annotations

import shlex
from pathlib import Path

import click

from turncheck.cli.options import UserPath, quiet_option


@click.command(short_help="Start a sheet from drawings.")
@click.argument("folder", type=UserPath())
@click.argument("images", nargs=-1, required=True, type=UserPath())
@click.option("--character", help="The character's name.  [default: the folder's name]")
@click.option("--revision", default="A", show_default=True, help="The drawings' revision.")
@quiet_option
def new(
    folder: Path, images: tuple[Path, ...], character: str | None, revision: str, quiet: bool
) -> None:
    """Start a sheet in FOLDER from drawings: writes a commented sheet.toml.

    The views are guessed from the file names. Drawings that lie elsewhere are copied into
    FOLDER; nothing else is touched, and a sheet that is there already is never overwritten.

    \b
    Example:      turncheck new kettle front.png three_quarter.png side.png back.png
    Exit status:  0 written, 2 a drawing can't be used or there is a sheet already
    """
    from turncheck.errors import shown
    from turncheck.sheet.create import new as start_sheet
    from turncheck.wording.drawings import drawing_remarks

    started = start_sheet(folder, images, character=character, revision=revision)
    if quiet:
        return
    for view in started.views:
        doubt = f" ({view.doubt})" if view.doubt else ""
        click.echo(f"  {view.file}: {view.name}, {view.yaw:g}°{doubt}")
    for remark in drawing_remarks(started.pictures):
        click.echo(f"  {remark}")
    if any(view.doubt for view in started.views):
        click.echo("Look again at what was guessed, and set name and yaw right in sheet.toml.")
    if started.placing == "fit":
        click.echo(
            'The figures differ in size by more than a fifth, so the sheet says placing = "fit":'
        )
        click.echo(
            "they are measured at one size, and a check only tells how large each is drawn; "
            'set placing = "ground" if all were meant at one size.'
        )
    click.echo(f"Wrote {shown(str(started.file))}. Look through it, then place the points:")
    click.echo(f"  turncheck mark {shown(shlex.quote(str(folder)))}")
