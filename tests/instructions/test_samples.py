"""The sample sheets: Pim's planted drifts are named, each once; the others need no redrawing."""

import tomllib

import pytest

from tests.places import SAMPLES
from tests.samples import checked
from turncheck.checks.finding import Kind

#: What a planted drift is called in `planted.toml`, and what an instruction is about.
KINDS = {"height": Kind.POINT, "yaw": Kind.YAW, "size": Kind.SCALE}


@pytest.mark.parametrize("sheet", ["odo", "brindle"])
def test_a_sheet_on_model_asks_for_nothing(sheet):
    assert checked(sheet).instructions == ()


def test_pims_planted_drifts_are_named_each_once_and_nothing_else():
    planted = tomllib.loads((SAMPLES / "pim" / "planted.toml").read_text("utf-8"))["planted"]
    told = [(i.view, i.kind, {*i.landmarks}) for i in checked("pim").instructions]
    wanted = [(p["view"], KINDS[p["kind"]], {*p["landmarks"]}) for p in planted]
    assert len(told) == len(wanted)
    assert all(one in told for one in wanted)
    assert all(i.settled for i in checked("pim").instructions)


def test_every_off_model_row_of_pim_is_answered_or_follows():
    result = checked("pim")
    off = {row for row, finding in enumerate(result.rows) if finding.is_off_model}
    answered = [row for i in result.instructions for row in (*i.findings, *i.follows)]
    assert off <= {*answered}
    assert len(answered) == len({*answered})


def test_the_outline_that_pims_lowered_hand_breaks_follows_from_the_hand():
    result = checked("pim")
    outlines = {row for row, f in enumerate(result.rows) if f.check == "outline" and f.is_off_model}
    arm = next(i for i in result.instructions if "fingertip_l" in i.landmarks)
    assert outlines
    assert outlines <= {*arm.follows}
