"""The page of a whole show: the cast on one ground line, and a row for every sheet."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from urllib.parse import quote

from jinja2.environment import TemplateStream
from markupsafe import Markup

from turncheck import assets
from turncheck.assets.pages import environment, part, policy, short, style
from turncheck.files.version import VERSION
from turncheck.plain import counted, listed, spoken
from turncheck.show.cast import BESIDE, Cast, Stand, line_up
from turncheck.show.habits_page import HabitsSection
from turncheck.show.record import Record, natural
from turncheck.wording.findings import RANK, VERDICTS

_ROOM = "turncheck.show"
#: What a sheet is that can't be used, beside the verdicts of those that can.
UNUSABLE = "unusable"
_WORDS: Mapping[str, str] = {**VERDICTS, UNUSABLE: "can't be used"}
#: From worst to best: a sheet that can't be used may hide anything, and is to be mended.
_ORDER = sorted(_WORDS, key=lambda kind: RANK.get(kind, RANK["undecided"] + 0.5))
#: What the page always counts; other verdicts where there are any.
_ALWAYS = ("off_model", "undecided", "on_model", UNUSABLE)
#: So many pieces of the page are written at once; common practice, no source.
_PIECES = 1000


@dataclass(frozen=True, slots=True)
class Entry:
    """One sheet as the page shows it.

    Attributes
    ----------
    record
        What is kept of it.
    stand
        How its figure stands in the line-up.
    name
        The character's; the sheet's path where it can't be read.
    kind
        Its verdict, or that it can't be used.
    """

    record: Record
    stand: Stand
    name: str
    kind: str

    @property
    def rank(self) -> int:
        """How bad its verdict is, 0 the worst."""
        return _ORDER.index(self.kind)

    @property
    def badness(self) -> tuple[int, float, int]:
        """What orders sheets, the worst first: verdict, furthest drift, how much to redraw."""
        return self.rank, -abs(self.record.worst_pct or 0.0), -self.record.to_redraw

    @property
    def drawn_by(self) -> str:
        """Who drew it, in words: by drawing where there are several."""
        by_artist: dict[str, list[str]] = {}
        for view, artist in self.record.drawn_by.items():
            if artist:
                by_artist.setdefault(artist, []).append(spoken(view))
        if len(by_artist) < 2:
            return "".join(by_artist)
        return "; ".join(f"{artist}: {', '.join(views)}" for artist, views in by_artist.items())


def render_index(
    records: Sequence[Record],
    *,
    title: str,
    habits: HabitsSection | None = None,
    sampled: str = "",
) -> TemplateStream:
    """Return the page of a show piece by piece; the same input gives the same text.

    Parameters
    ----------
    records
        One a sheet, in any order.
    title
        The show's name.
    habits
        What the show draws low or high by habit.
    sampled
        Which sheets were picked for a closer look, a sentence.
    """
    cast = line_up(records)
    entries = _ordered(records, cast)
    looks, own_looks = style(_ROOM, ("base", "rows", "index", "habits")), _own_style(entries, cast)
    script = Markup(assets.text("tables.js") + part(_ROOM, "script/index.js"))
    page = (
        environment(_ROOM)
        .get_template("index.html.j2")
        .stream(
            policy=policy([looks, own_looks], [script], pictures="'self' file:"),
            style=looks,
            own_style=own_looks,
            script=script,
            shapes=Markup(assets.text("shapes.svg")),
            version=VERSION,
            title=title,
            sampled=sampled,
            entries=entries,
            picked=[one for one in entries if one.record.spots],
            tallies=_tallies(entries),
            stale=sum(one.record.approval == "stale" for one in entries),
            how_many=_how_many(entries),
            worst=_worst(entries),
            sizes=_sizes(entries),
            is_ruled=cast.rule > 0.0,
            has_revisions=len({one.name for one in entries}) < len(entries),
            habits=habits,
            words=_WORDS,
            listed=listed,
            href=lambda path: quote(path, safe="/"),
            px=lambda length: max(round(length * cast.px), 1),
        )
    )
    page.enable_buffering(_PIECES)
    return page


def _ordered(records: Sequence[Record], cast: Cast) -> list[Entry]:
    """Return the sheets: characters with the worst sheet first, the last revision by name first."""
    entries = [
        Entry(
            record,
            stand,
            record.character or record.path,
            record.verdict if record.verdict in VERDICTS else UNUSABLE,
        )
        for record, stand in zip(records, cast.stands, strict=True)
    ]
    worst: dict[str, tuple[int, float, int]] = {}
    for one in entries:
        worst[one.name] = min(one.badness, worst.get(one.name, one.badness))
    entries.sort(key=lambda one: one.record.path)
    entries.sort(key=lambda one: natural(one.record.revision), reverse=True)
    return sorted(entries, key=lambda one: (worst[one.name], natural(one.name), one.name))


def _tallies(entries: Iterable[Entry]) -> list[tuple[str, int]]:
    """Return how many sheets there are of each verdict, the worst first."""
    counts = Counter(one.kind for one in entries)
    return [(kind, counts[kind]) for kind in _ORDER if counts[kind] or kind in _ALWAYS]


def _how_many(entries: Sequence[Entry]) -> str:
    characters = len({one.record.character for one in entries} - {""})
    sheets = counted(len(entries), "sheet")
    return f"{sheets} of {counted(characters, 'character')}" if characters else sheets


def _worst(entries: Iterable[Entry]) -> Entry | None:
    """Return the sheet furthest off model."""
    off = [one for one in entries if one.kind == "off_model"]
    return min(off, key=lambda one: one.badness, default=None)


def _sizes(entries: Sequence[Entry]) -> str:
    """Return which sizes in the line-up are known and what the others stand for."""
    guessed = [one for one in entries if not one.stand.is_told]
    if not guessed:
        return "All at true size beside each other, as height_cm tells it." if entries else ""
    by_heads = sum(1 for one in guessed if one.record.heads)
    ways = {"by the count of heads": by_heads, "as tall as the usual one": len(guessed) - by_heads}
    told = {way: count for way, count in ways.items() if count}
    each = [f"{count} {way}" if len(told) > 1 else way for way, count in told.items()]
    true = len(entries) - len(guessed)
    if true:
        start = f"{counted(true, 'stands', 'stand')} at true size; "
        have = counted(len(guessed), "has", "have")
        start += f"{have} no height_cm in sheet.toml and"
    else:
        start = "No sheet.toml has a height_cm, so all"
    paler = "is" if true and len(guessed) == 1 else "are"
    return f"{start} {paler} drawn paler, {listed(each)}."


def _own_style(entries: Iterable[Entry], cast: Cast) -> Markup:
    """Return what a show alone says in its style: the scale and every figure's size."""
    widest = max((stand.wide for stand in cast.stands), default=0.0)
    lowest = max((stand.below for stand in cast.stands), default=0.0)
    rules = [
        f":root {{ --scale: {cast.px:.5g}px; --widest: {short(widest, 2)}; --rule: {cast.rule:g}; "
        f"--lowest: {short(lowest, 2)}; --beside: {BESIDE:g}px; "
        f"--sheets: {len(cast.stands)}; }}"
    ]
    if cast.rule:
        tallest = max(stand.high for stand in cast.stands)
        at = range(int(tallest / cast.rule) + 1, 0, -1)
        labels = "\\A ".join(f"{step * cast.rule:g} cm" for step in at)
        rules.append(f'.ruled .stand::before {{ content: "{labels}"; content: "{labels}" / ""; }}')
    for i, one in enumerate(entries):
        stand = one.stand
        below = f" --below: {short(stand.below, 2)};" if round(stand.below, 2) else ""
        rules.append(
            f"#at-{i} {{ --wide: {short(stand.wide, 2)}; --high: {short(stand.high, 2)};{below} }}"
        )
    return Markup("\n".join(rules))  # numbers alone
