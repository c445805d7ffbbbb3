"""What a browser, or something that is none, may send to the page's server."""

from __future__ import annotations

import http.client
import json
import random
import socket
import struct
import threading
from collections.abc import Callable
from contextlib import suppress
from typing import Any

from tests.fuzzing import mutating
from tests.fuzzing.mutating import Rolled
from turncheck.placing.server import MarkingServer

_PATHS = ("", "sheet", "state", "hash", "proposals", "drawing/0", "drawing/9", "main.js", "../x")
_LANDMARKS = ("ground", "crown", "chin", "knee_l", "badge", "nothing")
_VIEWS = ("front", "side", "back", "nowhere")


def serve_and_visit(serve: Callable[..., None], seed: int) -> Callable[..., None]:
    """Return a `serve_forever` that ends, as by Ctrl-C, when the server has been visited."""

    def visited(server: MarkingServer, **how: Any) -> None:
        thread = threading.Thread(target=serve, args=(server,), kwargs={"poll_interval": 0.01})
        thread.start()
        try:
            visit(server, random.Random(seed))
        finally:
            server.shutdown()
            thread.join()
        raise KeyboardInterrupt

    return visited


def visit(server: MarkingServer, rolled: Rolled) -> None:
    """Send a dozen requests of all sorts; the server must then still answer a plain one."""
    base = ""
    for _ in range(12):
        data = _request(server, rolled, base)
        if rolled.random() < 0.5:
            data = mutating.raw(rolled, data)
        with suppress(OSError):
            _send(server, rolled, data)
        status, told = _ask(server, "hash")
        assert status in (200, 422), (status, told)
        base = told.get("hash", "")


def _send(server: MarkingServer, rolled: Rolled, data: bytes) -> None:
    with socket.create_connection(server.server_address[:2], timeout=15) as line:
        line.sendall(data)
        if rolled.random() < 0.5:  # a browser that is killed
            line.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
            return
        line.shutdown(socket.SHUT_WR)
        while line.recv(1 << 16):
            pass


def _ask(server: MarkingServer, path: str) -> tuple[int, dict[str, Any]]:
    connection = http.client.HTTPConnection(*server.server_address[:2], timeout=15)
    try:
        connection.request("GET", f"/{server.guard.secret}/{path}")
        answer = connection.getresponse()
        return answer.status, json.loads(answer.read())
    finally:
        connection.close()


def _request(server: MarkingServer, rolled: Rolled, base: str) -> bytes:
    method = rolled.choice(("GET", "GET", "POST", "POST", "POST", "HEAD", "PUT", "BREW"))
    path = rolled.choice(_PATHS) if method != "POST" else rolled.choice(("change", "attempt"))
    body = json.dumps({"base": base, "steps": [_step(rolled) for _ in mutating.few(rolled, 5)]})
    if rolled.random() < 0.2:
        body = mutating.text(rolled, body.encode()).decode("utf-8", "replace")
    data = body.encode("utf-8", "replace") if method != "GET" or rolled.random() < 0.1 else b""
    own = f"127.0.0.1:{server.guard.port}"
    target = f"/{server.guard.secret}/{path}"
    if rolled.random() < 0.2:
        target = rolled.choice(
            ("http://[x", "//[", f"http://{own}{target}", "*", "", "/\udcff", target * 9)
        )
    head = [f"{method} {target} HTTP/1.1", f"Host: {own}", f"Origin: http://{own}",
            "Content-Type: application/json", f"Content-Length: {len(data)}"]  # fmt: skip
    if rolled.random() < 0.2:
        head.append(rolled.choice(("Transfer-Encoding: chunked", "Expect: 100-continue", "x", ":",
                                   "Connection: close", "Content-Length: -1")))  # fmt: skip
    return "\r\n".join([*head, "", ""]).encode("latin-1", "replace") + data


def _step(rolled: Rolled) -> dict[str, Any]:
    step: dict[str, Any] = {
        "view": rolled.choice(_VIEWS),
        "landmark": rolled.choice(_LANDMARKS),
        "x": rolled.uniform(-10, 140),
        "y": rolled.uniform(-10, 200),
    }
    if rolled.random() < 0.3:
        step["by"] = rolled.choice(("ana", "=1", " x", "\u202e", "a" * 59))
    if rolled.random() < 0.2:
        step["sd"] = rolled.choice((0, -1, 1e-9, 5, 1e308))
    if rolled.random() < 0.2:
        step["delete"] = True
    return step
