"""A small show of our own, with everything that can be told of a sheet."""

from __future__ import annotations

from collections.abc import Iterable

from turncheck.show.index import render_index
from turncheck.show.record import Figure, Record, Spot

FIGURE = Figure("pictures/a figure.webp", 80, 160, 10.0, 158.0, 40.0)
SPOTS = tuple(
    Spot(f"Left wrist {px} px too low", "Side", f"pictures/spot-{px}.webp") for px in (27, 12, 9)
)


def show() -> list[Record]:
    """Seven sheets of five characters, one of which can't be used."""
    drawn = {"front": "ana", "side": "Bö", "back": "ana"}
    return [
        Record("main/odo", "Odo", "B", "on_model", approval="valid", height_cm=172.0, heads=6.0,
               drawn_by=drawn, report="sheets/main/odo/report.html", figure=FIGURE),
        Record("main/pim_b", "Pim", "B9", "off_model", 2, "left knee 9 px (1.2 %) too low", -1.2,
               approval="none", height_cm=98.0, heads=3.1, report="b.html", figure=FIGURE),
        Record("main/pim_c", "Pim", "B10", "off_model", 5, "left wrist 27 px (2.5 %) too low",
               -2.5, height_cm=98.0, report="c.html", figure=FIGURE, spots=SPOTS),
        Record("goats/brindle", "Brindle", "A", "undecided", approval="stale",
               changed=("the side drawing", "the points"), report="d.html", figure=FIGURE),
        Record("main/ilse", "Ilse", "A", "off_model", 1, "chin 40 px (3.6 %) too high", 3.6,
               height_cm=160.0, report="e.html", figure=FIGURE),
        Record("main/odo_a", "Odo", "A", "not_measured", height_cm=172.0, report="f.html"),
        Record("old/kettle", reason="old/kettle/landmarks.csv, row 12: x is not a number"),
    ]  # fmt: skip


def page_of(records: Iterable[Record], title: str = "", **more: object) -> str:
    """Return the page of some sheets."""
    return "".join(render_index([*records], title=title, **more))  # type: ignore[arg-type]
