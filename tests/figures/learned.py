"""The page on proposals that are learned from a show."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator, Sequence
from functools import cache
from pathlib import Path

import numpy as np

from tests.figures.constants import LEARNED
from tests.figures.markdown import table
from tests.figures.sweeping import Row, tried
from tests.simulations.show_bodies import PLACING_SD, character, write_character
from turncheck.placing.learned.model import ShowModel
from turncheck.placing.learned.model_file import About, Share
from turncheck.placing.proposing import HINT_UP_TO, SURE_UP_TO
from turncheck.show.examples import Example, read_example, stacked
from turncheck.show.learning import POINT_LEAST, learn_from
from turncheck.show.misses import Misses, measure_misses, misses_of

#: Marked characters, and one more of which each is left out in turn.
COUNTS = (20, 40, 60)
STRANGERS = 24
SURE_SD = 1.96  # 95 % of a normal distribution


@cache
def show(name: str, count: int) -> tuple[Example, ...]:
    """The marked sheets of a show."""
    found = []
    with tempfile.TemporaryDirectory() as folder:
        for seed in range(count):
            sheet = Path(folder) / str(seed)
            write_character(sheet, character(name, seed), seed)
            found.append(read_example(sheet / "sheet.toml", str(seed)))
    return tuple(found)


def street(count: int) -> Sequence[Example]:
    return show("street", max(COUNTS) + 1)[: count + 1]


@cache
def learned(count: int) -> tuple[ShowModel, About, Misses]:
    return learn_from(street(count))


def by_count() -> Iterator[Row]:
    for count in COUNTS:
        model, about, misses = learned(count)
        for situation, share in enumerate(about.figures):
            own, sd = misses.own[situation], (misses.sd * model.doubt[:, None])[situation]
            there = np.isfinite(own)
            yield {
                "marked": count,
                "placed": share.placed,
                **told(share),
                "sd, % H": f"{np.median(sd[there]):.1f}",
                "can be taken": f"{(sd[there] <= SURE_UP_TO).mean():.0%}",
                "within 1.96 sd": f"{(own <= SURE_SD * sd)[there].mean():.0%}",
                "others nearer": f"{share.silent} of {len(model.points)}",
            }


def told(share: Share) -> Row:
    return {
        "proposed": f"{share.offered / share.points:.0%}",
        "within 1 % H": f"{share.within_1:.1f}%",
        "within 2 % H": f"{share.within_2:.1f}%",
        "proposed without": f"{share.before_offered / share.points:.0%}",
        "without, 1 % H": f"{share.before_within_1:.1f}%",
        "without, 2 % H": f"{share.before_within_2:.1f}%",
    }


def carried() -> Iterator[Row]:
    """What the street's model would say of the court, if it were asked."""
    model, about, _ = learned(max(COUNTS))
    strangers = show("court", STRANGERS)
    at, _ = stacked(strangers, POINT_LEAST)
    assert at.points == model.points
    found = np.array(
        [misses_of(model, at.shapes[s], at.outlines[s], one) for s, one in enumerate(strangers)]
    )
    silent = np.mean([model.outlines.misfit(row) > model.strangest for row in at.outlines])
    for situation, share in enumerate(about.figures):
        far, own, sd, before = (found[:, kind, situation] for kind in range(4))
        sd = sd * model.doubt[situation]
        there, others = np.isfinite(far), np.isfinite(before)
        yield {
            "placed": share.placed,
            "within 1 % H": f"{(far[there] <= 1).mean():.0%}",
            "within 2 % H": f"{(far[there] <= 2).mean():.0%}",
            "within 1.96 sd": f"{(own <= SURE_SD * sd)[there].mean():.0%}",
            "without, 1 % H": f"{(before[others] <= 1).mean():.0%}",
            "characters found too unlike": f"{silent:.0%}",
        }


def nearness() -> Row:
    """How near what is learned from few characters lies, wherever it could speak."""
    cells = {}
    for count in COUNTS[:2]:
        examples = street(count)
        far = measure_misses(stacked(examples, POINT_LEAST)[0], examples).far
        for placed, rows in zip(("nothing", "front", "front, side"), far, strict=True):
            cells[f"{count} marked, {placed} placed"] = (
                f"{(rows[np.isfinite(rows)] <= 1).mean():.1%}"
            )
    return cells


def page() -> str:
    return f"""# Proposals learned from a show

How near proposed points lie that a show's own marked sheets have taught, on characters that were
left out. The show: the open human bodies, mixed over sex, age, origin, muscle and weight; legs,
trunk, girth and head stretched as cartoons are; hair, a bun or none, jackets, wide trousers or bare
legs; one stance; {PLACING_SD} % H of placing error, twice that where a point is hidden. Four
drawings each, of 600 px. Distances are from the hand's own placings. "Without" are the proposals
that rest on nothing learned; the grounds of all drawings are placed with the front.

{table(by_count())}

"Proposed" is what `mark` offers: what is learned, and elsewhere what was proposed before. A
proposal can be taken up to a doubt of {SURE_UP_TO} % H and is a hint up to {HINT_UP_TO}; its sd is
that of its distance. In the last column the points for which the proposals without lay nearer: with
the front and the side placed, the heights and the turned body tell most points already.

These bodies vary in thirteen ways besides their clothes, less than a cast may, and all stand alike:
from a cast in many poses less will be learned. The table that `turncheck learn` prints is that of
the user's own sheets.

## Another show's costumes

{max(COUNTS)} characters of the street asked about {STRANGERS} of the court: the same bodies under
tall hats with brims, gowns and wide shoulders.

{table(carried())}

It does not carry over, and it would be surer of itself than it may be. So no model is shipped, one
learned elsewhere is not used, and a character whose outline is more unlike the show's than that of
any that was left out is not told by it.

## How many numbers tell an outline, and a shape

Share within 1 % H of what is learned, wherever it could speak:

{tried(nearness, LEARNED)}

With few scores of a shape, what is placed tells the rest less well; more than half as many as
sheets gain nothing. Fewer numbers of an outline are better for few characters, and worse for more.
"""
