"""Pim from the scanned sheet to the rig: the commands, the drawings, and the hand that places.

Pim's planted drawings stand on a wide sheet; revision B is drawn as it should be; the rig's views
are the same solid in thinner lines, at another size. All that is invented is in the samples'.
`test_story.py` holds what comes out; `sample_story.py` draws the README's pictures of it.
"""

from __future__ import annotations

import json
import shlex
import sys
from collections.abc import Iterable, Mapping
from contextlib import chdir
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from click.testing import CliRunner

from tests.places import SAMPLES
from turncheck.checks.register import open_sheet
from turncheck.cli import main
from turncheck.placing.session import Change, Session, Step
from turncheck.sheet.landmark_table import read_table
from turncheck.sheet.model import LANDMARKS_FILE

sys.path.insert(0, str(SAMPLES))

from drawing import pim
from drawing.figure import View
from drawing.inking import Pen, draw
from drawing.paper import Placed, wide_sheet
from drawing.pim import Drift
from drawing.truth import sightings

YAWS: Mapping[str, float] = {"front": 0.0, "three_quarter": 45.0, "side": 90.0, "back": 180.0}
HEIGHT = pim.CROWN
#: The slip of a hand, % of the figure height: what a sheet takes it to be.
SLIP, HIDDEN_SLIP = 0.15, 0.3
#: Size of the wide sheet's figures, of revision B and of the rig's views, against the samples'.
WIDE, REDRAWN, RIG = 0.72, 0.8, 0.64
#: How much lower the rig's left arm hangs where it was bound wrongly, % of the figure height.
SAGS = 2.5
RIGHT, PEN, THIN = Drift(), Pen(), Pen(outer=3.0, inner=3.0, seam=3.0)


@dataclass(frozen=True)
class Spot:
    """Where a point truly lies on a drawing, px, and whether it can be seen there."""

    x: float
    y: float
    visible: bool


Drawn = Mapping[str, Mapping[str, Spot]]


@cache
def _planted() -> Mapping[str, object]:
    found: Mapping[str, object] = json.loads((SAMPLES / "pim" / "truth.json").read_text("utf-8"))
    return found


def write_wide(path: Path) -> Drawn:
    """Write revision A as it comes off the scanner; where its points lie on that sheet."""
    views = _planted()["views"]
    placed = []
    for name, yaw in YAWS.items():
        pixels = cv2.imread(str(SAMPLES / "pim" / f"{name}.png"), cv2.IMREAD_UNCHANGED)
        rgba = cv2.cvtColor(pixels, cv2.COLOR_BGRA2RGBA)
        at = views[name]  # type: ignore[index]
        placed.append(Placed(name, yaw, rgba, at["axis"], at["ground"]))
    chin = pim.build().landmarks["chin"].xyz[1]
    heights = {"crown": HEIGHT, "chin": chin, "ground": 0.0}
    title = "Pim, rev. A   Kettle Pass Post"
    sheet, truth = wide_sheet(placed, heights, title, WIDE, (3000, 1200), 1080.0, 11)
    cv2.imwrite(str(path), cv2.cvtColor(sheet, cv2.COLOR_RGB2BGR))
    spots: dict[str, dict[str, Spot]] = {}
    for stuck in json.loads(truth)["figures"]:
        at = views[stuck["view"]]  # type: ignore[index]
        own = {"ground": {"x": at["axis"], "y": at["ground"], "visible": True}} | at["landmarks"]
        spots[stuck["view"]] = {
            name: Spot(
                stuck["axis"] + WIDE * (one["x"] - at["axis"]),
                stuck["ground"] + WIDE * (one["y"] - at["ground"]),
                one["visible"],
            )
            for name, one in own.items()
        }
    return spots


def cut_from(wide: Path, folder: Path, spots: Drawn) -> Drawn:
    """Return where a wide sheet's points lie on the drawings that were cut from it."""
    sheet = cv2.imread(str(wide))
    found = {}
    for name, on_wide in spots.items():
        drawing = cv2.imread(str(folder / f"{name}.png"), cv2.IMREAD_UNCHANGED)[..., :3]
        x, y = round(on_wide["spine"].x), round(on_wide["spine"].y)
        patch = sheet[y - 60 : y + 61, x - 60 : x + 61]
        score = cv2.matchTemplate(drawing, patch, cv2.TM_SQDIFF)
        left, top = cv2.minMaxLoc(score)[2]
        dx, dy = left - (x - 60), top - (y - 60)
        found[name] = {n: Spot(p.x + dx, p.y + dy, p.visible) for n, p in on_wide.items()}
    return found


def write_drawings(
    folder: Path, size: float, views: Iterable[str], drift: Drift = RIGHT, pen: Pen = PEN
) -> Drawn:
    """Draw Pim as he should be, but for a drift; where the points lie."""
    folder.mkdir()
    figure = pim.build(drift)
    width, height, axis, ground = (round(size * number) for number in pim.CANVAS)
    found = {}
    for name in views:
        view = View(name, YAWS[name], axis, ground, size)
        inked = draw(figure, view, width, height, pen)
        picture = cv2.cvtColor(inked.picture, cv2.COLOR_RGBA2BGRA)
        cv2.imwrite(str(folder / f"{name}.png"), picture)
        seen = sightings(figure, view, inked)
        found[name] = {"ground": Spot(axis, ground, True)} | {
            n: Spot(one.x, one.y, one.visible) for n, one in seen.items()
        }
    return found


