"""What a reader of one format hands on, and how its text is read: in blocks of whole lines, numbers many at a time."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

from geartrack.boss.scan.limits import BLOCK_BYTES, MOST_LINE_BYTES, MOST_TRIANGLES
from geartrack.errors import InputError, refuse
from geartrack.frame import Array

Index = NDArray[np.int32]
WHOLE = "export it again, whole"


@dataclass(frozen=True, eq=False)
class Raw:
    """A file's own numbers: vertices (n, 3) [any], triangles (m, 3) [-] or None (each three vertices are one).

    unit: as the file's format states it ("millimeter", "inch" ...), "" where the format knows none.
    """

    vertices: NDArray[np.floating]
    triangles: NDArray[np.integer] | None
    unit: str = ""


def blocks(stream: BinaryIO, where: str, size: int = BLOCK_BYTES) -> Iterator[bytes]:
    """A text file in blocks of whole lines, ends of line as "\\n". Raises InputError for what is no text."""
    rest = b""
    while piece := stream.read(size):
        if b"\0" in piece:
            raise refuse(where, "holds bytes that belong in no text", "the right name for its format")
        rest += piece
        end = _line_end(rest)
        if len(rest) - end > MOST_LINE_BYTES:
            raise refuse(where, "has a line longer than any of a mesh", "the right name for its format")
        if end:
            whole, rest = rest[:end], rest[end:]
            yield _plain(whole)
    if rest:
        yield _plain(rest)


def _line_end(text: bytes) -> int:
    """Where the last line of a text ends that is whole and does not say, by a backslash, that it goes on."""
    sign = b"\n" if b"\n" in text else b"\r"
    end = text.rfind(sign) + 1
    while end and text[max(end - 3, 0) : end].rstrip(b"\r\n").endswith(b"\\"):
        end = text.rfind(sign, 0, end - 1) + 1
    return end


def _plain(text: bytes) -> bytes:
    return text.replace(b"\r\n", b"\n").replace(b"\r", b"\n") if b"\r" in text else text


def numbers(text: bytes, where: str) -> Array:
    """All numbers of a text, (k,) [any]. Raises InputError at anything else."""
    with warnings.catch_warnings():
        warnings.simplefilter("error", DeprecationWarning)  # how numpy says that it met something else
        try:
            found: Array = np.fromstring(text, dtype=float, sep=" ") if text.strip() else np.zeros(0)
        except (ValueError, DeprecationWarning):
            raise refuse(where, "has something that is no number where one belongs", WHOLE) from None
    return found


def too_many(where: str, count: int) -> InputError:
    """The refusal of a scan of more triangles than are read."""
    what = f"has {count:,} triangles; at most {MOST_TRIANGLES:,} are read"
    return refuse(where, what, "fewer, from the scanner's own program, or only the boss and what its datums are on")


def fans(faces: list[NDArray[np.int64]]) -> NDArray[np.int64]:
    """Triangles (m, 3) of faces [-] of any number of corners; those of fewer than three have none.

    >>> fans([np.array([0, 1, 2, 3]), np.array([4, 5])]).tolist()
    [[0, 1, 2], [0, 2, 3]]
    """
    made = [np.stack([np.full(len(f) - 2, f[0]), f[1:-1], f[2:]], axis=1) for f in faces if len(f) > 2]
    return np.concatenate(made) if made else np.zeros((0, 3), np.int64)
