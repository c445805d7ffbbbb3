"""Bad input through the command line: sentences, exit status 2, no traceback, nothing written.

The sentences of each kind of file are tested beside its reader; here a whole run is.
"""

from __future__ import annotations

import html.parser
import io
import math
import unicodedata
from collections.abc import Callable
from pathlib import Path

import pandas as pd
import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from tests.placings import read_placings
from tests.sheets import Row, csv_text, edit, make_sheet, picture, placed, toml_text
from tests.strategies import mutated, nasty, numbers, thorough
from turncheck import TurncheckError, check
from turncheck.checks.register import open_sheet
from turncheck.checks.table import plain_cell
from turncheck.cli import main
from turncheck.geometry.guard_bands import Verdict, judge
from turncheck.sheet.model import Sheet


def tree(folder: Path) -> dict[str, bytes | None]:
    found = sorted(folder.rglob("*"))
    return {str(path): path.read_bytes() if path.is_file() else None for path in found}


def refused(folder: Path, *arguments: str) -> list[str]:
    """The sentences of a run that is refused; it prints nothing else and writes nothing."""
    before = tree(folder.parent)
    out = ["--out", str(folder.parent / "out")]
    ran = CliRunner().invoke(main, ["check", str(folder), *(arguments or out)])
    assert isinstance(ran.exception, SystemExit), ran.exception
    assert (ran.exit_code, ran.stdout) == (2, ""), ran.output
    assert tree(folder.parent) == before
    sentences = ran.stderr.splitlines()
    assert sentences and all(line.startswith("turncheck: ") for line in sentences), sentences
    assert "Traceback" not in ran.stderr
    return sentences


def broken_picture(folder: Path) -> None:
    (folder / "back.png").write_bytes(picture()[:-200])


def text_as_picture(folder: Path) -> None:
    (folder / "back.png").write_text("a drawing")


def no_table(folder: Path) -> None:
    (folder / "landmarks.csv").unlink()


def table_is_a_folder(folder: Path) -> None:
    no_table(folder)
    (folder / "landmarks.csv").mkdir()


def empty_table(folder: Path) -> None:
    (folder / "landmarks.csv").write_bytes(b"")


def empty_sheet(folder: Path) -> None:
    (folder / "sheet.toml").write_bytes(b"")


def empty_picture(folder: Path) -> None:
    (folder / "back.png").write_bytes(b"")


def flat_figure(folder: Path) -> None:
    edit(folder / "landmarks.csv", "front,crown,60.000,12.000", "front,crown,60.000,172.000")


def figure_on_its_head(folder: Path) -> None:
    edit(folder / "landmarks.csv", "front,crown,60.000,12.000", "front,crown,60.000,178.000")


def decimal_commas(folder: Path) -> None:
    table = folder / "landmarks.csv"
    table.write_text(table.read_text().replace(".", ","))


def wide_text(folder: Path) -> None:
    (folder / "sheet.toml").write_text(toml_text(), "utf-16")


CASES: dict[Callable[[Path], None], list[str]] = {
    broken_picture: ["back.png", "broken", "save it again"],
    text_as_picture: ["[views.back] image", "can't be read as a picture"],
    no_table: ["has no landmarks.csv"],
    table_is_a_folder: ["has no landmarks.csv"],
    empty_table: ["landmarks.csv", "is empty"],
    empty_sheet: ["sheet.toml", '"views" is missing'],
    empty_picture: ["[views.back] image", "can't be read as a picture"],
    flat_figure: ["crown", "no height", "place crown and ground again"],
    figure_on_its_head: ["crown", "no height"],
    decimal_commas: ["landmarks.csv, row 2", "decimal comma", "semicolons", "95 more rows"],
    wide_text: ["sheet.toml", "UTF-8"],
}


@pytest.mark.parametrize("damage", CASES, ids=lambda damage: damage.__name__)
def test_a_sheet_that_can_not_be_used_is_refused_and_nothing_written(
    tmp_path: Path, damage: Callable[[Path], None]
) -> None:
    folder = make_sheet(tmp_path / "tib")
    damage(folder)
    told = refused(folder)
    assert any(all(word in line for word in CASES[damage]) for line in told), told


def test_every_fault_is_a_line_of_its_own(tmp_path: Path) -> None:
    folder = make_sheet(tmp_path / "tib")
    table = folder / "landmarks.csv"
    table.write_text(table.read_text() + "sde,chin,1,2\nside,chn,1,2\nside,waist,1,x\n")
    told = refused(folder)
    rows = len(table.read_text().splitlines())
    assert [f"row {rows - 2}" in told[0], f"row {rows - 1}" in told[1], f"row {rows}" in told[2]]
    assert len(told) == 3


