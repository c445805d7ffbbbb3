"""What commands write where something is in the way, and what they read that is no plain file."""

from __future__ import annotations

import io
import json
import os
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import cv2
import numpy as np
import pytest
from click.testing import CliRunner, Result
from PIL import Image

from tests.images.wide_sheets import wide_file
from tests.places import SAMPLES
from tests.sheets import edit, make_sheet, picture
from turncheck.checking import check
from turncheck.cli import main
from turncheck.images.describing import describe_drawings

#: Longer than any run here takes, s; one that reads a pipe never ends.
PATIENCE = 60


def run(*arguments: object) -> Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


#: Runs several commands one after the other and says what became of each.
SEVERAL = """
import json, sys
from click.testing import CliRunner
from turncheck.cli import main
ran = [CliRunner().invoke(main, command) for command in json.loads(sys.argv[1])]
print(json.dumps([(one.exit_code, one.stdout, one.stderr) for one in ran]))
"""


def programs(*commands: list[object]) -> list[subprocess.CompletedProcess[str]]:
    """Runs in a program of their own, all of which have to end."""
    told = json.dumps([list(map(str, command)) for command in commands])
    ran = subprocess.run(
        [sys.executable, "-c", SEVERAL, told],
        capture_output=True,
        text=True,
        timeout=PATIENCE,
        check=True,
    )
    return [subprocess.CompletedProcess([], *one) for one in json.loads(ran.stdout)]


def told(ran: Result | subprocess.CompletedProcess[str]) -> str:
    """The one sentence that a run is refused with."""
    status = ran.exit_code if isinstance(ran, Result) else ran.returncode
    assert (status, ran.stdout) == (2, ""), ran
    (line,) = (ran.stderr or "").splitlines()
    assert line.startswith("turncheck: ") and line.isprintable()
    return line


def tree(folder: Path) -> dict[str, bytes | None]:
    found = sorted(folder.rglob("*"))
    return {str(path): path.read_bytes() if path.is_file() else None for path in found}


@pytest.fixture
def wide(tmp_path: Path) -> tuple[Path, int]:
    return wide_file(tmp_path)


@pytest.fixture
def dotted(tmp_path: Path, dots_found_once: None) -> Path:
    return Path(shutil.copytree(SAMPLES / "dots", tmp_path / "dots"))


def test_a_view_called_preview_is_not_overwritten(tmp_path: Path, wide: tuple[Path, int]) -> None:
    file, count = wide
    before = tree(tmp_path)
    names = ",".join(["front", "preview", "side", "back", "yaw_30"][:count])
    assert "use --preview" in told(run("split", file, tmp_path / "k", "--views", names))
    assert tree(tmp_path) == before
    look = tmp_path / "k" / "look.png"
    ran = run("split", file, tmp_path / "k", "--views", names, "--preview", look)
    assert ran.exit_code == 0, ran.output
    cut, shown = (cv2.imread(str(tmp_path / "k" / name)) for name in ("preview.png", "look.png"))
    assert cut is not None and shown is not None and cut.shape[1] < shown.shape[1]


@pytest.mark.parametrize("named", ["k/front.png", "k/sheet.toml", "k/../k/side.png", "wide.png"])
@pytest.mark.parametrize("told_names", [True, False])
def test_a_preview_in_the_place_of_another_file_is_refused(
    tmp_path: Path, wide: tuple[Path, int], named: str, told_names: bool
) -> None:
    file, count = wide
    names = ",".join(["front", "three_quarter", "side", "back_three_quarter", "back"][:count])
    before = tree(tmp_path)
    more = ["--views", names] if told_names else []
    line = told(run("split", file, tmp_path / "k", "--preview", tmp_path / named, *more))
    assert "name another" in line
    assert tree(tmp_path) == before


def test_the_preview_of_a_picture_that_can_not_be_cut_is_no_sheet(tmp_path: Path) -> None:
    cv2.imwrite(str(tmp_path / "blank.png"), np.full((90, 200, 3), 250, np.uint8))
    sheet = tmp_path / "k" / "sheet.toml"
    assert "the sheet itself" in told(
        run("split", tmp_path / "blank.png", sheet.parent, "--preview", sheet)
    )
    assert not sheet.parent.exists()


def test_dots_writes_all_or_nothing(dotted: Path, tmp_path: Path) -> None:
    seen = tmp_path / "seen"
    seen.mkdir()
    (seen / "side_dots.png").write_bytes(b"mine")
    table = dotted / "landmarks.csv"
    before = tree(tmp_path)
    assert "side_dots.png: is there" in told(run("dots", dotted, "--write", "--preview", seen))
    assert tree(tmp_path) == before
    (seen / "side_dots.png").unlink()
    table.chmod(0o444)
    before = tree(tmp_path)
    assert "write-protected" in told(run("dots", dotted, "--write", "--preview", seen))
    assert tree(tmp_path) == before
    table.chmod(0o644)
    assert run("dots", dotted, "--write", "--preview", seen).exit_code == 0
    assert (seen / "side_dots.png").exists() and table.read_bytes() != before[str(table)]


