"""What the pages share: colours, marks, letters and their measuring, tables that sort.

Plain files, each with one thing: `colours.css` the colours of all pages, light and dark;
`marks.css` how marks and the line-up look; `shapes.svg` the shape of each verdict; `lettering.js`
how words are fitted into the room that there is; `base.css` what pages to read have in common;
`rows.css` and `tables.js` tables that sort; `wipe.css` and `wipe.js` two pictures with a bar
between; `fonts.css` and `fonts/` the letters; `templates/` what several pages write alike.
The pages to read embed them, the server of the page for placing serves them.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from importlib import resources

#: The stylesheets in the order in which they are read.
STYLES = ("fonts.css", "colours.css", "marks.css")


@cache
def text(name: str) -> str:
    """Return a file's text.

    Examples
    --------
    >>> 'id="shape-off_model"' in text("shapes.svg")
    True
    """
    return (resources.files(__name__) / name).read_text("utf-8")


@cache
def fonts() -> Mapping[str, bytes]:
    """Return the fonts, WOFF2 (W3C), by the names that `fonts.css` has for them.

    Examples
    --------
    >>> all(f'url("{name}")' in text("fonts.css") for name in fonts())
    True
    """
    folder = resources.files(__name__) / "fonts"
    return {
        file.name: file.read_bytes()
        for file in sorted(folder.iterdir(), key=lambda file: file.name)
        if file.name.endswith(".woff2")
    }
