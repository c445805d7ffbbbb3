"""`palette`: flat fills across drawings."""

from dataclasses import replace

import numpy as np
import pytest

from tests.checks.drawn import BADGE, BOOTS, COAT, SKIN, drawn, fill, fills
from tests.simulations.figures import YAWS
from turncheck.checks.check import Tolerances
from turncheck.checks.palette import CHECK
from turncheck.checks.table import as_table
from turncheck.geometry.colour_matching import join_repainted, match_colours
from turncheck.images.colour import difference

COAT_ROW, SKIN_ROW = f"teal {COAT}", f"beige {SKIN}"
OTHER_COAT = "#2f7884"  # hand-picked: a paint a little off
GREEN = "#4a8a3a"


@pytest.fixture
def rows(figure):
    def build(painted=None, looked=True, **of):
        measured = figure(features=drawn(YAWS, painted=painted) if looked else None, **of)
        found = as_table(CHECK.run(measured, Tolerances(CHECK.tolerance, {})))
        assert not found.duplicated(["view", "subject"]).any()
        return found.set_index(["view", "subject"])

    return build


def test_drawings_in_the_same_paints_are_on_model(rows):
    found = rows()
    assert len(found) == 3 * 4
    assert set(found["verdict"]) == {"on_model"}
    assert found["drift_pct"].max() == 0.0
    assert set(found["unit"]) == {"delta_e"}


def test_a_coat_in_another_teal_is_named_with_its_difference_and_place(rows):
    found = rows({"side": fills({COAT: OTHER_COAT})})
    off = found[found["verdict"] == "off_model"]
    assert list(off.index) == [("side", COAT_ROW)]
    row = off.iloc[0]
    true = difference(fill(COAT, 1.0).lab, fill(OTHER_COAT, 1.0).lab)
    assert row["drift_pct"] == pytest.approx(true, abs=1e-6)
    assert row["odd_view"] == "side"
    assert OTHER_COAT in row["note"] and "near (47, 120)" in row["note"]


def test_when_the_front_is_painted_otherwise_the_others_say_so(rows):
    found = rows({"front": fills({COAT: OTHER_COAT})})
    off = found[found["verdict"] == "off_model"]
    assert {view for view, _ in off.index} == {"three_quarter", "side", "back"}
    assert set(off["odd_view"]) == {"front"}
    assert (off["drift_pct"] > CHECK.tolerance).all()


def test_against_the_consensus_only_the_odd_drawing_is_off(rows):
    found = rows({"side": fills({COAT: OTHER_COAT})}, reference="consensus")
    off = found[found["verdict"] == "off_model"]
    assert list(off.index) == [("side", COAT_ROW)]


def test_an_unsure_colour_is_undecided(rows):
    unsure = tuple(fill(f, 0.3, sd=2.0) for f in (OTHER_COAT, SKIN, BOOTS))
    assert rows({"side": unsure}).loc[("side", COAT_ROW), "verdict"] == "undecided"


def test_a_coat_in_quite_another_colour_is_a_missing_and_an_extra_fill(rows):
    found = rows({"side": fills({COAT: GREEN})})
    missing, extra = found.loc[("side", COAT_ROW)], found.loc[("side", f"green {GREEN}")]
    assert missing["verdict"] == extra["verdict"] == "off_model"
    assert missing["odd_view"] == extra["odd_view"] == "side"
    assert "missing; front has it near (47, 111)" in missing["note"]
    assert "extra fill near (74, 138)" in extra["note"]


def test_a_coat_in_quite_another_colour_seen_only_from_behind_is_left_to_the_eye(rows):
    row = rows({"back": fills({COAT: GREEN})}).loc[("back", COAT_ROW)]
    assert row["verdict"] == "undecided"
    assert "repainted?" in row["note"]


HAT, OTHER_HAT = "#a23b2c", "#2c7ba2"  # hand-picked: quite another colour


def hatted(colour, share=0.04, rows=(100.0, 180.0)):
    return (*fills(), fill(colour, share, rows=rows))


@pytest.mark.parametrize("reference", ["front", "consensus"])
@pytest.mark.parametrize("odd", ["front", "side", "back"])
def test_a_hat_repainted_in_one_drawing_is_one_fill_with_its_difference(rows, odd, reference):
    hats = {view: hatted(OTHER_HAT if view == odd else HAT) for view in YAWS}
    found = rows(hats, reference=reference)
    off = found[found["verdict"] == "off_model"]
    assert set(off["odd_view"]) == {odd}
    true = difference(fill(HAT, 1.0).lab, fill(OTHER_HAT, 1.0).lab)
    assert set(off["drift_pct"].round(6)) == {round(true, 6)}
    assert set(found["verdict"]) == {"on_model", "off_model"}


