"""Work that takes longer than a blink: in processes of its own, with its progress, and stopped when nobody waits."""

from __future__ import annotations

import asyncio
import multiprocessing
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Literal, TypeVar

from pebble import ProcessFuture, ProcessPool

from geartrack.errors import Finding, GeartrackError, InputError

Result = TypeVar("Result")
Lane = Literal["quick", "heavy"]
LANES: tuple[Lane, ...] = ("quick", "heavy")
LONGEST_S = 900.0
"""No piece of work runs longer than this [s]."""
_PRELOADED = "geartrack.web.work"
_counts: Any = None  # in a worker: how many steps of the task at hand are done, and of how many


class Stopped(GeartrackError):
    """Work that was stopped before it was done."""


def _context() -> Any:
    """Workers fork from a server that has loaded everything once, so that a stopped one is back at once."""
    if sys.platform == "win32":
        return multiprocessing.get_context("spawn")
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload([_PRELOADED])
    return context


@dataclass(frozen=True)
class _Running:
    task: ProcessFuture[Any]
    lane: Lane


class Workers:
    """One process for what a person waits for at each change, one for what takes seconds.

    A later task with the same key takes the place of the earlier one, which is stopped, running or not.
    """

    def __init__(self) -> None:
        context = _context()
        self._counts: Mapping[Lane, Any] = MappingProxyType({lane: context.Array("q", 2) for lane in LANES})
        self._pools = {
            lane: ProcessPool(max_workers=1, context=context, initializer=_begun, initargs=(self._counts[lane],))
            for lane in LANES
        }
        self._running: dict[str, _Running] = {}

    async def run(self, function: Callable[..., Result], *args: Any, lane: Lane, key: str) -> Result:
        """What `function(tick, *args)` returns; `tick(done, of)` tells its progress under the key.

        Raises InputError as the function does, and Stopped where a later task or a person stopped it.
        """
        self.stop(key)
        task = self._pools[lane].schedule(_told, args=(function, *args), timeout=LONGEST_S)
        self._running[key] = mine = _Running(task, lane)
        try:
            found = await asyncio.wrap_future(task)
        except asyncio.CancelledError:
            if self._running.get(key) is not mine:
                raise Stopped("This was stopped.") from None
            self.stop(key)
            raise
        except TimeoutError:
            raise Stopped("This took too long and was stopped.") from None
        finally:
            if self._running.get(key) is mine:
                del self._running[key]
        if isinstance(found, _Refused):
            raise InputError(*found.findings)
        result: Result = found
        return result

    def progress(self, key: str) -> tuple[int, int]:
        """How many of how many steps are done; nothing of nothing while it waits, or where no task says."""
        found = self._running.get(key)
        if found is None or not found.task.running():
            return 0, 0
        done, of = self._counts[found.lane][:]
        return int(done), int(of)

    def stop(self, key: str) -> bool:
        """Stop what runs or waits under the key; whether there was anything."""
        found = self._running.pop(key, None)
        return bool(found and not found.task.done() and found.task.cancel())  # type: ignore[no-untyped-call]

    def close(self) -> None:
        """Stop everything; no process stays."""
        for pool in self._pools.values():
            pool.stop()  # type: ignore[no-untyped-call]
        for pool in self._pools.values():
            pool.join()


@dataclass(frozen=True)
class _Refused:
    """What a function refused, in plain data: an error loses its findings on the way between processes."""

    findings: tuple[Finding, ...]


def _begun(counts: Any) -> None:
    global _counts
    _counts = counts


def _tick(done: int, of: int) -> None:
    _counts[:] = [done, of]


def _told(function: Callable[..., Result], *args: Any) -> Result | _Refused:
    _tick(0, 0)
    try:
        return function(_tick, *args)
    except InputError as error:
        return _Refused(error.findings)
