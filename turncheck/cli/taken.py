"""What a command says of placings that it has taken into a sheet."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from turncheck.sheet.merging_placings import Merged


def say_taken(taken: Merged) -> None:
    """Say how many placings were written, which were left out, and how many stay as they were."""
    click.echo(f"Wrote {len(taken.written)} placings to landmarks.csv.")
    for sentence in taken.passed_over:
        click.echo(f"{sentence[0].upper()}{sentence[1:]}")
    if taken.left:
        click.echo(
            f"{len(taken.left)} are placed already and stay as they are; --replace overwrites them."
        )
