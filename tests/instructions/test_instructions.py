"""What to redraw: one instruction for one cause, and nobody else blamed."""

from dataclasses import replace

import numpy as np
import pytest

from tests.simulations.figures import HEIGHTS, measured, placings, sheet, x_of
from turncheck.checks.finding import Blame, Blamed, Cause, Finding, Kind, Subject
from turncheck.checks.note import ViewName, noted
from turncheck.checks.register import run_checks
from turncheck.checks.table import as_table
from turncheck.checks.verdicts import waive
from turncheck.geometry.colour_matching import MatchedColour
from turncheck.geometry.guard_bands import Verdict
from turncheck.geometry.outlines import Contradiction, Remedy
from turncheck.images.flat_colours import Fill
from turncheck.instructions import Work, explained_by_whole, what_to_redraw
from turncheck.instructions.outlines_and_ink import redraw_outlines
from turncheck.instructions.refills import lacked_for, refills
from turncheck.sheet.model import Waiver

ARM = ("shoulder_l", "elbow_l", "wrist_l", "fingertip_l")


def instructions(drift=None, views=4, change=lambda table: table, waivers=(), **of):
    simulated = sheet(views, **({"placing_sd": 0.05} | of))
    table = change(placings(simulated, np.random.default_rng(5), drift or {}, 0.0))
    body = measured(simulated, table)
    return what_to_redraw(body, waive(run_checks(body), waivers))


def enlarge(view, factor):
    def change(table):
        drawn = table["view"] == view
        table.loc[drawn, "y"] = 1400.0 - factor * (1400.0 - table.loc[drawn, "y"])
        table.loc[drawn, "x"] = 500.0 + factor * (table.loc[drawn, "x"] - 500.0)
        return table

    return change


def test_a_clean_sheet_needs_no_redrawing():
    assert instructions() == []


@pytest.mark.parametrize("view", ["front", "three_quarter", "side", "back"])
@pytest.mark.parametrize("placing", ["ground", "canvas", "fit"])
def test_an_arm_that_hangs_low_is_one_instruction_that_names_its_drawing(view, placing):
    found = instructions({(view, name): -1.5 for name in ARM}, placing=placing)
    assert [(i.view, i.work) for i in found] == [(view, Work.PART)]
    assert found[0].says == "The whole left arm is 15 px (1.5 %) too low; raise it 15 px."
    assert found[0].landmarks == ARM


def test_part_of_an_arm_is_named_by_its_points():
    found = instructions({("side", "elbow_l"): 2.0, ("side", "wrist_l"): 2.0})
    assert len(found) == 1
    assert found[0].says.startswith("The left arm: left elbow and left wrist are 20 px")


def test_one_arm_up_and_one_leg_down_are_two_instructions_parts_first():
    drift = {("side", name): 1.2 for name in ARM} | {("side", "knee_l"): -3.0}
    found = instructions(drift)
    assert [i.work for i in found] == [Work.PART, Work.POINT]
    assert found[1].says == "The left knee is 30 px (3.0 %) too low; raise it 30 px."


def test_a_drawing_that_is_too_large_is_the_only_cause():
    found = instructions(change=enlarge("back", 1.04))
    assert [(i.view, i.work) for i in found] == [("back", Work.WHOLE)]
    assert "4.0 % larger than the other drawings; scale it to 96.2 %" in found[0].says


def test_a_drawing_turned_to_another_angle_is_said_with_both_angles():
    def change(table):
        drawn = table["view"] == "three_quarter"
        table.loc[drawn, "x"] = [x_of(name, 36.0) for name in table.loc[drawn, "landmark"]]
        return table

    (found,) = instructions(change=change)
    assert (found.view, found.work) == ("three_quarter", Work.WHOLE)
    assert "where 45° was asked for" in found.says


def test_a_large_drawing_with_a_low_chin_is_scaled_first_then_the_chin():
    found = instructions({("back", "chin"): -2.0}, change=enlarge("back", 1.04))
    assert [(i.view, i.work) for i in found] == [("back", Work.WHOLE), ("back", Work.POINT)]
    assert found[1].amount_pct == pytest.approx(-2.0, abs=0.01)
    assert found[1].amount_px == pytest.approx(-20.8, abs=0.1)  # in px of the large drawing


def test_a_front_that_is_too_large_is_named_though_it_is_the_reference():
    found = instructions(change=enlarge("front", 1.03))
    assert [(i.view, i.work) for i in found] == [("front", Work.WHOLE)]
    assert "3.0 % larger" in found[0].says


