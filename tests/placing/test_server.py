"""The page's server answers its own page on this machine, and nobody else."""

from __future__ import annotations

import json
import socket
import struct
import threading
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest

from tests.placing.conftest import Ask
from turncheck import TurncheckError
from turncheck.placing import server as serving
from turncheck.placing.guard import MOST_BYTES
from turncheck.placing.server import MOST_CONNECTIONS, MarkingServer
from turncheck.placing.session import Session


def change(base: str, *steps: dict[str, Any]) -> dict[str, Any]:
    return {"base": base, "steps": list(steps)}


def ground(view: str = "front", **more: Any) -> dict[str, Any]:
    return {"view": view, "landmark": "ground", "x": 500.0, "y": 1440.0} | more


def test_the_page_and_its_parts_are_served_under_a_strict_policy(ask: Ask) -> None:
    for path in ("", "page.css", "main.js", "sheet", "drawing/0", "proposals"):
        status, headers, _ = ask(path)
        assert status == 200, path
        assert "unsafe" not in headers["Content-Security-Policy"]
        assert headers["Content-Security-Policy"].startswith("default-src 'none'")
        assert headers["X-Content-Type-Options"] == "nosniff"
        assert headers["Cache-Control"] == "no-store"
        assert headers["Referrer-Policy"] == "no-referrer"


def test_it_listens_on_the_loopback_address_alone(server: MarkingServer) -> None:
    assert server.server_address[0] == "127.0.0.1"
    assert len(server.guard.secret) >= 32


@pytest.mark.parametrize("host", ["evil.example", "evil.example:80", "127.0.0.1", None, "[::1]:1"])
def test_a_foreign_host_is_refused(ask: Ask, host: str | None) -> None:
    assert ask("sheet", Host=host)[0] == 403


@pytest.mark.parametrize("prefix", ["/", "/wrong/", "//", "/../", "/%2e%2e/"])
def test_a_wrong_secret_is_refused(ask: Ask, server: MarkingServer, prefix: str) -> None:
    assert ask("sheet", prefix=prefix)[0] == 403
    assert ask("sheet", prefix=f"/{server.guard.secret[:-1]}/")[0] == 403


@pytest.mark.parametrize("origin", ["http://evil.example", "null", "http://127.0.0.1:1", None])
def test_a_foreign_page_can_not_change_anything(
    ask: Ask, origin: str | None, sheet_folder: Path
) -> None:
    assert ask("change", change("", ground()), Origin=origin)[0] == 403
    assert not (sheet_folder / "landmarks.csv").exists()


def test_a_foreign_page_can_not_read_either(ask: Ask) -> None:
    assert ask("sheet", Origin="http://evil.example")[0] == 403
    assert ask("sheet", Sec_Fetch_Site="cross-site")[0] == 403


def test_too_much_is_refused_before_it_is_read(ask: Ask) -> None:
    assert ask("change", b"", Content_Length=str(MOST_BYTES + 1))[0] == 413
    assert ask("change", b"", Content_Length="9" * 400)[0] == 413


@pytest.mark.parametrize("length", [None, "-1", "x", "", "1_0", "²"])
def test_a_body_of_unknown_length_is_refused(ask: Ask, length: str | None) -> None:
    coded = None if length is None else length.encode("latin-1", "ignore").decode("latin-1")
    assert ask("change", b"", Content_Length=coded)[0] == 411


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "BREW"])
def test_other_methods_are_refused(ask: Ask, method: str) -> None:
    status, headers, _ = ask("sheet", method=method)
    assert status == 405
    assert headers["Allow"] == "GET, HEAD, POST"
    assert headers["Content-Security-Policy"]


