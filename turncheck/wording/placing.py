"""What is said of how surely the points are placed, and of the sizes that drawings are meant at."""

from turncheck.checks.size import is_as_large, size_note
from turncheck.geometry.heights import Heights
from turncheck.geometry.placing_sd import HIDDEN_FACTOR
from turncheck.plain import capital, spoken
from turncheck.wording.findings import titles_of

#: Placings that scatter by less than so many times what is stated are not worth a word.
SCATTER_TOLD_FROM = 1.25


def placing_remarks(heights: Heights) -> list[str]:
    """Return what the placings say of themselves, a sentence each; nothing where all is as stated.

    Drawings that differ by a little everywhere scatter as placings do: only repeats tell them
    apart. And of a sheet whose drawings differ in size on purpose, by how much.
    """
    scatter, stated = heights.scatter, heights.placing.pct
    found = []
    if scatter.seen >= SCATTER_TOLD_FROM:
        found.append(
            f"These placings scatter by {stated * scatter.seen:.2g} % of the figure, not "
            f"{stated:.2g} %, and less can be told from them: place the points again, zoomed in. "
            f"If that is how sure they are, set placing_sd = {stated * scatter.seen:.2g}."
        )
    if scatter.hidden >= SCATTER_TOLD_FROM * max(scatter.seen, 1.0):
        behind = HIDDEN_FACTOR * stated
        found.append(
            f"Points behind other parts scatter by {behind * scatter.hidden:.2g} % of the figure, "
            f"not {behind:.2g} %: what hangs on them alone is told only where it is far off."
        )
    if scatter.wild:
        found.append(
            "Single points of several drawings stand apart, as slips of the hand do: only what is "
            "far off is called off model. Look again at the points that are too close to call."
        )
    if heights.sheet.placing == "fit":
        titles = titles_of(heights.sheet)
        found += [
            f"{capital(spoken(view))} is {size_note(heights, v).spoken(titles)}."
            for v, view in enumerate(heights.views)
            if heights.fitted[v].trusted and not is_as_large(heights.size(v))
        ]
    return found
