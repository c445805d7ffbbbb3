"""`turncheck dots`: place landmarks from coloured dots in the drawings."""

from __future__ import annotations

from pathlib import Path

import click

from turncheck.cli.merged import say_merged
from turncheck.cli.options import UserPath, quiet_option


@click.command(short_help="Place points from coloured dots in the drawings.")
@click.argument("sheet", type=UserPath())
@click.option(
    "--from",
    "named_on",
    metavar="VIEW",
    help="Name the dots after this view, whose points are placed on its dots.",
)
@click.option("--write", is_flag=True, help="Write what is sure into landmarks.csv.")
@click.option("--replace", is_flag=True, help="With --write: also where a point is placed.")
@click.option(
    "--preview",
    type=UserPath(),
    metavar="FOLDER",
    help="Show what was found in pictures in this folder.",
)
@quiet_option
def dots(
    sheet: Path,
    named_on: str | None,
    write: bool,
    replace: bool,
    preview: Path | None,
    quiet: bool,
) -> None:
    """Find the coloured dots left on the pivots in the drawings of SHEET, and name them.

    The colours stand in the sheet.toml ([dots], a point = "#rrggbb"; [views.NAME.dots] where
    a view differs), or are learned from the view named by --from. Without --write nothing is
    written; what is in doubt never is.

    \b
    Example:      turncheck dots sample_views/dots --write
    Exit status:  0 read, 2 the sheet can't be used
    """
    from turncheck.files.atomic import save_new
    from turncheck.placing.dots import dots as read_dots
    from turncheck.wording.drawings import drawing_remarks

    if replace and not write:
        raise click.UsageError("--replace does nothing without --write; add it")
    found = read_dots(sheet, named_on=named_on)
    pictures = found.previews(preview) if preview is not None else {}
    merged = None
    if write:
        merged = found.write(replace=replace, previews=pictures)
    elif pictures:
        save_new(pictures)
    if not quiet:
        for remark in drawing_remarks(view.picture for view in found.sheet.views.values()):
            click.echo(remark)
        click.echo(f"{'view':16}{'landmark':14}{'x':>9}{'y':>9}{'radius':>8}")
        for one in found.readings:
            place = f"{'not found':>26}"
            if one.dot is not None:
                place = f"{one.dot.x:9.2f}{one.dot.y:9.2f}{one.dot.radius:8.1f}"
            certainty = "" if one.dot is None else f"  {one.doubt or 'sure'}"
            click.echo(f"{one.view:16}{one.landmark:14}{place}{certainty}")
        if merged is not None:
            say_merged(merged)
        else:
            sure = len(found.placings)
            click.echo(f"Nothing is written; --write places the {sure} that are sure.")