@pytest.mark.parametrize("there", [{"rows": (500.0, 580.0)}, {"share": 0.15}, {"share": 0.008}])
def test_a_fill_elsewhere_or_of_another_size_is_not_the_hat(rows, there):
    found = rows({view: hatted(HAT) for view in YAWS} | {"back": hatted(OTHER_HAT, **there)})
    assert set(found[found["verdict"] == "off_model"].index) == set()


def test_two_drawings_do_not_tell_a_repainted_hat_from_what_hides_it():
    paints = match_colours([[fill(HAT, 0.1)], [fill(OTHER_HAT, 0.1)]], 0)
    assert join_repainted(paints, [np.array([[0.9, 1.0]] * 2)] * 2) == paints


@pytest.mark.parametrize("reference", ["front", "three_quarter", "consensus"])
def test_a_pack_that_the_body_hides_is_not_missing_in_the_front(rows, reference):
    pack = fill("#d9c7a0", 0.2, rows=(400.0, 800.0))
    packed = {view: (*fills(), pack) for view in ("three_quarter", "side", "back")}
    found = rows(packed, reference=reference)
    assert "off_model" not in set(found["verdict"])


@pytest.mark.parametrize("reference", ["front", "back", "consensus"])
def test_a_coat_that_both_neighbours_show_is_missing(rows, reference):
    found = rows({"side": fills({COAT: None})}, reference=reference)
    off = found[found["verdict"] == "off_model"]
    assert list(off.index) == [("side", COAT_ROW)]


def test_a_badge_that_the_side_hides_is_not_judged(rows):
    row = rows({"side": fills({BADGE: None})}).loc[("side", f"red {BADGE}")]
    assert row["verdict"] == "not_measured"
    assert "may be hidden" in row["note"] and "front has it" in row["note"]


def test_a_pack_seen_only_from_behind_is_not_judged(rows):
    found = rows({"back": (*fills(), fill("#d9c7a0", 0.2))})
    only = found[found.index.get_level_values("subject").str.endswith("#d9c7a0")]
    assert list(only["verdict"]) == ["not_measured"]
    assert "only here" in only["note"].iloc[0]


def test_hair_that_the_cap_hides_from_the_front_is_compared_among_the_others(rows):
    hair, other = "#b4552d", "#b45f3c"
    painted = {view: (*fills(), fill(hair, 0.05)) for view in ("three_quarter", "back")}
    found = rows({**painted, "side": (*fills(), fill(other, 0.05))})
    mine = found[found.index.get_level_values("subject").str.endswith(hair)]
    assert mine.loc[[("three_quarter", mine.index[0][1])], "verdict"].tolist() == ["on_model"]
    assert mine[mine["verdict"] == "off_model"]["odd_view"].tolist() == ["side"]


def test_drawings_that_nobody_looked_at_are_not_measured_each_with_the_reason(rows):
    found = rows(looked=False)
    assert len(found) == 4 and set(found["verdict"]) == {"not_measured"}
    assert found["note"].str.endswith("has no flat fills").all()


def test_a_drawing_without_flat_fills_is_not_measured_with_the_reason(rows):
    found = rows({"side": ()})
    assert found.loc[("side", "fills"), "note"] == "side has no flat fills"
    assert not any(view == "side" and subject != "fills" for view, subject in found.index)


def test_two_poor_matches_do_not_oust_a_perfect_one():
    cheek, blush, shade = (fill(c, 0.02) for c in ("#b87550", "#d17a58", "#b1604a"))
    matched = match_colours([[cheek, blush], [cheek, shade]], 0)
    assert [swatch.fills for swatch in matched] == [(cheek, cheek), (blush, None), (None, shade)]


def test_a_palette_that_darkens_as_a_whole_is_matched_fill_by_fill():
    light = [fill(c, 0.3) for c in ("#c8a078", "#b08a64", "#987450")]
    dark = [fill(c, 0.3) for c in ("#bc946c", "#a47e58", "#8c6844")]
    matched = match_colours([light, dark], 0)
    assert len(matched) == 3
    assert [swatch.fills for swatch in matched] == list(zip(light, dark, strict=True))


@pytest.mark.parametrize(("apart", "verdict"), [(2.2, "on_model"), (2.4, "off_model")])
def test_2_and_3_tenths_are_let_pass_and_no_more(rows, apart, verdict):
    """CIEDE2000; each colour is known to 0.02."""
    own = fill(COAT, 0.6, sd=0.02)
    light, *ab = own.lab
    other = replace(own, lab=(light + 1.0667 * apart, *ab))
    assert difference(own.lab, other.lab) == pytest.approx(apart, abs=0.02)
    coats = {"front": own, "three_quarter": own, "side": other, "back": own}
    found = rows({view: (coat, *fills({COAT: None})) for view, coat in coats.items()})
    assert found.loc[("side", COAT_ROW), "verdict"] == verdict
