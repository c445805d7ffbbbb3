"""What a survey is made of: which sheets it finds, when one has changed, and its pictures."""

from __future__ import annotations

import errno
import io
import os
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.places import loaded_by
from tests.sheets import AXIS, FIGURE, GROUND, HEIGHT, edit, make_sheet
from tests.show.small_show import STRAY, VERDICTS, lowered, make_show
from turncheck import checking
from turncheck.files.user_files import fingerprint
from turncheck.mistakes.slip import Slip
from turncheck.show.cache import forget_others, keep, kept_record, kept_rest, key_of
from turncheck.show.drifts import DriftRows
from turncheck.show.pictures import cut_out, magnified
from turncheck.show.record import Figure, Record, Spot
from turncheck.show.recording import drifts_by_view, record_of
from turncheck.show.search import sheets_below


def test_every_sheet_is_found_once_and_nothing_else(tmp_path: Path) -> None:
    show = make_show(tmp_path / "show")
    (show / "reel" / "round").symlink_to(show, target_is_directory=True)
    make_sheet(show / "out" / "kept")
    (show / "Shouted").mkdir()
    (show / "Shouted" / "SHEET.TOML").touch()
    assert all((show / name).is_file() for name in STRAY)
    paths = [found.path for found in sheets_below(show, leave_out=show / "out")]
    assert paths == sorted([*VERDICTS, "Shouted"])
    assert [found.path for found in sheets_below(show / "pair", tmp_path)] == [".", "tub.toml"]


def test_who_hands_out_the_work_needs_nothing_that_measures() -> None:
    loaded = loaded_by("turncheck.show.survey")
    assert "turncheck" in loaded
    assert not loaded & {"numpy", "cv2", "pydantic", "PIL", "pandas", "pyarrow", "joblib"}


def test_a_folder_that_can_not_be_looked_into_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    look = os.scandir

    def scandir(folder: str) -> object:
        if Path(folder).name == "shut":
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), folder)
        return look(folder)

    (tmp_path / "shut").mkdir()
    monkeypatch.setattr(os, "scandir", scandir)
    (found,) = sheets_below(tmp_path, tmp_path / "out")
    assert found.path == "shut" and "can't be looked into" in found.fault


@pytest.fixture(scope="module")
def sheet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = make_sheet(tmp_path_factory.mktemp("sheet"), placings=lowered("chin", "side", 4.0))
    edit(folder / "sheet.toml", "yaw = 0", 'yaw = 0\nfigure = "mask.png"')
    edit(folder / "sheet.toml", 'revision = "A"', 'revision = "A"\nvocabulary = "own.toml"')
    return folder


@pytest.mark.parametrize(
    "name",
    ["sheet.toml", "landmarks.csv", "approval.json", "side.png", "mask.png", "own.toml"],
)
def test_a_change_in_any_file_that_counts_is_seen(sheet: Path, name: str) -> None:
    def key() -> str:
        return key_of(sheet / "sheet.toml", "sheet", sheet.parent / "out", magnified=False)

    before = key()
    (sheet / "notes.txt").write_text("of no matter", "utf-8")
    os.utime(sheet / "sheet.toml", (1, 1))
    assert key() == before
    data = (sheet / name).read_bytes() if (sheet / name).exists() else b""
    (sheet / name).write_bytes(data + b"\n")
    assert key() != before
    if data:
        (sheet / name).write_bytes(data)
    else:
        (sheet / name).unlink()
    assert key() == before


def test_an_entry_comes_back_as_it_was_and_goes_with_its_sheet(tmp_path: Path) -> None:
    figure = Figure("pictures/a.webp", 60, 160, 3.5, 158.0, 30.25)
    spot = Spot("Chin 4.0 px (2.5 %) too low", "Side", "pictures/b.webp")
    record = Record("odo", "Odo ✎", changed=("the side drawing",), figure=figure, spots=(spot,))
    cache, keys = tmp_path / ".cache", ["a" * 64, "b" * 64]
    for key in keys:
        keep(cache, key, record, {"side": {"chin": 0.5}}, {}, "path,note\nodo,one\n")
    assert forget_others(tmp_path, keys[:1], {"odo": True}) == []
    assert kept_record(cache, keys[0]) == record
    assert kept_rest(cache, keys[0]) == ({"side": {"chin": 0.5}}, b"path,note\nodo,one\n")
    assert kept_record(cache, keys[1]) is None


def test_the_report_of_a_sheet_that_is_gone_goes_unless_somebody_changed_it(tmp_path: Path) -> None:
    names = [f"sheets/{path}" for path in ("reel/odo/report.html", "reel/odo/a.csv", "torn/a.csv")]
    for name in [*names, "sheets/reel/notes.txt"]:
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text(name, "utf-8")
    files = {name: fingerprint(name.encode()) for name in names}
    for key, path in (("a" * 64, "reel/odo"), ("b" * 64, "torn")):
        own = {name: one for name, one in files.items() if path in name}
        keep(tmp_path / ".cache", key, Record(path), {}, own, "")
    (tmp_path / names[1]).write_text("mine", "utf-8")
    assert forget_others(tmp_path, [], {"torn": False}) == [names[1]]
    assert not (tmp_path / names[0]).exists(), "it is as it was written"
    assert (tmp_path / names[2]).exists(), "its sheet is there and can't be read at the moment"
    assert forget_others(tmp_path, [], {}) == []
    assert not (tmp_path / "sheets" / "torn").exists()
    assert (tmp_path / "sheets" / "reel" / "notes.txt").exists()


def opened(picture: bytes) -> np.ndarray[tuple[int, ...], np.dtype[np.uint8]]:
    return np.asarray(Image.open(io.BytesIO(picture)).convert("RGBA"))


def test_pictures_and_drifts_of_a_sheet(tmp_path: Path) -> None:
    checked = checking.check(make_sheet(tmp_path, placings=lowered("chin", "side", 4.0)))
    cut = cut_out(checked)
    assert cut is not None
    figure, picture = cut
    pixels = opened(picture)
    assert pixels.shape == (figure.height, figure.width, 4) and figure.height == 160
    assert pixels[0, 0, 3] == 0 and pixels[80, figure.width // 2, 3] == 255
    # the figure of tests.sheets.picture is drawn from px row 12 on, and as wide as its coat
    top, left, smaller = 12, 42, 160 / (GROUND + 1 - 12)
    assert figure.ground == pytest.approx((GROUND - top) * smaller, abs=1.5)
    assert figure.crown == pytest.approx((GROUND - FIGURE - top) * smaller, abs=1.5)
    assert figure.axis == pytest.approx((AXIS - left) * smaller, abs=1.5)
    spots = magnified(checked)
    assert spots[0][0].view == "Side" and spots[0][0].says.startswith("Chin ")
    assert "too low" in spots[0][0].says and len(spots) == 3
    assert opened(spots[0][1]).shape[:2] == (320, 320) and HEIGHT < 320
    record = record_of("tib", checked)
    assert record.worst.startswith("Side: Chin") and (record.to_redraw, record.to_decide) == (1, 0)
    warned = replace(checked, instructions=(), warnings=(Slip("flip", "Flip it", ()),))
    assert record_of("tib", warned).worst == "First: Flip it"
    rows = DriftRows()
    for revision in "AB":
        rows.add(replace(record, revision=revision), drifts_by_view(checked))
    table = rows.all()
    chin = table.pct[:, table.views.index("side"), table.landmarks.index("chin")]
    assert ((chin >= -3.0) & (chin <= -2.0)).all() and len(chin) == 2
    assert [one.revision for one in table.sheets] == ["A", "B"]
