"""How low to high is drawn where a person asks for an answer: by what was typed, else by the environment."""

from __future__ import annotations

import os
from dataclasses import replace

from geartrack.errors import refuse
from geartrack.spread import Sampling

DRAWS_SAID, ROW_DRAWS = "GEARTRACK_DRAWS", 512


def asked_sampling(fast: bool = False, draws: int | None = None, seed: int | None = None) -> Sampling | None:
    """The sampling that was asked for; None for the straight sum.

    How many draws: as given, else as GEARTRACK_DRAWS says in the environment, else the usual number.
    """
    if fast and (draws is not None or seed is not None):
        raise refuse("--fast", "makes no draws", "--fast alone, or --draws and --seed without it")
    if fast:
        return None
    said = os.environ.get(DRAWS_SAID, "")
    if draws is None and said:
        if not said.isdecimal():
            raise refuse(f"{DRAWS_SAID} in the environment", f"{said[:20]!r} is no number of draws", "such as 8192")
        draws = int(said)
    typed = {"count": draws, "seed": seed}
    return Sampling(**{name: value for name, value in typed.items() if value is not None})


def row_sampling(fast: bool = False) -> Sampling | None:
    """The sampling of a row in a comparison of tooth pairs: a few hundred draws."""
    how = asked_sampling(fast)
    return replace(how, count=min(how.count, ROW_DRAWS)) if how else None
