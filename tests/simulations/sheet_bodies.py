"""Whole sheets in memory with a known truth: random bodies of every landmark, drawn and placed.

The bodies are drawn independently of those of the other simulations, 2.5 to 8 heads high. The
proportions are invented so that they span children's toys and heroes; no source.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

import numpy as np

from turncheck.checks.finding import Blamed, Cause, Finding, Kind
from turncheck.checks.register import run_checks
from turncheck.geometry.measurement import measure
from turncheck.images.picture_file import Picture
from turncheck.sheet.landmark_table import Placing
from turncheck.sheet.model import Sheet, View
from turncheck.sheet.vocabulary import Vocabulary, read_vocabulary

#: The figure's height in the front drawing and one % of it, px.
HEIGHT = 1000.0
PERCENT = HEIGHT / 100
GROUND = 1400.0
REFERENCE = "front"
YAWS = {"front": 0.0, "three_quarter": 45.0, "side": 90.0, "back_tq": 135.0, "back": 180.0}
FOUR = ("front", "three_quarter", "side", "back")
#: Shares of placings.
MISSING, HIDDEN = 0.12, 0.15
#: The upper quartile of Student's t with 3 degrees of freedom over the normal's; both from tables.
T3_QUARTILE = 0.7649 / 0.6745
ARM = ("elbow_l", "wrist_l", "fingertip_l")

#: X to the character's left, Y up, Z to the front; px.
Body = dict[str, np.ndarray]
Place = tuple[str, str]


@dataclass(frozen=True)
class Planted:
    """What was drawn wrong on purpose, in % of the figure height, and whom a row should accuse.

    Attributes
    ----------
    up, across
        By view and landmark; to the picture's right.
    ground_low, too_large
        By view, the whole drawing's.
    views
        The wrong drawings; none where the drawings can't tell.
    kinds, landmarks, sideways
        Which rows are about it; no landmarks mean any.
    """

    up: Mapping[Place, float] = field(default_factory=dict)
    across: Mapping[Place, float] = field(default_factory=dict)
    ground_low: Mapping[str, float] = field(default_factory=dict)
    too_large: Mapping[str, float] = field(default_factory=dict)
    views: tuple[str, ...] = ()
    kinds: tuple[Kind, ...] = ()
    landmarks: tuple[str, ...] = ()
    sideways: bool = False

    def is_told_by(self, row: Finding) -> bool:
        """Whether an off-model row is about it."""
        whole = any(kind.is_of_whole_drawing for kind in self.kinds)
        if whole and row.cause is Cause.WHOLE:
            return True
        subject = row.subject
        known = not self.landmarks or bool({*self.landmarks} & {*subject.landmarks})
        return subject.kind in self.kinds and subject.sideways == self.sideways and known


Plant = Callable[[np.random.Generator, Collection[Place]], Planted]
#: A body drawn at random, as `body` does: its pairs alike but for an asymmetry, an arm raised.
Bodies = Callable[[np.random.Generator, float, bool], Body]


@dataclass(frozen=True)
class Case:
    """One kind of sheet.

    Attributes
    ----------
    stated, noise
        The sheet's `placing_sd` in % of the figure height, and the true one over it.
    hidden
        How many times less certain a hidden placing truly is.
    tails
        '' for normal noise; 'sd' or 'quartile' for Student's t with 3 degrees of freedom that has
        this in common with it.
    offset
        sd of a shift of all of a view's placings but its ground, % of the figure height.
    asymmetry
        sd of each coordinate of a pair from its mirror image, % of the figure height.
    posed
        Whether the left arm is raised, in all drawings.
    turned
        Degrees by which a view is truly drawn off its nominal yaw.
    """

    views: tuple[str, ...] = FOUR
    stated: float = 0.15
    noise: float = 1.0
    hidden: float = 2.0
    tails: str = ""
    offset: float = 0.0
    asymmetry: float = 0.0
    posed: bool = False
    turned: Mapping[str, float] = field(default_factory=dict)
    plant: Plant | None = None

    @property
    def turns(self) -> Planted:
        """What its turned drawings should be told as."""
        return Planted(views=tuple(self.turned), kinds=(Kind.YAW,) if self.turned else ())


@dataclass(frozen=True)
class Trial:
    """One sheet as it was drawn and what was said of it."""

    case: Case
    body: Body
    planted: Planted
    rows: list[Finding]

    def true_drift(self, row: Finding) -> float:
        """Return what a row's drift would be without noise; NaN where it is a matter of custom."""
        subject, view, planted = row.subject, row.view, self.planted
        here = [(view, name) for name in subject.landmarks]
        there = [(REFERENCE, name) for name in subject.landmarks]
        moved = {*planted.up, *planted.across}
        whole = {*planted.ground_low, *planted.too_large}
        match subject.kind:
            case Kind.YAW:
                return self.case.turned.get(view, 0.0)
            case Kind.SCALE:
                return planted.too_large.get(view, 0.0)
            case Kind.GROUND:
                return planted.ground_low.get(view, 0.0)
            case Kind.LEVEL:
                left, right = (
                    self.body[name][1] / PERCENT + planted.up.get((view, name), 0.0)
                    for name in subject.landmarks
                )
                return float(left - right)
            case Kind.MIDDLE:
                facing = np.sign(np.cos(np.radians(YAWS[view])))
                middle = np.mean([self.body[name][0] for name in subject.landmarks]) / PERCENT
                drift = np.mean([planted.across.get(place, 0.0) for place in here])
                return float(facing * middle + drift)
            case Kind.POINT if subject.sideways:
                return planted.across.get(here[0], 0.0)
            case Kind.POINT if view not in whole and not moved.intersection(there):
                return float(np.mean([planted.up.get(place, 0.0) for place in here]))
            case Kind.SEAT | Kind.RATIO if view not in whole:
                return np.nan if moved.intersection([*here, *there]) else 0.0
        return np.nan


