"""Ink and colours: the fills side by side, and how heavy each drawing's outline is."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from types import SimpleNamespace
from typing import TYPE_CHECKING

from turncheck.assets.pages import heading
from turncheck.checks.finding import Kind
from turncheck.geometry.guard_bands import Verdict
from turncheck.images.colour import difference
from turncheck.plain import number, spoken, together
from turncheck.report.facts import OPEN, Facts, Row
from turncheck.wording.findings import VERDICTS

if TYPE_CHECKING:
    from turncheck.geometry.colour_matching import MatchedColour
    from turncheck.images.flat_colours import Fill

#: What a colour difference (CIEDE2000) up to so much looks like. 2.3 is the just noticeable
#: difference that the palette check allows; the others are common practice, no source.
LOOKS_LIKE = (
    (1.0, "the same to the eye"),
    (2.3, "hardly to be seen"),
    (5.0, "a shade off"),
    (10.0, "clearly off"),
)
BEYOND = "another colour"
#: Side of a crop on the screen, px, and of what it shows, in shares of the figure height.
CROP_SIDE, CROP_SHOWS = 104.0, 0.2
#: Width of the heaviest line on the screen, px.
HEAVIEST = 12.0


@dataclass(frozen=True)
class Cell:
    """A fill in one drawing; '' is what does not apply.

    Attributes
    ----------
    kind
        'fill', 'missing' or 'unseen'.
    row
        Id of the row that it was compared in.
    hex, beside
        Its colour and the one that it is held against.
    """

    kind: str
    says: str
    verdict: str = ""
    row: str = ""
    hex: str = ""
    beside: str = ""


def build_inks(facts: Facts) -> SimpleNamespace:
    """Return the fills of all drawings in rows, what to look at, and the outlines' weights.

    `paints` are a fill's name, its colour and a cell a drawing, `differing` those that differ
    somewhere, `agreeing` how many are on model somewhere; `lines` a drawing, the row about its
    line weight, and the line's width in px and as a share of the figure height; `uneven` whether
    one of them is to be looked at, `compared` whether any was compared.
    """
    measured, reference = facts.checked.measured, facts.checked.sheet.reference
    rows = {
        (row.view, row.subject.name): row for row in facts.rows if row.subject.kind is Kind.FILL
    }
    paints: list[tuple[str, str, list[Cell]]] = []
    faults: list[SimpleNamespace] = []
    single: list[SimpleNamespace] = []
    for swatch in measured.paints:
        label = swatch.label
        seen = [v for v, fill in enumerate(swatch.fills) if fill is not None]
        turned = (row for row in rows.values() if _turned(row, swatch, reference))
        odd = next(turned, None)
        alone = len(seen) == 1 and measured.views[seen[0]] != reference
        cells = [_cell(facts, swatch, view, rows.get((view, label)), odd) for view in facts.views]
        if not alone or any(cell.verdict == Verdict.OFF_MODEL for cell in cells):
            paints.append((*_named(swatch.first), cells))
        for view, cell in zip(facts.views, cells, strict=True):
            is_fault = cell.verdict == Verdict.OFF_MODEL or cell.kind == "missing"
            if is_fault or (alone and cell.kind == "fill"):
                spot = _spot(facts, swatch, view, cell, rows.get((view, label)))
                (faults if is_fault else single).append(spot)
    lines = list(_lines(facts))
    return SimpleNamespace(
        paints=paints,
        agreeing=sum(any(c.verdict == Verdict.ON_MODEL for c in cells) for *_, cells in paints),
        differing=[paint for paint in paints if any(map(_differs, paint[2]))],
        faults=faults,
        single=single,
        lines=lines,
        uneven=any(row.verdict in OPEN for _, row, *_ in lines if row),
        compared=any(row.is_measured for _, row, *_ in lines if row),
        per_share=HEAVIEST / max((share for *_, share in lines if share), default=1.0),
        side=CROP_SIDE,
    )


def _differs(cell: Cell) -> bool:
    return cell.verdict in OPEN or cell.kind == "missing"


def looks_like(apart: float) -> str:
    """Return a colour difference (CIEDE2000) in words.

    >>> looks_like(0.4), looks_like(3.1), looks_like(30.0)
    ('the same to the eye', 'a shade off', 'another colour')
    """
    return next((words for limit, words in LOOKS_LIKE if apart <= limit), BEYOND)


@lru_cache(maxsize=256)
def _named(fill: Fill) -> tuple[str, str]:
    """Return a fill's name and hexadecimal."""
    name, hexadecimal = fill.label.rsplit(" ", 1)
    return name, hexadecimal


