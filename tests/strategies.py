"""Hypothesis strategies and settings that the property tests share."""

from __future__ import annotations

import os
from collections.abc import Sequence

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st

from turncheck.errors import UNSHOWN

#: Tests of files share one folder over all examples, so a fixture made once is meant.
thorough = settings(
    max_examples=80,
    deadline=None,
    database=None,
    derandomize="CI" in os.environ,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)

numbers = st.floats(min_value=0.0, max_value=1e6, allow_subnormal=False)
#: Pieces that break readers: quotes, brackets, numbers out of range, other scripts.
NASTY = (
    ['"', "'", ",", ";", "\n", "\r\n", "\0", "[", "]]", "=", "#", "nan", "inf", "-1e999", "1_0",
     "\ufeff", "\u202e", "🐐", "[[[[[[", '"""', "\\u0000", "../", "*", "9" * 5000, "ground"]
)  # fmt: skip
nasty = st.sampled_from(NASTY)


@st.composite
def mutated(draw: st.DrawFn, text: str) -> str:
    """The text with up to four slices taken out, doubled or replaced by something nasty."""
    for _ in range(draw(st.integers(1, 4))):
        start = draw(st.integers(0, len(text)))
        end = min(len(text), start + draw(st.integers(0, 30)))
        piece = draw(
            st.one_of(st.just(""), nasty, st.text(max_size=5), st.just(text[start:end] * 2))
        )
        text = text[:start] + piece + text[end:]
    return text


@st.composite
def mutated_bytes(draw: st.DrawFn, data: bytes) -> bytes:
    """The bytes with up to six of them changed, and perhaps cut short."""
    changed = bytearray(data)
    for _ in range(draw(st.integers(0, 6))):
        changed[draw(st.integers(0, len(data) - 1))] = draw(st.integers(0, 255))
    return bytes(changed[: draw(st.one_of(st.just(len(data)), st.integers(0, len(data))))])


def _plain(text: str) -> bool:
    return not UNSHOWN.search(text) and text == text.strip() and not text.startswith("#")


#: What may stand in `placed_by`.
people = st.one_of(
    st.sampled_from(["", "wren", "ana#2", "Ole, the 2nd", 'the "lead"', "=1+1", "a;b", "梅"]),
    st.text(max_size=20).filter(_plain),
)


@st.composite
def landmark_rows(
    draw: st.DrawFn, views: Sequence[str], landmarks: Sequence[str], width: int, height: int
) -> list[dict[str, object]]:
    """Rows of a complete, valid landmark table in any order."""
    across = st.floats(-0.5, width - 0.5)
    down = st.floats(-0.5, height - 0.5)
    keys = draw(
        st.sets(st.tuples(st.sampled_from(views), st.sampled_from(landmarks), people), max_size=15)
    )
    keys |= {(view, "ground", "") for view in views} | {(views[0], "crown", "")}
    rows: list[dict[str, object]] = [
        {
            "view": view,
            "landmark": landmark,
            "x": draw(across),
            "y": draw(down),
            "visibility": draw(st.sampled_from(["", "visible", "hidden"])),
            "sd": draw(st.one_of(st.just(""), st.floats(0.001, min(width, height)))),
            "placed_by": person,
        }
        for view, landmark, person in sorted(keys)
    ]
    return draw(st.permutations(rows))
