"""`sheet.toml`: every fault is named at once with its mend, and what is well written is read."""

from __future__ import annotations

import json
import tomllib
from importlib import resources
from pathlib import Path

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.places import SAMPLES
from tests.sheets import VIEWS, edit, faults_of, make_sheet, picture, toml_text
from tests.strategies import thorough
from turncheck.checks.register import open_sheet
from turncheck.sheet.model import Sheet, _slug
from turncheck.sheet.sheet_file import json_schema


def read(folder: Path) -> Sheet:
    return open_sheet(folder)


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    return make_sheet(tmp_path / "tib")


def test_a_plain_sheet_is_read(sheet: Path) -> None:
    found = read(sheet)
    assert {name: view.yaw for name, view in found.views.items()} == VIEWS
    assert (found.character, found.reference, found.placing) == ("Tib", "front", "ground")


def test_a_drawing_is_by_the_sheet_s_artist_if_it_names_no_other(sheet: Path) -> None:
    edit(sheet / "sheet.toml", 'revision = "A"', 'revision = "A"\ndrawn_by = "ana"\nheight_cm = 95')
    edit(sheet / "sheet.toml", "yaw = 90", 'yaw = 90\ndrawn_by = "bo"')
    found = read(sheet)
    artists = {name: view.drawn_by for name, view in found.views.items()}
    assert artists == dict.fromkeys(VIEWS, "ana") | {"side": "bo"}
    assert found.height_cm == 95


EDITS = {
    # an edit of the sheet: what is replaced, by what, and words of the one sentence it gives
    "unknown key": ('revision = "A"', 'revison = "B"\nrevision = "A"', ["revison", "revision"]),
    "unknown key of a view": ("yaw = 45", "yaw = 45\nimge = 1", ["views.three_quarter", '"image"']),
    "missing key": ('revision = "A"', "", ['"revision" is missing', "add it"]),
    "missing yaw": ("yaw = 45", "", ["[views.three_quarter]", '"yaw" is missing']),
    "number in quotes": ("yaw = 45", 'yaw = "45"', ["[views.three_quarter]", "without quotes"]),
    "true for a number": ("yaw = 45", "yaw = true", ["yaw = true", "number"]),
    "yaw that is no number": ("yaw = 45", "yaw = nan", ["yaw = NaN", "number"]),
    "infinite yaw": ("yaw = 45", "yaw = inf", ["yaw = Infinity", "number"]),
    "yaw of two turns": ("yaw = 45", "yaw = 720", ["yaw = 720", "360"]),
    "text without quotes": ('character = "Tib"', "character = 7", ["character = 7", "quotes"]),
    "date as text": ('revision = "A"', "revision = 2024-05-01", ["revision", "quotes"]),
    "empty character": ('character = "Tib"', 'character = ""', ["character is empty"]),
    "blank character": ('character = "Tib"', 'character = "  "', ["character", "spaces"]),
    "line break": ('character = "Tib"', r'character = "Ti\nb"', ["character", "line break"]),
    "escape sequence": ('character = "Tib"', r'character = "\u001b[2J"', ["can't be shown"]),
    "right-to-left override": ('revision = "A"', r'revision = "\u202eA"', ["can't be shown"]),
    "endless character": ("Tib", "T" * 10_000, ["character", "120 characters"]),
    "unknown placing": ('revision = "A"', 'revision = "A"\nplacing = "grond"', ["'ground'"]),
    "unknown vocabulary": ('revision = "A"', 'revision = "A"\nvocabulary = "bipd"', ['"biped"']),
    "height below the ground": ('revision = "A"', 'revision = "A"\nheight_cm = -1', ["height_cm"]),
    "placing_sd zero": ('revision = "A"', 'revision = "A"\nplacing_sd = 0', ["placing_sd = 0"]),
    "placing_sd tiny": ('revision = "A"', 'revision = "A"\nplacing_sd = 1e-300', ["placing_sd"]),
    "yes for true": ('revision = "A"', 'revision = "A"\nsymmetric = "yes"', ["true or false"]),
    "unknown reference": ('reference = "front"', 'reference = "frnt"', ["frnt", '"front"']),
    "doubled yaw": ("yaw = 45", "yaw = 90", ["yaw = 90 is taken by", "three_quarter"]),
    "the same half turn": ("yaw = 45", "yaw = -180", ["is taken by"]),
    "the same quarter turn": ("yaw = 45", "yaw = -270", ["is taken by"]),
    "missing picture": ("front.png", "frnt.png", ['"frnt.png" is not there', '"front.png"']),
    "picture in other case": ("front.png", "Front.PNG", ["is not there", '"front.png"']),
    "picture above": ("front.png", "../x.png", ["outside the sheet's folder", "copy it there"]),
    "absolute picture": ("front.png", "/etc/passwd", ["outside the sheet's folder"]),
    "the folder as picture": ("front.png", ".", ['".": that is a folder']),
    "the sheet as picture": ("front.png", "sheet.toml", ["can't be read as a picture"]),
    "endless picture name": ("front.png", "x" * 10_000, ["is not there"]),
    "picture name with a NUL": ("front.png", r"a\u0000b.png", ["image", "can't be shown"]),
    "figure above": ("yaw = 45", 'yaw = 45\nfigure = "../m.png"', ["figure", "outside"]),
    "absolute figure": ("yaw = 45", 'yaw = 45\nfigure = "/etc/m.png"', ["figure", "outside"]),
    "picture with backslashes": ("front.png", r"art\\x.png", [r"art\x.png", "write / between"]),
    "picture with a form feed": ("front.png", r"art\front.png", ["be shown", "with / between"]),
    "picture of another view": ("front.png", "./side.png", ["[views.side]", "[views.front]"]),
    "flip of itself": ("yaw = 90", 'yaw = 90\nflip_of = "side"', ["[views.side]", "itself"]),
    "flip of nothing": ("yaw = 90", 'yaw = 90\nflip_of = "frnt"', ["flip_of", '"front"']),
    "hostile view name": ('"back"', '"<script>"', ["<script>", "not a usable name"]),
    "view name with a path": ('"back"', '"../../etc"', ["not a usable name"]),
    "view name as a formula": ('"back"', '"=cmd()"', ["not a usable name"]),
    "view name with a line break": ('"back"', r'"back\n"', [r"back\n", "not a usable name"]),
    "view name with an end space": ('"back"', '"back "', ["not a usable name"]),
    "view name turned": ('"back"', r'"\u202eback"', ["not a usable name"]),
    "endless view name": ('"back"', f'"{"b" * 10_000}"', ["not a usable name"]),
    "view named as the consensus": ('"back"', '"consensus"', ["all views together"]),
}  # fmt: skip


