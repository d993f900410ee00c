"""A bench page that really runs, in a process of its own, and a client that is a browser's bare bones."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import httpx

SERVE = "from geartrack.cli import main; main()"


@dataclass
class Page:
    """A running page: its process, port and folder."""

    process: subprocess.Popen
    port: int
    folder: Path

    @property
    def address(self):
        return f"http://127.0.0.1:{self.port}"

    def kill(self):
        """kill -9: nothing is said goodbye to."""
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()


def start(folder, port=0, **environment):
    """Start a page whose book and drafts lie in the folder; returns once it answers."""
    env = os.environ | {"GEARTRACK_BOOK": str(folder / "book.sqlite"), "PYTHONUNBUFFERED": "1"} | environment
    command = [sys.executable, "-c", SERVE, "serve", "--no-open", "--port", str(port)]
    process = subprocess.Popen(command, env=env, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
    with process.stdout as out:
        said = out.readline()
    found = re.fullmatch(r"http://127\.0\.0\.1:(\d+)/\s*", said)
    assert found, f"the page said {said!r}"
    return Page(process, int(found[1]), folder)


@contextmanager
def running(folder, **environment):
    """A page, ended as Ctrl-C ends it."""
    page = start(folder, **environment)
    try:
        yield page
    finally:
        if page.process.poll() is None:
            page.process.send_signal(signal.SIGINT)
            page.process.wait(timeout=60)


@dataclass
class Client:
    """Holds the page's cookie and token as a browser does."""

    page: Page
    http: httpx.Client = field(init=False)

    def __post_init__(self):
        self.http = httpx.Client(base_url=self.page.address, timeout=300, headers={"origin": self.page.address})
        self.token = re.search(r'name="token" value="(\w+)"', self.http.get("/").text)[1]

    def __enter__(self):
        return self

    def __exit__(self, *fault):
        self.http.close()

    def post(self, path, live=False, **fields):
        """Send a form with the token; live: as htmx does."""
        headers = {"hx-request": "true"} if live else {}
        return self.http.post(path, data={"token": self.token, **fields}, headers=headers)

    def demo(self):
        """Open the demo; its path."""
        answer = self.post("/demo")
        assert answer.status_code == 303, answer.text
        return answer.headers["location"]

    def revision(self, path):
        """Which state the work screen shows."""
        return int(re.search(r'id="revision" value="(\d+)"', self.http.get(path).text)[1])

    def form(self, path):
        """Every field of the work screen's form as it stands."""
        import lxml.html

        (form,) = lxml.html.fromstring(self.http.get(path).text).xpath('//form[@id="known"]')
        return {name: value for name, value in form.form_values()}


def until(done, seconds=60.0):
    """Wait for something to become true."""
    ends = time.monotonic() + seconds
    while not (found := done()):
        assert time.monotonic() < ends, "it did not happen"
        time.sleep(0.05)
    return found
