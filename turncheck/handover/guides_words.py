"""What is said of guides once they are written."""

from __future__ import annotations

from collections.abc import Iterator

from turncheck.errors import shown
from turncheck.handover.angle import Angle
from turncheck.handover.guides import Guides
from turncheck.handover.guides_save import Saved
from turncheck.plain import counted, degrees, listed, spoken
from turncheck.wording.findings import VERDICTS


def guides_words(guides: Guides, saved: Saved, folder: str) -> Iterator[str]:
    """Yield the lines: the drawings and the angles, what is not known, and the files."""
    of = guides.checked
    yield f"{of.sheet.character}, revision {of.sheet.revision}: {VERDICTS[of.verdict]}"
    for warning in of.warnings:
        yield f"  First: {shown(warning.says)}."
    for guide in guides.drawings:
        yield f"  {spoken(guide.view)}: {' '.join(task.says for task in guide.tasks)}"
    if rest := _without_work(guides):
        yield f"  {rest}"
    if guides.angles and of.instructions:
        yield f"  {of.how_much}; redraw before you build on these angles:"
    told: dict[tuple[str, ...], list[str]] = {}
    for angle in guides.angles:
        told.setdefault(_of_angle(guides, angle), []).append(degrees(angle.canvas.yaw))
    for says, angles in told.items():
        yield f"  {listed(angles)}: {says[0]}"
        yield from says[1:]
    if saved.removed:
        yield f"Removed {counted(len(saved.removed), 'earlier file')} that no longer hold"
    if saved.left:
        yield f"Left as you changed them, though they no longer hold: {listed(saved.left)}"
    yield f"Wrote {counted(len(saved.written), 'file')} to {folder}"


def _without_work(guides: Guides) -> str:
    of = guides.checked
    undecided = {view for task in of.instructions if not task.settled for view in task.views}
    drawn = {guide.view for guide in guides.drawings}
    clean = [spoken(v) for v in of.sheet.views if v not in drawn | undecided]
    if not drawn and not undecided:
        return "nothing to redraw, so no drawing has a guide"
    said = []
    if clean:
        said.append(f"nothing to redraw in: {', '.join(clean)}")
    if waits := [spoken(view) for view in of.sheet.views if view in undecided - drawn]:
        said.append(f"to be decided first, so without a guide: {', '.join(waits)}")
    return "; ".join(said)


def _of_angle(guides: Guides, angle: Angle) -> tuple[str, ...]:
    """Return what is said of an angle; the same is told once of several."""
    lost = [
        guides.checked.sheet.vocabulary.landmarks[name].title
        for name, known in zip(angle.landmarks, angle.spots.known, strict=True)
        if not known and name != "ground"
    ]
    also = f"; not known: {listed(lost)}" if lost else ""
    points = f"{counted(int(angle.spots.known.sum()), 'point')}{also}"
    if len(angle.rows):
        return (points,)
    return points, "    no outline: no two drawings show the figure from different sides"
