"""Serves the page for placing on this machine alone."""

from __future__ import annotations

import io
import json
import os
import socket
import sys
import threading
from collections.abc import Callable, Mapping
from contextlib import suppress
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from importlib import resources
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from pydantic import BaseModel, ValidationError

from turncheck import assets
from turncheck.errors import TurncheckError, shown
from turncheck.placing.guard import HEADERS, Guard, RefusedError, length
from turncheck.placing.own_points import OwnPoint
from turncheck.placing.remembered import Address
from turncheck.placing.session import Change, NotNowError, Person, Session
from turncheck.sheet.landmark_edit import ChangedError

HOST = "127.0.0.1"
#: So long a browser may take to send a request, or to take an answer, s.
PATIENCE = 30
#: Most connections at once; a browser keeps six to a page. Common practice, no source.
MOST_CONNECTIONS = 32
#: The line of the page in whose place the shapes of the marks stand.
_SHAPES = "<!-- shapes.svg -->"
_KINDS = {
    ".html": "text/html; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".svg": "image/svg+xml",
    ".woff2": "font/woff2",
}
#: What a browser that hangs up or takes too long raises.
_GONE = (ConnectionError, TimeoutError)
_FAILED = "That failed here, which is a fault of turncheck; the terminal has a line about it."
_JSON = "application/json; charset=utf-8"

#: What may be posted, by its path: its form, and the session's function that takes it.
_POSTED: Mapping[str, tuple[type[BaseModel], str]] = {
    "change": (Change, "change"),
    "attempt": (Change, "attempt"),
    "person": (Person, "remember"),
    "point": (OwnPoint, "write_point"),
}

Answer = tuple[HTTPStatus, str, bytes]
_Request = socket.socket | tuple[bytes, socket.socket]


class MarkingServer(ThreadingHTTPServer):
    """A server for one session, bound to the loopback address.

    It is where the session's page was last, if that port is free.

    Parameters
    ----------
    port
        0 for that one, or any that is free.

    Raises
    ------
    TurncheckError
        If the port is taken.
    """

    daemon_threads = True
    request_queue_size = 32

    def __init__(self, session: Session, port: int = 0) -> None:
        last = session.known.address(session.sheet.folder)
        super().__init__((HOST, 0), _Handler, bind_and_activate=False)
        there = port == 0 and last.port and self._listens_at(last.port)
        if not there and not self._listens_at(port):
            self.server_close()
            raise TurncheckError(
                f"port {port} can't be used; leave --port out for one that is free"
            )
        self.session = session
        self._places = threading.BoundedSemaphore(MOST_CONNECTIONS)
        self.guard = Guard(self.server_address[1], last.secret)
        here = Address(port=self.guard.port, secret=last.secret)
        session.known.is_at(session.sheet.folder, here)
        self.pages = _pages()

    def _listens_at(self, port: int) -> bool:
        self.server_address = (HOST, port)
        try:
            self.server_bind()
            self.server_activate()
        except (OSError, OverflowError):
            self.server_close()
            self.socket = socket.socket(self.address_family, self.socket_type)
            return False
        return True

    @property
    def url(self) -> str:
        """Where the page is, secret and all."""
        return f"http://{HOST}:{self.guard.port}/{self.guard.secret}/"

    def server_bind(self) -> None:
        """Bind without asking what this machine is called, which may take seconds."""
        if os.name == "posix":  # a port whose server has just ended can be taken anew
            self.socket.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        self.socket.bind(self.server_address)
        self.server_address = self.socket.getsockname()
        self.server_name, self.server_port = HOST, self.server_address[1]

    def process_request(self, request: _Request, client_address: Any) -> None:
        """Serve a connection in a thread of its own; hang up where too many are served."""
        if not self._places.acquire(blocking=False):
            self.shutdown_request(request)
            return
        try:
            super().process_request(request, client_address)
        except BaseException:  # no thread was started
            self._places.release()
            raise

    def process_request_thread(self, request: _Request, client_address: Any) -> None:
        """Serve a connection until it ends."""
        try:
            super().process_request_thread(request, client_address)
        finally:
            self._places.release()

    def handle_error(self, request: _Request, client_address: Any) -> None:
        """Say what failed in one line, and nothing of a browser that hung up."""
        error = sys.exc_info()[1]
        if not isinstance(error, _GONE):
            says = f"turncheck: a request failed ({type(error).__name__}: {error})"
            print(shown(says), file=sys.stderr)


def _pages() -> Mapping[str, tuple[str, bytes]]:
    """Return every file of the page by name; a request can name these and no path."""
    package = resources.files("turncheck")
    folders = (package / "placing" / "page", package / "assets")
    files = {one.name: one.read_bytes() for at in folders for one in at.iterdir() if one.is_file()}
    files |= assets.fonts()
    page = files["page.html"].decode("utf-8")
    files["page.html"] = page.replace(_SHAPES, assets.text("shapes.svg")).encode("utf-8")
    return {
        name: (kind, body)
        for name, body in files.items()
        if (kind := _KINDS.get(Path(name).suffix)) is not None
    }


