"""What a command says of placings that it has taken into a sheet."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from turncheck.taking_in import TakenIn


def say_taken(taken: TakenIn) -> None:
    """Say how many placings were written, and how many stay as they were."""
    click.echo(f"Wrote {len(taken.written)} placings to landmarks.csv.")
    if taken.left:
        click.echo(
            f"{len(taken.left)} are placed already and stay as they are; --replace overwrites them."
        )
