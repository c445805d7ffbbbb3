"""Which requests the page's server answers: its own page's, on this machine, and no other's."""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from email.message import Message
from http import HTTPStatus

#: A change of every landmark on every view of a large sheet is far below; common practice.
MOST_BYTES = 1_000_000
#: Sent with every answer. Nothing is loaded from elsewhere, nothing is written into the page as
#: script or style, nobody frames it (CSP Level 3, W3C).
HEADERS: Mapping[str, str] = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; "
        "font-src 'self'; connect-src 'self'; base-uri 'none'; form-action 'none'; "
        "frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "Cache-Control": "no-store",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}


class RefusedError(Exception):
    """A request that is not answered, with its status (RFC 9110, section 15)."""

    def __init__(self, status: HTTPStatus) -> None:
        super().__init__(status.phrase)
        self.status = status


@dataclass(frozen=True)
class Guard:
    """Knows the port and the secret that every request must show."""

    port: int
    secret: str

    def admit(self, method: str, path: str, headers: Message) -> str:
        """Return the part of the path after the secret.

        Raises
        ------
        RefusedError
            403 for a foreign host (a name that was made to point here), a foreign page or a
            wrong secret.
        """
        host = headers.get("Host", "")
        origin = headers.get("Origin")
        told = headers.get("Sec-Fetch-Site", "none")
        own = (f"127.0.0.1:{self.port}", f"localhost:{self.port}")
        foreign = host not in own or origin not in (None, f"http://{host}")
        if foreign or told not in ("same-origin", "none"):
            raise RefusedError(HTTPStatus.FORBIDDEN)
        _, _, rest = path.partition("/")
        shown, slash, inside = rest.partition("/")
        known = secrets.compare_digest(shown.encode("utf-8"), self.secret.encode("ascii"))
        if not known or (method == "POST" and (origin is None or not slash)):
            raise RefusedError(HTTPStatus.FORBIDDEN)
        if not slash:
            raise RefusedError(HTTPStatus.NOT_FOUND)
        return inside


def length(method: str, headers: Message) -> int:
    """Return how many bytes a request's body has.

    Raises
    ------
    RefusedError
        411 where it is not said, 413 where it is too much.
    """
    said = headers.get("Content-Length", "" if method == "POST" else "0")
    if headers.get("Transfer-Encoding") or not (said.isascii() and said.isdigit()):
        raise RefusedError(HTTPStatus.LENGTH_REQUIRED)
    if len(said) > 12 or int(said) > MOST_BYTES:
        raise RefusedError(HTTPStatus.REQUEST_ENTITY_TOO_LARGE)
    return int(said)
