"""The demo: the whole job on an invented axle, and a copy of its files to work on."""

from __future__ import annotations

import shutil
from pathlib import Path

import click

from geartrack.cli import present
from geartrack.cli.quote_show import show_quote
from geartrack.datafiles import data_path
from geartrack.errors import refuse
from geartrack.job import read_job
from geartrack.study import pairs_between, quote_for

MAIN_JOB = "jobs/grind.toml"


def run_demo(as_json: bool, figure: Path | None, units: str | None) -> None:
    """Check, ratios and quote of the main demo job; with as_json, the check alone."""
    job = present.changed(data_path(MAIN_JOB), None, None, units)
    answer = present.answered(job)
    if figure:
        present.save_check_figure(answer, figure)
    if as_json:
        present.as_json(answer)
        return
    out = present.console()
    out.print("geartrack demo: everything in it is invented: axle, gear sets, case and shop", style="bold")
    out.print(" ".join(job.note.split()) + "\n")
    out.rule("1. Check")
    present.check(answer)
    out.rule("2. Other ratios in this axle")
    pairs = pairs_between(3.5, 6.2)
    present.ratios(present.compared(job, pairs))
    out.rule("3. Quote")
    show_quote(quote_for(answer))
    out.print("\nNext: geartrack demo --copy my-demo, then geartrack check my-demo/jobs/grind.toml --figure out.png")
    if figure:
        present.wrote(figure)


def run_steps() -> None:
    """One invented job as it becomes surer: a ratio asked about, both rings read, the old gears' gap read."""
    out = present.console()
    out.print("geartrack demo --steps: everything in it is invented: axle, gear sets, case and shop", style="bold")
    table = present.steps_table()
    for path in sorted(data_path("jobs/steps").glob("*.toml")):
        job = read_job(path)
        out.print(f"\n{job.name}. {' '.join(job.note.split())}")
        present.step(table, present.answered(job))
    out.print()
    out.print(table)
    out.print("\nNext: geartrack passes on the last of them, with the gap read after each pass (--now-at).")


def copy_demo(folder: Path) -> None:
    """Copy the demo's files into a folder that does not exist yet, or is empty."""
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise refuse(str(folder), "is there already and not an empty folder", "name a new folder")
    try:
        shutil.copytree(data_path("jobs").parent, folder, dirs_exist_ok=True)
    except OSError as error:
        raise refuse(str(folder), f"cannot be written ({error.strerror})", "name a folder that can be") from None
    click.echo(f"Copied the demo to {folder}; start with: geartrack check {folder / MAIN_JOB}")
