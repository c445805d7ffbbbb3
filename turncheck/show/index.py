"""A stand-in for the page of a survey, until the real one is merged."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from html import escape

from turncheck.files.version import VERSION
from turncheck.show.record import Record


def render_index(
    records: Sequence[Record], *, title: str, habits: object = None, sampled: str = ""
) -> str:
    """Return one HTML page."""
    rows = "".join(f"<li>{escape(repr(replace(record, seconds=0.0)))}</li>\n" for record in records)
    head = f'<!doctype html>\n<meta name="generator" content="turncheck {VERSION}">\n'
    return f"{head}<title>{escape(title)}</title>\n<p>{escape(sampled)}</p>\n<ul>\n{rows}</ul>\n"
