"""What several commands take: paths that a person names, a folder to write to, silence."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

import click

from turncheck.errors import Fault, TurncheckError

if TYPE_CHECKING:
    from collections.abc import Callable
    from typing import Any, TypeVar

    Command = TypeVar("Command", bound=Callable[..., Any])


class UserPath(click.Path):
    """A path as `click.Path` takes it, which an empty text is not."""

    def __init__(self, **how: Any) -> None:
        super().__init__(path_type=Path, **how)

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Return the path.

        Raises
        ------
        TurncheckError
            If it is empty, or starts in a folder that is gone.
        """
        named = param.get_error_hint(ctx) if param is not None and ctx is not None else ""
        if not os.fspath(value):
            raise TurncheckError(Fault("is empty; name a file or a folder", named.strip("'")))
        try:
            os.path.abspath(value)
        except FileNotFoundError as error:
            says = "the folder that you are in is gone; go to another and run the command again"
            raise TurncheckError(says) from error
        return super().convert(value, param, ctx)


quiet_option = click.option("--quiet", "-q", is_flag=True, help="Print nothing but errors.")


def out_option(
    what: str, default: str = "reports/<character>-<revision>"
) -> Callable[[Command], Command]:
    """Return the option that names another folder for what a command writes."""
    says = f"Folder for the {what}.  [default: {default}]"
    return click.option("--out", type=UserPath(file_okay=False), help=says)