@pytest.mark.parametrize("case", EDITS)
def test_a_fault_gives_one_sentence_with_its_place_and_mend(sheet: Path, case: str) -> None:
    old, new, words = EDITS[case]
    edit(sheet / "sheet.toml", old, new)
    faults = faults_of(lambda: read(sheet))
    assert len(faults) == 1, faults
    assert str(sheet) in faults[0] and all(word in faults[0] for word in words), faults[0]
    assert len(faults[0]) < 500 + len(str(sheet)), "a long name is cut"


TABLES = {
    "unknown table": ("[tolerence]\nheight = 1", ["tolerence", '"tolerances"']),
    "unknown tolerance": ("[tolerances]\nhieght = 1", ["hieght", '"height"']),
    "tolerance zero": ("[tolerances]\nheight = 0", ["[tolerances]", "height = 0"]),
    "tolerance negative": ("[tolerances]\nheight = -1", ["height = -1"]),
    "tolerance infinite": ("[tolerances]\nheight = inf", ["height = Infinity", "number"]),
    "tolerance in words": ('[tolerances]\nheight = "1 %"', ["height", "number"]),
    "tolerance beyond all": ("[tolerances]\nheight = 1e308", ["height", "1000"]),
    "tolerances as a list": ("[[tolerances]]\nheight = 1", ["tolerances", "table"]),
    "landmark without kind": ("[landmarks.nee_l]\npart = 'leg_l'", ["kind", '"knee_l"']),
    "unknown kind": ("[landmarks.badge]\nkind = 'wdth'", ["[landmarks.badge]", "'width'"]),
    "unknown key": ("[landmarks.badge]\nkind = 'width'\nsymetric = false", ['"symmetric"']),
    "landmark not a table": ("[landmarks]\nbadge = 'width'", ["badge", "table"]),
    "coincides with nothing": ("[landmarks.chin]\ncoincides_with = 'hed'", ["hed", '"head"']),
    "coincides with itself": ("[landmarks.chin]\ncoincides_with = 'chin'", ["names itself"]),
    "hostile landmark": ("[landmarks.'<script>']\nkind = 'width'", ["not a usable name"]),
    "landmark as a path": ("[landmarks.'../../etc']\nkind = 'width'", ["not a usable name"]),
    "landmark as a formula": ("[landmarks.'=cmd()']\nkind = 'width'", ["not a usable name"]),
    "landmark with a line break": ('[landmarks."a\\nb"]\nkind = "width"', [r"a\nb", "usable"]),
    "proportion of nothing": (
        "[[proportions]]\nname = 'a'\nof = ['nee_l', 'chin']\nto = ['chin', 'crown']",
        ["nee_l", '"knee_l"'],
    ),
    "proportion of one point": (
        "[[proportions]]\nname = 'a'\nof = ['chin']\nto = ['chin', 'crown']",
        ["[[proportions]] number 1", "of number 2", "missing"],
    ),
    "proportion of three points": (
        "[[proportions]]\nname = 'a'\nof = ['chin', 'crown', 'neck']\nto = ['chin', 'crown']",
        ["[[proportions]] number 1", "of has more than 2"],
    ),
    "proportion of a number": (
        "[[proportions]]\nname = 'a'\nof = ['chin', 5]\nto = ['chin', 'crown']",
        ["of number 2 = 5", "quotes"],
    ),
    "proportion name with a line break": (
        '[[proportions]]\nname = "a\\nb"\nof = ["chin", "neck"]\nto = ["chin", "crown"]',
        ["name", "line break"],
    ),
    "endless proportion name": (
        f"[[proportions]]\nname = '{'a' * 10_000}'\nof = ['chin', 'neck']\nto = ['chin', 'crown']",
        ["name", "80 characters"],
    ),
    "proportions in single brackets": (
        "[proportions]\nname = 'a'\nof = ['chin', 'neck']\nto = ['chin', 'crown']",
        ["proportions", "double brackets"],
    ),
    "waiver of nothing": (
        "[[waivers]]\ncheck = 'hight'\nview = 'side'\nsubject = 'chin'\nreason = 'r'\nby = 'b'",
        ["[[waivers]] number 1", "hight", '"height"'],
    ),
    "waiver on no view": (
        "[[waivers]]\ncheck = 'height'\nview = 'sde'\nsubject = 'chin'\nreason = 'r'\nby = 'b'",
        ["[[waivers]] number 1", "sde", '"side"'],
    ),
    "waiver without a reason": (
        "[[waivers]]\ncheck = 'height'\nview = 'side'\nsubject = 'chin'\nreason = ''\nby = 'b'",
        ["[[waivers]] number 1", "reason is empty"],
    ),
    "waiver with an escape sequence": (
        "[[waivers]]\ncheck = 'height'\nview = 'side'\nsubject = 'chin'\nby = 'b'\n"
        'reason = "\\u001b[2J"',
        ["[[waivers]] number 1", "reason", "can't be shown"],
    ),
    "waiver by nobody": (
        "[[waivers]]\ncheck = 'height'\nview = 'side'\nsubject = 'chin'\nreason = 'r'",
        ["[[waivers]] number 1", '"by" is missing'],
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", TABLES)
def test_a_fault_in_a_table_names_the_table(tmp_path: Path, case: str) -> None:
    extra, words = TABLES[case]
    folder = make_sheet(tmp_path / "tib", toml_extra=extra)
    faults = faults_of(lambda: read(folder))
    assert len(faults) == 1, faults
    assert str(folder) in faults[0] and all(word in faults[0] for word in words), faults[0]


def test_all_faults_of_a_sheet_come_at_once(tmp_path: Path) -> None:
    extra = """
    [views.top]
    image = "top.png"
    yaw = 360
    flip_of = "bottom"
    [tolerances]
    hieght = 1
    [landmarks.chin]
    coincides_with = "hed"
    [[proportions]]
    name = "a"
    of = ["nee_l", "chin"]
    to = ["chin", "crown"]
    [[waivers]]
    check = "hieght"
    view = "sde"
    subject = "chin"
    reason = "r"
    by = "b"
    wy = "mistyped"
    """
    folder = make_sheet(tmp_path / "tib", toml_extra=extra)
    edit(folder / "sheet.toml", 'reference = "front"', 'reference = "fornt"\nvocabulry = "biped"')
    told = "\n".join(faults_of(lambda: read(folder)))
    for word in ("top.png", "360", "bottom", "hieght", "hed", "nee_l", "sde", "wy", "fornt"):
        assert word in told, word
    assert "vocabulry" in told


@pytest.mark.parametrize("name", ["1", "2nd", "front (old)", "vue_côté", "前"])
def test_a_view_may_have_any_plain_name(tmp_path: Path, name: str) -> None:
    assert name in read(make_sheet(tmp_path / "tib", views={"front": 0, name: 90})).views


def test_a_fault_in_a_view_named_by_a_number_names_that_view(tmp_path: Path) -> None:
    folder = make_sheet(tmp_path / "tib", views={"front": 0, "1": 90})
    edit(folder / "sheet.toml", "yaw = 90", "yaw = 'x'")
    assert "[views.1]" in faults_of(lambda: read(folder))[0]


@pytest.mark.parametrize("views", [{}, {"front": 0.0}])
def test_fewer_than_two_views_can_not_be_checked(tmp_path: Path, views: dict[str, float]) -> None:
    folder = make_sheet(tmp_path / "tib", views=views)
    assert any("view" in fault and "add" in fault for fault in faults_of(lambda: read(folder)))


def test_two_views_have_no_consensus(tmp_path: Path) -> None:
    folder = make_sheet(tmp_path / "tib", views={"front": 0, "side": 90})
    edit(folder / "sheet.toml", 'reference = "front"', 'reference = "consensus"')
    (fault,) = faults_of(lambda: read(folder))
    assert "no consensus" in fault and "third drawing" in fault


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('character = "Tib"\nrevision = \n', ["line 2", "TOML"]),
        ("[views\n", ["line 1", "TOML"]),
        ('a = "b"\na = "c"\n', ["line 2", "TOML"]),
        ("a = " + "[" * 5000, ["TOML", "brackets"]),
        ("a = " + "9" * 5000, ["TOML"]),
        ("", ['"character" is missing']),
        ("a = '\0'", ["UTF-8"]),
        ("a = 1\nsymmetric = yes # so", ["line 2", "true or false", "write symmetric = true"]),
        ("symmetric = Off\r\n", ["line 1", "write symmetric = false"]),
        ("character = Odo", ['write character = "Odo"']),
        ("yaw = 1,5", ["decimal point"]),
        ('image = "art\\side.png"', ["write / in place of \\"]),
    ],
    ids=[
        "no value",
        "open bracket",
        "doubled key",
        "deep",
        "long number",
        "empty",
        "NUL",
        "yes",
        "off",
        "no quotes",
        "decimal comma",
        "backslash",
    ],
)
def test_broken_toml_names_the_line(sheet: Path, text: str, words: list[str]) -> None:
    (sheet / "sheet.toml").write_text(text, "utf-8")
    fault = faults_of(lambda: read(sheet))[0]
    assert fault.startswith(str(sheet / "sheet.toml")) and all(word in fault for word in words)


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-16-be", "latin-1"])
def test_another_encoding_is_said(sheet: Path, encoding: str) -> None:
    (sheet / "sheet.toml").write_bytes(toml_text(toml_extra="# é").encode(encoding))
    (fault,) = faults_of(lambda: read(sheet))
    assert "UTF-8" in fault


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig"])
@pytest.mark.parametrize("ending", ["\n", "\r\n"])
def test_a_byte_order_mark_and_other_line_ends_are_read(
    sheet: Path, encoding: str, ending: str
) -> None:
    text = toml_text(toml_extra="# é").replace("\n", ending)
    (sheet / "sheet.toml").write_bytes(text.encode(encoding))
    assert read(sheet).character == "Tib"


