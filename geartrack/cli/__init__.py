"""The command line: parse, one library call, present. Heavy imports stay inside the commands, so that help is quick."""

from __future__ import annotations

import io
import sys
from pathlib import Path
from typing import Any

import click

from geartrack import __version__
from geartrack.cli.book import book
from geartrack.cli.depths import depths
from geartrack.cli.gauge import gauge
from geartrack.cli.next_reading import next_command
from geartrack.cli.options import AS_JSON, CONFIDENCE, DRAWS, FAST, FIGURE, JOB, SEED, TARGET, UNITS, with_options
from geartrack.cli.passes import passes
from geartrack.cli.quick import quick
from geartrack.cli.quote import quote_command
from geartrack.cli.scan import scan
from geartrack.cli.serve import serve
from geartrack.cli.setup import setup
from geartrack.cli.sheet import sheet
from geartrack.cli.solids import solids
from geartrack.cli.template import template
from geartrack.cli.worksheet import worksheet
from geartrack.errors import GeartrackError, refuse

BAD_INPUT = 2
STEPS_ALONE = "--steps alone, --copy FOLDER alone, or --json, --figure and --units together"


class Commands(click.Group):
    """Turns what geartrack refuses into one line a fault on stderr and exit status 2; never a traceback."""

    def main(self, *args: Any, **extra: Any) -> Any:
        """Run; a terminal that cannot show a sign shows another in its place."""
        for stream in (sys.stdout, sys.stderr):
            if isinstance(stream, io.TextIOWrapper):
                stream.reconfigure(errors="replace")
        return super().main(*args, **extra)

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; what geartrack refuses goes to stderr, a line a fault."""
        try:
            return super().invoke(ctx)
        except GeartrackError as error:
            for line in str(error).splitlines():
                click.echo(f"geartrack: {line}", err=True)
            ctx.exit(BAD_INPUT)


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="geartrack")
def main() -> None:
    """Does a steep ring and pinion set touch the pilot-bearing boss?

    Decides it before the job is quoted: does it touch, where, how much has to go, how much wall stays, what it costs.
    Lengths are typed as on the bench: "9 1/2 in", "20 thou", ".020\\"", "0,5 mm".

    Start with `geartrack demo`, then `geartrack new my-job.toml`.
    """


@main.command()
@JOB
@click.option("--teeth", help="Another tooth pair or ratio than the job's: 8/39, 39:8, 8x39 or 4.875.")
@click.option("--inputs", is_flag=True, help="List every input with its give or take, origin and source.")
@with_options(TARGET, CONFIDENCE, AS_JSON, FIGURE, UNITS, FAST, DRAWS, SEED)
def check(
    job: Path,
    teeth: str | None,
    inputs: bool,
    target: str | None,
    confidence: str | None,
    as_json: bool,
    figure: Path | None,
    units: str | None,
    fast: bool,
    draws: int | None,
    seed: int | None,
) -> None:
    """Does this job's gear set touch the boss, and what has to go?"""
    from geartrack.cli import present

    present.refuse_unused(fast=fast, confidence=confidence)
    answer = present.answered(present.changed(job, teeth, target, units, confidence), fast=fast, draws=draws, seed=seed)
    if figure:
        present.save_check_figure(answer, figure)
    present.as_json(answer) if as_json else present.check(answer, inputs=inputs)
    if figure:
        present.wrote(figure)


@main.command()
@click.option("--teeth", required=True, help="Pinion and ring teeth (8/39, 39:8, 8x39) or a ratio.")
@click.option("--ring-diameter", required=True, help='Outer pitch diameter of the ring, such as "240mm".')
@click.option("--offset", default="0 mm", show_default=True, help="Hypoid offset; 0 for a bevel set.")
@click.option("--face-width", help="Face width of the ring.")
@click.option("--pinion-spiral", help='Mean spiral angle of the pinion, such as "50deg".')
@click.option("--cutter-radius", help="Cutter radius.")
@click.option(
    "--taper",
    type=click.Choice(["standard", "duplex", "uniform"]),
    default="standard",
    show_default=True,
    help="How the teeth taper in depth from heel to toe.",
)
@click.option("--kind", type=click.Choice(["hypoid", "spiral bevel", "straight bevel"]), help="Default: by the offset.")
@with_options(AS_JSON, UNITS)
def gears(as_json: bool, units: str | None, **typed: str | None) -> None:
    """Every dimension of a gear set, by its bench name."""
    from geartrack.cli import present
    from geartrack.study import gear_dimensions

    present.gears(gear_dimensions({k: v for k, v in typed.items() if v is not None}), as_json, units or "in")


