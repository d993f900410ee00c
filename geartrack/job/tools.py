"""What reads a length on the bench, and how far such a reading may be out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from types import MappingProxyType

from geartrack.errors import refuse
from geartrack.units import parse_length


@dataclass(frozen=True)
class Tool:
    """A way of reading a length: two_sigma_mm, how far it may be out [mm], and where that figure comes from."""

    two_sigma_mm: float
    mark: str


# Default 2-sigma of a reading, carried over from the project's trade notes with their marks; all editable in the job
# by give_or_take. "Web": an unreviewed page.
TOOLS: Mapping[str, Tool] = MappingProxyType(
    {
        name: Tool(parse_length(two_sigma), mark)
        for name, two_sigma, mark in (
            ("caliper", "0.002 in", "web: limit 0.0012 in to 150 mm, not to be trusted under 0.002 in"),
            ("micrometer", "0.00016 in", "web, quoting DIN 863"),
            ("depth micrometer", "0.002 in", "from memory: in an awkward case"),
            ("feeler", "0.0015 in", "from memory"),
            ("dial", "0.001 in", "common practice: 0.0005 to 0.001 in, and its set-up"),
            ("telescoping gauge", "0.002 in", "from memory"),
            ("solder", "0.0015 in", "from memory"),
            ("clay", "0.005 in", "from memory"),
            ("trace", "0.015 in", "from memory: a traced profile or photo"),
            ("phone scan", "0.020 in", "from memory"),
            ("bench scan", "0.004 in", "from memory"),
        )
    }
)


def tool_named(how: str) -> Tool | None:
    """The tool that `how` names, None for other words; a misspelled tool is refused, not taken for other words.

    >>> tool_named("digital caliper") == TOOLS["caliper"], tool_named("drawing")
    (True, None)
    """
    name = " ".join(how.lower().split())
    named = [tool for tool in TOOLS if f" {tool} " in f" {name} "]
    if named:
        return TOOLS[max(named, key=len)]
    near = get_close_matches(name, TOOLS, n=1, cutoff=0.8)
    if near:
        raise refuse("", f"unknown tool {how!r}", f"was {near[0]} meant?")
    return None