def test_a_link_out_of_the_folder_is_refused(sheet: Path) -> None:
    (sheet.parent / "elsewhere.png").write_bytes(picture())
    (sheet / "front.png").unlink()
    (sheet / "front.png").symlink_to(sheet.parent / "elsewhere.png")
    (fault,) = faults_of(lambda: read(sheet))
    assert "front.png" in fault and "outside" in fault


def test_links_in_a_circle_are_refused(sheet: Path) -> None:
    (sheet / "front.png").unlink()
    (sheet / "front.png").symlink_to("front.png")
    assert len(faults_of(lambda: read(sheet))) == 1


def test_a_link_inside_the_folder_is_followed(sheet: Path) -> None:
    (sheet / "front.png").unlink()
    (sheet / "front.png").symlink_to("side.png")
    assert read(sheet).views["front"].picture.width == 120


def test_a_folder_without_a_sheet_is_said(tmp_path: Path) -> None:
    (fault,) = faults_of(lambda: read(tmp_path))
    assert "there is no sheet.toml here" in fault and "turncheck new" in fault


@pytest.mark.parametrize(
    "where", ["missing", "a" * 10_000, "front.png/x", "a\0b"], ids=lambda text: text[:9]
)
def test_a_folder_that_is_not_there_is_said(tmp_path: Path, where: str) -> None:
    (fault,) = faults_of(lambda: read(tmp_path / where))
    assert "there is no such folder; check the name" in fault


