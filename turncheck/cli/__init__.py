"""The command line: one thin file per command. Heavy imports wait until a command runs."""

from __future__ import annotations

import gc
import io
import re
import sys
from collections.abc import Iterable
from typing import Any

import click

import turncheck
from turncheck.cli.check import check
from turncheck.cli.dots import dots
from turncheck.cli.exchange import export_, import_
from turncheck.cli.mark import mark
from turncheck.cli.new import new
from turncheck.cli.split import split
from turncheck.errors import STOPPED, TurncheckError

#: Faults that are shown one by one; one cause may give hundreds. Common practice, no source.
_MOST_FAULTS = 10


class _Refusal(click.ClickException):
    """Input that can't be used, shown as sentences."""

    exit_code = TurncheckError.exit_code

    def __init__(self, error: TurncheckError) -> None:
        super().__init__(str(error))
        self.faults = error.faults
        self.of = f" in {error.file}" if error.file else ""

    def show(self, file: Any = None) -> None:
        alike = _alike(self.faults)
        for (before, said), rows in alike[:_MOST_FAULTS]:
            more = f" and {len(rows) - 1} more" if len(rows) > 1 else ""
            _tell(f"{before}{rows[0]}{more}{said}")
        left = sum(len(rows) for _, rows in alike[_MOST_FAULTS:])
        if left:
            _tell(f"and {left} more {'fault' if left == 1 else 'faults'}{self.of}")


class _Stopped(click.ClickException):
    """Ctrl-C, which is no verdict."""

    exit_code = STOPPED

    def __init__(self) -> None:
        from turncheck.files.atomic import has_written

        super().__init__("stopped" if has_written() else "stopped; nothing was written")

    def show(self, file: Any = None) -> None:
        _tell(self.message)


def _alike(faults: Iterable[str]) -> list[tuple[tuple[str, str], list[str]]]:
    """Gather faults that differ in their row alone: what stands before and after it, and the rows.

    >>> _alike(["a.csv, row 2: no view", "a.csv, row 5: no view", "a.csv: is old"])
    [(('a.csv, row ', ': no view'), ['2', '5']), (('a.csv: is old', ''), [''])]
    """
    found: dict[tuple[str, str], list[str]] = {}
    for fault in faults:
        row = re.fullmatch(r"(.*?, row )(\d+)(: .*)", fault)
        before, number, said = row.groups() if row else (fault, "", "")
        found.setdefault((before, said), []).append(number)
    return list(found.items())


def _tell(sentence: str) -> None:
    click.echo(f"{click.style('turncheck:', fg='red')} {sentence}", err=True)


class _Commands(click.Group):
    def invoke(self, ctx: click.Context) -> Any:
        for stream in (sys.stdout, sys.stderr):
            if isinstance(stream, io.TextIOWrapper):  # a terminal may not know every letter
                stream.reconfigure(errors="backslashreplace")
        try:
            return super().invoke(ctx)
        except TurncheckError as error:
            raise _Refusal(error) from error
        except KeyboardInterrupt as error:
            raise _Stopped from error


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
    except KeyboardInterrupt:  # before or after a command's own work
        _tell("stopped")
        sys.exit(STOPPED)
    finally:
        gc.freeze()
