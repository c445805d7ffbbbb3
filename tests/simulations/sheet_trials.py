"""What is said of whole sheets, counted: `python -m tests.simulations.sheet_trials --sheets 150`.

Four views, all landmarks, placing sd 0.15 % of the figure height as believed, placed on the ground
line against the front; 12 % of placings missing, 15 % of the others hidden and twice as uncertain;
unless the case says otherwise.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Mapping
from functools import cache

import numpy as np
import pandas as pd

from tests.figures.markdown import table
from tests.simulations.sheet_bodies import (
    FOUR,
    YAWS,
    Bodies,
    Case,
    Trial,
    accused,
    body,
    height_drift,
    sideways_midline,
    sideways_pair,
    trial,
    two_against_two,
    whole_drawing,
)
from turncheck.checks.finding import Finding, Kind

CASES: Mapping[str, Case] = {
    "clean": Case(),
    "clean, three views": Case(views=FOUR[:3]),
    "clean, five views": Case(views=tuple(YAWS)),
    "clean, asymmetric by 0.2 %": Case(asymmetry=0.2),
    "heavy tails, same sd": Case(tails="sd"),
    "heavy tails, same quartiles": Case(tails="quartile"),
    "offset per view": Case(offset=0.3),
    "hidden four times worse": Case(hidden=8.0),
    "noise twice": Case(noise=2.0),
    "stated and true 0.3 %": Case(stated=0.3),
    "drift 1.5 %": Case(plant=height_drift(1.5)),
    "drift 2 %": Case(plant=height_drift(2.0)),
    "drift 2 %, noise twice": Case(noise=2.0, plant=height_drift(2.0)),
    "drift 1.5 % in the reference": Case(plant=height_drift(1.5, "front")),
    "drift 2 % in the reference": Case(plant=height_drift(2.0, "front")),
    "ground 1.2 % low": Case(plant=whole_drawing(ground_low=1.2)),
    "drawing 1.2 % large": Case(plant=whole_drawing(too_large=1.2)),
    "front at 8 degrees": Case(turned={"front": 8.0}),
    "front at 3 degrees": Case(turned={"front": 3.0}),
    "sideways 3 % in the three-quarter": Case(plant=sideways_midline(3.0)),
    "two against two": Case(plant=two_against_two(1.4)),
    "arm raised": Case(posed=True),
    "back at 177 degrees": Case(turned={"back": -3.0}),
    "back at 177, a pair 2.5 % sideways": Case(turned={"back": -3.0}, plant=sideways_pair(2.5)),
}
GROUPS = {
    ("eye_line", Kind.POINT): "eye line",
    ("eye_line", Kind.LEVEL): "eyes level",
    ("eye_line", Kind.RATIO): "eyes in head",
    ("pivot", Kind.POINT): "pivots",
    ("height", Kind.POINT): "heights",
    ("proportion", Kind.RATIO): "limb ratios",
    ("pivot", Kind.LEVEL): "levels",
    ("pairing", Kind.LEVEL): "levels",
    ("pivot", Kind.SEAT): "seats",
    ("pairing", Kind.MIDDLE): "pairing",
    ("turn", Kind.YAW): "yaw",
    ("turn", Kind.POINT): "sideways",
    ("size", Kind.SCALE): "size",
    ("size", Kind.GROUND): "size",
    ("size", Kind.RULER): "size",
}
#: The tables that are printed: a title, and the figures in it, all that start so.
TABLES = {
    "Whole sheets": ("",),
    "Undecided, of rows measured": ("undecided: ",),
    "Off model, of rows measured": ("off model: ",),
    "On model, of rows measured": ("on model: ",),
    "Not measured, of all rows": ("not measured: ",),
    "True drifts within 1.96 u (of a seat's distance, 85 % are right)": ("covered: ",),
    "Root mean square of error over u (of a seat's distance, 1.41 is right)": ("z: ",),
    "Sheets with a false or further off-model row of the check": ("sheets off by: ",),
    "Called turned, yaws within 1.96 u, and how far they are off in the mean, degrees": (
        "turned: ",
        "yaw covered: ",
        "yaw bias: ",
    ),
}


def group_of(row: Finding) -> str:
    if row.subject.name == "head count":
        return "head count"
    return GROUPS.get((row.check, row.subject.kind), "other")


@cache
def figures(name: str, sheets: int, bodies: Bodies = body, first: int = 0) -> dict[str, float]:
    """All figures of a case by name; shares unless the name says how they are counted."""
    trials = [trial(CASES[name], seed, bodies) for seed in range(first, first + sheets)]
    rows = pd.DataFrame([row for number, one in enumerate(trials) for row in _rows(number, one)])
    return {
        **_sheet_figures(rows, sheets),
        **_planted_figures(trials),
        **_verdict_figures(rows),
        **_coverage_figures(rows),
        **_yaw_figures(rows, sheets, CASES[name].views),
    }


def _rows(number: int, of: Trial) -> Iterator[dict[str, object]]:
    for row in of.rows:
        yield {
            "sheet": number,
            "check": row.check,
            "group": group_of(row),
            "view": row.view,
            "verdict": row.verdict.value.replace("_", " "),
            "error": row.drift_pct - of.true_drift(row) if row.is_measured else np.nan,
            "u": row.uncertainty_pct,
            "off": row.is_off_model,
            "planted": row.is_off_model and of.planted.is_told_by(row),
        }


def _sheet_figures(rows: pd.DataFrame, sheets: int) -> dict[str, float]:
    """Of the sheets: with an off-model row that is not about what was planted; by check."""
    false = rows.off & ~rows.planted
    by_sheet = false.groupby(rows.sheet)
    found = {"sheets off": by_sheet.any().mean(), "off rows a sheet": by_sheet.sum().mean()}
    by_check = false.groupby([rows.check, rows.sheet]).any().groupby("check").sum() / sheets
    return found | {f"sheets off by: {check}": share for check, share in by_check.items()}


def _planted_figures(trials: list[Trial]) -> dict[str, float]:
    """Of the sheets: who is accused of what was planted, and which innocent drawing of anything.

    Where the drawings can't tell who is wrong, to accuse any of what was planted is wrong.
    Found: a row about it is off model on its drawing or accuses it. Named: it is accused. Among
    several: it is said that one of several drawings, it too, is wrong, or that nobody knows which.
    """
    if not trials[0].planted.kinds:
        return {}
    found, named, among, innocent = np.zeros((4, len(trials)), dtype=bool)
    for n, one in enumerate(trials):
        wrong = {*one.planted.views}
        off = [row for row in one.rows if row.is_off_model]
        about = [row for row in off if one.planted.is_told_by(row)]
        named[n] = any(wrong.intersection(accused(row)) for row in about)
        found[n] = named[n] or any(row.view in wrong for row in about)
        among[n] = any(
            not row.blame.settled and (not row.blame.views or wrong <= {*row.blame.views})
            for row in about
        )
        innocent[n] = any(set(accused(row)) - wrong for row in (off if wrong else about))
    shares = {"among several": among, "innocent": innocent}
    if trials[0].planted.views:
        shares = {"found": found, "named": named, **shares}
    return {name: float(share.mean()) for name, share in shares.items()}


def _verdict_figures(rows: pd.DataFrame) -> dict[str, float]:
    known = rows[rows.group != "other"]
    measured = known[known.verdict != "not measured"]
    found = {"undecided": float((measured.verdict == "undecided").mean())}
    for verdict, among in (
        ("undecided", measured),
        ("off model", measured),
        ("on model", measured),
        ("not measured", known),
    ):
        shares = (among.verdict == verdict).groupby(among.group).mean()
        found |= {f"{verdict}: {group}": share for group, share in shares.items()}
    return found


def _coverage_figures(rows: pd.DataFrame) -> dict[str, float]:
    known = rows[rows.error.notna() & (rows.u > 0)]
    z = known.error / known.u
    groups = {"": z[known.group != "seats"]} | {f": {g}": of for g, of in z.groupby(known.group)}
    found = {f"covered{group}": float((of.abs() <= 1.96).mean()) for group, of in groups.items()}
    return found | {f"z{group}": float(np.sqrt((of**2).mean())) for group, of in groups.items()}


def _yaw_figures(rows: pd.DataFrame, sheets: int, views: tuple[str, ...]) -> dict[str, float]:
    yaws = rows[(rows.group == "yaw") & (rows.view != "")]
    off = yaws.groupby("view").off.sum().reindex(views, fill_value=0) / sheets
    z = yaws.error.abs() / yaws.u
    held = (z[z.notna()] <= 1.96).groupby(yaws.view).mean()
    bias = yaws.error[z.notna()].groupby(yaws.view).mean().abs()
    return {
        f"{figure}: {view}": share
        for figure, shares in (("turned", off), ("yaw covered", held), ("yaw bias", bias))
        for view, share in shares.items()
    }


def page(names: list[str], sheets: int) -> str:
    """All tables of some cases, a row a case."""
    found = pd.DataFrame({name: figures(name, sheets) for name in names}).T
    parts = [f"{sheets} sheets a case."]
    for title, starts in TABLES.items():
        columns = {
            column: column.removeprefix(start)
            for start in starts
            for column in found.columns
            if (column.startswith(start) if start else ":" not in column)
        }
        if len(starts) > 1:
            columns = {column: column for column in columns}
        some = found[list(columns) if starts == ("",) else sorted(columns)]
        some = some.loc[:, (some > 0).any()]
        shown = some.map(lambda value: "" if np.isnan(value) else f"{value:.3f}")
        shown = shown[(shown != "").any(axis=1)].rename(columns=columns)
        parts.append(f"## {title}\n\n{table(shown.rename_axis('case').reset_index())}")
    return "\n\n".join(parts)


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--sheets", type=int, default=150)
    asked.add_argument("cases", nargs="*", metavar="case", help=f"of: {'; '.join(CASES)}")
    given = asked.parse_args()
    unknown = set(given.cases) - set(CASES)
    if unknown:
        asked.error(f"no such case: {', '.join(sorted(unknown))}; there are: {'; '.join(CASES)}")
    print(page(given.cases or list(CASES), given.sheets))


if __name__ == "__main__":
    main()
