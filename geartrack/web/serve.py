"""Running the page: on this machine only, at a port of its own, closed cleanly."""

from __future__ import annotations

import contextlib
import socket
import sys
import threading
import time
import webbrowser
from collections.abc import Callable
from pathlib import Path

import uvicorn

from geartrack.errors import refuse
from geartrack.web.app import build

LOOPBACK = "127.0.0.1"
_LONGEST_CLOSE_S = 5


def serve(*, port: int, book: Path, folder: Path, open_browser: bool, said: Callable[[str], None]) -> None:
    """Run until stopped. port: 0 for any that is free; said: is told the address once the page answers."""
    listening = _listening(port)
    number = listening.getsockname()[1]
    hosts = frozenset({f"{LOOPBACK}:{number}", f"localhost:{number}"})
    config = uvicorn.Config(
        build(folder=folder, book=book, hosts=hosts),
        log_level="warning",
        access_log=False,
        server_header=False,
        timeout_keep_alive=30,
        timeout_graceful_shutdown=_LONGEST_CLOSE_S,
        limit_concurrency=100,
    )
    server = uvicorn.Server(config)
    address = f"http://{LOOPBACK}:{number}/"
    threading.Thread(target=_tell, args=(server, address, open_browser, said), daemon=True).start()
    with contextlib.suppress(KeyboardInterrupt):  # it has closed already when it says so again
        server.run(sockets=[listening])


def _listening(port: int) -> socket.socket:
    found = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    if sys.platform != "win32":  # a port that was used a moment ago is free
        found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        found.bind((LOOPBACK, port))
    except OSError as fault:
        found.close()
        raise refuse("--port", f"{port} cannot be used: {fault.strerror}", "another port, or none for any") from None
    return found


def _tell(server: uvicorn.Server, address: str, open_browser: bool, said: Callable[[str], None]) -> None:
    while not server.started and not server.should_exit:
        time.sleep(0.02)
    if server.started:
        said(address)
        if open_browser:
            webbrowser.open(address)
