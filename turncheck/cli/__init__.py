"""The command line: one thin file per command. Heavy imports wait until a command runs."""

from __future__ import annotations

import errno
import gc
import io
import os
import sys
from collections.abc import Iterable, Iterator, Sequence
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


class _Ended(click.ClickException):
    """A command that came to no verdict: its exit status, and sentences that say why."""

    def __init__(self, exit_code: int, *sentences: str) -> None:
        super().__init__("\n".join(sentences))
        self.exit_code = exit_code  # type: ignore[misc]
        self._sentences = sentences

    def show(self, file: Any = None) -> None:
        for sentence in self._sentences:
            _tell(sentence)


def _refused(faults: Sequence[Fault]) -> Iterator[str]:
    """Yield the sentences that say why input can't be used."""
    alike = _alike(faults)
    for fault, rows in alike[:_FAULTS_MOST]:
        yield fault.told(rows - 1)
    left = sum(rows for _, rows in alike[_FAULTS_MOST:])
    if left:
        files = {fault.file for fault in faults}
        of = f" in {shown(*files)}" if len(files) == 1 and "" not in files else ""
        yield f"and {left} more {'fault' if left == 1 else 'faults'}{of}"


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
            raise _Ended(NOBODY_LISTENS) from error  # which needs no word
        from turncheck.files.atomic import has_written

        done = "; what it had to write is written" if has_written() else ""
        says = f"the answer can't be printed ({error.strerror}){done}"
        raise _Ended(TurncheckError.exit_code, says) from error


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
            raise _Ended(error.exit_code, *_refused(error.faults)) from error
        except KeyboardInterrupt as error:  # which is no verdict
            from turncheck.files.atomic import has_written

            says = "stopped" if has_written() else "stopped; nothing was written"
            raise _Ended(STOPPED, says) from error


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
