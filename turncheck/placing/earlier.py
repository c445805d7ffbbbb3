"""Proposes placings from an earlier revision of the sheet, whose drawings were placed already."""

from __future__ import annotations

import math
from dataclasses import replace

from turncheck.geometry.heights import averaged
from turncheck.geometry.placing_sd import stated_sd
from turncheck.instructions.result import Result
from turncheck.placing.proposing import UNSEEN_SD, Proposal
from turncheck.revisions.carrying import carry
from turncheck.sheet.model import Sheet


def proposals_from(earlier: Result, sheet: Sheet) -> dict[tuple[str, str], Proposal]:
    """Return by view and landmark where a checked sheet's points lie on its next revision.

    Those around which the drawing is unchanged lie right; where it has changed, a point is only
    shown where it would lie had it not moved, and a person places it.
    """
    carried = carry(earlier, sheet, ())
    source = f"revision {earlier.sheet.revision}"
    percent = {
        view: earlier.measured.figure_height * earlier.measured.size(v) * lies.scale / 100.0
        for v, view in enumerate(earlier.measured.views)
        if (lies := carried.laid.get(view)) is not None
    }
    found = {
        (one.view, one.landmark): Proposal(
            one.view, one.landmark, one.x, one.y, source, UNSEEN_SD * percent[one.view], True
        )
        for one in carried.uncarried
        if math.isfinite(one.x)
    }
    for (view, name), one in averaged(carried.placings).items():
        sd = stated_sd(sheet.placing_sd * percent[view], one.hidden, one.sd)
        found[view, name] = Proposal(view, name, one.x, one.y, source, sd, hidden=one.hidden)
    return {
        key: replace(proposal, x=round(proposal.x, 2), y=round(proposal.y, 2))
        for key, proposal in found.items()
    }