@pytest.mark.parametrize("command", ["new", "split"])
def test_of_three_at_once_one_starts_the_sheet(
    tmp_path: Path, wide: tuple[Path, int], command: str
) -> None:
    command_lines = []
    for name in "abc":
        (tmp_path / name).mkdir()
        drawings = [tmp_path / name / f"{name}_{view}.png" for view in ("front", "side")]
        for drawing in drawings:
            drawing.write_bytes(picture())
        arguments = [tmp_path / "k", *drawings] if command == "new" else [wide[0], tmp_path / "k"]
        command_lines.append([command, *arguments, "--revision", name])
    running = [
        subprocess.Popen(
            [sys.executable, "-m", "turncheck", *map(str, line)],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        for line in command_lines
    ]
    ended = [(one.communicate(timeout=PATIENCE), one.returncode) for one in running]
    assert sorted(status for _, status in ended) == [0, 2, 2], ended
    (winner,) = (name for name, (_, status) in zip("abc", ended, strict=True) if status == 0)
    assert f'revision = "{winner}"' in (tmp_path / "k" / "sheet.toml").read_text("utf-8")
    for (_, errors), status in ended:
        assert "Traceback" not in errors and (status == 0 or "already" in errors)
    if command == "new":
        files = {path.name for path in (tmp_path / "k").iterdir()}
        assert files == {"sheet.toml", f"{winner}_front.png", f"{winner}_side.png"}


def test_a_drawing_that_is_broken_starts_no_sheet(tmp_path: Path) -> None:
    whole, half = tmp_path / "front.png", tmp_path / "side.png"
    whole.write_bytes(picture())
    half.write_bytes(picture()[:-200])
    assert "broken" in told(run("new", tmp_path / "k", whole, half))
    assert not (tmp_path / "k").exists()


def test_two_sheets_of_one_name_share_no_report(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    ours, theirs = make_sheet(tmp_path / "ours"), make_sheet(tmp_path / "theirs")
    assert run("check", ours).exit_code == 0
    before = tree(tmp_path)
    line = told(run("check", theirs))
    assert "another sheet" in line and "--out" in line and "ours" in line
    assert tree(tmp_path) == before
    assert run("check", theirs, "--out", "there").exit_code == 0
    assert json.loads((tmp_path / "there/summary.json").read_text())["sheet"] == "../theirs"
    assert run("check", ours / "sheet.toml").exit_code == 0
    ours.rename(tmp_path / "moved")
    assert run("check", tmp_path / "moved").exit_code == 0, "a sheet that has moved is the same"


def test_two_sheets_in_one_folder_share_no_report(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    folder = make_sheet(tmp_path / "tib")
    strict = folder / "strict.toml"
    strict.write_text((folder / "sheet.toml").read_text("utf-8") + "[tolerances]\nheight = 0.5\n")
    for one, other in ((folder, strict), (strict, folder / "sheet.toml")):
        assert run("check", one).exit_code == 0
        before = tree(tmp_path)
        line = told(run("check", other))
        assert "another sheet" in line and "--out" in line
        assert tree(tmp_path) == before
        assert run("check", one).exit_code == 0, "the same sheet again"
        shutil.rmtree(tmp_path / "reports")


@pytest.mark.parametrize(
    ("command", "files"),
    [
        (["pivots"], ["pivots.html", "body.csv"]),
        (["guides", "--yaw", "60"], ["yaw_60.csv", "yaw_60.png"]),
        (["guides", "--yaw", "60"], ["guides.json"]),
        (["compare"], ["compare.html", "compare.json"]),
    ],
)
def test_another_s_file_is_not_overwritten_but_ones_own_is(
    tmp_path: Path, command: list[str], files: list[str]
) -> None:
    sheet, out = make_sheet(tmp_path / "tib"), tmp_path / "out"
    sheets = [sheet, sheet] if command == ["compare"] else [sheet]
    out.mkdir()
    for name in files:
        (out / name).write_text("mine", "utf-8")
    ran = run(*command, *sheets, "--out", out)
    assert ran.exit_code == 2, ran.output
    assert all(name in ran.stderr for name in files)
    assert tree(out) == {str(out / name): b"mine" for name in files}
    for name in files:
        (out / name).unlink()
    assert [run(*command, *sheets, "--out", out).exit_code for _ in range(2)] == [0, 0]


@pytest.mark.parametrize("kind", ["PNG", "WEBP", "TIFF"])
def test_a_picture_of_several_is_told(tmp_path: Path, kind: str) -> None:
    folder = make_sheet(tmp_path / "tib")
    drawing = Image.open(io.BytesIO(picture()))
    turned = [drawing.rotate(90), drawing.rotate(180)]
    name = f"front.{kind.lower()}"
    drawing.save(folder / name, kind, save_all=True, append_images=turned)
    edit(folder / "sheet.toml", "front.png", name)
    ran = run("check", folder, "--out", tmp_path / "out")
    sentence = f"{name} holds 3 pictures; the first is read."
    assert sentence in ran.stdout
    assert sentence in (tmp_path / "out" / "report.html").read_text("utf-8")
    others = tmp_path / "k", folder / name, folder / "side.png"
    assert sentence in run("new", *others).stdout
    assert sentence not in run("new", "--quiet", tmp_path / "quiet", *others[1:]).stdout
    command = [sys.executable, "-m", "turncheck", "mark", "--no-browser", str(folder)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as marking:
        assert marking.stdout is not None
        address, _, remark = (marking.stdout.readline() for _ in range(3))
        marking.send_signal(signal.SIGINT)
    assert address.startswith("http://127.0.0.1") and remark == f"{sentence}\n"


def test_a_wide_picture_of_several_is_told(tmp_path: Path, wide: tuple[Path, int]) -> None:
    with Image.open(wide[0]) as one:
        upside_down = one.rotate(180)
        one.save(tmp_path / "w.tiff", save_all=True, append_images=[upside_down])
    ran = run("split", tmp_path / "w.tiff", tmp_path / "k")
    assert ran.exit_code == 0 and "w.tiff holds 2 pictures, and the first was cut" in ran.output


@pytest.mark.parametrize(
    "arguments",
    [["check", "tib", "--out", ""], ["new", "", "tib/front.png"], ["new", "k", ""], ["check", ""],
     ["mark", ""], ["split", "", "k"], ["split", "tib/front.png", ""], ["export", "tib", ""],
     ["dots", "tib", "--preview", ""], ["split", "tib/front.png", "k", "--preview", ""]],
)  # fmt: skip
def test_an_empty_path_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, arguments: list[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    make_sheet(tmp_path / "tib")
    before = tree(tmp_path)
    assert "is empty; name a file or a folder" in told(run(*arguments))
    assert tree(tmp_path) == before


def test_a_control_character_in_a_path_is_escaped_wherever_it_is_shown(tmp_path: Path) -> None:
    odd = tmp_path / "a\x1b[31mb\u202ec"
    odd.mkdir()
    folder = make_sheet(odd / "tib")
    drawings = [folder / "front.png", folder / "side.png"]
    sheets = {
        "check": [folder, "--out", odd / "out"],
        "export": [folder, odd / "out.json"],
        "new": [odd / "new", *drawings],
        "dots": [folder],
        "split": [folder / "front.png", odd / "k"],
        "import": [folder, odd / "none.json"],
        "mark": [odd],
    }
    for command, arguments in sheets.items():
        for more in ([], ["\x1b[31m"], ["--\x1b[31m"]):
            ran = run(command, *arguments, *more)
            assert "\x1b" not in ran.output and "\u202e" not in ran.output, (command, ran.output)
    assert r"a\x1b[31mb\u202ec" in run(*["check", folder, "--out", odd / "out"]).output
    assert "\x1b" not in run("\x1b[31m").output + run("--\x1b[31m").output


def pipe(path: Path) -> None:
    os.mkfifo(path)


def endless(path: Path) -> None:
    path.symlink_to("/dev/zero")


def huge(path: Path) -> None:
    with path.open("wb") as file:
        file.truncate(20_000_000_000)  # without taking so much of the disk


@pytest.mark.parametrize("what", [pipe, endless, huge], ids=lambda what: what.__name__)
def test_what_never_ends_is_refused_at_once(tmp_path: Path, what: object) -> None:
    names = ["landmarks.csv", "sheet.toml", "v.toml"]
    names += ["side.png", "mask.png"] if what is not huge else []  # a picture ends by its format
    folders = [make_sheet(tmp_path / name / "tib") for name in names]
    for name, folder in zip(names, folders, strict=True):
        settings = folder / "sheet.toml"
        if name == "mask.png":
            edit(settings, 'image = "side.png"', f'image = "side.png"\nfigure = "{name}"')
        if name == "v.toml":
            edit(settings, 'revision = "A"', f'revision = "A"\nvocabulary = "{name}"')
        (folder / name).unlink(missing_ok=True)
        what(folder / name)  # type: ignore[operator]
    more = [["mark", "--no-browser", folders[0]], ["dots", folders[0], "--from", "front"]]
    checks = [["check", folder, "--out", tmp_path / "out"] for folder in folders]
    lines = [told(ran) for ran in programs(*checks, *more)]
    for name, line in zip((*names, names[0], names[0]), lines, strict=True):
        assert name in line
    assert "no file but a pipe" in lines[0] or "larger than" in lines[0]


@pytest.mark.parametrize("what", [pipe, endless], ids=lambda what: what.__name__)
def test_a_picture_or_a_file_that_never_ends_is_refused(tmp_path: Path, what: object) -> None:
    folder = make_sheet(tmp_path / "tib")
    what(tmp_path / "odd")  # type: ignore[operator]
    for ran in programs(
        ["new", tmp_path / "k", tmp_path / "odd"],
        ["split", tmp_path / "odd", tmp_path / "k"],
        ["import", folder, tmp_path / "odd"],
    ):
        assert "a pipe or a device" in told(ran)
    assert not (tmp_path / "k").exists()


@pytest.mark.parametrize("goes", ["drawings", "all"])
def test_a_sheet_that_goes_while_it_is_read_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, goes: str
) -> None:
    folder = make_sheet(tmp_path / "tib")

    def gone(*arguments: object) -> object:
        for path in folder.iterdir():
            path.unlink()
        if goes == "all":
            folder.rmdir()
        return describe_drawings(*arguments)  # type: ignore[arg-type]

    monkeypatch.setattr(f"{check.__module__}.describe_drawings", gone)
    assert "can't be opened" in told(run("check", folder, "--out", tmp_path / "out"))


def test_a_folder_that_goes_under_ones_feet_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    here = tmp_path / "here"
    for command in (["check", "tib"], ["new", "k", "a.png"], ["split", "a.png", "k"]):
        here.mkdir()
        with monkeypatch.context() as within:
            within.chdir(here)
            here.rmdir()
            assert "is gone" in told(run(*command))
    here.mkdir()
    script = "import os; os.rmdir(os.getcwd()); from turncheck.cli import start; start()"
    ran = subprocess.run(
        [sys.executable, "-c", script, "check", "tib"],
        cwd=here,
        capture_output=True,
        text=True,
        timeout=PATIENCE,
        check=False,
    )
    assert "is gone" in told(ran)


@pytest.mark.parametrize("size", [1, 2, 3, 5, 9, 17, 33, 65, 120, 199])
@pytest.mark.parametrize("seed", [1, 2])
def test_noise_of_any_size_is_measured_or_refused(tmp_path: Path, size: int, seed: int) -> None:
    rng = np.random.default_rng(seed)
    folder = tmp_path / "noise"
    folder.mkdir()
    lines = ['character = "Tib"', 'revision = "A"']
    for number, view in enumerate(("front", "side", "back")):
        high = max(1, size - number)
        noise = rng.integers(0, 256, (high, size, (3, 4)[seed - 1]), dtype=np.uint8)
        cv2.imwrite(str(folder / f"{view}.png"), noise)
        lines += [f"[views.{view}]", f'image = "{view}.png"', f"yaw = {90 * number}"]
    (folder / "sheet.toml").write_text("\n".join(lines), "utf-8")
    rows = [f"{view},{mark},0,{y}" for view in ("front", "side", "back")
            for mark, y in (("ground", max(0, size - 3)), ("crown", 0))]  # fmt: skip
    (folder / "landmarks.csv").write_text("\n".join(["view,landmark,x,y", *rows]), "utf-8")
    ran = run("check", folder, "--out", tmp_path / "out")
    assert ran.exception is None or isinstance(ran.exception, SystemExit), ran.exc_info
    assert ran.exit_code in (0, 1, 2)


def test_a_grey_drawing_of_sixteen_bit_takes_no_more_memory_than_a_coloured_one(
    tmp_path: Path,
) -> None:
    taken = {}
    for mode in ("I;16", "RGB"):
        drawing = tmp_path / f"{mode[0]}.png"
        Image.new(mode, (4000, 4000)).save(drawing, compress_level=1)
        command = ["-m", "turncheck", "new", str(tmp_path / mode[0]), str(drawing), "-q"]
        running = subprocess.Popen([sys.executable, *command])
        _, status, used = os.wait4(running.pid, 0)
        running.returncode = os.waitstatus_to_exitcode(status)
        assert running.returncode == 0
        taken[mode] = used.ru_maxrss
    assert taken["I;16"] < 1.1 * taken["RGB"]
