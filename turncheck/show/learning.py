"""Learns from the marked sheets of a show where points lie, and measures by how much it helps."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from turncheck.errors import Fault, TurncheckError
from turncheck.files.own import refuse_foreign
from turncheck.files.user_files import is_folder
from turncheck.placing.learned.model import Point, ShowModel
from turncheck.placing.learned.model_file import (
    FORMAT_VERSION,
    MARKS,
    MEND,
    About,
    PointShare,
    Share,
    Source,
    save_model,
)
from turncheck.plain import counted, spoken
from turncheck.show.examples import (
    Example,
    characters_of,
    of_one_kind,
    read_example,
    stacked,
    turned_alike,
)
from turncheck.show.fitting import fit
from turncheck.show.misses import Misses, measure_misses, share_of
from turncheck.show.search import sheets_below

#: Marked characters from which on anything is learned; common practice, no source. What is learned
#: from them is measured on each show anew.
CHARACTERS_LEAST = 20
#: On fewer of them a point of a drawing is not learned; common practice, no source.
POINT_LEAST = 10

Progress = Callable[[str, int, int], None]


@dataclass(frozen=True)
class Learned:
    """What was learned, and the files that hold it."""

    about: About
    files: tuple[Path, ...]


def learn(folder: str | Path, *, progress: Progress | None = None) -> Learned:
    """Learn from the marked sheets below a folder where points lie, and write that into it.

    Writes `proposals.npz` and `proposals.json`; `turncheck.mark` uses them for every sheet below.

    Parameters
    ----------
    folder
        Of the show.
    progress
        Called with each sheet's path, its number and how many there are.

    Raises
    ------
    TurncheckError
        If there are too few marked characters, the files can't be written, or files of their names
        are not turncheck's; that is looked at first.
    """
    folder = Path(folder)
    if not is_folder(folder):
        raise TurncheckError(Fault("there is no such folder; check the name", str(folder)))
    refuse_foreign(folder, MARKS, MEND)
    examples, left_out = _read_all(folder, progress)
    kept, others = of_one_kind(examples)
    left_out += others
    if characters_of(kept) >= CHARACTERS_LEAST:
        kept, apart = turned_alike(kept, POINT_LEAST)
        left_out += apart
    if characters_of(kept) < CHARACTERS_LEAST:
        raise TurncheckError(Fault(_too_few(characters_of(kept), left_out), str(folder)))
    model, about, _ = learn_from(kept, left_out)
    return Learned(about, tuple(save_model(folder, model, about)))


def learn_from(
    examples: Sequence[Example], left_out: Sequence[Source] = ()
) -> tuple[ShowModel, About, Misses]:
    """Return what is learned from sheets of one kind of body, and how near its proposals lie."""
    show, missing = stacked(examples, POINT_LEAST)
    misses = measure_misses(show, examples)
    placed_on = np.isfinite(show.shapes[:, ::2]).sum(axis=0)
    model = ShowModel(
        show.points,
        **fit(show),
        doubt=misses.doubt(),
        nearer=misses.nearer(np.ones(len(examples), dtype=bool)),
        hidden=show.hidden.sum(axis=0) > placed_on / 2.0,
        strangest=float(misses.misfits.max()),
    )
    yaws = sorted({yaw for one in examples for yaw in one.views})
    names = {yaw: _usual_name(yaw, examples) for yaw in yaws}
    figures, by_point = _figures(misses, model, names, examples)
    about = About(
        format_version=FORMAT_VERSION,
        vocabulary=examples[0].vocabulary,
        characters=show.count,
        sheets=[one.source for one in examples],
        left_out=list(left_out),
        left_out_points=_left_out_points(missing, names),
        drawings={str(yaw): names[yaw] for yaw in model.yaws},
        points=list(show.points),
        figures=figures,
        by_point=by_point,
    )
    return model, about, misses


def _read_all(folder: Path, progress: Progress | None) -> tuple[list[Example], list[Source]]:
    examples, left_out = [], []
    sheets = sheets_below(folder)
    for number, sheet in enumerate(sheets, start=1):
        path = sheet.file.relative_to(folder).as_posix()
        if progress is not None:
            progress(path, number, len(sheets))
        if sheet.fault:
            left_out.append(Source(path=path, reason=sheet.fault))
            continue
        try:
            examples.append(read_example(sheet.file, path))
        except TurncheckError as error:
            left_out.append(Source(path=path, reason=error.faults[0].says))
    return examples, left_out


def _too_few(count: int, left_out: Sequence[Source]) -> str:
    are = counted(count, "marked character is", "marked characters are")
    says = f"{are} here, and at least {CHARACTERS_LEAST} are needed to learn from"
    if left_out:
        first = left_out[0]
        says += f"; {counted(len(left_out), 'sheet')} left out, as {first.path}: {first.reason}"
    return says


def _figures(
    misses: Misses,
    model: ShowModel,
    names: Mapping[int, str],
    examples: Iterable[Example],
) -> tuple[list[Share], list[PointShare]]:
    """Return how near the proposals lie, of all points and of each, by situation."""
    steps, _ = Counter(one.steps for one in examples).most_common(1)[0]
    base, side = (spoken(names[yaw]) for yaw in steps)
    offered, silent = misses.offered(model.doubt), ~model.nearer
    figures, by_point = [], []
    for situation, placed in enumerate(("nothing", base, f"{base} and {side}")):
        there, with_it, without = (far[situation] for far in (misses.far, offered, misses.before))
        figures.append(share_of(there, with_it, without, int(silent[situation].sum()), placed))
        for n, (yaw, landmark) in enumerate(model.points):
            columns = there[:, n], with_it[:, n], without[:, n]
            one = share_of(*columns, int(silent[situation, n]), placed)
            if one.points:
                by_point.append(PointShare(**vars(one), view=names[yaw], landmark=landmark))
    return figures, by_point


def _left_out_points(missing: Mapping[Point, int], names: Mapping[int, str]) -> list[str]:
    """Return a sentence for each drawing, or part of one, that too few characters have."""
    found = []
    for yaw, name in names.items():
        those = {landmark: on for (of, landmark), on in missing.items() if of == yaw}
        if those:
            most = counted(max(those.values()), "character")
            which = ", ".join(those) if len(those) <= 3 else counted(len(those), "point")
            found.append(f"{which} on {spoken(name)}: placed on {most} at most")
    return found


def _usual_name(yaw: int, examples: Iterable[Example]) -> str:
    return Counter(one.views[yaw] for one in examples if yaw in one.views).most_common(1)[0][0]
