"""`turncheck pivots`: where each pivot goes in each drawing."""

from __future__ import annotations

from pathlib import Path

import click

from turncheck.cli.options import UserPath, out_option, quiet_option


@click.command(short_help="Write where each pivot goes, for the rig.")
@click.argument("sheet", type=UserPath())
@out_option("tables")
@quiet_option
def pivots(sheet: Path, out: Path | None, quiet: bool) -> None:
    """Write where each pivot of SHEET goes in each drawing, as all drawings agree on it.

    Writes pivots.csv, body.csv, pivots.json and pivots.html: places in px of each drawing and in
    the units that [rig] in sheet.toml names, what carries what, near and far, hidden behind which
    part, and the parts that can't be seen at all.

    \b
    Example:      turncheck pivots sample_views/odo
    Exit status:  0 written, 2 the input can't be used
    """
    from turncheck.checking import pivots as pivots_of_sheet
    from turncheck.errors import shown
    from turncheck.handover.save import save_pivots
    from turncheck.plain import counted, listed, spoken
    from turncheck.wording.findings import VERDICTS

    found = pivots_of_sheet(sheet)
    folder = out or Path("reports") / found.checked.sheet.slug
    written = save_pivots(found, folder)
    if quiet:
        return
    of = found.checked
    drawings = counted(len(of.measured.views), "drawing")
    many = counted(len({place.pivot for place in found.places}), "pivot")
    click.echo(f"{of.sheet.character}, revision {of.sheet.revision}: {many} in {drawings}")
    open_ones = {place.title for place in found.places if not place.settled}
    if open_ones:
        click.echo(f"  Not settled between the drawings, so as drawn: {listed(sorted(open_ones))}.")
    for view in of.measured.views:
        titles = [one.title for one in found.hidden if one.view == view]
        if titles:
            click.echo(f"  {spoken(view)}: hidden, or not placed: {listed(titles)}")
    if of.instructions:
        click.echo(f"  {VERDICTS[of.verdict]}: {of.how_much}; redraw before you build on them")
    click.echo(f"Wrote {', '.join(shown(str(path)) for path in written)}")
