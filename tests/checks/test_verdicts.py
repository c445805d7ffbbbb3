"""The sheet's verdict, from its rows."""

from types import SimpleNamespace

import numpy as np
import pytest

from turncheck.checks.finding import NOTHING, Blame, Blamed, Cause, Finding, Kind, Subject
from turncheck.checks.verdicts import overall, put_off
from turncheck.geometry.guard_bands import Verdict
from turncheck.geometry.outlines import Contradiction
from turncheck.mistakes.slip import Slip
from turncheck.revisions.approving import why_not


def test_a_sheet_of_which_most_can_not_be_told_is_undecided():
    told = Finding("height", "side", NOTHING, verdict=Verdict.ON_MODEL)
    untold = Finding("eye_line", "side", NOTHING, cause=Cause.UNSURE)
    assert overall([told, told, untold]) is Verdict.ON_MODEL
    assert overall([told, untold, untold]) is Verdict.UNDECIDED


@pytest.mark.parametrize("views", [("side", "back"), ("front",)])
def test_outlines_of_drawings_that_are_other_files_wait_for_the_warning(views):
    conflict = Contradiction("outline", (1, 2), (1.0, 2.0), np.zeros((3, 2)), (), 9.0, False)
    subject = Subject(Kind.OUTLINE, "rows 1 to 2", contradiction=conflict)
    blame = Blame(Blamed.SET, ("back", "side"))
    row = Finding("outline", "back", subject, verdict=Verdict.OFF_MODEL, blame=blame)
    chin = Finding("height", "side", NOTHING, verdict=Verdict.OFF_MODEL)
    slip = Slip("flipped_since", "The side was flipped; flip it back", views, is_of_files=True)
    found, other = put_off([row, chin], [slip])
    waits = "side" in views
    assert found.verdict is (Verdict.UNDECIDED if waits else Verdict.OFF_MODEL)
    assert ("waits for the warning on side, back" in str(found.note)) == waits
    assert other is chin and put_off([row], [Slip("ground_high", "Lower it", views)]) == [row]


def test_points_of_other_drawings_are_never_approved():
    rows = [Finding("height", "side", NOTHING, verdict=Verdict.ON_MODEL)]
    slip = Slip("flipped_since", "The side was flipped; flip it back", ("side",), is_of_files=True)
    checked = SimpleNamespace(rows=rows, warnings=(slip,), verdict=Verdict.UNDECIDED)
    (reason,) = why_not(checked, strict=False)
    assert "not the ones that its points were placed on" in reason