class _Handler(BaseHTTPRequestHandler):
    server: MarkingServer
    protocol_version = "HTTP/1.1"
    server_version = "turncheck"
    sys_version = ""
    timeout = PATIENCE
    _late: threading.Timer | None = None
    disable_nagle_algorithm = True

    def do_GET(self) -> None:
        self._reply(self._get)

    def do_HEAD(self) -> None:
        self._reply(self._get)

    def do_POST(self) -> None:
        self._reply(self._post)

    def handle_one_request(self) -> None:
        """Serve a request that is sent in time, from its first byte on."""
        assert isinstance(self.rfile, io.BufferedReader)
        try:
            self.rfile.peek(1)
        except _GONE:  # or nothing came
            self.close_connection = True
            return
        self._late = threading.Timer(PATIENCE, self._hang_up)
        self._late.daemon = True
        self._late.start()
        try:
            super().handle_one_request()
        finally:
            self._late.cancel()

    def _hang_up(self) -> None:
        with suppress(OSError):
            self.connection.shutdown(socket.SHUT_RDWR)

    def _body(self) -> bytes:
        """Return the request's body, with which the whole of it is here.

        Raises
        ------
        RefusedError
            Where it has no length or is too long; it is not read then.
        ConnectionError
            If it ends too early.
        """
        size = length(self.command, self.headers)
        body = self.rfile.read(size)
        if len(body) < size:
            raise ConnectionAbortedError
        if self._late is not None:
            self._late.cancel()
        return body

    def _reply(self, find: Callable[[str, bytes], Answer]) -> None:
        try:
            body = self._body()
            inside = self.server.guard.admit(self.command, _path(self.path), self.headers)
            status, kind, body = find(inside, body)
        except RefusedError as refused:
            self.close_connection = True
            status, kind, body = _said(refused.status, {"error": refused.status.phrase})
        except ChangedError:
            told = {"error": "changed elsewhere", "state": self.server.session.state()}
            status, kind, body = _said(HTTPStatus.CONFLICT, told)
        except TurncheckError as error:
            later = isinstance(error, NotNowError)
            why = {"error": str(error), "stamp": self.server.session.stamp(), "later": later}
            status, kind, body = _said(HTTPStatus.UNPROCESSABLE_ENTITY, why)
        except _GONE:
            raise
        except Exception:
            self.server.handle_error(self.connection, self.client_address)
            status, kind, body = _said(HTTPStatus.INTERNAL_SERVER_ERROR, {"error": _FAILED})
        self._send(status, kind, body)

    def _get(self, inside: str, _body: bytes) -> Answer:
        session = self.server.session
        if inside == "sheet":
            return _ok({**session.setting(), "state": session.state()})
        if inside == "hash":
            return _ok({"hash": session.hash(), "stamp": session.stamp()})
        if inside in ("state", "proposals"):
            return _ok(getattr(session, inside)())
        if inside.startswith("drawing/"):
            number, views = inside.removeprefix("drawing/"), list(session.drawings)
            if number.isascii() and number.isdigit() and int(number[:6]) < len(views):
                return HTTPStatus.OK, "image/webp", session.drawings[views[int(number[:6])]].webp
        elif (name := inside or "page.html") in self.server.pages:
            return HTTPStatus.OK, *self.server.pages[name]
        raise RefusedError(HTTPStatus.NOT_FOUND)

    def _post(self, inside: str, body: bytes) -> Answer:
        form = self.headers.get("Content-Type", "").partition(";")[0].strip().lower()
        if form != "application/json":
            raise RefusedError(HTTPStatus.UNSUPPORTED_MEDIA_TYPE)
        if inside not in _POSTED:
            raise RefusedError(HTTPStatus.NOT_FOUND)
        kind, name = _POSTED[inside]
        try:
            told = kind.model_validate_json(body)
        except ValidationError:
            raise RefusedError(HTTPStatus.BAD_REQUEST) from None
        return _ok(getattr(self.server.session, name)(told))

    def _send(self, status: HTTPStatus, kind: str, body: bytes) -> None:
        self.send_response(status)
        for name, value in HEADERS.items():
            self.send_header(name, value)
        self.send_header("Content-Type", kind)
        self.send_header("Content-Length", str(len(body)))
        if status is HTTPStatus.METHOD_NOT_ALLOWED:
            self.send_header("Allow", "GET, HEAD, POST")
        if self.close_connection:
            self.send_header("Connection", "close")
        self.end_headers()
        if self.command != "HEAD":
            self.wfile.write(body)

    def send_error(self, code: int, message: str | None = None, explain: str | None = None) -> None:
        """Refuse what is no request or has no method here, with the page's own headers."""
        self.close_connection = True
        status = HTTPStatus(code)
        if status is HTTPStatus.NOT_IMPLEMENTED and hasattr(self, "headers"):
            status = HTTPStatus.METHOD_NOT_ALLOWED
            with suppress(RefusedError):
                self._body()  # what is left unread takes the answer with it
        self._send(*_said(status, {"error": status.phrase}))

    def log_message(self, format: str, *args: object) -> None:
        """Keep the terminal for what the person should read."""


def _path(target: str) -> str:
    """Return the path of what a request asks for.

    Raises
    ------
    RefusedError
        400 where it has none.
    """
    try:
        return urlsplit(target).path
    except ValueError:
        raise RefusedError(HTTPStatus.BAD_REQUEST) from None


def _ok(value: object) -> Answer:
    return _said(HTTPStatus.OK, value)


def _said(status: HTTPStatus, value: object) -> Answer:
    body = json.dumps(value, allow_nan=False, separators=(",", ":"))
    return status, _JSON, body.encode("utf-8")
