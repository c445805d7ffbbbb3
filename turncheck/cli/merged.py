"""What a command says of placings that it has taken into a sheet."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from turncheck.sheet.merging_placings import Merged


def say_merged(merged: Merged, *left_out: str) -> None:
    """Say how many placings were written, which were left out, and how many stay as they were."""
    click.echo(f"Wrote {len(merged.written)} placings to landmarks.csv.")
    for sentence in left_out:
        click.echo(sentence)
    if merged.left:
        click.echo(
            f"{len(merged.left)} are placed already and stay as they are; "
            "--replace overwrites them."
        )
