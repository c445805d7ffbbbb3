"""The page for placing landmarks: served on this machine, opened in the browser."""

from __future__ import annotations

import webbrowser
from collections.abc import Callable
from pathlib import Path

import click

from turncheck.instructions.result import Result
from turncheck.placing.remembered import Remembered
from turncheck.placing.server import MarkingServer
from turncheck.placing.session import Session
from turncheck.wording.drawings import drawing_remarks


def mark(
    sheet: str | Path,
    *,
    earlier: Result | None = None,
    port: int = 0,
    browser: bool = True,
    ready: Callable[[str], None] = print,
    remark: Callable[[str], None] = print,
) -> None:
    """Serve the page for placing a sheet's landmarks until it is interrupted.

    Every placing is saved to the sheet's `landmarks.csv` as it is made. Who places and where the
    page is are remembered in the user's own settings, so that a page left open goes on.

    Parameters
    ----------
    sheet
        A sheet's folder, or its `sheet.toml`.
    earlier
        An earlier revision of the sheet, as `turncheck.check` returns it: its points are proposed
        where the drawing is unchanged around them, and hinted at elsewhere.
    port
        Of the loopback address; 0 for any that is free.
    browser
        Open the page in the browser.
    ready
        Called with the page's address when it can be opened.
    remark
        Called, after that, with a sentence on each drawing's file that is odd, and on what was
        learned from the show's other sheets.

    Raises
    ------
    TurncheckError
        If the sheet or its table has faults, or the port is taken.
    """
    known = Remembered(Path(click.get_app_dir("turncheck")) / "placing.json")
    session = Session(sheet, known, earlier)
    server = MarkingServer(session, port)
    session.drawings.prepare()
    try:
        ready(server.url)
        for sentence in drawing_remarks(view.picture for view in session.sheet.views.values()):
            remark(sentence)
        if session.learned_says:
            remark(session.learned_says)
        if browser:
            webbrowser.open(server.url)
        server.serve_forever(poll_interval=0.2)
    except KeyboardInterrupt:
        pass
    finally:
        server.server_close()
        session.finish()
