"""Two revisions are compared: fixed, worse, new, as before, and what can't be said."""

import csv
import json
from dataclasses import replace
from types import SimpleNamespace

import pytest
from click.testing import CliRunner

import turncheck
from tests.sheets import edit, make_sheet, picture
from turncheck.checks.finding import Cause, Finding, Kind, Subject
from turncheck.cli import main
from turncheck.geometry.guard_bands import Verdict
from turncheck.revisions.comparing import Change, Compared, match
from turncheck.revisions.words import by_itself, told_beside

CHIN = "side,chin,69.600,37.600"
COLUMNS = "check,view,subject,before,after,drift_before,drift_after,change"
CHANGES = {"fixed", "worse", "new", "same", "gone"}


def chin(y: float) -> tuple[str, str]:
    return CHIN, f"side,chin,69.600,{y:.3f}"


@pytest.fixture
def pair(tmp_path):
    return make_sheet(tmp_path / "old"), make_sheet(tmp_path / "new")


def run(tmp_path, old, new, *words):
    out = tmp_path / "out"
    done = CliRunner().invoke(main, ["compare", str(old), str(new), "--out", str(out), *words])
    told = json.loads((out / "compare.json").read_text("utf-8")) if out.exists() else None
    return done, told


def of_chin(tmp_path):
    with (tmp_path / "out/compare.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert {row["change"] for row in rows} <= CHANGES
    (row,) = (one for one in rows if (one["check"], one["view"]) == ("height", "side")
              and one["subject"] == "chin")  # fmt: skip
    return row


@pytest.mark.parametrize(
    ("before", "after", "change", "status", "tally"),
    [
        (37.6, 37.6, "same", 0, "0 fixed, 0 worse, 0 new, 0 as before"),
        (44.0, 37.6, "fixed", 0, "1 fixed, 0 worse, 0 new, 0 as before"),
        (37.6, 44.0, "new", 1, "0 fixed, 0 worse, 1 new, 0 as before"),
        (42.0, 48.0, "worse", 1, "0 fixed, 1 worse, 0 new, 0 as before"),
        (44.0, 44.4, "same", 0, "0 fixed, 0 worse, 0 new, 1 as before"),
        (44.0, 39.2, "same", 0, "0 fixed, 0 worse, 0 new, 0 as before; 1 too close to call"),
    ],
)
def test_a_chin_is_followed_from_one_revision_to_the_next(
    pair, tmp_path, before, after, change, status, tally
):
    old, new = pair
    edit(old / "landmarks.csv", *chin(before))
    edit(new / "landmarks.csv", *chin(after))
    done, told = run(tmp_path, old, new)
    assert done.exit_code == status, done.output
    assert f": {tally}\n" in done.output
    row = of_chin(tmp_path)
    assert ",".join(row) == COLUMNS
    assert row["change"] == change
    assert sum(told["counts"].values()) > 40 and set(told["counts"]) == CHANGES
    page = (tmp_path / "out/compare.html").read_text("utf-8")
    assert tally in page


def finding(verdict: Verdict, drift: float, **other) -> Finding:
    made = Finding("height", "side", Subject(Kind.POINT, "chin", ("chin",)), drift_pct=drift)
    return replace(made, uncertainty_pct=0.2, tolerance_pct=1.0, verdict=verdict, **other)


ON, OFF, UNSURE, NOT = (
    Verdict.ON_MODEL,
    Verdict.OFF_MODEL,
    Verdict.UNDECIDED,
    Verdict.NOT_MEASURED,
)


@pytest.mark.parametrize(
    ("before", "after", "change"),
    [
        ((ON, 0.1), (ON, 0.6), Change.SAME),  # within what is allowed
        ((ON, 0.1), (UNSURE, 1.2), Change.SAME),
        ((UNSURE, 1.1), (OFF, 1.6), Change.SAME),  # no more than it may have been
        ((UNSURE, 1.1), (OFF, 2.4), Change.WORSE),
        ((OFF, 2.0), (OFF, 2.8), Change.SAME),  # 0.8 of 3 * 0.28
        ((OFF, 2.0), (OFF, 2.9), Change.WORSE),
        ((OFF, -2.0), (OFF, -2.9), Change.WORSE),
        ((OFF, 2.0), (UNSURE, 1.1), Change.SAME),
        ((OFF, 2.0), (NOT, 0.1), Change.GONE),
        ((NOT, 0.1), (OFF, 2.0), Change.NEW),
        ((NOT, 0.1), (NOT, 0.1), Change.SAME),
        ((Verdict.WAIVED, 2.0), (ON, 0.0), Change.FIXED),
        ((Verdict.WAIVED, 2.0), (OFF, 2.0), Change.SAME),
        (None, (OFF, 2.0), Change.NEW),
        (None, (ON, 0.0), Change.SAME),
        ((OFF, 2.0), None, Change.GONE),
    ],
)
def test_what_became_of_a_finding(before, after, change):
    row = Compared(before and finding(*before), after and finding(*after))
    assert row.change is change


def test_what_is_known_to_a_hair_is_not_worse_by_a_hair():
    sure = replace(finding(OFF, 2.0), uncertainty_pct=0.0)
    assert Compared(sure, replace(sure, drift_pct=2.2)).change is Change.SAME
    assert Compared(sure, replace(sure, drift_pct=2.3)).change is Change.WORSE


def test_what_no_placing_could_tell_is_too_close_to_call():
    row = Compared(finding(OFF, 2.0), finding(NOT, 0.1, cause=Cause.UNSURE))
    assert row.is_undecided


def test_an_outline_is_known_again_where_its_rows_are_a_little_others():
    def outline(first: float, last: float) -> Finding:
        subject = Subject(Kind.OUTLINE, f"rows {first:.0f} to {last:.0f}", rows=(first, last))
        return replace(finding(OFF, 2.0), check="outline", subject=subject)

    old, new = [outline(60, 110), outline(400, 450)], [outline(66, 119), outline(200, 240)]
    rows = match(old, new)
    assert [row.change for row in rows] == [Change.SAME, Change.NEW, Change.GONE]
    assert rows[0].before is old[0] and rows[2].before is old[1]


def test_points_of_an_unchanged_drawing_count_and_are_written_only_where_asked(pair, tmp_path):
    old, new = pair
    table = new / "landmarks.csv"
    rows = table.read_text("utf-8").splitlines(keepends=True)
    own = "".join(row for row in rows if not row.startswith(("back", "side,chin")))
    table.write_text(own, "utf-8")
    done, told = run(tmp_path, old, new)
    assert done.exit_code == 0, done.output
    assert table.read_text("utf-8") == own
    assert "--carry writes them there" in done.output and told["written"] is False
    assert {one["landmark"] for one in told["carried"]["side"]} == {"chin"}
    assert of_chin(tmp_path)["after"] == "on_model"  # measured where it was carried to

    done, told = run(tmp_path, old, new, "--carry")
    written = table.read_text("utf-8")
    assert told["complete"] is True
    assert "is <b>on model</b>: nothing to redraw" in (tmp_path / "out/compare.html").read_text()
    assert told["written"] is True and "were written into its landmarks.csv" in done.output
    assert all(row in written for row in own.splitlines())
    assert len(written.splitlines()) == len(rows)
    done, told = run(tmp_path, old, new, "--carry")
    assert table.read_text("utf-8") == written and not told["carried"] and not told["proposed"]


def test_a_new_sheet_without_a_table_is_measured_by_what_is_carried(pair, tmp_path):
    old, new = pair
    (new / "landmarks.csv").unlink()
    found = turncheck.compare(old, new)
    assert not found.is_worse and not (new / "landmarks.csv").exists()
    assert len(found.carried.placings) == len(found.old.placings)
    turncheck.compare(old, new, carry=True)
    assert turncheck.check(new).verdict is Verdict.ON_MODEL


def test_points_beside_what_changed_are_proposed_and_never_written(pair, tmp_path):
    from PIL import Image, ImageDraw

    old, new = pair
    (new / "landmarks.csv").unlink()
    with Image.open(new / "side.png") as image:
        ImageDraw.Draw(image).rectangle((64, 28, 76, 46), fill="#204020")
        image.save(new / "side.png")
    done, told = run(tmp_path, old, new, "--carry")
    proposed = {one["landmark"] for one in told["proposed"]["side"]}
    assert "chin" in proposed and "knee_l" not in proposed
    assert "side,chin," not in (new / "landmarks.csv").read_text("utf-8")
    assert "place them on the page that turncheck mark opens" in done.output
    count = len(proposed)
    assert count > 1 and told["complete"] is False
    page = (tmp_path / "out/compare.html").read_text("utf-8")
    assert f"<b>off model</b>: {count} points of the side are missing, 1 thing to decide" in page


def test_sheets_that_cannot_be_compared_are_refused_and_nothing_is_written(tmp_path):
    old = make_sheet(tmp_path / "old")
    other = make_sheet(tmp_path / "other", views={"a": 0.0, "b": 90.0})
    done, told = run(tmp_path, old, other)
    assert done.exit_code == 2 and told is None
    assert "has none of the drawings of" in done.output
    goat = make_sheet(tmp_path / "goat")
    settings = (goat / "sheet.toml").read_text("utf-8")
    (goat / "sheet.toml").write_text(f'vocabulary = "quadruped"\n{settings}', "utf-8")
    done, told = run(tmp_path, old, goat)
    assert done.exit_code == 2 and told is None and done.output.count("\n") == 1
    assert '"quadruped" has only 17 of the 39 points' in done.output
    assert "name the same vocabulary in both" in done.output
    blank = make_sheet(tmp_path / "blank")
    (blank / "landmarks.csv").unlink()
    for name in ("front", "side", "three_quarter", "back"):
        (blank / f"{name}.png").write_bytes((other / "a.png").read_bytes()[:200])
    done, told = run(tmp_path, old, blank, "--carry")
    assert done.exit_code == 2 and told is None and not (blank / "landmarks.csv").exists()


def lowered(folder, by=5.0):
    """Redraw a sheet with every chin lower, in other pixels."""
    rows = (folder / "landmarks.csv").read_text("utf-8").splitlines()
    for n, row in enumerate(rows):
        view, name, x, y = row.split(",")[:4]
        if name == "chin":
            rows[n] = f"{view},{name},{x},{float(y) + by:.3f}"
    (folder / "landmarks.csv").write_text("\n".join(rows) + "\n", "utf-8")
    for path in folder.glob("*.png"):
        path.write_bytes(picture(title=f"{path.stem} anew"))
    return folder


def test_what_lies_otherwise_than_approved_is_new_though_the_drawings_agree(pair, tmp_path):
    old, new = pair
    lowered(new)
    done, told = run(tmp_path, old, new)
    assert done.exit_code == 0 and not told["differences"]  # a revision may look otherwise
    assert CliRunner().invoke(main, ["approve", str(old), "--by", "art lead"]).exit_code == 0
    done, told = run(tmp_path, old, new)
    assert done.exit_code == 1
    assert sorted(one["views"] for one in told["differences"]) == [
        ["back"],
        ["front"],
        ["side"],
        ["three_quarter"],
    ]
    says = "Chin 5.0 px too low against the approved drawing"
    assert all(one["tells"].startswith(says) for one in told["differences"])
    with (tmp_path / "out/compare.csv").open(encoding="utf-8") as file:
        rows = [row for row in csv.DictReader(file) if row["change"] == "new"]
    assert {(row["check"], row["subject"]) for row in rows} == {("approved", "chin")}


def test_a_waiver_covers_what_lies_otherwise_than_approved_and_an_idle_one_is_told(pair, tmp_path):
    old, new = pair
    lowered(new)
    assert CliRunner().invoke(main, ["approve", str(old), "--by", "art lead"]).exit_code == 0

    def waive(view, check, **other):
        rows = {"check": check, "view": view, "subject": "chin", "reason": "longer face"} | other
        lines = "".join(f'{key} = "{value}"\n' for key, value in rows.items())
        with (new / "sheet.toml").open("a", encoding="utf-8") as file:
            file.write(f"[[waivers]]\n{lines}")

    for view in ("front", "three_quarter", "side"):
        waive(view, "approved", by="art lead")
    waive("side", "approved_across", by="art lead")
    done, told = run(tmp_path, old, new)
    assert done.exit_code == 1
    assert [one["views"] for one in told["differences"]] == [["back"]]
    with (tmp_path / "out/compare.csv").open(encoding="utf-8") as file:
        waived = [row for row in csv.DictReader(file) if row["after"] == "waived"]
    assert {row["check"] for row in waived} == {"approved"} and len(waived) == 3
    idle = 'The waiver of approved_across on side, "chin", is not needed: nothing is off there.'
    assert idle in done.output and done.output.count("The waiver of") == 1
    checked = CliRunner().invoke(main, ["check", str(new), "--out", str(tmp_path / "check")])
    assert "The waiver" not in checked.output  # a check alone has no such rows

    waive("back", "approved", by="art lead", revision="other")
    done, told = run(tmp_path, old, new)
    assert done.exit_code == 1 and "ended with revision other" in done.output
    waive("back", "approved")
    done, told = run(tmp_path, old, new)
    assert done.exit_code == 2 and "by" in done.output and "missing" in done.output


def test_the_approved_files_themselves_are_not_held_to_themselves(pair, tmp_path):
    old, new = pair
    assert CliRunner().invoke(main, ["approve", str(old), "--by", "art lead"]).exit_code == 0
    done, told = run(tmp_path, old, new)
    assert done.exit_code == 0 and not told["differences"]


def test_a_sheet_with_points_missing_is_on_model_only_as_far_as_it_is_placed():
    def told(verdict, *left):
        points = [SimpleNamespace(view=view, landmark=name) for view, name in left]
        new = SimpleNamespace(verdict=verdict, how_much="nothing to redraw")
        return by_itself(SimpleNamespace(new=new, carried=SimpleNamespace(uncarried=points)))

    points = ("side", "chin"), ("side", "waist"), ("back", "waist")
    only = "on model as far as placed"
    both = "1 point of the back and 2 points of the side are missing, nothing to redraw"
    assert told(ON, *points) == (only, both)
    assert told(ON, points[0]) == (only, "1 point of the side is missing, nothing to redraw")
    assert told(ON) == ("on model", "nothing to redraw")
    assert told(UNSURE, points[0])[0] == "too close to call"


def test_one_point_is_told_as_one_and_another_character_is_told():
    left = [SimpleNamespace(view="side", landmark="chin")]
    pair = SimpleNamespace(
        old=SimpleNamespace(sheet=SimpleNamespace(character="Pim")),
        new=SimpleNamespace(sheet=SimpleNamespace(character="Odo")),
        carried=SimpleNamespace(placings=[], uncarried=left),
        held=[],
    )
    for of in (pair.old, pair.new):
        of.sheet.waivers = ()
    other, point = told_beside(pair)
    assert other == "The old sheet is of Pim and the new one of Odo: look again."
    assert point.startswith("1 point lies") and "place it on the page" in point
    assert point.endswith("shows where it lay.")
    pair.new = pair.old
    left.append(SimpleNamespace(view="side", landmark="waist"))
    (points,) = told_beside(pair)
    assert points.startswith("2 points lie where") and "place them on the page" in points
