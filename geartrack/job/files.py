"""Files that a boss is read from."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated

from pydantic import PlainSerializer


@dataclass(frozen=True)
class StationsFile:
    """The path of a file that the boss is read from, absolute, and as typed (which does not count in comparing).

    stamp: when it was written and how long it is, so that what was made of an older one is not taken for it.
    """

    path: Path
    typed: str = field(default="", compare=False)
    stamp: tuple[int, int] = (0, 0)


BossFile = Annotated[StationsFile, PlainSerializer(lambda file: str(file.path))]
