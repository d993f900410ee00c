"""Work that takes longer than a blink: in processes of its own, with its progress, and stopped when nobody waits."""

from __future__ import annotations

import asyncio
import multiprocessing
import sys
from collections.abc import Callable
from dataclasses import dataclass
from multiprocessing.context import BaseContext
from multiprocessing.managers import SyncManager
from typing import Any, Literal, TypeVar

from pebble import ProcessFuture, ProcessPool

from geartrack.errors import Finding, GeartrackError, InputError

Result = TypeVar("Result")
Lane = Literal["quick", "heavy"]
_PRELOADED = "geartrack.web.work"
LONGEST_S = 900.0
"""No piece of work runs longer than this [s]."""


def _context() -> Any:
    """Workers fork from a server that has loaded everything once, so that a stopped one is back at once."""
    if sys.platform == "win32":
        return multiprocessing.get_context("spawn")
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload([_PRELOADED])
    return context


class Stopped(GeartrackError):
    """Work that was stopped before it was done."""


class Workers:
    """One process for what a person waits for at each change, one for what takes seconds.

    A later task with the same key takes the place of the earlier one, which is stopped, running or not.
    """

    def __init__(self) -> None:
        context: BaseContext = _context()
        self._manager: SyncManager = context.Manager()
        self._done: Any = self._manager.dict()
        self._pools = {lane: ProcessPool(max_workers=1, context=context) for lane in ("quick", "heavy")}
        self._running: dict[str, ProcessFuture[Any]] = {}

    async def run(self, function: Callable[..., Result], *args: Any, lane: Lane, key: str) -> Result:
        """What `function(tick, *args)` returns; `tick(done, of)` tells its progress under the key.

        Raises InputError as the function does, and Stopped where a later task or a person stopped it.
        """
        self.stop(key)
        self._done[key] = (0, 0)
        task = self._pools[lane].schedule(_told, args=(function, self._done, key, *args), timeout=LONGEST_S)
        self._running[key] = task
        try:
            found = await asyncio.wrap_future(task)
        except asyncio.CancelledError:
            if self._running.get(key) is not task:
                raise Stopped("This was stopped.") from None
            self.stop(key)
            raise
        except TimeoutError:
            raise Stopped("This took too long and was stopped.") from None
        if self._running.get(key) is task:
            del self._running[key]
        if isinstance(found, _Refused):
            raise InputError(*found.findings)
        result: Result = found
        return result

    def progress(self, key: str) -> tuple[int, int]:
        """How many of how many steps are done."""
        done, of = self._done.get(key, (0, 0))
        return int(done), int(of)

    def stop(self, key: str) -> bool:
        """Stop what runs or waits under the key; whether there was anything."""
        task = self._running.pop(key, None)
        self._done.pop(key, None)
        return bool(task and not task.done() and task.cancel())  # type: ignore[no-untyped-call]

    def close(self) -> None:
        """Stop everything; no process stays."""
        for pool in self._pools.values():
            pool.stop()  # type: ignore[no-untyped-call]
        for pool in self._pools.values():
            pool.join()
        self._manager.shutdown()


@dataclass(frozen=True)
class _Refused:
    """What a function refused, in plain data: an error loses its findings on the way between processes."""

    findings: tuple[Finding, ...]


def _told(function: Callable[..., Result], done: Any, key: str, *args: Any) -> Result | _Refused:
    def tick(count: int, of: int) -> None:
        done[key] = (count, of)

    try:
        return function(tick, *args)
    except InputError as error:
        return _Refused(error.findings)
