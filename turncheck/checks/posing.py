"""Posed limbs: an asymmetry on which drawings agree is the body's, and no pair's drift."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import cache, partial

import numpy as np

from turncheck.checks.comparing import compare_levels
from turncheck.checks.finding import Finding, Kind, Subject, not_measured
from turncheck.checks.note import LandmarkName, Note, joined, noted
from turncheck.geometry.guard_bands import Verdict
from turncheck.geometry.measurement import Measurement

#: Standard uncertainties from which on an asymmetry is no noise: those of 99.9 % of normal errors.
_SURE = 3.29


def without_posed(measured: Measurement, check: str, rows: Iterable[Finding]) -> Iterator[Finding]:
    """Yield rows of levels and middles, but of what is posed one row that says so.

    A row that is not on model is the body's own asymmetry where another drawing shows the same one:
    any drawing where it is of a level, the opposite one where it is of a middle. Where there is no
    opposite one, the solved turn says whether the other drawings agree that it is not symmetric.
    Of a limb that is posed no pair is compared.
    """
    rows = list(rows)
    keys = [_keys(measured, row) for row in rows]
    level = cache(partial(compare_levels, measured, check))  # every row of a pair asks for all
    posed = {
        key
        for row, own in zip(rows, keys, strict=True)
        if row.is_measured
        and row.verdict is not Verdict.ON_MODEL
        and _is_agreed(measured, row, rows, level)
        for key in own
    }
    yield from (row for row, own in zip(rows, keys, strict=True) if not posed & own)
    for key in dict.fromkeys(key for own in keys for key in own if key in posed):
        yield not_measured(check, "", *_said(measured, key))


def _is_agreed(
    measured: Measurement, row: Finding, rows: Sequence[Finding], level: Callable[..., Finding]
) -> bool:
    subject, allowed = row.subject, row.tolerance_pct
    v = measured.views.index(row.view)
    if subject.kind is Kind.LEVEL:
        left, right = subject.landmarks
        others = (level(w, left, right, allowed) for w in range(len(measured.views)) if w != v)
        return any(_is_alike(row.drift_pct, other.drift_pct, row, other) for other in others)
    facing = np.cos(np.radians([view.yaw for view in measured.sheet.views.values()]))
    opposite = [
        other
        for other in rows
        if other.subject.name == subject.name
        and other.is_measured
        and facing[v] * facing[measured.views.index(other.view)] < 0.0
    ]
    if not opposite:
        return bool(measured.turn.asymmetric[measured.columns(*subject.landmarks)].all())
    return any(_is_alike(row.drift_pct, -other.drift_pct, row, other) for other in opposite)


def _is_alike(mine: float, theirs: float, row: Finding, other: Finding) -> bool:
    """Whether two drifts are no noise and to the same side of the body."""
    sure = abs(mine) > _SURE * row.uncertainty_pct and abs(theirs) > _SURE * other.uncertainty_pct
    return sure and mine * theirs > 0.0


def _keys(measured: Measurement, row: Finding) -> set[tuple[str, ...]]:
    """Return what a row's landmarks are posed with: both parts of a limb's pair, or themselves."""
    marks = [measured.sheet.vocabulary.landmarks[name] for name in row.subject.landmarks]
    parts = tuple(sorted({mark.part for mark in marks if mark.part}))
    if len(parts) == 2:
        return {parts}
    return {row.subject.landmarks} if row.subject.landmarks else set()


def _said(measured: Measurement, key: tuple[str, ...]) -> tuple[Subject, Note]:
    """Return what a posed part, or posed landmarks, are called, and what is said of them."""
    vocabulary = measured.sheet.vocabulary
    limbs = [vocabulary.part_title(part) for part in key if part in vocabulary.parts]
    if len(limbs) == 2:
        one = limbs[0].replace("left ", "").replace("right ", "")
        name = f"{one.removeprefix('the ')}s"
        text = "the {} are posed: pairs of the {} are not compared; "
        note = noted(text + "set symmetric = false on them if the body is meant so", name, name)
        return Subject(Kind.OTHER, name), note
    names = joined(map(LandmarkName, key), " and ")
    text = "the drawings agree on where {} lies beside the midline: it is not compared; "
    note = noted(text + "set symmetric = false on it if the body is meant so", names)
    return Subject(Kind.OTHER, "/".join(key)), note
