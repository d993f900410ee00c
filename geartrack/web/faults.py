"""Faults in what was typed, sorted to the fields where they were typed."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable

from geartrack.errors import Finding
from geartrack.web.forms import FIELDS, Faults


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
    return Faults(by_key, tuple(others))


def keys_of(where: str) -> list[str]:
    """The dotted keys that the place of a finding may mean, members of a list counted from 0.

    >>> keys_of("job, key boss.parts 2.diameter (line 3)")[0]
    'boss.parts.1.diameter'
    """
    text = where.partition(", key ")[2] or where
    text = re.sub(r" \(line \d+\)$", "", text)
    dotted = re.sub(r" (\d+)", lambda found: f".{int(found[1]) - 1}", text)
    return [dotted, dotted.replace(" ", "_"), dotted.rpartition(".")[0]]
