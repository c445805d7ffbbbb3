"""Tries a constant at several values, to see what the figures it serves owe to it."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from importlib import import_module
from typing import Any

import pandas as pd

from tests.figures.markdown import table

Row = Mapping[str, Any]

STAR = " *"
"""Marks the value in use."""


def value_of(constant: str) -> Any:
    """Return the value that a constant such as 'numerics.robust.TUKEY_C' has in turncheck."""
    home, name = constant.rsplit(".", 1)
    return getattr(import_module(f"turncheck.{home}"), name)


@contextmanager
def set_to(constant: str, value: Any) -> Iterator[None]:
    """Set a constant of turncheck, also where other modules of it have imported the constant."""
    name, usual = constant.rsplit(".", 1)[1], value_of(constant)
    holders = [
        module
        for key, module in list(sys.modules.items())
        if key.startswith("turncheck") and getattr(module, name, None) is usual
    ]
    try:
        for module in holders:
            setattr(module, name, value)
        yield
    finally:
        for module in holders:
            setattr(module, name, usual)


def sweep(constant: str, values: Sequence[Any], measure: Callable[[], Row]) -> pd.DataFrame:
    """Return what `measure` gives at each value, a row each; the value in use has a star."""
    usual = value_of(constant)
    rows = []
    for value in values:
        with set_to(constant, value):
            row = measure()
        star = STAR if value == usual else ""
        rows.append({"constant": f"`{constant}`", "value": f"{value}{star}", **row})
    return pd.DataFrame(rows)


def tried(measure: Callable[[], Row], constants: Mapping[str, Sequence[Any]]) -> str:
    """Return the table of what `measure` gives at each value of each constant."""
    measure()  # so that no row's time is spent on drawing the sheets
    return table(pd.concat([sweep(name, values, measure) for name, values in constants.items()]))
