"""For the rig: the report tells the same places as `turncheck pivots` writes."""

from pathlib import Path

from tests.report.drifting import LOW_ARM, drifting_sheet
from turncheck.checking import check
from turncheck.handover.pivots import pivots_of
from turncheck.report.facts import gather
from turncheck.report.rig import build_rig


def test_every_drawing_has_the_pivots_that_the_table_has(tmp_path: Path) -> None:
    checked = check(drifting_sheet(tmp_path, drift=LOW_ARM))
    section = build_rig(gather(checked, checked.summary()))
    assert section is not None
    shown = {(view, one.place.pivot) for view, places in section.drawings for one in places}
    assert shown == {(one.view, one.pivot) for one in pivots_of(checked).places}
    moved = {
        (view, one.place.pivot) for view, places in section.drawings for one in places if one.moved
    }
    assert {("side", "elbow_l"), ("side", "wrist_l")} <= moved


def test_what_cannot_be_seen_is_told_drawing_by_drawing(tmp_path: Path) -> None:
    checked = check(drifting_sheet(tmp_path))
    section = build_rig(gather(checked, checked.summary()))
    assert section is not None
    told = {view for view, _ in section.hidden}
    assert told == {one.view for one in pivots_of(checked).hidden}
