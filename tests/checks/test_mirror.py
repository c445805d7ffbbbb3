"""`mirror`: front and back, mirror images in outline."""

import pytest

import turncheck
from tests.checks.blocks import write_blocks


@pytest.mark.parametrize(("percent", "verdict"), [(0.7, "undecided"), (0.8, "off_model")])
def test_half_a_percent_beyond_what_is_allowed_for_is_let_pass_and_no_more(
    tmp_path, percent, verdict
):
    """Of what is drawn 0.2 or 0.3 % are taken off: a row of slack, and what the turn may be out."""
    checked = turncheck.check(write_blocks(tmp_path / "blocks", "back", percent))
    found = checked.findings[checked.findings["check"] == "mirror"]
    (row,) = found[found["verdict"] != "not_measured"].itertuples()
    assert row.view == "back" and row.subject.endswith("right")
    assert row.drift_pct == pytest.approx(percent - 0.25, abs=0.1)
    assert row.verdict == verdict
    assert set(checked.findings["check"][checked.findings["verdict"] == "off_model"]) <= {"mirror"}


def test_drawings_of_one_body_contradict_nothing(tmp_path):
    checked = turncheck.check(write_blocks(tmp_path / "blocks", "", 0.0))
    found = checked.findings[checked.findings["check"] == "mirror"]
    assert set(found["verdict"]) == {"not_measured"}
    assert found["note"].str.contains("nothing contradicts it").all()
