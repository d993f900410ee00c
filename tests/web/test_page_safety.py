"""Strangers at the bench page: other hosts, other sites, bodies too large, too slow or broken, another tab, kill -9.

The page really runs, in a process of its own; where a header or a pace is at stake the request is written by hand.
"""

import contextlib
import json
import os
import re
import signal
import socket
import sqlite3
import threading
import time

import httpx
import pytest
from page_server import Client, running, start, until

from geartrack.web.safety import Limits


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    with running(tmp_path_factory.mktemp("page")) as found:
        yield found


@pytest.fixture(scope="module")
def client(page):
    with Client(page) as found:
        yield found


@pytest.fixture
def closing():
    with contextlib.ExitStack() as stack:
        yield stack


def raw(page, text, *, rest=(), wait=10.0):
    """What the page answers to a request as written; `rest` are pieces sent after it."""
    with socket.create_connection(("127.0.0.1", page.port), timeout=wait) as line:
        line.sendall(text if isinstance(text, bytes) else text.replace("\n", "\r\n").encode())
        try:
            for piece in rest:
                line.sendall(piece)
        except OSError:
            pass  # it has hung up, which is its right
        found = b""
        try:
            while piece := line.recv(65536):
                found += piece
                if b"\r\n\r\n" in found and b"connection: close" not in found.lower():
                    break
        except OSError:
            pass
        return found.decode(errors="replace")


def status(answer):
    return int(answer.split()[1])


def test_it_binds_to_loopback_only(page):
    with open("/proc/net/tcp") as table:
        rows = [line.split() for line in table][1:]
    listening = {row[1] for row in rows if row[3] == "0A" and int(row[1].split(":")[1], 16) == page.port}
    assert listening == {f"0100007F:{page.port:04X}"}


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1", "evil.example:{port}", "127.0.0.1:1", ""])
def test_another_host_is_refused(page, host):
    for line in ("GET / HTTP/1.1", "POST /demo HTTP/1.1"):
        answer = raw(page, f"{line}\nHost: {host.format(port=page.port)}\nContent-Length: 0\nConnection: close\n\n")
        assert status(answer) in (400, 421)
        assert "Set-Cookie" not in answer or "token" not in answer
    good = raw(page, f"GET / HTTP/1.1\nHost: localhost:{page.port}\nConnection: close\n\n")
    assert status(good) == 200


def test_another_site_is_refused(page, client):
    fields = {"token": client.token}
    for headers in (
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"origin": f"https://127.0.0.1:{page.port}"},
        {"origin": f"http://127.0.0.1:{page.port + 1}"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
        {"referer": "http://evil.example/"},
    ):
        with httpx.Client(base_url=page.address, cookies=client.http.cookies, timeout=60) as stranger:
            for path in ("/demo", "/api/gears"):
                answer = stranger.post(path, data=fields, headers=headers)
                assert answer.status_code == 403, headers
    assert client.post("/demo").status_code == 303


def test_a_change_needs_the_token_of_this_page(page, client):
    before = client.http.get("/").text.count("/job/")
    for token in (None, "", "0" * 64, client.token[:-1]):
        answer = client.http.post("/demo", data={} if token is None else {"token": token})
        assert answer.status_code == 403
    with httpx.Client(base_url=page.address, timeout=60) as other:  # another browser's token is not ours
        other.get("/")
        assert other.post("/demo", data={"token": client.token}).status_code == 403
    assert client.http.get("/").text.count("/job/") == before


def test_every_route_that_changes_something_is_guarded():
    """No route takes a form without `change`; the API, which works things out and keeps nothing, is the one other."""
    from geartrack.web.app import _routes

    posts = [route for route in _routes() if "POST" in (getattr(route, "methods", None) or ())]
    assert len(posts) > 12
    open_routes = [route.path for route in posts if not hasattr(route.endpoint, "__wrapped__")]
    assert open_routes == ["/api/{what}"]


def test_headers_forbid_inline_script_and_framing(client):
    for path in ("/", "/card/phone", "/static/page.css", "/api/openapi.json", "/nowhere"):
        headers = client.http.get(path).headers
        policy = headers["content-security-policy"]
        assert "unsafe" not in policy
        assert "default-src 'none'" in policy
        assert "frame-ancestors 'none'" in policy
        assert headers["x-content-type-options"] == "nosniff"
    text = client.http.get("/").text
    assert not re.search(r"<script(?![^>]*\bsrc=)|<style|\son\w+=|\sstyle=|javascript:", text)


