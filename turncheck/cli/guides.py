"""`turncheck guides`: the character at angles that are not drawn yet."""

from __future__ import annotations

from pathlib import Path

import click

from turncheck.cli.user_path import UserPath


@click.command(short_help="Draw guides for angles that are not drawn yet.")
@click.argument("sheet", type=UserPath())
@click.option(
    "--yaw",
    "yaws",
    type=click.FloatRange(-180, 180),
    multiple=True,
    help="An angle, in degrees: 60 turns the nose to the right. May be given several times.",
)
@click.option(
    "--every",
    type=click.FloatRange(1, 180),
    help="The whole turn, in steps of so many degrees.",
)
@click.option("--colours", is_flag=True, help="Carry the drawings' colours, faint, not only lines.")
@click.option(
    "--out",
    type=UserPath(file_okay=False),
    help="Folder for the guides.  [default: reports/<character>-<revision>/guides]",
)
@click.option("--quiet", "-q", is_flag=True, help="Print nothing but errors.")
def guides(
    sheet: Path,
    yaws: tuple[float, ...],
    every: float | None,
    colours: bool,
    out: Path | None,
    quiet: bool,
) -> None:
    """Draw the character of SHEET at angles that are not drawn yet, to draw over.

    For each angle writes a transparent picture and the same as SVG: the nearest drawing bent to
    the angle, the heights, where each point falls and how surely, the limbs, near over far, and
    the outline: the widest and the narrowest that the drawings allow, and the best guess. Two
    tables hold the same as numbers.

    \b
    Example:      turncheck guides sample_views/odo --yaw 60
    Exit status:  0 written, 2 the input can't be used
    """
    from turncheck.checking import guides as guides_of_sheet
    from turncheck.errors import shown
    from turncheck.handover.guides import whole_turn
    from turncheck.handover.guides_save import save_guides
    from turncheck.plain import counted, degrees, listed
    from turncheck.wording.findings import VERDICTS

    if not yaws and every is None:
        raise click.UsageError("say which angle: --yaw 60, or --every 15 for the whole turn")
    asked = [*yaws, *(whole_turn(every) if every else [])]
    found = guides_of_sheet(sheet, asked)
    of = found.checked
    folder = out or Path("reports") / of.sheet.slug / "guides"
    written = save_guides(found, folder, colours=colours)
    if quiet:
        return
    many = counted(len(found.angles), "angle")
    click.echo(f"{of.sheet.character}, revision {of.sheet.revision}: {many}")
    for angle in found.angles:
        known = int(angle.spots.known.sum())
        lost = [
            of.sheet.vocabulary.landmarks[name].title
            for name, known in zip(angle.landmarks, angle.spots.known, strict=True)
            if not known and name != "ground"
        ]
        also = f"; not known: {listed(lost)}" if lost else ""
        click.echo(f"  {degrees(angle.canvas.yaw)}: {counted(known, 'point')}{also}")
        if not len(angle.rows):
            click.echo("    no outline: no two drawings show the figure from different sides")
    for warning in of.warnings:
        click.echo(f"  First: {shown(warning.says)}.")
    if of.instructions:
        click.echo(f"  {VERDICTS[of.verdict]}: {of.how_much}; redraw before you build on them")
    click.echo(f"Wrote {counted(len(written), 'file')} to {shown(str(folder))}")
