"""A character without a point of the vocabulary needs no vocabulary of its own."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.places import SAMPLES
from turncheck import TurncheckError
from turncheck.errors import FileFaults
from turncheck.sheet.vocabulary import LandmarkEntry, Vocabulary, extended, read_vocabulary


def without(*names: str) -> Vocabulary:
    faults = FileFaults("sheet.toml")
    entries = {name: LandmarkEntry(absent=True) for name in names}
    found = extended(read_vocabulary("biped", Path()), entries, (), faults)
    faults.raise_any()
    return found


def test_a_point_left_out_leaves_with_all_that_needs_it() -> None:
    biped = without("eye_l", "neck_top", "knee_*")
    assert not {"eye_l", "neck_top", "knee_l", "knee_r"} & set(biped.landmarks)
    assert biped.eyes == ("eye_r",)
    assert biped.landmarks["eye_r"].twin == ""
    assert all("knee" not in "".join((*one.of, *one.to)) for one in biped.proportions)
    assert all("knee" not in "".join(pair) for pair in biped.above)
    assert "eye_l" not in biped.face
    assert biped.landmarks["ankle_l"].parent == "hip_l"  # what carries the one that carries it


@pytest.mark.parametrize("name", ["ground", "crown", "chin"])
def test_what_every_sheet_is_measured_by_can_not_be_left_out(name: str) -> None:
    with pytest.raises(TurncheckError, match="can't be absent"):
        without(name)


def test_a_one_eyed_sheet_is_checked(tmp_path: Path) -> None:
    import shutil

    from turncheck.checking import check

    folder = shutil.copytree(SAMPLES / "pim", tmp_path / "pim")
    table = folder / "landmarks.csv"
    rows = table.read_text("utf-8").splitlines(keepends=True)
    table.write_text("".join(row for row in rows if ",eye_l," not in row), "utf-8")
    sheet = folder / "sheet.toml"
    sheet.write_text(sheet.read_text("utf-8") + "\n[landmarks.eye_l]\nabsent = true\n", "utf-8")
    found = check(folder).findings
    assert (found["check"] == "eye_line").any()
