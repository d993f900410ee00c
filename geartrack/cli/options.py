"""Arguments and options that several commands share."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

JOB = click.argument("job", type=click.Path(path_type=Path))
AS_JSON = click.option("--json", "as_json", is_flag=True, help="Print the result as JSON, in millimetres and degrees.")
UNITS = click.option("--units", type=click.Choice(["in", "mm"]), help="Which unit stands first (default: the job's).")
FIGURE = click.option("--figure", type=click.Path(path_type=Path), help="Write the figure here: .svg, .png or .pdf.")
TEETH = click.option("--teeth", help="Another tooth pair or ratio than the job's.")
PAPER = click.option(
    "--paper", type=click.Choice(["letter", "a4"]), help="Paper of a PDF (default: letter for inches, a4 for mm)."
)
FAST = click.option("--fast", is_flag=True, help="Low to high by the straight sum of all limits: quicker and wider.")
DRAWS = click.option("--draws", type=int, help="How many draws low to high rests on, a power of two (default 8192).")
SEED = click.option("--seed", type=int, help="Where the draws start; the same seed draws the same.")
TARGET = click.option("--target", help='Gap wanted between teeth and boss, such as "0.020 in".')

CONFIDENCE = click.option(
    "--confidence", help="Chance, in percent, that the cut to hold it gives the gap wanted: 50 to 99.9 (default 97.5)."
)


def with_options(*options: Callable[[Any], Any]) -> Callable[[Any], Any]:
    """Several click options as one decorator, first given first shown."""

    def decorate(command: Any) -> Any:
        for option in reversed(options):
            command = option(command)
        return command

    return decorate