def accused(row: Finding) -> tuple[str, ...]:
    """The drawing that an off-model row speaks against, alone; none where it is not settled."""
    if not row.is_off_model or not row.blame.settled:
        return ()
    return row.blame.views if row.blame.kind is not Blamed.UNSAID else (row.view,)


@cache
def biped() -> Vocabulary:
    return read_vocabulary("biped", Path())


def body(rng: np.random.Generator, asymmetry: float = 0.0, posed: bool = False) -> Body:
    """A standing figure with all landmarks of the biped, arms a little away from the body."""
    u = rng.uniform
    head = 100.0 / u(2.5, 8.0)
    chin = 100.0 - head
    eye, turn = chin + head * u(0.40, 0.54), chin + head * u(0.05, 0.28)
    shoulder, crotch, ankle = (
        chin - chin * u(0.04, 0.10),
        chin * u(0.40, 0.56),
        chin * u(0.03, 0.07),
    )
    torso, hip = shoulder - crotch, crotch + chin * u(0.02, 0.06)
    knee = ankle + (hip - ankle) * u(0.44, 0.56)
    half_head, half_hip, half_foot = (
        head * u(0.28, 0.48),
        chin * u(0.04, 0.08),
        chin * u(0.04, 0.09),
    )
    face, back, foot = head * u(0.22, 0.42), -chin * u(0.0, 0.04), chin * u(0.08, 0.15)
    middle = {
        "ground": (0.0, 0.0),
        "crown": (100.0, head * u(-0.1, 0.1)),
        "hair_top": (100.0 + head * u(0.02, 0.20), head * u(-0.2, 0.2)),
        "nose_tip": (chin + head * u(0.24, 0.36), face + head * u(0.03, 0.25)),
        "mouth": (chin + head * u(0.12, 0.20), face + head * u(0.0, 0.06)),
        "chin": (chin, face * u(0.7, 1.0)),
        "jaw": (chin + head * u(0.20, 0.35), face * u(0.1, 0.4)),
        "head": (turn, head * u(-0.12, 0.05)),
        "neck": (shoulder + (chin - shoulder) * u(0.2, 0.8), back),
        "spine": (crotch + torso * u(0.3, 0.6), back * u(0.5, 1.5)),
        "waist": (crotch + torso * u(0.25, 0.45), chin * u(0.03, 0.08)),
        "crotch": (crotch, chin * u(-0.01, 0.02)),
    }
    middle["neck_top"] = middle["head"]
    lefts = {
        "brow": (half_head * u(0.3, 0.5), eye + head * u(0.08, 0.16), face),
        "eye": (half_head * u(0.3, 0.5), eye, face * u(0.8, 0.95)),
        "ear": (half_head, eye - head * u(0.0, 0.15), head * u(-0.1, 0.05)),
        "cheek": (half_head * u(0.8, 1.0), chin + head * u(0.2, 0.35), face * u(0.3, 0.6)),
        "hip": (half_hip, hip, chin * u(-0.01, 0.02)),
        "knee": (half_hip + (half_foot - half_hip) * u(0.3, 0.7), knee, chin * u(0.0, 0.03)),
        "ankle": (half_foot, ankle, chin * u(-0.03, 0.0)),
        "toe": (half_foot * u(1.0, 1.4), chin * u(0.005, 0.02), foot),
        "heel": (half_foot * u(0.9, 1.1), chin * u(0.005, 0.02), -foot * u(0.3, 0.5)),
    }
    at = np.array([chin * u(0.09, 0.17), shoulder, back * u(0.3, 1.0)])
    arm = torso * u(0.9, 1.25)
    lean, bend = np.radians(u(8.0, 25.0)), np.radians(u(0.0, 25.0))
    upper = u(0.42, 0.52) * arm * np.array([np.sin(lean), -np.cos(lean), -np.sin(bend) / 4])
    fore = u(0.34, 0.42) * arm * np.array([np.sin(lean), -np.cos(lean), np.sin(bend)])
    reach = np.cumsum([upper, fore, u(0.3, 0.5) * fore], axis=0)
    lefts |= {"shoulder": at} | {
        name[:-2]: at + step for name, step in zip(ARM, reach, strict=True)
    }
    made = {name: np.array([0.0, *yz]) for name, yz in middle.items()}
    made["hair_top"][0] = head * u(-0.1, 0.1)
    for name, point in lefts.items():
        made[f"{name}_l"] = np.array(point)
        made[f"{name}_r"] = np.array(point) * (-1.0, 1.0, 1.0)
        made[f"{name}_l"] += rng.normal(0.0, 1.0, 3) * asymmetry
    lift = np.radians(u(30.0, 80.0))
    cos, sin = np.cos(lift), np.sin(lift)
    raised = np.array([[cos, -sin, 0.0], [sin, cos, 0.0], [0.0, 0.0, 1.0]])
    if posed:
        made |= {name: at + raised @ (made[name] - at) for name in ARM}
    return {name: point * PERCENT for name, point in made.items()}


