"""Faults in what was typed, sorted to the fields where they were typed."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Mapping

from geartrack.errors import Finding
from geartrack.web.forms import FIELDS, Faults
from geartrack.web.uploads import OWN_NAME

MOST = 8
"""So many lines are shown of what belongs to no field; a table of readings may have a hundred."""


def sorted_faults(findings: Iterable[Finding], known: Iterable[str] = ()) -> Faults:
    """Findings by field; `known`: names of fields besides those of a job."""
    names = {*FIELDS, *known}
    by_key: dict[str, list[str]] = defaultdict(list)
    others = []
    for finding in findings:
        key = next((key for key in keys_of(finding.where) if key in names), None)
        if key is None:
            others.append(str(finding))
        else:
            by_key[key].append(f"{finding.what}; {finding.right}" if finding.right else finding.what)
    more = [f"and {len(others) - MOST} more like these"] if len(others) > MOST else []
    return Faults(by_key, (*others[:MOST], *more))


def named(findings: Iterable[Finding], called: Mapping[str, str]) -> list[Finding]:
    """Findings with what a file was called where it came from, in place of the page's own name for it."""

    def said(text: str) -> str:
        return OWN_NAME.sub(lambda found: called.get(found[0], "the file"), text)

    return [Finding(said(each.where), said(each.what), said(each.right)) for each in findings]


def keys_of(where: str) -> list[str]:
    """The dotted keys that the place of a finding may mean, members of a list counted from 0.

    >>> keys_of("job, key boss.parts 2.diameter (line 3)")[0]
    'boss.parts.1.diameter'
    """
    text = where.partition(", key ")[2] or where
    text = re.sub(r" \(line \d+\)$", "", text)
    dotted = re.sub(r" (\d+)", lambda found: f".{int(found[1]) - 1}", text)
    return [dotted, dotted.replace(" ", "_"), dotted.rpartition(".")[0]]
