"""Runs to try: a folder of a user's files and a command line, each told by a seed and a number."""

from __future__ import annotations

import json
import random
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from pathlib import Path

from tests.fuzzing import mutating
from tests.fuzzing.mutating import NAMES, Rolled
from tests.sheets import HEIGHT, WIDTH, body, csv_text, picture, placed, toml_text

LANTERN = 'name = "lantern"\nhead = ["crown", "chin"]\n' + "".join(
    f'[landmarks.{mark}]\nkind = "height"\n' for mark in ("ground", "crown", "chin", "eye_l")
)


@dataclass(frozen=True)
class Case:
    """One run: the command's words, and the seed for requests where it serves a page.

    `may_write` are the paths that it may change, or write though it is refused.
    """

    words: tuple[str, ...]
    seed: int
    may_write: tuple[str, ...] = ()


def make_case(folder: Path, seed: int, number: int) -> Case:
    """Write the files of a case into a folder that is there; return what to run in it."""
    rolled = random.Random(f"{seed}/{number}")
    for name, data in _files().items():
        (folder / name).parent.mkdir(exist_ok=True)
        (folder / name).write_bytes(data)
    command = rolled.choice((*sorted(_WORDS), "check", "check", "split"))
    _damage(rolled, folder, dots=command == "dots")
    words = _WORDS[command](rolled)
    if rolled.random() < 0.08:
        at = rolled.randrange(len(words) + 1)
        words.insert(at, rolled.choice((mutating.word(rolled), mutating.path(rolled), "--quiet")))
    may_write = []
    if command == "split":  # shows why it can't cut
        asked = [Path(word) for before, word in pairwise(words) if before == "--preview"]
        may_write = [path.as_posix() for one in asked for path in (one, *one.parents)]
    if command in ("mark", "import") or "--write" in words:
        may_write.append("tib/landmarks.csv")
    return Case((command, *words), rolled.randrange(2**32), tuple(may_write))


@cache
def _files() -> dict[str, bytes]:
    points = [number for point in body() for number in (1, 1, 2)]
    images = [{"id": k, "file_name": name, "width": WIDTH, "height": HEIGHT}
              for k, name in enumerate(NAMES, start=1)]  # fmt: skip
    marks = [{"id": k, "image_id": k, "category_id": 1, "keypoints": points} for k in range(1, 5)]
    categories = [{"id": 1, "name": "biped", "keypoints": list(body())}]
    coco = {"images": images, "annotations": marks, "categories": categories}
    return {
        **{f"tib/{name}": picture() for name in NAMES},
        "tib/sheet.toml": toml_text().encode(),
        "tib/landmarks.csv": csv_text(placed()).encode(),
        "tib/lantern.toml": LANTERN.encode(),
        "points.json": json.dumps(coco).encode(),
        "wide.png": mutating.wide(random.Random(1)),
    }


def _damage(rolled: Rolled, folder: Path, *, dots: bool) -> None:
    if rolled.random() < 0.8:
        told, table = mutating.sheet(rolled)
        if dots and mutating.DOTS.encode() not in told:
            told += mutating.DOTS.encode()
        (folder / "tib/sheet.toml").write_bytes(told)
        (folder / "tib/landmarks.csv").write_bytes(table)
    if rolled.random() < 0.5:
        (folder / "wide.png").write_bytes(mutating.wide(rolled))
    texts = ("tib/landmarks.csv", "tib/sheet.toml", "points.json", "tib/lantern.toml")
    for _ in range(rolled.choice((0, 0, 1, 2))):
        if rolled.random() < 0.5:
            path = folder / rolled.choice((*(f"tib/{name}" for name in NAMES), "wide.png"))
            path.write_bytes(mutating.drawing(rolled))
        else:
            path = folder / rolled.choice(texts)
            path.write_bytes(rolled.choice(mutating.MUTATE_TEXT)(rolled, path.read_bytes()))
    if rolled.random() < 0.1:
        mutating.odd_thing(rolled, folder / rolled.choice(sorted(_files())))


def _sheet(rolled: Rolled) -> str:
    return "tib" if rolled.random() < 0.9 else mutating.path(rolled)


def _options(rolled: Rolled, **values: Callable[[], str] | None) -> list[str]:
    """Some of the options, each with a value where it takes one."""
    found: list[str] = []
    for name, value in values.items():
        if rolled.random() < 0.35:
            found += [f"--{name}", *([] if value is None else [value()])]
    return found


def _check(rolled: Rolled) -> list[str]:
    out = _options(rolled, out=lambda: mutating.path(rolled), strict=None, json=None)
    return [_sheet(rolled), *out]


def _named(rolled: Rolled) -> list[str]:
    return _options(
        rolled, character=lambda: mutating.word(rolled), revision=lambda: mutating.word(rolled)
    )


def _new(rolled: Rolled) -> list[str]:
    names = rolled.sample(NAMES, rolled.randrange(1, 5))
    return [mutating.path(rolled), *(f"tib/{name}" for name in names), *_named(rolled)]


def _split(rolled: Rolled) -> list[str]:
    views = ("front", "side", "back", "yaw_30", "preview", "front", mutating.word(rolled))
    if rolled.random() < 0.4:
        return ["wide.png", "new", *_named(rolled)]
    told = _options(
        rolled,
        views=lambda: ",".join(rolled.sample(views, rolled.randrange(1, 6))),
        count=lambda: rolled.choice(("2", "3", "4", "-1", "999999", mutating.word(rolled))),
        preview=lambda: mutating.path(rolled),
    )
    return ["wide.png", mutating.path(rolled), *told, *_named(rolled)]


def _dots(rolled: Rolled) -> list[str]:
    told = _options(
        rolled,
        **{"from": lambda: rolled.choice(("front", "side", mutating.word(rolled)))},
        write=None,
        replace=None,
        preview=lambda: mutating.path(rolled),
    )
    return [_sheet(rolled), *told]


def _import(rolled: Rolled) -> list[str]:
    file = "points.json" if rolled.random() < 0.9 else mutating.path(rolled)
    return [_sheet(rolled), file, *_options(rolled, replace=None)]


_WORDS: dict[str, Callable[[Rolled], list[str]]] = {
    "check": _check,
    "new": _new,
    "split": _split,
    "dots": _dots,
    "import": _import,
    "export": lambda rolled: [_sheet(rolled), mutating.path(rolled)],
    "mark": lambda rolled: [_sheet(rolled), "--no-browser"],
    "pivots": lambda rolled: [
        _sheet(rolled),
        *_options(rolled, out=lambda: mutating.path(rolled)),
    ],
    "approve": lambda rolled: [
        _sheet(rolled),
        "--by",
        mutating.word(rolled),
        *_options(rolled, note=lambda: mutating.word(rolled), strict=None),
    ],
}
