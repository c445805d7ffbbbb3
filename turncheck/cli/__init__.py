"""The command line: one thin file per command. Heavy imports wait until a command runs."""

from __future__ import annotations

import gc
import io
import sys
from typing import Any

import click

import turncheck
from turncheck.cli.check import check
from turncheck.cli.dots import dots
from turncheck.cli.exchange import export_, import_
from turncheck.cli.mark import mark
from turncheck.cli.new import new
from turncheck.cli.split import split
from turncheck.errors import TurncheckError


class _Refusal(click.ClickException):
    """Input that can't be used, shown as sentences."""

    exit_code = TurncheckError.exit_code

    def __init__(self, error: TurncheckError) -> None:
        super().__init__(str(error))
        self.faults = error.faults

    def show(self, file: Any = None) -> None:
        for fault in self.faults:
            click.echo(f"{click.style('turncheck:', fg='red')} {fault}", err=True)


class _Commands(click.Group):
    def invoke(self, ctx: click.Context) -> Any:
        for stream in (sys.stdout, sys.stderr):
            if isinstance(stream, io.TextIOWrapper):  # a terminal may not know every letter
                stream.reconfigure(errors="backslashreplace")
        try:
            return super().invoke(ctx)
        except TurncheckError as error:
            raise _Refusal(error) from error


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(turncheck.__version__, prog_name="turncheck")
def main() -> None:
    """Check a character's turnaround drawings against each other before rigging.

    \b
    Start a sheet:   turncheck new kettle front.png side.png back.png
    Check it:        turncheck check kettle
    """


main.add_command(new)
main.add_command(split)
main.add_command(mark)
main.add_command(dots)
main.add_command(export_)
main.add_command(import_)
main.add_command(check)


def start() -> None:
    """Run as a program, which ends at once: nothing that is left is looked through for garbage."""
    try:
        main(prog_name="turncheck")
    finally:
        gc.freeze()