@pytest.mark.parametrize(
    "path",
    [
        "../sheet.toml",
        "..%2fsheet.toml",
        "drawing/../sheet.toml",
        "drawing/front.png",
        "drawing/99",
        "drawing/-1",
        "drawing/",
        "drawing/0/0",
        "drawing/1e9",
        "drawing/" + "9" * 5000,
        "landmarks.csv",
        "__init__.py",
        "/etc/passwd",
    ],
)
def test_no_path_leads_to_a_file(ask: Ask, path: str) -> None:
    assert ask(path)[0] == 404


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"{",
        b"[]",
        b"\xff",
        b'{"base":"","steps":[]}',
        b'{"base":"","steps":[{"view":"front"}]}',
        b'{"base":"","steps":[{"view":"front","landmark":"chin","x":NaN,"y":1}]}',
        b'{"base":"","steps":[{"view":"front","landmark":"chin","x":1e999,"y":1}]}',
        b'{"base":"","steps":[{"view":"front","landmark":"chin","x":1,"y":1,"more":1}]}',
    ],
)
def test_what_is_no_change_is_refused(ask: Ask, body: bytes, sheet_folder: Path) -> None:
    assert ask("change", body)[0] == 400
    assert not (sheet_folder / "landmarks.csv").exists()


@pytest.mark.parametrize(
    ("step", "says"),
    [
        (ground(view="nowhere"), "not a view"),
        (ground(landmark="nothing"), "not a landmark"),
        (ground(y=99999.0), "lies outside"),
        (ground(by="=cmd()"), "starts with a letter"),
        (ground(by="a\nb"), "can't be shown"),
        (ground(by="a\u202eb"), "can't be shown"),
    ],
)
def test_a_step_that_can_not_be_made_says_why(
    ask: Ask, step: dict[str, Any], says: str, sheet_folder: Path
) -> None:
    status, _, body = ask("change", change("", step))
    assert status == 422
    assert says in body["error"]
    assert not (sheet_folder / "landmarks.csv").exists()


def test_the_table_begins_with_the_first_placing(ask: Ask, sheet_folder: Path) -> None:
    assert ask("sheet")[2]["state"]["hash"] == ""
    assert not (sheet_folder / "landmarks.csv").exists()
    status, _, state = ask("change", change("", ground()))
    assert status == 200
    assert (sheet_folder / "landmarks.csv").read_text("utf-8").splitlines() == [
        "view,landmark,x,y,visibility,sd,placed_by",
        "front,ground,500.00,1440.00,visible,,",
    ]
    assert ask("hash")[2]["hash"] == state["hash"] != ""


def test_a_change_to_an_older_table_is_refused_with_the_newer_one(
    ask: Ask, sheet_folder: Path
) -> None:
    first = ask("change", change("", ground()))[2]["hash"]
    table = sheet_folder / "landmarks.csv"
    table.write_text(table.read_text("utf-8") + "side,chin,500,300,,,pen\n", "utf-8")
    status, _, body = ask("change", change(first, ground("back")))
    assert status == 409
    assert [p["landmark"] for p in body["state"]["placings"]] == ["ground", "chin"]
    assert "back" not in table.read_text("utf-8")
    assert ask("change", change(body["state"]["hash"], ground("back")))[0] == 200


def test_a_table_that_an_editor_broke_is_said_and_left_alone(ask: Ask, sheet_folder: Path) -> None:
    base = ask("change", change("", ground()))[2]["hash"]
    table = sheet_folder / "landmarks.csv"
    broken = table.read_text("utf-8") + "side,chim,500,300,,,pen\n"
    table.write_text(broken, "utf-8")
    status, _, body = ask("change", change(base, ground("back")))
    assert status == 422
    assert 'did you mean "chin"' in body["error"]
    assert ask("state")[0] == 422
    assert table.read_text("utf-8") == broken


def test_every_answer_about_the_table_tells_a_sheet_saved_since(
    ask: Ask, sheet_folder: Path
) -> None:
    stamp = ask("sheet")[2]["stamp"]
    base = ask("change", change("", ground()))[2]
    assert base["stamp"] == ask("hash")[2]["stamp"] == stamp
    sheet = sheet_folder / "sheet.toml"
    sheet.write_text(sheet.read_text("utf-8") + "\n[landmarks.pennon]\nkind = 'height'\n", "utf-8")
    newer = ask("hash")[2]["stamp"]
    assert newer != stamp
    pennon = {"view": "front", "landmark": "pennon", "x": 500.0, "y": 700.0}
    status, _, body = ask("change", change(base["hash"], pennon))
    assert (status, body["stamp"]) == (422, newer), "until the page is loaded again"
    assert ask("change", change(base["hash"], ground("back")))[2]["stamp"] == newer
    setting = ask("sheet")[2]
    assert setting["stamp"] == newer
    assert len(setting["state"]["placings"]) == 2
    assert ask("change", change(setting["state"]["hash"], pennon))[0] == 200


