"""The command line: one thin file per command. Heavy imports wait until a command runs."""

from __future__ import annotations

import errno
import gc
import io
import os
import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import Any, TextIO

import click

from turncheck.cli.approve import approve
from turncheck.cli.check import check
from turncheck.cli.compare import compare
from turncheck.cli.dots import dots
from turncheck.cli.exchange import export_, import_
from turncheck.cli.guides import guides
from turncheck.cli.learn import learn
from turncheck.cli.mark import mark
from turncheck.cli.new import new
from turncheck.cli.pivots import pivots
from turncheck.cli.split import split
from turncheck.cli.survey import survey
from turncheck.errors import NOBODY_LISTENS, STOPPED, Fault, TurncheckError, shown
from turncheck.files.version import VERSION

# small matrices gain nothing by more threads, nor pydantic by looking through all packages for
# plugins; before either is imported
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")

#: Faults that are shown one by one; one cause may give hundreds. Common practice, no source.
_FAULTS_MOST = 10
#: What keeps an answer from being printed: nobody reads it, or the disk is full or broken.
_NOT_PRINTED = (errno.EPIPE, errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO)


class _Refusal(click.ClickException):
    """Input that can't be used, shown as sentences."""

    exit_code = TurncheckError.exit_code

    def __init__(self, error: TurncheckError) -> None:
        super().__init__(str(error))
        self.faults = error.faults

    def show(self, file: Any = None) -> None:
        alike = _alike(self.faults)
        for fault, rows in alike[:_FAULTS_MOST]:
            _tell(fault.told(rows - 1))
        left = sum(rows for _, rows in alike[_FAULTS_MOST:])
        if left:
            files = {fault.file for fault in self.faults}
            of = f" in {shown(*files)}" if len(files) == 1 and "" not in files else ""
            _tell(f"and {left} more {'fault' if left == 1 else 'faults'}{of}")


class _Stopped(click.ClickException):
    """Ctrl-C, which is no verdict."""

    exit_code = STOPPED

    def __init__(self) -> None:
        from turncheck.files.atomic import has_written

        super().__init__("stopped" if has_written() else "stopped; nothing was written")

    def show(self, file: Any = None) -> None:
        _tell(self.message)


class _Unprinted(click.ClickException):
    """An answer that can't be printed: the disk that it goes to is full."""

    exit_code = TurncheckError.exit_code

    def show(self, file: Any = None) -> None:
        _tell(self.message)


class _Unread(click.ClickException):
    """An answer that nobody reads to its end, which needs no word."""

    exit_code = NOBODY_LISTENS

    def show(self, file: Any = None) -> None:
        pass


@contextmanager
def _printing() -> Iterator[None]:
    """Tell an answer that can't be printed from every other error."""
    try:
        yield
    except OSError as error:
        if error.errno not in _NOT_PRINTED or error.filename is not None:
            raise
        _silence(sys.stdout)
        if error.errno == errno.EPIPE:
            raise _Unread("") from error
        from turncheck.files.atomic import has_written

        done = "; what it had to write is written" if has_written() else ""
        raise _Unprinted(f"the answer can't be printed ({error.strerror}){done}") from error


def _silence(stream: TextIO) -> None:
    """Let go what is still to be printed, which would be tried once more at the end."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())


def _alike(faults: Iterable[Fault]) -> list[tuple[Fault, int]]:
    """Gather faults that differ in their row alone: the first of each, and how many there are.

    >>> places = (2, 5, "[views]")
    >>> [(str(one), rows) for one, rows in _alike(Fault("is old", "a", p) for p in places)]
    [('a, row 2: is old', 2), ('a, [views]: is old', 1)]
    """
    found: dict[tuple[str, str, str | None], list[Fault]] = {}
    for fault in faults:
        place = None if isinstance(fault.place, int) else fault.place
        found.setdefault((fault.file, fault.says, place), []).append(fault)
    return [(alike[0], len(alike)) for alike in found.values()]


def _tell(sentence: str) -> None:
    click.echo(f"{click.style('turncheck:', fg='red')} {sentence}", err=True)


class _Commands(click.Group):
    def make_context(self, *how: Any, **more: Any) -> click.Context:
        with _printing():  # the page of help
            return super().make_context(*how, **more)

    def invoke(self, ctx: click.Context) -> Any:
        for stream in (sys.stdout, sys.stderr):
            if isinstance(stream, io.TextIOWrapper):  # a terminal may not know every letter
                stream.reconfigure(errors="backslashreplace")
        try:
            with _printing():
                return super().invoke(ctx)
        except click.UsageError as error:
            raise click.UsageError(shown(error.format_message()), error.ctx) from error
        except TurncheckError as error:
            raise _Refusal(error) from error
        except KeyboardInterrupt as error:
            raise _Stopped from error


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(VERSION, prog_name="turncheck")
def main() -> None:
    """Check a character's turnaround drawings against each other before rigging.

    \b
    Start a sheet:   turncheck new kettle front.png side.png back.png
    Check it:        turncheck check kettle
    """


for command in (
    new,
    split,
    mark,
    dots,
    export_,
    import_,
    check,
    compare,
    approve,
    pivots,
    guides,
    survey,
    learn,
):
    main.add_command(command)


def start() -> None:
    """Run as a program, which ends at once: nothing that is left is looked through for garbage."""
    try:
        main(prog_name="turncheck")
    except KeyboardInterrupt:  # before or after a command's own work
        _tell("stopped")
        sys.exit(STOPPED)
    except OSError as error:
        if error.errno not in _NOT_PRINTED:
            raise
        _silence(sys.stderr)  # not even a fault can be told: the exit status alone says it
        sys.exit(TurncheckError.exit_code)
    finally:
        gc.freeze()
