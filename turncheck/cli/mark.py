"""`turncheck mark`: place points in the browser."""

from __future__ import annotations

from pathlib import Path

import click

from turncheck.cli.options import UserPath


@click.command(short_help="Place points by clicking on the drawings in the browser.")
@click.argument("sheet", type=UserPath())
@click.option(
    "--earlier",
    type=UserPath(),
    help="An earlier revision of the sheet: its points are proposed where nothing was redrawn, "
    "elsewhere you see where they lay.",
)
@click.option(
    "--port",
    type=click.IntRange(0, 65535),
    default=0,
    help="Port on this machine.  [default: any that is free]",
)
@click.option("--no-browser", is_flag=True, help="Print the address; don't open a browser.")
@click.option("--quiet", "-q", is_flag=True, help="Print nothing but the address and errors.")
def mark(sheet: Path, earlier: Path | None, port: int, no_browser: bool, quiet: bool) -> None:
    """Place the points of SHEET by clicking on its drawings in the browser.

    SHEET is a folder with a sheet.toml beside the drawings. The page is for this machine alone.
    Every placing is saved to landmarks.csv as it is made, and what you say is not seen to
    not_seen.json beside it; sheet.toml is written only where you add a point on the page or leave
    one out. Who places, and where the page is, are remembered in your own settings, so that a page
    left open goes on after a new start.

    \b
    Example:      turncheck mark sample_views/odo
    Exit status:  0 ended with Ctrl-C, 2 a sheet can't be used
    """
    from turncheck.checking import check
    from turncheck.placing import mark as mark_sheet

    def ready(url: str) -> None:
        click.echo(url)
        if not quiet:
            click.echo("Open this address in a browser. Every placing is saved; Ctrl-C ends.")

    def remark(sentence: str) -> None:
        if not quiet:
            click.echo(sentence)

    before = check(earlier) if earlier else None
    mark_sheet(sheet, earlier=before, port=port, browser=not no_browser, ready=ready, remark=remark)
    if not quiet:
        click.echo("\nEnded. Everything that was placed is in landmarks.csv.")