def test_a_sheet_saved_with_faults_leaves_the_one_before_in_use(
    ask: Ask, sheet_folder: Path
) -> None:
    base = ask("sheet")[2]["state"]["hash"]
    sheet = sheet_folder / "sheet.toml"
    text = sheet.read_text("utf-8")
    sheet.write_text("character = ", "utf-8")
    assert ask("sheet")[0] == 422
    assert ask("change", change(base, ground()))[0] == 200
    sheet.unlink()
    assert ask("sheet")[0] == 422
    assert ask("hash")[0] == 200
    sheet.write_text(text, "utf-8")
    assert len(ask("sheet")[2]["state"]["placings"]) == 1


def test_a_drawing_that_was_drawn_again_is_shown_when_the_page_is_loaded_again(
    ask: Ask, sheet_folder: Path
) -> None:
    setting = ask("sheet")[2]
    number = [view["name"] for view in setting["views"]].index("side")
    before = ask(f"drawing/{number}")[2]
    cv2.imwrite(str(sheet_folder / "side.png"), np.full((900, 700, 3), 255, np.uint8))
    assert ask("hash")[2]["stamp"] != setting["stamp"]
    assert ask(f"drawing/{number}")[2] == before
    view = ask("sheet")[2]["views"][number]
    assert (view["width"], view["height"]) == (700, 900)
    assert ask(f"drawing/{number}")[2] != before


def test_trying_a_placing_saves_nothing(ask: Ask, sheet_folder: Path) -> None:
    crown = {"view": "front", "landmark": "crown", "x": 500, "y": 120}
    base = ask("change", change("", ground(), ground("side"), crown))[2]["hash"]
    before = (sheet_folder / "landmarks.csv").read_bytes()
    status, _, said = ask(
        "attempt", change(base, {"view": "side", "landmark": "crown", "x": 500, "y": 160})
    )
    assert status == 200
    assert [r["words"] for r in said["of"] if (r["view"], r["landmark"]) == ("side", "crown")] == [
        "40 px too low"
    ]
    assert (sheet_folder / "landmarks.csv").read_bytes() == before


def test_many_changes_at_once_lose_none(ask: Ask, sheet_folder: Path) -> None:
    views = ["front", "side", "back", "three_quarter", "back_three_quarter"]

    def place(view: str) -> None:
        base = ""
        while True:
            status, _, body = ask("change", change(base, ground(view)))
            if status == 200:
                return
            assert status == 409
            base = body["state"]["hash"]

    threads = [threading.Thread(target=place, args=(view,)) for view in views]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    rows = (sheet_folder / "landmarks.csv").read_text("utf-8").splitlines()[1:]
    assert sorted(row.split(",")[0] for row in rows) == sorted(views)


def test_a_large_drawing_is_served_small_and_keeps_its_own_px(
    sheet_folder: Path,
) -> None:
    large = np.zeros((3000, 4000, 4), np.uint8)
    cv2.ellipse(large, (2000, 1500), (500, 1000), 0, 0, 360, (60, 90, 200, 255), -1)
    cv2.imwrite(str(sheet_folder / "side.png"), large)
    session = Session(sheet_folder)
    view = next(v for v in session.setting()["views"] if v["name"] == "side")  # type: ignore[union-attr]
    assert (view["width"], view["height"]) == (4000, 3000)
    assert view["foot"] == pytest.approx(2500.5, abs=1)
    shown = cv2.imdecode(np.frombuffer(session.drawings["side"].webp, np.uint8), -1)
    assert max(shown.shape[:2]) == 2400


