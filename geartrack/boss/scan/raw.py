"""What a reader of one format hands on, and the guard round the library that reads it.

The mesh library drops lines that it cannot make sense of without a word. So what a file must hold is counted in its
own bytes, what comes back is held against that, and numpy's quiet warning at what is no number is made an error.
"""

from __future__ import annotations

import logging
import re
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

from geartrack.boss.scan.limits import BLOCK_BYTES, MOST_LINE_BYTES, MOST_TRIANGLES
from geartrack.errors import InputError, refuse

WHOLE = "export it again, whole"
_STRANGE = re.compile(
    rb"[\x00-\x08\x0b\x0c\x0e-\x1f]"
)  # some of them end a line to Python's str, none in these formats
_NO_NUMBER = "string or file could not be read to its end"
_CODE = re.compile(r"^\w+Exception \d+: ")

logging.getLogger("trimesh").addHandler(logging.NullHandler())  # its asides never reach the screen


@dataclass(frozen=True, eq=False)
class Raw:
    """A file's own numbers: vertices (n, 3) [any], triangles (m, 3) [-] or None (each three vertices are one).

    unit: as the file's format states it ("mm", "in" ...), "" where the format knows none.
    """

    vertices: NDArray[np.floating]
    triangles: NDArray[np.integer] | None
    unit: str = ""


@contextmanager
def reading(where: str) -> Iterator[None]:
    """Whatever a library makes of a spoilt file becomes an InputError of one line; memory that ran out does not."""
    with warnings.catch_warnings():
        warnings.filterwarnings("error", _NO_NUMBER, DeprecationWarning)  # numpy before 2.4; later ones raise
        try:
            yield
        except (InputError, MemoryError):
            raise
        except Exception as fault:
            said = " ".join(str(fault).split())
            if _NO_NUMBER in said:
                raise refuse(where, "has something that is no number where one belongs", WHOLE) from None
            said = _CODE.sub("", said)[:80] or type(fault).__name__
            raise refuse(where, f"is spoilt or of another kind ({said})", WHOLE) from None


def blocks(stream: BinaryIO, where: str, size: int = BLOCK_BYTES) -> Iterator[bytes]:
    """A text file in blocks of whole lines, ends of line as "\\n". Raises InputError for what is no text."""
    rest = b""
    while piece := stream.read(size):
        rest += as_text(piece, where)
        end = _line_end(rest)
        if len(rest) - end > MOST_LINE_BYTES:
            raise refuse(where, "has a line longer than any of a mesh", "the right name for its format")
        if end:
            whole, rest = rest[:end], rest[end:]
            yield _plain(whole)
    if rest:
        yield _plain(rest)


def as_text(piece: bytes, where: str) -> bytes:
    """The same bytes. Raises InputError where one belongs in no text."""
    if _STRANGE.search(piece):
        raise refuse(where, "holds bytes that belong in no text", "the right name for its format")
    return piece


def _line_end(text: bytes) -> int:
    """Where the last line of a text ends that is whole and does not say, by a backslash, that it goes on."""
    sign = b"\n" if b"\n" in text else b"\r"
    end = text.rfind(sign) + 1
    while end and text[max(end - 3, 0) : end].rstrip(b"\r\n").endswith(b"\\"):
        end = text.rfind(sign, 0, end - 1) + 1
    return end


def _plain(text: bytes) -> bytes:
    return text.replace(b"\r\n", b"\n").replace(b"\r", b"\n") if b"\r" in text else text


def triangulated(faces: NDArray[np.integer], count: int, where: str) -> NDArray[np.integer]:
    """Triangles (count, 3) of faces (m, k) [-] of k corners each. Raises InputError where another number comes out."""
    from trimesh.geometry import triangulate_quads

    with reading(where):
        made: NDArray[np.integer] = faces if faces.shape[1:] == (3,) else triangulate_quads(faces).reshape(-1, 3)
    if len(made) != count:
        raise refuse(where, f"says {count:,} triangles, but {len(made):,} can be read", WHOLE)
    return made


def too_many(where: str, count: int) -> InputError:
    """The refusal of a scan of more triangles than are read."""
    what = f"has {count:,} triangles; at most {MOST_TRIANGLES:,} are read"
    return refuse(where, what, "fewer, from the scanner's own program, or only the boss and what its datums are on")