def test_a_folder_that_was_there_stays_as_it_was(tmp_path: Path) -> None:
    folder = make_sheet(tmp_path / "tib")
    broken_picture(folder)
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "report.html").write_text("the last good one")
    refused(folder)


def test_the_report_s_usual_place_is_left_alone_too(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    folder = make_sheet(tmp_path / "tib")
    broken_picture(folder)
    refused(folder, "--strict")


@pytest.mark.parametrize("out", ["tib/sheet.toml/x", "x" * 300, "/proc/turncheck/x"])
def test_a_place_that_can_not_hold_a_report_is_said(tmp_path: Path, out: str) -> None:
    folder = make_sheet(tmp_path / "tib")
    (line,) = refused(folder, "--out", str(tmp_path / out))
    assert "can't be written" in line and "name another folder" in line


def test_a_report_s_place_that_is_a_file_is_said(tmp_path: Path) -> None:
    folder = make_sheet(tmp_path / "tib")
    before = tree(tmp_path)
    out = ["--out", str(folder / "sheet.toml")]
    ran = CliRunner().invoke(main, ["check", str(folder), *out])
    assert ran.exit_code == 2 and "is a file" in ran.stderr
    assert tree(tmp_path) == before


def test_a_folder_in_a_report_s_place_is_said(tmp_path: Path) -> None:
    folder = make_sheet(tmp_path / "tib")
    (tmp_path / "out" / "summary.json").mkdir(parents=True)
    assert "summary.json is a folder" in refused(folder)[0]


@pytest.mark.parametrize("where", ["gone", "a" * 10_000, "tib/front.png"])
def test_a_sheet_that_is_none_is_said(tmp_path: Path, where: str) -> None:
    make_sheet(tmp_path / "tib")
    before = tree(tmp_path)
    ran = CliRunner().invoke(main, ["check", str(tmp_path / where)])
    assert ran.exit_code == 2 and isinstance(ran.exception, SystemExit)
    assert ran.stderr.startswith("turncheck: ") and tree(tmp_path) == before


HOSTILE = (
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "</title><script>alert(1)</script>",
    "' onmouseover='alert(1)",
    "javascript:alert(1)",
    "{{ 7*7 }}",
    "&lt;b&gt;",
    "=cmd()",
    "@SUM(1)",
    "＝1+1",
    "+1",
    "-1",
    "../../etc",
    "%00",
    "𝕋𝕚𝕓 🐐",
)


class Page(html.parser.HTMLParser):
    """What a browser would run on a page."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.runs: list[str] = []
        self._script = False
        self.feed(text)

    def handle_starttag(self, tag: str, attributes: list[tuple[str, str | None]]) -> None:
        self._script = tag == "script"
        for name, value in attributes:
            if name.startswith("on") or (value or "").strip().startswith("javascript:"):
                self.runs.append(f"{tag} {name}={value}")

    def handle_data(self, data: str) -> None:
        if self._script and "alert(1)" in data:
            self.runs.append(data)

    def handle_endtag(self, tag: str) -> None:
        self._script = False


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_is_shown_as_text_and_stays_in_its_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, text: str
) -> None:
    monkeypatch.chdir(tmp_path)
    word = text.replace("\\", "\\\\").replace('"', '\\"')
    extra = f"""
    [landmarks.badge]
    kind = "height"
    part = "{word}"
    says = "{word}"
    [[proportions]]
    name = "{word}"
    of = ["chin", "crown"]
    to = ["knee_l", "hip_l"]
    [[waivers]]
    check = "proportion"
    view = "side"
    subject = "{word}"
    reason = "{word}"
    by = "{word}"
    """
    rows = [
        *placed(placed_by=text),
        *({"view": view, "landmark": "badge", "x": "9", "y": y, "placed_by": text}
          for view, y in [("front", "90"), ("side", "99"), ("back", "90")]),
    ]  # fmt: skip
    folder = make_sheet(tmp_path / "tib", placings=rows, toml_extra=extra)
    edit(folder / "sheet.toml", '"Tib"', f'"{word}"')
    edit(folder / "sheet.toml", 'revision = "A"', f'revision = "{word}"')
    edit(folder / "landmarks.csv", "side,knee_l,61.600,127.200", "side,knee_l,61.600,120.000")
    ran = CliRunner().invoke(main, ["check", str(folder)])
    assert ran.exit_code == 1, ran.output
    (out,) = (tmp_path / "reports").iterdir()
    assert {path.name for path in tmp_path.iterdir()} == {"tib", "reports"}
    assert Page((out / "report.html").read_text("utf-8")).runs == []
    findings = pd.read_csv(out / "findings.csv", dtype=str, keep_default_na=False)
    for cell in findings[["view", "subject", "note", "landmarks"]].to_numpy().ravel():
        assert not starts_a_formula(cell), cell


@pytest.mark.parametrize("sd", ["0.001", "180"])
@pytest.mark.parametrize("placing_sd", [0.001, 10])
@pytest.mark.parametrize("tolerance", [0.001, 1000])
def test_the_furthest_numbers_that_are_let_in_are_measured(
    tmp_path: Path, sd: str, placing_sd: float, tolerance: float
) -> None:
    extra = f"[tolerances]\nheight = {tolerance}\npivot = {tolerance}\neye_line = {tolerance}"
    rows = placed(sd="") + placed({"front": 0.0, "side": 90.0}, sd=sd, placed_by="b")
    folder = make_sheet(tmp_path / "tib", placings=rows, toml_extra=extra)
    edit(folder / "sheet.toml", 'revision = "A"', f'revision = "A"\nplacing_sd = {placing_sd}')
    assert len(check(folder).findings)


@pytest.mark.parametrize("placing", ["canvas", "ground", "fit"])
@pytest.mark.parametrize("reference", ["front", "side", "consensus"])
@pytest.mark.parametrize("scarce", ["ground and crown alone", "all in one spot", "no pairs"])
def test_a_sheet_with_hardly_anything_placed_is_measured(
    tmp_path: Path, placing: str, reference: str, scarce: str
) -> None:
    def kept(row: Row) -> bool:
        if scarce == "no pairs":
            return not row["landmark"].endswith("_l")
        return scarce == "all in one spot" or row["landmark"] in ("ground", "crown")

    rows = [row for row in placed() if kept(row)]
    if scarce == "all in one spot":
        spot = {"x": "50", "y": "60"}
        rows = [row if row["landmark"] == "ground" else row | spot for row in rows]
    folder = make_sheet(tmp_path / "tib", placings=rows)
    top = f'reference = "{reference}"\nplacing = "{placing}"'
    edit(folder / "sheet.toml", 'reference = "front"', top)
    assert len(check(folder).findings)


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_sheet(tmp_path_factory.mktemp("shared") / "tib")


@pytest.fixture(scope="module")
def sheet(shared: Path) -> Sheet:
    return open_sheet(shared)


FULL = toml_text(
    toml_extra="""
    [tolerances]
    height = 1.0
    [landmarks.badge]
    kind = "width"
    symmetric = false
    [landmarks."knee_*"]
    tolerance = 2
    [[proportions]]
    name = "thigh : shin *"
    of = ["hip_*", "knee_*"]
    to = ["knee_*", "ankle_*"]
    [[waivers]]
    check = "height"
    view = "side"
    subject = "chin"
    reason = "always"
    by = "lead"
    """
)


def read_or_refuse(read: Callable[[], object]) -> None:
    try:
        read()
    except TurncheckError as error:
        assert error.faults and all("\n" not in str(fault) for fault in error.faults)


@pytest.mark.parametrize("name", ["sheet.toml", "lantern.toml"])
@given(data=st.data())
@thorough
def test_a_damaged_toml_file_is_read_or_refused_and_nothing_else(
    tmp_path: Path, name: str, data: st.DataObject
) -> None:
    text = FULL
    make_sheet(tmp_path)
    if name != "sheet.toml":
        edit(tmp_path / "sheet.toml", 'revision = "A"', f'revision = "A"\nvocabulary = "{name}"')
        text = 'name = "a"\nhead = ["crown", "chin"]\n' + "".join(
            f'[landmarks.{mark}]\nkind = "height"\n'
            for mark in ("ground", "crown", "chin", "eye_l")
        )
    damaged = data.draw(
        st.one_of(mutated(text), st.text(max_size=200), st.binary(max_size=200)), label="file"
    )
    written = damaged if isinstance(damaged, bytes) else damaged.encode("utf-8", "replace")
    (tmp_path / name).write_bytes(written)
    read_or_refuse(lambda: open_sheet(tmp_path))


#: Any document that TOML can hold, near to and far from a sheet.
values = st.recursive(
    st.one_of(
        st.booleans(), st.integers(-10, 400), st.floats(-1e9, 1e9), nasty, st.text(max_size=5)
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3),
        st.dictionaries(st.sampled_from(["image", "yaw", "kind", "of", "name", "zz"]), inner),
    ),
    max_leaves=8,
)


def as_toml(value: object) -> str:
    if isinstance(value, dict):
        pairs = (f"{as_toml(key)} = {as_toml(item)}" for key, item in value.items())
        return "{" + ", ".join(pairs) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(as_toml, value)) + "]"
    if isinstance(value, str):
        inside = (f"\\U{ord(c):08x}" if not 0xD800 <= ord(c) < 0xE000 else "?" for c in value)
        return '"' + "".join(inside) + '"'
    return str(value).lower()


@given(
    st.dictionaries(
        st.sampled_from(
            ["character", "revision", "reference", "placing", "vocabulary", "views", "tolerances",
             "landmarks", "proportions", "waivers", "symmetric", "placing_sd", "zz"]
        ),
        values,
    )
)  # fmt: skip
@thorough
def test_a_sheet_of_any_types_is_read_or_refused_and_nothing_else(
    shared: Path, document: dict[str, object]
) -> None:
    file = shared / "odd.toml"
    text = "".join(f"{key} = {as_toml(value)}\n" for key, value in document.items())
    file.write_text(text, "utf-8")
    read_or_refuse(lambda: open_sheet(file))


@given(data=st.data())
@thorough
def test_a_damaged_table_is_read_or_refused_and_nothing_else(
    tmp_path: Path, sheet: Sheet, data: st.DataObject
) -> None:
    text = csv_text(placed(visibility="hidden", sd="1", placed_by="ana"))
    damaged = data.draw(
        st.one_of(mutated(text), st.text(max_size=200), st.binary(max_size=200)), label="file"
    )
    written = damaged if isinstance(damaged, bytes) else damaged.encode("utf-8", "replace")
    (tmp_path / "landmarks.csv").write_bytes(written)
    read_or_refuse(lambda: read_placings(tmp_path / "landmarks.csv", sheet))


@given(numbers, numbers, numbers, st.integers(-20, 20))
@thorough
def test_the_unit_does_not_change_a_verdict(
    drift: float, uncertainty: float, tolerance: float, power: int
) -> None:
    factor = 2.0**power  # exact in binary, so that no rounding is tested
    scaled = judge(drift * factor, uncertainty * factor, tolerance * factor)
    assert scaled == judge(drift, uncertainty, tolerance)


@given(numbers, numbers, numbers)
@thorough
def test_up_and_down_are_judged_alike(drift: float, uncertainty: float, tolerance: float) -> None:
    assert judge(drift, uncertainty, tolerance) == judge(-drift, uncertainty, tolerance)


RANK = {Verdict.ON_MODEL: 0, Verdict.UNDECIDED: 1, Verdict.OFF_MODEL: 2}


@given(numbers, numbers, numbers, numbers)
@thorough
def test_a_larger_drift_is_never_judged_better(
    drift: float, more: float, uncertainty: float, tolerance: float
) -> None:
    small, large = judge(drift, uncertainty, tolerance), judge(drift + more, uncertainty, tolerance)
    assert RANK[small] <= RANK[large]


@given(numbers, numbers, numbers)
@thorough
def test_a_drift_beyond_tolerance_is_never_on_model_nor_one_within_off(
    drift: float, uncertainty: float, tolerance: float
) -> None:
    verdict = judge(drift, uncertainty, tolerance)
    assert verdict != (Verdict.ON_MODEL if drift > tolerance else Verdict.OFF_MODEL)


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
@pytest.mark.parametrize("place", range(3))
def test_a_number_that_is_none_is_not_judged(bad: float, place: int) -> None:
    given_numbers = [0.1, 0.1, 1.0]
    given_numbers[place] = bad
    with pytest.raises(ValueError, match="finite"):
        judge(*given_numbers)


def starts_a_formula(cell: str) -> bool:
    """Whether a spreadsheet may take the cell for a formula.

    The starts = + - @ and tab are those of OWASP ASVS 5.0, 1.2.10; line ends and the full-width
    = + - @ stand on OWASP's page on CSV injection (from memory). Blanks and characters without
    width before them do not count.
    """
    if cell[:1] in ("\t", "\r", "\n"):
        return True
    seen = [c for c in cell if not c.isspace() and unicodedata.category(c) not in ("Cc", "Cf")]
    return bool(seen) and seen[0] in "=+-@＝＋－＠"


#: Not `st.text`, which would draw the few that matter as rarely as any other of a million.
cells = st.lists(
    st.one_of(st.sampled_from("=+-@＝＋－＠\t\r\n \ufeff\u200b'a1\0"), st.characters()), max_size=8
).map("".join)


@given(cells)
@thorough
def test_no_text_becomes_a_formula(text: str) -> None:
    cell = plain_cell(text)
    assert not starts_a_formula(cell)
    assert cell == text or cell == f"'{text}"
    assert cell == text or starts_a_formula(text) or not text.isprintable(), "plain text stays"


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠"])
@pytest.mark.parametrize("before", ["", " ", "\t", "\ufeff", "\u00a0", "\u200b", "\0"])
def test_every_start_of_a_formula_is_made_plain(before: str, start: str) -> None:
    text = f"{before}{start}cmd()"
    assert not starts_a_formula(plain_cell(text))


def test_a_table_read_back_has_the_text_that_was_written() -> None:
    text = 'a "quoted", cell\nwith; all <of> it'
    written = pd.DataFrame({"note": [plain_cell(text)]}).to_csv(index=False)
    assert pd.read_csv(io.StringIO(written))["note"].item() == text