def sheet(case: Case) -> Sheet:
    """A sheet of a case's views with no drawings behind it."""
    picture = Picture(Path("none.png"), "none.png", 1200, 1600)
    return Sheet(
        folder=Path("simulated"),
        character="Simulated",
        revision="A",
        reference=REFERENCE,
        placing="ground",
        placing_sd=case.stated,
        symmetric=True,
        vocabulary=biped(),
        views={name: View(name, picture, YAWS[name]) for name in case.views},
        tolerances={},
        waivers=(),
    )


def trial(case: Case, seed: int, bodies: Bodies = body) -> Trial:
    """Draw, place and check one sheet; the same seed gives every case the same bodies."""
    shapes, gaps, noise, plants = np.random.default_rng((2311, seed)).spawn(4)
    of = bodies(shapes, case.asymmetry, case.posed)
    always = {(view, "ground") for view in case.views} | {(REFERENCE, "crown")}
    everything = [(view, name) for view in case.views for name in of]
    dice = dict(zip(everything, gaps.random(len(everything)), strict=True))
    placed = {place for place in everything if place in always or dice[place] >= MISSING}
    hides = MISSING + (1.0 - MISSING) * HIDDEN
    hidden = {place for place in placed if place not in always and dice[place] < hides}
    planted = case.plant(plants, placed) if case.plant else case.turns
    placings = []
    for view in case.views:
        yaw = np.radians(YAWS[view] + case.turned.get(view, 0.0))
        scale = 1.0 + planted.too_large.get(view, 0.0) / 100
        axis = noise.uniform(550.0, 650.0)
        shift = noise.normal(0.0, 1.0, 2) * case.offset * PERCENT
        for name, (x, y, z) in of.items():
            place = view, name
            sd = case.stated * case.noise * (case.hidden if place in hidden else 1.0)
            error = _errors(noise, case.tails) * sd * PERCENT
            if name == "ground":
                error[1] += planted.ground_low.get(view, 0.0) * PERCENT
            else:
                error += shift
                error[0] += planted.across.get(place, 0.0) * PERCENT
                error[1] -= planted.up.get(place, 0.0) * PERCENT
            if place in placed:
                across = axis + scale * (x * np.cos(yaw) + z * np.sin(yaw)) + error[0]
                down = GROUND - scale * y + error[1]
                placings.append(
                    Placing(view, name, float(across), float(down), place in hidden, np.nan, "")
                )
    return Trial(case, of, planted, run_checks(measure(sheet(case), placings, {})))