@main.command()
@JOB
@click.option("--from", "lowest", type=float, default=3.5, show_default=True, help="Lowest ratio.")
@click.option("--to", "highest", type=float, default=6.2, show_default=True, help="Highest ratio.")
@click.option("--teeth", help='Only these tooth pairs: "9/35, 8/39, 7/36".')
@with_options(TARGET, AS_JSON, FIGURE, UNITS, FAST)
def ratios(
    job: Path,
    lowest: float,
    highest: float,
    teeth: str | None,
    target: str | None,
    as_json: bool,
    figure: Path | None,
    units: str | None,
    fast: bool,
) -> None:
    """Gap, depth and wall left for each ratio this axle could have."""
    from geartrack.cli import present
    from geartrack.study import pairs_between, typed_pairs

    chosen = present.changed(job, None, target, units)
    pairs = typed_pairs(teeth) if teeth is not None else pairs_between(lowest, highest)
    table = present.compared(chosen, pairs, fast=fast)
    if figure:
        present.save_ratio_figure(table, figure)
    present.as_json(table) if as_json else present.ratios(table)
    if figure:
        present.wrote(figure)


@main.command()
@click.argument("path", type=click.Path(path_type=Path), required=False)
@click.option("--name", help="What to call the job.")
@click.option("--ring-diameter", help="Outer pitch diameter of the ring.")
@click.option("--offset", help="Hypoid offset.")
@click.option("--hand", type=click.Choice(["below", "above"]), help="Pinion below or above the ring's centre line.")
@click.option("--teeth", help="Pinion and ring teeth, such as 8/39.")
@click.option("--end-face", help="Boss's pinion-side end face to the ring's centre line, along the pinion.")
@click.option("--boss-diameter", help="Outside diameter of the boss.")
@click.option("--boss-length", help="Length of the boss.")
@click.option("--bore-diameter", help="Pilot bore diameter.")
@click.option("--bore-depth", help="How deep the pilot bore runs.")
@click.option("--material", type=click.Choice(["nodular", "grey", "aluminium", "not known"]), help="Metal of the case.")
@click.option("--measured", type=click.Choice(["this case", "another case"]), help="Where the boss was read.")
@click.option("--force", is_flag=True, help="Write over a file that is there.")
def new(path: Path | None, force: bool, **answers: str | None) -> None:
    """Write a job file, with comments, from a few questions or flags."""
    from geartrack.cli.questions import write_new

    write_new(path, answers, force)


main.add_command(quick)
main.add_command(book)
main.add_command(next_command)
main.add_command(scan)
main.add_command(template)
main.add_command(depths)
main.add_command(sheet)
main.add_command(solids)
main.add_command(gauge)
main.add_command(worksheet)
main.add_command(passes)
main.add_command(quote_command)
main.add_command(setup)
main.add_command(serve)


@main.command()
@click.option("--steps", is_flag=True, help="One job as it becomes surer, reading by reading.")
@click.option("--copy", type=click.Path(path_type=Path), help="Copy the demo's files into this folder, to work on.")
@with_options(AS_JSON, FIGURE, UNITS)
def demo(steps: bool, copy: Path | None, as_json: bool, figure: Path | None, units: str | None) -> None:
    """The whole job on an invented axle: check, ratios and quote."""
    from geartrack.cli.demo import copy_demo, run_demo, run_steps

    if sum((steps, copy is not None, as_json or figure is not None or units is not None)) > 1:
        raise refuse("geartrack demo", "more than one of its forms was asked for", STEPS_ALONE)
    if steps:
        run_steps()
    elif copy:
        copy_demo(copy)
    else:
        run_demo(as_json, figure, units)


@main.command()
@click.argument("shell", type=click.Choice(["bash", "zsh", "fish"]))
def completion(shell: str) -> None:
    """Print the completion script of a shell (add it to the shell's start file)."""
    from click.shell_completion import get_completion_class

    found = get_completion_class(shell)
    assert found is not None
    click.echo(found(main, {}, "geartrack", "_GEARTRACK_COMPLETE").source())
