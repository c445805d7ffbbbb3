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
from turncheck.instructions import (
    Work,
    explained_by_whole,
    waive_what_follows,
    what_to_redraw,
)
from turncheck.instructions.outlines_and_ink import redraw_outlines
from turncheck.instructions.refills import lacked_for, refills
from turncheck.instructions.whole import _outvoted
from turncheck.plain import capital
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
    assert found[0].says == "Left arm 15 px too low: raise it 15 px (1.5 %)."
    assert found[0].landmarks == ARM


def test_part_of_an_arm_is_named_by_its_points():
    found = instructions({("side", "elbow_l"): 2.0, ("side", "wrist_l"): 2.0})
    assert len(found) == 1
    assert found[0].says.startswith(
        "Left arm: left elbow and left wrist 20 px too high: lower them"
    )


def test_one_arm_up_and_one_leg_down_are_two_instructions_parts_first():
    drift = {("side", name): 1.2 for name in ARM} | {("side", "knee_l"): -3.0}
    found = instructions(drift)
    assert [i.work for i in found] == [Work.PART, Work.POINT]
    assert found[1].says == "Left knee 30 px too low: raise it 30 px (3.0 %)."


def test_a_drawing_that_is_too_large_is_the_only_cause():
    found = instructions(change=enlarge("back", 1.04))
    assert [(i.view, i.work) for i in found] == [("back", Work.WHOLE)]
    assert found[0].says == "Whole drawing 4.0 % too large: scale it to 96.2 %."


def test_a_drawing_turned_to_another_angle_is_said_with_both_angles():
    def change(table):
        drawn = table["view"] == "three_quarter"
        table.loc[drawn, "x"] = [x_of(name, 36.0) for name in table.loc[drawn, "landmark"]]
        return table

    (found,) = instructions(change=change)
    assert (found.view, found.work) == ("three_quarter", Work.WHOLE)
    assert found.headline == "Turned 36°, not 45°"
    assert found.mend == "redraw it at 45°, or set yaw = 36 in sheet.toml"


def test_a_large_drawing_with_a_low_chin_is_scaled_first_then_the_chin():
    found = instructions({("back", "chin"): -2.0}, change=enlarge("back", 1.04))
    assert [(i.view, i.work) for i in found] == [("back", Work.WHOLE), ("back", Work.POINT)]
    assert found[1].amount_pct == pytest.approx(-2.0, abs=0.01)
    assert found[1].amount_px == pytest.approx(-20.8, abs=0.1)  # in px of the large drawing


def test_a_front_that_is_too_large_is_named_though_it_is_the_reference():
    found = instructions(change=enlarge("front", 1.03))
    assert [(i.view, i.work) for i in found] == [("front", Work.WHOLE)]
    assert "3.0 % too large" in found[0].says


