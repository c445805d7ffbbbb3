"""Tries a constant at several values, to see what the figures it serves owe to it.

The tables in DEVELOPERS.md come from the `main` of the modules that use this.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from importlib import import_module
from typing import Any

import pandas as pd


@contextmanager
def set_to(constant: str, value: Any) -> Iterator[None]:
    """Set a module's constant, also where other modules of the package have imported it.

    Parameters
    ----------
    constant
        Such as 'turncheck.numerics.robust.TUKEY_C'.
    """
    home, name = constant.rsplit(".", 1)
    usual = getattr(import_module(home), name)
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


def sweep(
    constant: str, values: Sequence[Any], measure: Callable[[], Mapping[str, Any]]
) -> pd.DataFrame:
    """Return what `measure` gives at each value, a row each; the value in use has a star."""
    home, name = constant.rsplit(".", 1)
    usual = getattr(import_module(home), name)
    rows = []
    for value in values:
        with set_to(constant, value):
            rows.append({name: f"{value}{' *' if value == usual else ''}", **measure()})
    return pd.DataFrame(rows)
