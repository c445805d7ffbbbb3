"""Sheets of drawings once made, placed again with a drift, noise or another setting."""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Collection, Mapping
from pathlib import Path

import numpy as np
import pandas as pd

from turncheck.checking import Checked
from turncheck.checks.table import COLUMNS
from turncheck.instructions import Instruction, Work

Drift = Mapping[tuple[str, str], float]
#: % of the figure height: a placing as good as exact, so that only the drawings' drift is judged.
EXACT = 0.01


def placings(folder: Path) -> pd.DataFrame:
    """Return a sheet's landmark table as it is written."""
    return pd.read_csv(folder / "landmarks.csv", keep_default_na=False)


def write(folder: Path, table: pd.DataFrame) -> None:
    """Write a landmark table, never into a file that another sheet shares."""
    (folder / "landmarks.csv").unlink(missing_ok=True)
    table.to_csv(folder / "landmarks.csv", index=False, float_format="%.9f")


def replaced(
    clean: Path,
    folder: Path,
    drift: Drift | None = None,
    *,
    noise_px: float = 0.0,
    seed: int = 0,
    leave_out: Collection[str] = (),
    **settings: str | float,
) -> Path:
    """Copy a sheet, its drawings by hard link, with other placings; return the folder.

    Parameters
    ----------
    drift
        (view, landmark) to px up, added to the placing.
    noise_px
        Standard deviation of the noise in x and y, px; not written as `sd`.
    leave_out
        Views that the copy does not have.
    settings
        Top-level entries of `sheet.toml` to set.

    Raises
    ------
    KeyError
        If `drift` names a landmark that the sheet has not placed.
    """
    shutil.copytree(clean, folder, copy_function=os.link)
    table = placings(clean)
    table = table[~table["view"].isin(leave_out)].reset_index(drop=True)
    rows = {key: i for i, key in enumerate(zip(table["view"], table["landmark"], strict=True))}
    moved = table[["x", "y"]].to_numpy(dtype=float, copy=True)
    moved += np.random.default_rng(seed).normal(0.0, noise_px, moved.shape)
    for key, up in (drift or {}).items():
        moved[rows[key], 1] -= up
    write(folder, table.assign(x=moved[:, 0], y=moved[:, 1]))

    head, *views = (clean / "sheet.toml").read_text("utf-8").split("\n[views.")
    lines = [line for line in head.splitlines() if line.split(" = ")[0] not in settings]
    lines += [f"{key} = {json.dumps(value)}" for key, value in settings.items()]
    kept = [f"[views.{view}" for view in views if view.split("]")[0] not in leave_out]
    (folder / "sheet.toml").unlink()
    (folder / "sheet.toml").write_text("\n".join(["\n".join(lines), *kept]), "utf-8")
    return folder


def row(checked: Checked, check: str, view: str, subject: str) -> pd.Series:
    """Return the one finding of a check, view and subject."""
    table = checked.findings
    found = table[
        (table["check"] == check) & (table["view"] == view) & (table["subject"] == subject)
    ]
    assert len(found) == 1, f"{len(found)} rows for {check}, {view}, {subject}"
    return found.iloc[0]


def off_model(checked: Checked) -> pd.DataFrame:
    """Return the rows that are off model."""
    return checked.findings[checked.findings["verdict"] == "off_model"]


def blamed(checked: Checked) -> set[str]:
    """Return every view that an instruction or a majority names."""
    odd = checked.findings["odd_view"]
    return {instruction.view for instruction in checked.instructions} | set(odd[odd != ""])


def only_move(checked: Checked) -> Instruction:
    """Return the one instruction that moves landmarks; what whole drawings need is not counted."""
    moves = [i for i in checked.instructions if i.work is not Work.WHOLE]
    assert len(moves) == 1, [i.says for i in moves]
    return moves[0]


def only_whole(checked: Checked) -> Instruction:
    """Return the one instruction there is, which is about a whole drawing."""
    assert len(checked.instructions) == 1, [i.says for i in checked.instructions]
    assert checked.instructions[0].work is Work.WHOLE
    return checked.instructions[0]


def same_findings(
    one: pd.DataFrame, other: pd.DataFrame, but: Collection[str] = (), within: float = 1e-6
) -> None:
    """Assert that two findings tables say the same in any order of rows, numbers to `within`."""
    key = ["check", "view", "subject"]
    columns = [name for name in COLUMNS if name not in but]
    tables = [t[columns].sort_values(key).reset_index(drop=True) for t in (one, other)]
    pd.testing.assert_frame_equal(*tables, rtol=within, atol=within)