def test_two_drawings_that_disagree_get_an_instruction_that_blames_nobody():
    found = instructions({("three_quarter", "knee_l"): 2.0}, views=2)
    assert [i.settled for i in found] == [False]
    assert found[0].says == (
        "Left knee: three quarter has it 20 px (2.0 %) higher than front: decide which is right."
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
    assert found.says == ("Chin 20 px too far to the picture's right: move it 20 px (2.0 %) left.")


def test_without_a_side_drawing_a_point_beside_the_midline_is_still_moved_back():
    def change(table):
        flat = table["view"].isin(["front", "back"]) | (table["landmark"] == "ground")
        return chin_to_the_right(table)[flat]

    (found,) = instructions(change=change)
    assert found.says == (
        "Chin 20 px to the picture's right of the midline: move it 20 px (2.0 %) left."
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


def lowered(view, px):
    """The whole figure of a drawing, its ground line staying where it is."""

    def change(table):
        drawn = (table["view"] == view) & (table["landmark"] != "ground")
        table.loc[drawn, "y"] += px
        return table

    return change


def checked(change, waivers=(), **of):
    simulated = sheet(4, **of)
    body = measured(simulated, change(placings(simulated, np.random.default_rng(5), {}, 0.0)))
    findings = waive_what_follows(body, waive(run_checks(body), waivers))
    return findings, what_to_redraw(body, findings)


@pytest.mark.parametrize("view", ["front", "side"])
@pytest.mark.parametrize("placing", ["ground", "canvas"])
def test_a_ground_too_low_is_told_though_its_own_row_is_undecided(view, placing):
    findings, (found,) = checked(lowered(view, 13.0), placing=placing)
    assert (found.view, found.kind, found.work) == (view, Kind.GROUND, Work.WHOLE)
    assert found.says.startswith("Whole drawing 13 px below")
    assert found.move_px == {view: (0.0, pytest.approx(-13.0, abs=0.1))}
    off = {row for row, finding in enumerate(findings) if finding.is_off_model}
    assert len(off) > 5
    assert set(found.follows) == off - {*found.findings}
    sizes = [f for f in findings if f.check == "size" and f.is_off_model]
    assert not sizes or placing == "canvas"


@pytest.mark.parametrize("view", ["front", "side"])
@pytest.mark.parametrize("factor", [1.014, 0.986])
def test_a_drawing_a_little_too_large_is_told_though_its_own_row_is_undecided(view, factor):
    _, (found,) = checked(enlarge(view, factor))
    assert (found.view, found.kind) == (view, Kind.SCALE)
    assert f"scale it to {100 / factor:.1f} %" in found.says


def test_of_two_drawings_a_ground_too_low_is_one_question():
    simulated = sheet(2)
    table = lowered("three_quarter", 13.0)(placings(simulated, np.random.default_rng(5), {}, 0.0))
    body = measured(simulated, table)
    (found,) = what_to_redraw(body, run_checks(body))
    assert (found.views, found.kind) == (("three_quarter", "front"), Kind.GROUND)
    assert not found.settled


def test_what_a_low_ground_leaves_of_a_chin_is_told_of_the_chin_alone():
    def change(table):
        at = (table["view"] == "side") & (table["landmark"] == "chin")
        table.loc[at, "y"] += 25.0
        return lowered("side", 13.0)(table)

    _, found = checked(change)
    assert [i.kind for i in found] == [Kind.GROUND, Kind.POINT]
    assert found[1].says == "Chin 25 px too low: raise it 25 px (2.5 %)."


def test_a_knee_that_is_off_carries_the_rows_that_follow_from_it():
    simulated = sheet(4, placing_sd=0.05)
    drift = {("back", "knee_r"): 2.5}
    body = measured(simulated, placings(simulated, np.random.default_rng(5), drift, 0.0))
    findings = run_checks(body)
    (found,) = what_to_redraw(body, findings)
    follows = {findings[row].subject.name for row in found.follows}
    assert "knee_l/knee_r level" in follows
    off = {row for row, finding in enumerate(findings) if finding.is_off_model}
    assert off == {*found.findings, *found.follows}


@pytest.mark.parametrize(("crown", "told"), [(0.0, ["chin"]), (-0.9, ["chin", "head count"])])
def test_a_ratio_that_the_named_move_would_not_mend_is_told_too(crown, told):
    """The crown is off by less than is allowed, but by more than the head count can bear."""
    drift = {("back", "chin"): 1.6, ("back", "crown"): crown}
    simulated = sheet(4, placing_sd=0.02)
    body = measured(simulated, placings(simulated, np.random.default_rng(5), drift, 0.0))
    findings = run_checks(body)
    found = what_to_redraw(body, findings)
    assert [findings[i.findings[0]].subject.name for i in found][: len(told)] == told


def test_a_waiver_of_a_cause_waives_what_follows_from_it():
    def change(table):
        at = (table["view"] == "back") & (table["landmark"] == "knee_r")
        table.loc[at, "y"] -= 25.0
        return table

    waiver = Waiver(check="pivot", view="back", subject="knee_r", reason="meant", by="art lead")
    findings, found = checked(change, (waiver,), placing_sd=0.05)
    assert found == []
    waived = {f.subject.name: str(f.note) for f in findings if f.verdict is Verdict.WAIVED}
    assert waived["knee_r"] == "waived by art lead: meant"
    note = "follows from knee_r, waived by art lead: meant"
    assert waived["knee_l/knee_r level"] == note
    assert not any(finding.is_off_model for finding in findings)


def test_a_waived_size_waives_the_heights_that_it_explains_and_no_other():
    waiver = Waiver(check="size", view="back", subject="scale", reason="meant", by="art lead")

    def change(table):
        at = (table["view"] == "back") & (table["landmark"] == "chin")
        table.loc[at, "y"] += 20.0
        return enlarge("back", 1.04)(table)

    findings, found = checked(change, (waiver,), placing_sd=0.05)
    assert [i.landmarks for i in found] == [("chin",)]
    assert found[0].amount_pct == pytest.approx(-2.0, abs=0.1)
    assert sum(finding.verdict is Verdict.WAIVED for finding in findings) > 5


def question(body, subject, blame, drifts, note=""):
    """Off-model rows of one subject, their drifts in % of the figure height by drawing."""
    return [
        Finding(
            "turn" if subject.sideways else "height",
            view,
            subject,
            drift_px=10.0 * drift,
            drift_pct=drift,
            uncertainty_pct=0.2,
            tolerance_pct=1.0,
            verdict=Verdict.OFF_MODEL,
            blame=blame,
            note=noted(note),
        )
        for view, drift in drifts.items()
    ]


def a_body(views=4):
    simulated = sheet(views)
    return measured(simulated, placings(simulated, np.random.default_rng(5), {}, 0.0))


def test_drawings_that_contradict_each_other_sideways_are_one_question():
    body = a_body()
    sides = (("three_quarter",), ("side",))
    rows = question(
        body,
        Subject(Kind.POINT, "nose_tip", ("nose_tip",), sideways=True),
        Blame(Blamed.SET, ("three_quarter", "side"), sides=sides),
        {"three_quarter": 2.0, "side": -2.8},
        "one of them is wrong; a back three-quarter drawing would decide",
    )
    (found,) = what_to_redraw(body, rows)
    assert found.says == (
        "Nose tip: three quarter and side contradict each other: 20 px left in the three "
        "quarter or 28 px right in the side; a back three-quarter drawing would decide."
    )
    assert (found.work, found.view, found.settled) == (Work.DECIDE, "", False)
    assert found.views == ("three_quarter", "side")
    assert found.findings == (0, 1)
    left, right = found.move_px["three_quarter"], found.move_px["side"]
    assert (left[0], right[0]) == (pytest.approx(-20.0), pytest.approx(28.0))


def test_a_set_without_sides_holds_each_of_its_drawings_against_the_others():
    body = a_body()
    subject = Subject(Kind.POINT, "nose_tip", ("nose_tip",), sideways=True)
    blame = Blame(Blamed.SET, ("three_quarter", "side"))
    worst, other = question(body, subject, blame, {"three_quarter": 2.0, "side": -1.6})
    (found,) = what_to_redraw(body, [worst, replace(other, verdict=Verdict.UNDECIDED)])
    assert found.findings == (0, 1)
    assert "20 px left in the three quarter or 16 px right in the side" in found.says


@pytest.mark.parametrize("both", [True, False])
def test_two_drawings_against_two_are_one_question(both):
    body = a_body()
    sides = (("front", "side"), ("three_quarter", "back"))
    drifts = {"three_quarter": -1.4, "back": -1.4} | ({"side": 1.4} if both else {})
    blame = Blame(Blamed.SET, ("front", "side", "three_quarter", "back"), sides=sides)
    rows = question(body, Subject(Kind.POINT, "chin", ("chin",)), blame, drifts)
    (found,) = what_to_redraw(body, rows)
    assert found.says == (
        "Chin: front and side have it 14 px (1.4 %) higher than three quarter and back: "
        "decide which is right."
    )
    down, up = (0.0, pytest.approx(14.0)), (0.0, pytest.approx(-14.0))
    assert found.move_px == {"front": down, "side": down, "three_quarter": up, "back": up}


def test_an_arm_on_which_two_drawings_stand_against_two_is_one_question():
    drift = {(view, name): -2.0 for name in ARM for view in ("side", "back")}
    (found,) = instructions(drift)
    assert found.says == (
        "Left arm: front and three quarter have it 20 px (2.0 %) higher than side "
        "and back: decide which is right."
    )
    assert found.landmarks == ARM


def test_drawings_that_all_differ_are_one_question():
    drift = {("three_quarter", "waist"): 3.0, ("side", "waist"): -3.0}
    (found,) = instructions(drift, views=3)
    assert found.says == (
        "Waist: front 30 px and three quarter 60 px higher than side: decide which is right."
    )


def test_what_is_to_be_decided_comes_after_whole_drawings_and_before_the_rest():
    drift = {("back", "knee_r"): 2.5} | {(view, "waist"): 2.5 for view in ("side", "back")}
    found = instructions(drift, change=enlarge("three_quarter", 1.04))
    assert [i.work for i in found] == [Work.WHOLE, Work.DECIDE, Work.POINT]


def broken(body, view, rows, views):
    """A row of an outline that can't fit, its picture rows the same in every drawing."""
    v = body.views.index(view)
    taking_part = tuple(body.views.index(name) for name in views)
    tiled = np.tile(rows, (len(body.views), 1)).astype(float)
    remedy = Remedy(view=v, side="left", px=78.0)
    found = Contradiction("outline", taking_part, (1.0, 2.0), tiled, (remedy,), 78.0, False)
    return Finding(
        "outline",
        view,
        Subject(Kind.OUTLINE, f"rows {rows}", rows=rows, side="left", contradiction=found),
        drift_px=78.0,
        drift_pct=7.8,
        tolerance_pct=0.5,
        verdict=Verdict.OFF_MODEL,
        note=noted("{}: move the left side 78 px inward", ViewName(view)),
        blame=Blame(Blamed.THIS, (view,), 7.8),
    )


def test_an_outline_that_breaks_where_a_hand_hangs_low_follows_from_the_hand():
    """The left fingertip belongs at 1020 px from the top and the wrist at 915 px."""
    simulated = sheet(4, placing_sd=0.05)
    drift = {("side", "fingertip_l"): -4.0}
    body = measured(simulated, placings(simulated, np.random.default_rng(5), drift, 0.0))
    rows = run_checks(body)
    taking_part = ("three_quarter", "side")
    outlines = [
        broken(body, "side", (1030.0, 1060.0), taking_part),
        broken(body, "three_quarter", (1030.0, 1060.0), taking_part),
        broken(body, "three_quarter", (1030.0, 1060.0), ("front", "three_quarter")),
        broken(body, "side", (500.0, 560.0), taking_part),
        broken(body, "side", (500.0, 1060.0), taking_part),
    ]
    found = what_to_redraw(body, [*rows, *outlines])
    hand = next(i for i in found if i.landmarks == ("fingertip_l",))
    assert {len(rows), len(rows) + 1} <= {*hand.follows}
    assert {*hand.follows}.isdisjoint(range(len(rows) + 2, len(rows) + 5))
    told = [i.findings for i in found if i.kind is Kind.OUTLINE]
    assert sorted(told) == [(len(rows) + n,) for n in (2, 3, 4)]
    mends = {i.mend for i in found if i.kind is Kind.OUTLINE}
    assert mends == {"move the left side 78 px inward"}  # each stands under its drawing's name


@pytest.mark.parametrize("cause", [Cause.MISSING, Cause.UNKNOWN])
def test_a_fill_that_is_wrong_where_a_hand_hangs_low_is_told_on_its_own(cause):
    """No hand that is a few per cent too low hides a fill that is large enough to be judged."""
    simulated = sheet(4, placing_sd=0.05)
    drift = {("side", "fingertip_l"): -4.0}
    body = measured(simulated, placings(simulated, np.random.default_rng(5), drift, 0.0))
    fill = replace(FILL, at=(500.0, 1030.0))
    paint = MatchedColour((fill, fill, None if cause is Cause.MISSING else fill, None))
    lacking = Finding(
        "palette",
        "side",
        Subject(Kind.FILL, paint.label, fill=paint),
        drift_pct=20.0,
        verdict=Verdict.OFF_MODEL,
        unit="delta_e",
        blame=Blame(Blamed.THIS, ("side",), 20.0),
        cause=cause,
    )
    rows = run_checks(body)
    hand, refill = what_to_redraw(body, [*rows, lacking])
    assert hand.landmarks == ("fingertip_l",)
    assert refill.findings == (len(rows),)


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
        "Outline does not fit the other drawings, 63 to 117 px from the top in the side drawing: "
        "three quarter: add 9 px of height there."
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
    says = (
        f"{capital(GREEN.label)} near (5, 5) where {FILL.label} belongs: "
        f"refill it with {FILL.label}, which this drawing lacks."
    )
    assert found == [("three_quarter", says, (1, 0))]


def test_an_extra_fill_in_place_of_nothing_names_the_nearest_colour():
    shared, extra = MatchedColour((FILL, FILL, FILL)), MatchedColour((None, GREEN, None))
    row = ("three_quarter", extra, THREE_QUARTER, Cause.EXTRA)
    ((_, says, _),) = refilled([shared, extra], row)
    assert says == (
        f"{capital(GREEN.label)} near (5, 5) is in no other drawing: "
        f"refill it as in the other drawings; the nearest elsewhere is {GREY.label}."
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
    assert says.endswith("is missing: fill it in again: the front drawing has it near (0, 0).")


def test_a_reference_whose_scale_is_not_known_outvotes_nobody():
    assert _outvoted(np.array([np.nan, 1.2, 1.0, 1.0]), 1, 0) == (1,)


@pytest.mark.parametrize("held", [("front",), ("front", "side")])
def test_drawings_that_agree_and_are_off_are_asked_about_against_those_without_a_row(held):
    body = a_body(3)
    subject = Subject(Kind.POINT, "chin", ("chin",))
    rows = question(body, subject, Blame(Blamed.NOBODY), dict.fromkeys(held, -2.0))
    (found,) = what_to_redraw(body, rows)
    assert not found.settled
    assert set(found.views) == {"front", "three_quarter", "side"}
    assert "20 px (2.0 %) higher than" in found.headline