def test_a_taken_port_is_said(sheet_folder: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        with pytest.raises(TurncheckError, match="leave --port out"):
            MarkingServer(Session(sheet_folder), taken.getsockname()[1])


def test_a_request_that_never_ends_holds_no_other(ask: Ask, server: MarkingServer) -> None:
    with socket.create_connection(("127.0.0.1", server.guard.port)) as slow:
        slow.sendall(b"POST /")
        assert ask("hash")[0] == 200


@contextmanager
def line_to(server: MarkingServer) -> Iterator[socket.socket]:
    with closing(socket.create_connection(("127.0.0.1", server.guard.port), timeout=20)) as line:
        yield line


def request(server: MarkingServer, method: str = "GET", path: str = "hash", body: bytes = b"",
            *more: str) -> bytes:  # fmt: skip
    head = [f"{method} /{server.guard.secret}/{path} HTTP/1.1"]
    head += [f"Host: 127.0.0.1:{server.guard.port}", f"Content-Length: {len(body)}", *more]
    return "\r\n".join([*head, "", ""]).encode("ascii") + body


def answer(line: socket.socket) -> tuple[int, Any]:
    """The next answer on a connection, to its end and no further: the one after it may be there."""
    with line.makefile("rb", buffering=0) as file:
        status = int(file.readline().split()[1])
        size = 0
        while (header := file.readline().strip()) != b"":
            name, _, value = header.partition(b":")
            size = int(value) if name.lower() == b"content-length" else size
        body = b""
        while len(body) < size and (more := file.read(size - len(body))):
            body += more
        return status, json.loads(body)


def hang_up(line: socket.socket) -> None:
    """Close with a reset, as a browser that is killed does."""
    line.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
    line.close()


def test_browsers_that_hang_up_leave_nothing_on_the_terminal(
    server: MarkingServer, ask: Ask, capfd: pytest.CaptureFixture[str]
) -> None:
    whole = request(server, path="sheet")
    for sent in (b"", b"GET", whole[:-4], whole, whole * 50, request(server, "POST")[:-2]):
        with line_to(server) as line:
            line.sendall(sent)
            hang_up(line)
    with line_to(server) as line:
        line.sendall(request(server, "POST", "change", b"x" * 100)[:-50])
        hang_up(line)
    assert ask("hash")[0] == 200
    time.sleep(0.3)
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize(
    "line",
    ["GET http://[x HTTP/1.1", "GET //[/ HTTP/1.1", "GET http://\u2100/ HTTP/1.1", "GET", "G E T /",
     "GET / HTTP/9.9", "GET / HTTP/x", "\0\0\0", "GET /" + "a" * 70_000 + " HTTP/1.1"],
)  # fmt: skip
def test_what_is_no_request_is_refused_without_a_traceback(
    server: MarkingServer, ask: Ask, line: str, capfd: pytest.CaptureFixture[str]
) -> None:
    with line_to(server) as raw:
        host = f"Host: 127.0.0.1:{server.guard.port}"
        raw.sendall(f"{line}\r\n{host}\r\n\r\n".encode())
        assert b"200 OK" not in raw.recv(1000)
    assert ask("hash")[0] == 200
    assert capfd.readouterr() == ("", "")


def test_a_body_is_read_whatever_the_method(server: MarkingServer) -> None:
    smuggled = request(server, "POST", "change")
    with line_to(server) as line:
        line.sendall(request(server, "GET", "hash", smuggled) + request(server, "GET", "state"))
        assert (first := answer(line))[0] == 200 and set(first[1]) == {"hash", "stamp"}
        assert (second := answer(line))[0] == 200 and "placings" in second[1]
    for method in ("PUT", "BREW"):
        with line_to(server) as line:
            line.sendall(request(server, method, "change", b"x" * MOST_BYTES))
            assert answer(line)[0] == 405


def test_only_so_many_are_served_at_once(server: MarkingServer, ask: Ask) -> None:
    lines = [socket.create_connection(("127.0.0.1", server.guard.port)) for _ in range(100)]
    for line in lines:
        line.settimeout(5)
    time.sleep(0.3)
    assert threading.active_count() < MOST_CONNECTIONS + 20
    with pytest.raises((ConnectionError, TimeoutError)):
        lines[-1].sendall(request(server))
        if not lines[-1].recv(10):
            raise ConnectionResetError
    lines[0].sendall(request(server))
    assert answer(lines[0])[0] == 200
    for line in lines:
        line.close()
    time.sleep(0.3)
    assert ask("hash")[0] == 200


@pytest.mark.parametrize("slow", ["line", "head", "body", "nothing more"])
def test_a_slow_request_ends(
    server: MarkingServer, slow: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(serving, "PATIENCE", 0.5)
    whole = request(server, "POST", "change", b"x" * 1000)
    at = {"line": 0, "head": 20, "body": len(whole) - 990, "nothing more": 5}[slow]
    started = time.monotonic()
    with line_to(server) as line:
        line.sendall(whole[:at])
        with pytest.raises((ConnectionError, TimeoutError)):
            for k in range(at, at + 100):
                if slow != "nothing more":
                    line.sendall(whole[k : k + 1])
                line.settimeout(0.05)
                try:
                    got = line.recv(100)
                except TimeoutError:
                    continue
                if not got:
                    raise ConnectionResetError
    assert time.monotonic() - started < 3


def test_a_fault_of_ours_is_one_line_and_an_answer(
    server: MarkingServer, ask: Ask, monkeypatch: pytest.MonkeyPatch,
    capfd: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    def fails() -> str:
        raise ZeroDivisionError("by\x1b[0")

    monkeypatch.setattr(server.session, "hash", fails)
    assert ask("hash")[0] == 500
    assert ask("state")[0] == 200
    (line,) = capfd.readouterr().err.splitlines()
    assert line == r"turncheck: a request failed (ZeroDivisionError: by\x1b[0)"


def test_a_write_protected_table_stays_and_is_said(ask: Ask, sheet_folder: Path) -> None:
    base = ask("change", change("", ground()))[2]["hash"]
    table = sheet_folder / "landmarks.csv"
    before = table.read_bytes()
    table.chmod(0o444)
    status, _, told = ask("change", change(base, ground("side")))
    assert status == 422 and "write-protected" in told["error"]
    assert table.read_bytes() == before
    table.chmod(0o644)
    assert ask("change", change(base, ground("side")))[0] == 200


def test_a_point_of_ones_own_is_added_to_the_sheet_and_the_rest_of_it_stays(
    ask: Ask, sheet_folder: Path
) -> None:
    sheet = sheet_folder / "sheet.toml"
    text = sheet.read_text("utf-8")
    point = {"name": "buckle", "kind": "pivot", "part": "leg_l", "sides": True}
    assert ask("point", point)[0] == 200
    assert sheet.read_text("utf-8") == (
        f'{text}\n[landmarks."buckle_*"]\nkind = "pivot"\npart = "leg_*"\n'
    )
    ask("sheet")  # the page loads again
    marks = {mark["name"]: mark for mark in ask("sheet")[2]["landmarks"]}
    assert marks["buckle_l"]["twin"] == "buckle_r"
    assert ask("point", {"name": "buckle_l", "absent": True})[0] == 200
    ask("sheet")
    assert "buckle_l" not in {mark["name"] for mark in ask("sheet")[2]["landmarks"]}


@pytest.mark.parametrize(
    ("point", "status"),
    [
        ({"name": "knee_l", "kind": "pivot"}, 422),
        ({"name": "chim", "absent": True}, 422),
        ({"name": "crown", "absent": True}, 422),
        ({"name": "badge", "absent": True}, 422),  # the sheet has a table for it already
        ({"name": "chin]\nx", "kind": "pivot"}, 400),
        ({"name": "tail", "kind": "knob"}, 400),
    ],
)
def test_a_point_that_can_not_be_added_or_left_out_changes_nothing(
    ask: Ask, sheet_folder: Path, point: dict[str, Any], status: int
) -> None:
    before = (sheet_folder / "sheet.toml").read_bytes()
    assert ask("point", point)[0] == status
    assert (sheet_folder / "sheet.toml").read_bytes() == before


def test_a_point_that_is_placed_is_not_left_out(ask: Ask, sheet_folder: Path) -> None:
    neck = {"view": "front", "landmark": "neck", "x": 500.0, "y": 380.0}
    ask("change", change("", neck))
    status, _, body = ask("point", {"name": "neck", "absent": True})
    assert status == 422 and "placed on front" in body["error"]


def test_who_places_is_remembered(ask: Ask) -> None:
    assert ask("person", {"by": "ana"})[0] == 200
    assert ask("sheet")[2]["by"] == "ana"
    assert ask("person", {"by": "=cmd()"})[0] == 422
    assert ask("person", {"by": "a" * 99})[0] == 400
    assert ask("sheet")[2]["by"] == "ana"


def unseen(landmark: str = "mouth", view: str = "side", **more: Any) -> dict[str, Any]:
    return {"view": view, "landmark": landmark, "unseen": True} | more


def test_what_is_not_seen_is_kept_beside_the_sheet_and_the_table_stays_as_it_is(
    ask: Ask, sheet_folder: Path
) -> None:
    kept = sheet_folder / "not_seen.json"
    assert ask("state")[2]["unseen"] == [] and not kept.exists()
    base = ask("change", change("", ground()))[2]["hash"]
    table = (sheet_folder / "landmarks.csv").read_bytes()
    status, _, state = ask("change", change(base, unseen(), unseen("chin")))
    assert status == 200 and state["unseen"] == [["side", "chin"], ["side", "mouth"]]
    assert json.loads(kept.read_text("utf-8")) == {"side": ["chin", "mouth"]}
    assert (sheet_folder / "landmarks.csv").read_bytes() == table
    assert ask("hash")[2]["hash"] == state["hash"] != base, "another page sees it"
    assert ask("change", change(base, unseen("neck")))[0] == 409
    assert Session(sheet_folder).state()["unseen"] == [("side", "chin"), ("side", "mouth")]
    state = ask("change", change(state["hash"], unseen("chin", delete=True)))[2]
    assert json.loads(kept.read_text("utf-8")) == {"side": ["mouth"]}
    assert not [path for path in sheet_folder.iterdir() if path.name.startswith(".")]


@pytest.mark.parametrize("step", [unseen("mouht"), unseen(view="sied")])
def test_what_the_sheet_does_not_have_is_not_said_to_be_unseen(
    ask: Ask, sheet_folder: Path, step: dict[str, Any]
) -> None:
    status, _, body = ask("change", change("", step))
    assert status == 422 and "did you mean" in body["error"]
    assert not (sheet_folder / "not_seen.json").exists()


@pytest.mark.parametrize("text", ["", "[", '{"side": "mouth"}', '{"side": [1]}', "\x00"])
def test_a_broken_list_of_what_is_not_seen_is_said_and_left_alone(
    ask: Ask, sheet_folder: Path, text: str
) -> None:
    base = ask("change", change("", ground()))[2]["hash"]
    kept = sheet_folder / "not_seen.json"
    kept.write_text(text, "utf-8")
    status, _, body = ask("change", change(base, unseen()))
    assert status == 422 and body["later"], "the page keeps the change until it is mended"
    assert str(kept) in body["error"]
    assert kept.read_text("utf-8") == text
    with pytest.raises(TurncheckError, match=r"not_seen\.json"):
        Session(sheet_folder)
    kept.unlink()
    assert ask("change", change(base, unseen()))[0] == 200


def test_of_points_that_the_sheet_has_no_more_nothing_is_lost(ask: Ask, sheet_folder: Path) -> None:
    kept = sheet_folder / "not_seen.json"
    kept.write_text('{"side": ["tail"], "top": ["mouth"]}', "utf-8")
    base = ask("state")[2]["hash"]
    assert ask("change", change(base, unseen()))[0] == 200
    assert json.loads(kept.read_text("utf-8")) == {"side": ["mouth", "tail"], "top": ["mouth"]}
