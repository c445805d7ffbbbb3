"""`turncheck split`: cut a wide sheet into views."""

from __future__ import annotations

from pathlib import Path

import click

from turncheck.cli.options import UserPath, quiet_option


@click.command(short_help="Cut one wide picture into drawings and start a sheet.")
@click.argument("wide", type=UserPath())
@click.argument("folder", type=UserPath())
@click.option(
    "--views",
    metavar="NAME,NAME,...",
    help="The views from left to right.  [default: the usual order of 3, 4 or 5]",
)
@click.option("--count", type=int, help="How many figures there are, if that can't be seen.")
@click.option("--character", help="The character's name.  [default: the folder's name]")
@click.option("--revision", default="A", show_default=True, help="The drawings' revision.")
@click.option(
    "--preview",
    type=UserPath(),
    help="Show what was found in this PNG, also when it can't be cut.  "
    "[default: preview.png in FOLDER]",
)
@quiet_option
def split(
    wide: Path,
    folder: Path,
    views: str | None,
    count: int | None,
    character: str | None,
    revision: str,
    preview: Path | None,
    quiet: bool,
) -> None:
    """Cut the picture WIDE, figures in a row, into views and start a sheet in FOLDER.

    All drawings are cut on the same rows, so that heights compare as they are. Without --views
    the usual order is taken: front, three_quarter, side; with four, back is last; with five,
    back_three_quarter comes before it. Nothing is ever overwritten.

    \b
    Example:      turncheck split sample_views/wide/wide.png kettle
    Exit status:  0 written, 2 the picture can't be cut or something is in the way
    """
    from turncheck.errors import shown
    from turncheck.sheet.wide_sheet import split as split_sheet

    cut = split_sheet(
        wide,
        folder,
        views=[name.strip() for name in views.split(",")] if views else (),
        count=count,
        character=character,
        revision=revision,
        preview=preview,
    )
    if quiet:
        return
    for number, view in enumerate(cut.views, start=1):
        left, top, right, bottom = view.box
        click.echo(
            f"  figure {number}, columns {left} to {right}, rows {top} to {bottom}: "
            f"{view.name}, {view.yaw:g}° ({view.file})"
        )
    for doubt in cut.doubts:
        click.echo(f"  Look again: {shown(doubt)}.")
    click.echo(f"Wrote {shown(str(cut.file))}; {shown(str(cut.preview))} shows what was cut.")
    click.echo("Where a nose points to the picture's left, make that view's yaw negative.")
