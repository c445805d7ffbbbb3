"""`turncheck approve`: sign a sheet that is on model."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from turncheck.cli.options import UserPath, quiet_option


@click.command(short_help="Sign a sheet that is on model.")
@click.argument("sheet", type=UserPath())
@click.option("--by", required=True, metavar="ROLE", help="Who approves, as in 'art lead'.")
@click.option("--note", default="", metavar="TEXT", help="What is to be remembered of it.")
@click.option(
    "--strict", is_flag=True, help="Refuse what is too close to call, or warned of, as well."
)
@quiet_option
def approve(sheet: Path, by: str, note: str, strict: bool, quiet: bool) -> None:
    """Check SHEET and, where nothing is off model that is not waived, sign it.

    Writes approval.json beside sheet.toml, with the SHA-256 of every drawing, of the points and of
    the settings, and adds it to approvals.jsonl, which keeps all of them. From then on a check
    says whether the sheet still is what was approved.

    \b
    Example:      turncheck approve sample_views/odo --by "art lead"
    Exit status:  0 approved, 1 it may not be, 2 the input can't be used
    """
    from turncheck.checking import check
    from turncheck.errors import UNSHOWN, TurncheckError, shown
    from turncheck.revisions.approving import approve as sign
    from turncheck.revisions.approving import why_not
    from turncheck.sheet.approval import APPROVAL_FILE

    if not by.strip() or UNSHOWN.search(by + note):
        raise TurncheckError("--by and --note want plain words on one line, --by at least one")
    checked = check(sheet)
    name = f"{checked.sheet.character}, revision {checked.sheet.revision}"
    reasons = why_not(checked, strict=strict)
    if reasons:
        click.echo(f"{name} is not approved: {'; '.join(reasons)}. Nothing was written.")
        sys.exit(1)
    sign(checked, by.strip(), note.strip())
    if quiet:
        return
    click.echo(f"{name}: approved by {shown(by.strip())}")
    for warning in checked.warnings:
        click.echo(f"  With a warning that stands: {warning.says}.")
    click.echo(f"Wrote {shown(str(checked.sheet.folder / APPROVAL_FILE))}")