def place(
    folder: Path, truth: Drawn, size: float, seed: int, by: str = "wren", zoomed_to: float = 0.0
) -> None:
    """Place all points that nobody of this name has placed, as the page does, with a hand's slip.

    An eye, a nose or a mouth that can't be seen is not placed.

    Parameters
    ----------
    zoomed_to
        How little the hand slips on what it sees, % of the figure height, where the zoom says so.
    """
    session, sheet = Session(folder), open_sheet(folder)
    rng = np.random.default_rng(seed)
    there = read_table(folder / LANDMARKS_FILE, sheet).placings.values()
    told = {(one.view, one.landmark) for one in there if not zoomed_to}
    percent, steps = size * HEIGHT / 100.0, []
    for view, spots in truth.items():
        for name, spot in spots.items():
            unseen = not spot.visible and name in sheet.vocabulary.face
            if name not in sheet.vocabulary.landmarks or unseen or (view, name) in told:
                continue
            sd = percent * ((zoomed_to or SLIP) if spot.visible else HIDDEN_SLIP)
            x, y = (spot.x, spot.y) + sd * rng.normal(size=2)
            hidden, stated = not spot.visible, sd if zoomed_to else None
            step = Step(view=view, landmark=name, by=by, x=x, y=y, hidden=hidden, sd=stated)
            steps.append(step)
    session.change(Change(base=session.hash(), steps=steps))


def only(truth: Drawn, *names: str) -> Drawn:
    """Return where some points lie."""
    return {view: {n: spots[n] for n in names} for view, spots in truth.items()}


@dataclass
class Telling:
    """What was done so far, in one folder.

    Attributes
    ----------
    commands
        Every command as a person types it in that folder.
    truth
        Where the points of revision B lie.
    carried
        What the first comparison said, with only one of its drawings placed.
    """

    folder: Path
    commands: list[str] = field(default_factory=list)
    truth: Drawn = field(default_factory=dict)
    carried: Any = None

    def run(self, command: str, status: int = 0) -> None:
        """Run a command of turncheck in the folder, which must end with this status."""
        with chdir(self.folder):
            done = CliRunner().invoke(main, shlex.split(command)[1:])
        assert done.exit_code == status, f"{command}: {done.output}"
        self.commands.append(command)

    def out(self, name: str) -> Path:
        """Return where something of this name is written."""
        return self.folder / "reports" / name

    def read(self, name: str) -> Any:
        """Return what a JSON file says."""
        return json.loads(self.out(name).read_text("utf-8"))


def tell(folder: Path) -> Telling:
    """Do everything from the scanned sheet to the angle that is not drawn yet."""
    told = Telling(folder)
    a, b = folder / "pim_a", folder / "pim_b"
    on_wide = write_wide(folder / "pim_wide.png")
    told.run("turncheck split pim_wide.png pim_a --character Pim --revision A")
    place(a, cut_from(folder / "pim_wide.png", a, on_wide), WIDE, seed=1)
    told.run("turncheck check pim_a", status=1)
    told.run("turncheck guides pim_a")
    told.run('turncheck approve pim_a --by "art lead"', status=1)

    told.truth = write_drawings(folder / "redrawn", REDRAWN, YAWS)
    drawings = " ".join(f"redrawn/{view}.png" for view in YAWS)
    told.run(f"turncheck new pim_b {drawings} --character Pim --revision B")
    anew = {"three_quarter": told.truth["three_quarter"]}  # of which nothing fits
    place(b, anew, REDRAWN, seed=2)
    told.run("turncheck compare pim_a pim_b --carry")
    told.carried = told.read("Pim-B/compare.json")
    place(b, told.truth, REDRAWN, seed=3)
    eyes = only(told.truth, "eye_l", "eye_r")
    place(b, eyes, REDRAWN, seed=4, by="wren, close up", zoomed_to=0.05)
    told.run("turncheck compare pim_a pim_b")
    told.run('turncheck approve pim_b --by "art lead"')
    told.run("turncheck pivots pim_b")
    told.run("turncheck guides pim_b --yaw 60")
    return told


def check_rig(told: Telling, name: str, sag: float) -> None:
    """Hold views rendered from a rig, thinner and smaller, against the approved drawings.

    Parameters
    ----------
    name
        The rig's revision.
    sag
        How much lower its left arm hangs in all of them, % of the figure height.
    """
    drift = Drift(arm_l=-sag / 100.0 * HEIGHT)
    truth = write_drawings(told.folder / name, RIG, ("front", "side"), drift, THIN)
    drawings = f"{name}/front.png {name}/side.png"
    told.run(f"turncheck new pim_{name} {drawings} --character Pim --revision {name}")
    place(told.folder / f"pim_{name}", truth, RIG, seed=5)
    told.run(f"turncheck compare pim_b pim_{name}", status=1 if sag else 0)
