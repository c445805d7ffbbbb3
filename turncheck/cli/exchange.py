"""`turncheck export` and `turncheck import`: placings for and from other programs."""

from __future__ import annotations

from pathlib import Path

import click

from turncheck.cli.merged import say_merged
from turncheck.cli.options import UserPath, quiet_option


@click.command("export", short_help="Write the placings as COCO keypoints (JSON).")
@click.argument("sheet", type=UserPath())
@click.argument("file", type=UserPath())
@quiet_option
def export_(sheet: Path, file: Path, quiet: bool) -> None:
    """Write the placings of SHEET to FILE as COCO keypoints (JSON), for other programs.

    Repeats are averaged. A file that is there already is never overwritten.

    \b
    Example:      turncheck export sample_views/odo odo_keypoints.json
    Exit status:  0 written, 2 the sheet can't be used or the file is there already
    """
    from turncheck.checks.register import open_sheet
    from turncheck.errors import shown
    from turncheck.sheet.coco import export_keypoints

    count, averages = export_keypoints(open_sheet(sheet), file)
    if not quiet:
        click.echo(f"Wrote {count} keypoints to {shown(str(file))}.")
        if averages:
            click.echo(f"{averages} of them are averages of repeated placings.")


@click.command("import", short_help="Take in placings from COCO keypoints (JSON).")
@click.argument("sheet", type=UserPath())
@click.argument("file", type=UserPath())
@click.option("--replace", is_flag=True, help="Also where a point is placed already.")
@quiet_option
def import_(sheet: Path, file: Path, replace: bool, quiet: bool) -> None:
    """Take the COCO keypoints (JSON) of FILE into the landmarks.csv of SHEET.

    The pictures are told by their file names, the keypoints by the points' names. What is
    placed already stays as it is, unless --replace says otherwise.

    \b
    Example:      turncheck import kettle kettle_keypoints.json
    Exit status:  0 taken in, 2 the sheet or the file can't be used
    """
    from turncheck.checks.register import open_sheet
    from turncheck.errors import quoted
    from turncheck.sheet.coco import import_keypoints

    imported = import_keypoints(open_sheet(sheet), file, replace=replace)
    if not quiet:
        say_merged(
            imported,
            *(
                f"Placings left out: {picture.placings} on {quoted(picture.file)}, which is not "
                f"one drawing of this sheet; {picture.hint}"
                for picture in imported.passed_over
            ),
        )