def _errors(rng: np.random.Generator, tails: str) -> np.ndarray:
    """Noise of one placing, (2,), as wide as a standard normal in the way that is asked for."""
    if not tails:
        return rng.normal(0.0, 1.0, 2)
    return rng.standard_t(3, 2) / {"sd": np.sqrt(3.0), "quartile": T3_QUARTILE}[tails]


def height_drift(percent: float, view: str = "") -> Plant:
    """One height or pivot, placed on two more drawings at least, drifts in one drawing.

    In the view given, else in any but the reference.
    """

    def plant(rng: np.random.Generator, placed: Collection[Place]) -> Planted:
        views = sorted({view for view, _ in placed} - {REFERENCE})
        at = view or str(rng.choice(views))
        names = [name for name in _compared(placed, 3) if (at, name) in placed]
        name = str(rng.choice([n for n in names if (at, n) != (REFERENCE, "crown")]))
        up = {(at, name): percent * rng.choice([-1.0, 1.0])}
        return Planted(up=up, views=(at,), kinds=(Kind.POINT,), landmarks=(name,))

    return plant


def two_against_two(tolerances: float) -> Plant:
    """One height lies higher in front and side than in three-quarter and back."""

    def plant(rng: np.random.Generator, placed: Collection[Place]) -> Planted:
        name = str(rng.choice([name for name in _compared(placed, 4) if name != "crown"]))
        tolerance = biped().tolerances[biped().landmarks[name].kind]
        up = {(view, name): tolerances * tolerance for view in ("front", "side")}
        return Planted(up=up, kinds=(Kind.POINT,), landmarks=(name,))

    return plant


def whole_drawing(*, ground_low: float = 0.0, too_large: float = 0.0) -> Plant:
    """One drawing but the reference has its ground line too low, or is too large."""

    def plant(rng: np.random.Generator, placed: Collection[Place]) -> Planted:
        at = str(rng.choice(sorted({view for view, _ in placed} - {REFERENCE})))
        if ground_low:
            return Planted(ground_low={at: ground_low}, views=(at,), kinds=(Kind.GROUND,))
        return Planted(too_large={at: too_large}, views=(at,), kinds=(Kind.SCALE,))

    return plant


def sideways_midline(percent: float) -> Plant:
    """A point of the midline falls sideways in the three-quarter."""

    def plant(rng: np.random.Generator, placed: Collection[Place]) -> Planted:
        at = "three_quarter"
        marks = [mark for mark in biped().landmarks.values() if mark.midline]
        name = str(rng.choice([m.name for m in marks if (at, m.name) in placed]))
        across = {(at, name): percent * rng.choice([-1.0, 1.0])}
        return _sideways(at, across, (name,))

    return plant


def sideways_pair(percent: float) -> Plant:
    """A pair that does not slide falls to one side in the back."""

    def plant(rng: np.random.Generator, placed: Collection[Place]) -> Planted:
        pairs = [(left.name, right.name) for left, right in biped().pairs() if not left.slides]
        names = rng.choice([pair for pair in pairs if all(("back", n) in placed for n in pair)])
        drift = percent * rng.choice([-1.0, 1.0])
        return _sideways("back", {("back", str(n)): drift for n in names}, tuple(map(str, names)))

    return plant


def _sideways(at: str, across: Mapping[Place, float], names: tuple[str, ...]) -> Planted:
    kinds = (Kind.POINT, Kind.MIDDLE)
    return Planted(across=across, views=(at,), kinds=kinds, landmarks=names, sideways=True)


def _compared(placed: Collection[Place], views: int) -> list[str]:
    """Heights and pivots with the check's own tolerance that so many views have."""
    marks = biped().of_kind("height", "pivot")
    names = [mark.name for mark in marks if mark.tolerance is None and mark.name != "ground"]
    return [name for name in names if sum(n == name for _, n in placed) >= views]