def test_two_drawings_that_disagree_get_an_instruction_that_blames_nobody():
    found = instructions({("three_quarter", "knee_l"): 2.0}, views=2)
    assert [i.settled for i in found] == [False]
    assert found[0].says == (
        "The left knee: three quarter has it 20 px (2.0 %) higher than front; "
        "decide which is right."
    )
    assert found[0].views == ("front", "three_quarter")
    assert found[0].move_px == {
        "front": (0.0, pytest.approx(-20.0)),
        "three_quarter": (0.0, pytest.approx(20.0)),
    }


def test_a_knee_that_is_off_is_not_said_again_as_a_ratio_or_a_tilt():
    found = instructions({("back", "knee_r"): 2.5})
    assert [i.landmarks for i in found] == [("knee_r",)]


def test_a_waived_finding_asks_for_nothing():
    waiver = Waiver(check="height", view="side", subject="waist", reason="meant", by="art lead")
    assert instructions({("side", "waist"): 3.0}, waivers=(waiver,)) == []
    assert len(instructions({("side", "waist"): 3.0})) == 1


def chin_to_the_right(table):
    table.loc[(table["view"] == "back") & (table["landmark"] == "chin"), "x"] += 20.0
    return table


def test_a_chin_too_far_to_the_right_is_said_once_though_the_midline_shows_it_too():
    (found,) = instructions(change=chin_to_the_right)
    assert found.sideways
    assert found.says == (
        "The chin is 20 px (2.0 %) too far to the picture's right; move it 20 px left."
    )


def test_without_a_side_drawing_a_point_beside_the_midline_is_still_moved_back():
    def change(table):
        flat = table["view"].isin(["front", "back"]) | (table["landmark"] == "ground")
        return chin_to_the_right(table)[flat]

    (found,) = instructions(change=change)
    assert found.says == (
        "Chin lies 20 px (2.0 %) to the picture's right of the midline; move it 20 px left."
    )


def test_every_off_model_row_is_answered_by_an_instruction_or_explained():
    drift = {("side", name): -1.5 for name in ARM} | {("back", "knee_r"): 2.0}
    simulated = sheet(4, placing_sd=0.05)
    body = measured(simulated, placings(simulated, np.random.default_rng(5), drift, 0.0))
    findings = run_checks(body)
    found = what_to_redraw(body, findings)
    named = {(i.view, name) for i in found for name in i.landmarks}
    off = [finding for finding in findings if finding.is_off_model]
    assert off
    for row in off:
        view = row.blame.odd_view or row.view
        assert any((view, name) in named for name in row.subject.landmarks)


@pytest.mark.parametrize("landmark", [n for n in HEIGHTS if n not in ("ground", "crown")])
@pytest.mark.parametrize("amount", [-2.2, 2.2])
def test_any_single_landmark_is_named_alone(landmark, amount):
    found = instructions({("side", landmark): amount})
    assert [(i.view, i.landmarks) for i in found] == [("side", (landmark,))]
    assert found[0].amount_pct == pytest.approx(amount, abs=0.02)


def test_what_a_resized_drawing_explains_is_off_or_undecided_and_its_own():
    simulated = sheet(4, placing_sd=0.05)
    table = placings(simulated, np.random.default_rng(5), {("back", "chin"): -2.0}, 0.0)
    body = measured(simulated, enlarge("back", 1.04)(table))
    findings = run_checks(body)
    found = what_to_redraw(body, findings)
    rows = as_table(findings).loc[sorted(explained_by_whole(body, findings, found))]
    assert set(rows["view"]) == {"back"}
    assert set(rows["verdict"]) <= {"off_model", "undecided"}
    assert "knee_l" in set(rows["subject"])
    assert "chin" not in set(rows["subject"])
    assert (rows["own_pct"].abs() <= rows["tolerance_pct"]).all()


def test_on_a_sheet_without_resized_drawings_nothing_is_explained():
    simulated = sheet(4, placing_sd=0.3)
    body = measured(simulated, placings(simulated, np.random.default_rng(5), {}, 0.3))
    findings = run_checks(body)
    assert any(finding.verdict is Verdict.UNDECIDED for finding in findings)
    assert explained_by_whole(body, findings, what_to_redraw(body, findings)) == set()


FILL = Fill((40.0, 10.0, 20.0), 0.1, (0.0, 0.0), 0.2)


def test_a_fill_is_taken_for_the_lacking_one_that_is_most_nearly_as_large():
    paints = [MatchedColour((replace(FILL, share=share), None)) for share in (0.06, 0.12, 0.5)] + [
        MatchedColour((FILL, FILL))
    ]
    assert lacked_for(paints, 1, FILL) is paints[1]
    assert lacked_for(paints, 0, FILL) is None
    assert lacked_for(paints, 1, replace(FILL, share=0.01)) is None


