"""The sheet's verdict, from its rows."""

from turncheck.checks.finding import NOTHING, Cause, Finding
from turncheck.checks.verdicts import overall
from turncheck.geometry.guard_bands import Verdict


def test_a_sheet_of_which_most_can_not_be_told_is_undecided():
    told = Finding("height", "side", NOTHING, verdict=Verdict.ON_MODEL)
    untold = Finding("eye_line", "side", NOTHING, cause=Cause.UNSURE)
    assert overall([told, told, untold]) is Verdict.ON_MODEL
    assert overall([told, untold, untold]) is Verdict.UNDECIDED