def _cell(facts: Facts, swatch: MatchedColour, view: str, row: Row | None, odd: Row | None) -> Cell:
    """Return a fill in a drawing; `odd` is the row that the majority turns on the reference."""
    reference = facts.checked.sheet.reference
    fill = swatch.fills[facts.checked.measured.views.index(view)]
    if fill is None:
        missing = row is not None and row.verdict not in (Verdict.NOT_MEASURED, Verdict.WAIVED)
        kind, says = ("missing", "missing") if missing else ("unseen", "not seen from here")
        return Cell(kind, says, row.verdict if row else "", row.id if row else "")
    shown, against = _named(fill)[1], _named(swatch.first)[1]
    if view == reference:
        if odd is not None:
            return Cell("fill", "the odd one out", Verdict.OFF_MODEL, odd.id, shown)
        return Cell("fill", "the reference", "reference", "", shown)
    if row is None or not row.is_measured:
        apart = 0.0 if fill is swatch.first else difference(swatch.first.lab, fill.lab)
        if not apart:
            return Cell("fill", "", hex=shown)
        return Cell("fill", f"{looks_like(apart)}, {number(apart)}", "", "", shown, against)
    if _turned(row, swatch, reference):
        says = "agrees with the other drawings"
        return Cell("fill", says, Verdict.ON_MODEL, row.id, shown)
    says = f"{looks_like(row.drift_pct)}, {number(row.drift_pct)}"
    if row.is_off_model and len([f for f in swatch.fills if f is not None]) == 1:
        says = f"only here; the nearest elsewhere is {number(row.drift_pct)} off"
    return Cell("fill", says, row.verdict, row.id, shown, against)


def _turned(row: Row, swatch: MatchedColour, reference: str) -> bool:
    """Return whether the majority turns this row against the reference."""
    same = row.subject.fill is swatch and row.view != reference
    return same and row.is_off_model and row.blame.odd_view == reference


def _spot(
    facts: Facts, swatch: MatchedColour, view: str, cell: Cell, row: Row | None
) -> SimpleNamespace:
    """Return where to look: at the fill itself, or at one that this drawing lacks."""
    measured = facts.checked.measured
    own = swatch.fills[measured.views.index(view)]
    there = measured.views.index(view) if own else swatch.fills.index(swatch.first)
    fill = own or swatch.first
    says = "missing in this drawing" if cell.kind == "missing" else cell.says
    if own is None:
        says += f"; this is the {spoken(measured.views[there])} drawing, which has it"
    elif row is not None and not row.is_measured:
        says = "only here; the other drawings may hide it"
    side = CROP_SHOWS * measured.figure_height * measured.size(there)
    x, y = fill.at
    share = f"{100.0 * fill.share:.1f} % of the colour"
    return SimpleNamespace(
        title=f"{heading(view)}: {_named(swatch.first)[0]}",
        hex=_named(fill)[1],
        beside=cell.beside if fill is not swatch.first else "",
        do=facts.mend(row) if row is not None else "",
        says=together(f"{says}; {share}"),
        verdict=cell.verdict if cell.verdict in VERDICTS else "",
        row=cell.row or (row.id if row else ""),
        picture=facts.picture_ids[measured.views[there]],
        box=(x - side / 2, y - side / 2, side, side),
        unit=side / CROP_SIDE,
        at=(x, y),
    )


def _lines(facts: Facts) -> Iterator[tuple[str, Row | None, float | None, float | None]]:
    """Yield each drawing with its outline's weight, in px and, brought to one size, as a share."""
    measured = facts.checked.measured
    for view in facts.views:
        v = measured.views.index(view)
        strokes, height = measured.features[v].strokes, measured.size(v) * measured.figure_height
        row = facts.row_about(Kind.LINE_WEIGHT, view)
        width = None if strokes is None else strokes.width
        yield view, row, width, None if width is None else width / height
