"""The command line as tests see it: every command of a click group, and the program started as a person starts it."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import click


def command_paths(group: click.Group, above: tuple[str, ...] = ()) -> Iterator[tuple[str, ...]]:
    """The words that reach the group itself and every command under it: (), ("check",), ..."""
    yield above
    context = click.Context(group)
    for name in group.list_commands(context):
        command = group.get_command(context, name)
        if isinstance(command, click.Group):
            yield from command_paths(command, (*above, name))
        else:
            yield (*above, name)


def run_geartrack(*arguments: str, cwd: Path, before: str = "") -> subprocess.CompletedProcess[str]:
    """The program in a process of its own, after the lines of Python in `before`."""
    code = f"{before}\nimport runpy, sys\nsys.argv[0] = 'geartrack'\nrunpy.run_module('geartrack', run_name='__main__')"
    return subprocess.run(
        [sys.executable, "-c", code, *arguments], cwd=cwd, capture_output=True, text=True, check=False, encoding="utf-8"
    )
