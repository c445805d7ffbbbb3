"""`turncheck guides`: layers to redraw by, and the character at angles that are not drawn yet."""

from __future__ import annotations

from pathlib import Path

import click

from turncheck.cli.options import UserPath, out_option, quiet_option


@click.command(short_help="Draw guides to redraw by, and for angles that are not drawn yet.")
@click.argument("sheet", type=UserPath())
@click.option(
    "--yaw",
    "yaws",
    type=click.FloatRange(-180, 180),
    multiple=True,
    help="An angle not drawn yet, in degrees: 60 turns the nose to the right. May be given often.",
)
@click.option(
    "--every",
    type=click.FloatRange(1, 180),
    help="The whole turn, in steps of so many degrees.",
)
@click.option("--colours", is_flag=True, help="Carry the drawings' colours, faint, not only lines.")
@out_option("guides", "reports/<character>-<revision>/guides")
@quiet_option
def guides(
    sheet: Path,
    yaws: tuple[float, ...],
    every: float | None,
    colours: bool,
    out: Path | None,
    quiet: bool,
) -> None:
    """Draw what helps to redraw the drawings of SHEET, and to draw it at further angles.

    For each drawing with work to do writes a transparent picture of its size, and the same as
    SVG, to lay over it in any painting program: the heights of the other drawings, where each
    point that is off is and should be, the part or the whole drawing put right, and the outline
    where the others have it.

    With --yaw or --every also writes, for each angle, one to draw over: the nearest drawing bent
    to the angle, the heights, where each point falls and how surely, the limbs, near over far, and
    the outline: the widest and the narrowest that the drawings allow, and the best guess. Two
    tables hold the same as numbers.

    \b
    Example:      turncheck guides sample_views/pim
                  turncheck guides sample_views/odo --yaw 60
    Exit status:  0 written, 2 the input can't be used
    """
    from turncheck.checking import guides as guides_of_sheet
    from turncheck.errors import shown
    from turncheck.handover.guides import whole_turn
    from turncheck.handover.guides_save import save_guides
    from turncheck.handover.guides_words import guides_words
    from turncheck.report import save_again

    turn = whole_turn(every) if every else []
    found = guides_of_sheet(sheet, [*yaws, *turn])
    folder = out or Path("reports") / found.checked.sheet.slug / "guides"
    saved = save_guides(found, folder, colours=colours, turn=turn)
    updated = bool(turn) and save_again(found.checked, folder)
    if not quiet:
        for line in guides_words(found, saved, shown(str(folder))):
            click.echo(line)
        if updated:
            click.echo(f"Report updated: {shown(str(folder.parent / 'report.html'))}")