def test_the_rows_of_an_outline_are_counted_from_the_top_in_px():
    simulated = sheet(4)
    body = measured(simulated, placings(simulated, np.random.default_rng(5), {}, 0.0))
    rows = np.tile([63.0, 117.0], (4, 1))
    remedy = Remedy(view=2, side="height", px=9.0)
    broken = Contradiction("outline", (1, 2), (80.0, 90.0), rows, (remedy,), 12.0, False)
    subject = Subject(Kind.OUTLINE, "rows 63 to 117, height", rows=(63.0, 117.0), side="height")
    finding = Finding(
        "outline",
        "side",
        replace(subject, contradiction=broken),
        drift_px=9.0,
        drift_pct=1.2,
        verdict=Verdict.OFF_MODEL,
        note=noted("{}: add 9 px of height there", ViewName("three_quarter")),
        blame=Blame(Blamed.SET, ("side", "three_quarter")),
    )
    (found,) = redraw_outlines(body, [(0, finding)])
    assert found.says == (
        "63 to 117 px from the top in the side drawing the outline does not fit the other "
        "drawings; three quarter: add 9 px of height there."
    )
    assert not found.settled


GREEN = Fill((50.0, -40.0, 30.0), 0.1, (5.0, 5.0), 0.2)
GREY = Fill((50.0, 0.0, 0.0), 0.1, (9.0, 9.0), 0.2)


def refilled(paints, *rows):
    """What rows (view, paint, blame, cause) ask for; a drawing's corner has no point."""
    simulated = sheet(3, placing_sd=0.05)
    body = measured(simulated, placings(simulated, np.random.default_rng(5), {}, 0.0))
    findings = [
        Finding(
            "palette",
            view,
            Subject(Kind.FILL, paint.label, fill=paint, nearest=GREY),
            drift_pct=20.0,
            verdict=Verdict.OFF_MODEL,
            unit="delta_e",
            blame=blame,
            cause=cause,
        )
        for view, paint, blame, cause in rows
    ]
    found = refills(replace(body, paints=tuple(paints)), list(enumerate(findings)))
    return [(i.view, i.says, i.findings) for i in found]


THREE_QUARTER = Blame(Blamed.THIS, ("three_quarter",), 20.0)


def test_a_fill_in_place_of_a_missing_one_is_one_thing_to_refill():
    lacked, extra = MatchedColour((FILL, None, FILL)), MatchedColour((None, GREEN, None))
    found = refilled(
        [lacked, extra],
        ("three_quarter", lacked, THREE_QUARTER, Cause.MISSING),
        ("three_quarter", extra, THREE_QUARTER, Cause.EXTRA),
    )
    says = f"Refill {GREEN.label} near (5, 5) with {FILL.label}, which this drawing lacks."
    assert found == [("three_quarter", says, (1, 0))]


def test_an_extra_fill_in_place_of_nothing_names_the_nearest_colour():
    shared, extra = MatchedColour((FILL, FILL, FILL)), MatchedColour((None, GREEN, None))
    row = ("three_quarter", extra, THREE_QUARTER, Cause.EXTRA)
    ((_, says, _),) = refilled([shared, extra], row)
    assert says == (
        f"Refill {GREEN.label} near (5, 5) as in the other drawings: none has this colour; "
        f"the nearest elsewhere is {GREY.label}."
    )


def test_a_reference_of_another_colour_is_refilled_as_the_others_are():
    paint = MatchedColour((GREEN, FILL, FILL))
    row = ("side", paint, Blame(Blamed.OTHER, ("front",), 20.0), Cause.UNKNOWN)
    ((view, says, _),) = refilled([paint], row)
    assert view == "front"
    assert says.endswith(f"with {FILL.label}, as in the other drawings.")


def test_colours_that_no_majority_settles_blame_nobody():
    paint = MatchedColour((GREEN, FILL, None))
    ((_, says, _),) = refilled(
        [paint], ("three_quarter", paint, Blame(Blamed.NOBODY), Cause.UNKNOWN)
    )
    assert says.endswith("decide which is right.")


def test_a_missing_fill_is_filled_in_where_another_drawing_has_it():
    paint = MatchedColour((FILL, None, FILL))
    row = ("three_quarter", paint, THREE_QUARTER, Cause.MISSING)
    ((_, says, _),) = refilled([paint], row)
    assert says.endswith("is missing; fill it in again: the front drawing has it near (0, 0).")