def test_a_file_that_is_no_sheet_names_the_folder_to_use(sheet: Path) -> None:
    (fault,) = faults_of(lambda: read(sheet / "front.png"))
    assert "that is a picture" in fault and f'"{sheet}"' in fault
    (fault,) = faults_of(lambda: read(sheet / "landmarks.csv"))
    assert "that is no sheet.toml" in fault and f'"{sheet}"' in fault


def test_a_vocabulary_that_is_not_there_is_a_fault_of_the_sheet_s_file(
    sheet: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    edit(sheet / "sheet.toml", 'revision = "A"', 'revision = "A"\nvocabulary = "bipd"')
    monkeypatch.chdir(sheet)
    for path, shown in ((sheet, sheet / "sheet.toml"), (Path("."), "sheet.toml")):
        (fault,) = faults_of(lambda path=path: read(path))
        assert fault.startswith(f'{shown}, vocabulary = "bipd": ')


@pytest.mark.parametrize("name", ["two words", "Kätzchen", "山羊", "🐐 goat", 'it\'s "so"', "-x"])
def test_the_folder_may_have_any_name(tmp_path: Path, name: str) -> None:
    assert read(make_sheet(tmp_path / name)).folder.name == name


@pytest.mark.parametrize("character", ["???", "..", "/", "../../etc/passwd", "🐐", "CON\\NUL", "."])
def test_a_report_folder_stays_a_plain_name(tmp_path: Path, character: str) -> None:
    folder = make_sheet(tmp_path / "tib")
    edit(folder / "sheet.toml", '"Tib"', f"'{character}'")
    slug = read(folder).slug
    assert Path(slug).name == slug and slug[0] not in ".-" and slug.endswith("-A")


@given(st.text(max_size=200))
@thorough
def test_a_slug_is_a_safe_single_path_component(text: str) -> None:
    slug = _slug(text)
    assert slug and slug.isprintable() and Path(slug).name == slug
    assert not set(slug) & set('/\\:*?"<>| \t') and slug[0] not in ".-" and slug[-1] not in ". "
    assert len(slug.encode("utf-8")) <= 60, "two of them and a hyphen fit any file system"


def test_the_schema_in_the_package_is_the_code_s_own() -> None:
    shipped = resources.files("turncheck.sheet").joinpath("sheet.schema.json").read_text("utf-8")
    assert shipped == json_schema(), (
        "write turncheck.sheet.sheet_file.json_schema() to sheet.schema.json"
    )


def validator() -> jsonschema.Draft202012Validator:
    schema = json.loads(json_schema())
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema)


@pytest.mark.parametrize("sample", ["odo", "pim", "brindle", "dots"])
def test_the_schema_accepts_the_sample_sheets(sample: str) -> None:
    validator().validate(tomllib.loads((SAMPLES / sample / "sheet.toml").read_text("utf-8")))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('revision = "A"', 'revision = "A"\nrevison = "A"'),
        ("yaw = 45", "yaw = 45\nimge = 'a'"),
        ("yaw = 45", "yaw = '45'"),
        ('revision = "A"', "revision = 'A'\nplacing = 'grond'"),
        ("yaw = 45", ""),
    ],
)
def test_the_schema_refuses_what_the_reader_refuses(sheet: Path, old: str, new: str) -> None:
    edit(sheet / "sheet.toml", old, new)
    assert faults_of(lambda: read(sheet))
    raw = tomllib.loads((sheet / "sheet.toml").read_text("utf-8"))
    assert not validator().is_valid(raw)