@pytest.mark.parametrize("path", ["/demo", "/card/phone", "/api/check"])
def test_a_body_too_large_is_refused_whatever_it_says_of_itself(page, path):
    limit = Limits().body_bytes
    kind = "application/json" if path.startswith("/api") else "application/x-www-form-urlencoded"
    head = f"POST {path} HTTP/1.1\nHost: 127.0.0.1:{page.port}\nContent-Type: {kind}\n"
    said = raw(page, f"{head}Content-Length: {limit + 1}\n\n")
    assert status(said) == 413
    piece = b"%x\r\n" % 65536 + b"x" * 65536 + b"\r\n"
    chunked = raw(page, f"{head}Transfer-Encoding: chunked\n\n", rest=[piece] * (limit // 65536 + 2))
    assert status(chunked) == 413
    both = raw(page, f"{head}Transfer-Encoding: chunked\nContent-Length: 5\n\n", rest=[piece] * (limit // 65536 + 2))
    assert status(both) in (400, 413)


def test_a_body_that_does_not_come_is_not_waited_for(tmp_path):
    """The same middleware with a short patience, in this process: the real one waits 20 s."""
    import asyncio

    from starlette.applications import Starlette
    from starlette.middleware import Middleware
    from starlette.responses import PlainTextResponse
    from starlette.routing import Route

    from geartrack.web.safety import Safety

    async def reads(request):
        return PlainTextResponse(str(len(await request.body())))

    limits = Limits(seconds=0.6, silent_seconds=0.2)
    guard = Middleware(Safety, hosts=frozenset({"h"}), secret=b"s", limits=limits)
    app = Starlette(routes=[Route("/x", reads, methods=["POST"])], middleware=[guard])

    async def ask(pieces, pause):
        sent, pieces = [], list(pieces)

        async def receive():
            if not pieces:
                await asyncio.sleep(60)
            await asyncio.sleep(pause)
            return {"type": "http.request", "body": pieces.pop(0), "more_body": True}

        async def send(message):
            sent.append(message)

        scope = {"type": "http", "method": "POST", "path": "/x", "raw_path": b"/x", "query_string": b""}
        await asyncio.wait_for(app({**scope, "headers": [(b"host", b"h")]}, receive, send), 5)
        return sent[0]["status"]

    assert asyncio.run(ask([], 0.0)) == 408  # silent
    assert asyncio.run(ask([b"x"] * 100, 0.1)) == 408  # never silent for long, and never done


@pytest.mark.parametrize(
    ("kind", "body"),
    [
        ("multipart/form-data; boundary=b", b"--b\r\nbroken"),
        ("multipart/form-data", b"no boundary"),
        (
            "multipart/form-data; boundary=b",
            b'--b\r\nContent-Disposition: form-data; name="files"; filename=""\r\n\r\n\r\n--b--\r\n',
        ),
        ("application/x-www-form-urlencoded", b"%ff%fe=%00&&&==="),
        ("text/plain", b"\x00\xff"),
    ],
)
def test_a_broken_upload_is_refused_and_keeps_nothing(page, client, kind, body):
    files = set((page.folder / "bench-page" / "files").iterdir())
    answer = client.http.post("/open", content=body, headers={"content-type": kind, "x-geartrack-token": client.token})
    assert answer.status_code in (400, 403, 422)
    assert set((page.folder / "bench-page" / "files").iterdir()) == files
    assert client.http.get("/").status_code == 200


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("job.toml", b"\xff\xfe"),
        ("job.toml", b"not toml ["),
        ("job.toml", b'[axle]\nfile = "/etc/passwd"\n'),
        ("job.toml", b'[boss]\nstations = "../../../etc/passwd"\n'),
        ("job.toml", b'[boss]\nscan = "/proc/self/mem"\n'),
        ("../../job.toml", b"[["),
        ("job.stl", b"solid"),
    ],
)
def test_no_path_of_a_client_touches_the_disk(page, client, name, text):
    answer = client.http.post("/open", data={"token": client.token}, files={"files": (name, text)})
    assert answer.status_code == 422
    assert "root:" not in answer.text
    document = {"format": 1, "name": "x", "axle": {"file": "/etc/passwd"}, "gears": {}, "boss": {"scan": "/etc/passwd"}}
    told = client.http.post("/api/check", json={"job": document})
    assert told.status_code == 422
    assert {each["where"] for each in told.json()["findings"]} == {"job, key axle.file", "job, key boss.scan"}


def test_no_file_of_the_machine_is_served(client):
    for path in ("/static/../app.py", "/static/%2e%2e/app.py", "/static/..%2f..%2fapp.py", "/static//etc/passwd"):
        assert client.http.get(path).status_code in (400, 404)


def test_two_tabs_at_once_lose_nothing(client):
    path = client.demo()
    form, seen = client.form(path), client.revision(path)
    first = client.post(path, live=True, **{**form, "case.mark": "A-1", "revision": str(seen)})
    assert first.status_code == 200
    second = client.post(path, live=True, **{**form, "case.mark": "B-2", "revision": str(seen)})
    assert "changed elsewhere" in second.text
    plain = client.post(path, **{**form, "case.mark": "B-2", "revision": str(seen)})
    assert plain.status_code == 409
    assert client.form(path)["case.mark"] == "A-1"
    assert client.revision(path) == seen + 1


def test_a_killed_page_comes_back_with_the_job_as_it_was(tmp_path, closing):
    page = start(tmp_path)
    client = closing.enter_context(Client(page))
    path = client.demo()
    form = client.form(path)
    client.post(path, live=True, **{**form, "case.mark": "kept", "boss.end_face": "nonsense"})
    group = _children(page.process.pid)
    page.kill()
    until(lambda: not [pid for pid in group if _alive(pid)])  # no worker stays behind
    again = start(tmp_path, port=page.port)
    try:
        shown = client.form(path)
        assert (shown["case.mark"], shown["boss.end_face"]) == ("kept", "nonsense")  # faults are kept as typed, too
        moved = client.post(f"{path}/undo", revision=shown["revision"])  # the open tab's token still holds
        assert moved.status_code == 303
        assert client.form(path)["case.mark"] == form["case.mark"]
    finally:
        again.process.send_signal(signal.SIGINT)
        again.process.wait(timeout=60)


def test_kills_amid_many_changes_lose_no_answered_one(tmp_path):
    answered = 0
    path = None
    for _ in range(3):
        page = start(tmp_path)
        with Client(page) as client:
            path = path or client.demo()
            for _ in range(4):
                form = client.form(path)
                answered += 1
                client.post(path, live=True, **{**form, "case.mark": f"n{answered}"})
            page.kill()
    with contextlib.closing(sqlite3.connect(tmp_path / "bench-page" / "drafts.sqlite")) as db:
        assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        (body,) = db.execute("SELECT body FROM revision ORDER BY number DESC LIMIT 1").fetchone()
        assert json.loads(body)["case"]["mark"] == f"n{answered}"
        assert db.execute("SELECT count(*) FROM revision").fetchone() == (1 + answered,)


def test_it_closes_cleanly(tmp_path):
    page = start(tmp_path)
    with Client(page) as client:
        client.demo()
    group = _children(page.process.pid)
    assert group
    page.process.send_signal(signal.SIGINT)
    assert page.process.wait(timeout=60) in (0, 130)
    until(lambda: not [pid for pid in group if _alive(pid)], 20)


def _children(pid):
    found = []
    for entry in os.listdir("/proc"):
        if entry.isdecimal():
            try:
                with open(f"/proc/{entry}/stat") as stat:
                    parent = int(stat.read().rpartition(")")[2].split()[1])
            except OSError:
                continue
            if parent == pid:
                found += [int(entry), *_children(int(entry))]
    return found


def _alive(pid):
    try:
        with open(f"/proc/{pid}/stat") as stat:
            return stat.read().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


def test_a_heavy_task_does_not_freeze_the_page(client):
    path, done = client.demo(), []
    with httpx.Client(base_url=client.page.address, cookies=client.http.cookies, timeout=300) as slow:
        worker = threading.Thread(target=lambda: done.append(slow.get(f"{path}/ratios").status_code))
        worker.start()
        time.sleep(0.2)
        assert client.http.get("/").status_code == 200
        assert client.http.get(path).status_code == 200
        assert not done, "the heavy task was over before the page was asked: this test shows nothing"
        worker.join()
    assert done == [200]
