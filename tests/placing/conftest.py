"""A real sheet to mark, and a running server for it."""

from __future__ import annotations

import http.client
import json
import shutil
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest

from tests.places import SAMPLES
from turncheck.placing.server import MarkingServer
from turncheck.placing.session import Session

Ask = Callable[..., tuple[int, dict[str, str], Any]]


@pytest.fixture
def sheet_folder(tmp_path: Path) -> Path:
    """Odo's drawings with nothing placed."""
    return Path(
        shutil.copytree(
            SAMPLES / "odo", tmp_path / "odo", ignore=shutil.ignore_patterns("landmarks.csv")
        )
    )


@pytest.fixture
def server(sheet_folder: Path) -> Iterator[MarkingServer]:
    running = MarkingServer(Session(sheet_folder))
    thread = threading.Thread(target=running.serve_forever, kwargs={"poll_interval": 0.02})
    thread.start()
    yield running
    running.shutdown()
    thread.join()
    running.server_close()


@pytest.fixture
def ask(server: MarkingServer) -> Ask:
    """Ask the server something; what is not said is as the page itself would send it."""
    own = urlsplit(server.url)

    def send(
        path: str,
        body: object = None,
        *,
        method: str = "",
        prefix: str = own.path,
        **headers: str | None,
    ) -> tuple[int, dict[str, str], Any]:
        sent = {"Host": own.netloc}
        data = None
        if body is not None:
            data = body if isinstance(body, bytes) else json.dumps(body).encode("utf-8")
            sent |= {
                "Origin": f"http://{own.netloc}",
                "Content-Type": "application/json",
                "Content-Length": str(len(data)),
            }
        for name, value in headers.items():
            sent.pop(name.replace("_", "-"), None)
            if value is not None:
                sent[name.replace("_", "-")] = value
        connection = http.client.HTTPConnection(own.netloc, timeout=20)
        connection.putrequest(
            method or ("GET" if body is None else "POST"), prefix + path, skip_host=True
        )
        for name, value in sent.items():
            connection.putheader(name, value)
        connection.endheaders(data)
        answer = connection.getresponse()
        raw = answer.read()
        connection.close()
        kind = answer.headers["Content-Type"]
        return (
            answer.status,
            dict(answer.headers),
            json.loads(raw) if raw and kind.startswith("application/json") else raw,
        )

    return send
