"""The report: one self-contained page that says what drifted and what to redraw."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from turncheck.images.thumbnail import Thumbnail

if TYPE_CHECKING:
    from turncheck.checking import Checked


def build_report(
    checked: Checked, summary: Mapping[str, Any], drawings: Mapping[str, Thumbnail]
) -> str:
    """Return the page as HTML text; the same input gives the same text.

    Parameters
    ----------
    checked
        The checked sheet.
    summary
        As `Checked.summary` gives it.
    drawings
        The drawings for the screen, by view; each is embedded once.
    """
    from turncheck.report.facts import gather
    from turncheck.report.page import render

    return render(gather(checked, summary, drawings))
