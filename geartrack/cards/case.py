"""What a customer says of the case in a few words: its metal, and whether it was ever ground, cracked or welded."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from geartrack.errors import refuse
from geartrack.materials import FACTS, Material
from geartrack.units import Units

_METALS = (
    (Material.NODULAR, r"nodular|ductile"),
    (Material.GREY, r"gr[ea]y"),
    (Material.ALUMINIUM, r"alumini?um|alloy"),
    (Material.UNKNOWN, r"do(?:n't| not) know|not known|unknown"),
)
_STATES = (("ground", r"ground"), ("cracked", r"crack(?:ed)?|cracks"), ("welded", r"weld(?:ed)?|welds"))
_NOT = r"(?P<no>never|not|no)\s+(?:been\s+|ever\s+)?"
_FILLERS = re.compile(r"\b(?:iron|case|cast|casting|and|but|ever|before|yes|it|was|were|is)\b|[,.;:]")


@dataclass(frozen=True)
class CaseSaid:
    """The metal, and yes, no or not said (None) to each of what may have been done to the case."""

    metal: Material = Material.UNKNOWN
    ground: bool | None = None
    cracked: bool | None = None
    welded: bool | None = None

    def table(self) -> dict[str, Any]:
        """The case as a job's table holds it."""
        done = {"ground_before": self.ground, "cracked": self.cracked, "welded": self.welded}
        return {"material": self.metal.value} | {key: True for key, said in done.items() if said}

    def notes(self) -> tuple[str, ...]:
        """What has to be said of such a case."""
        said = [FACTS[self.metal].advice]
        if self.ground:
            said.append("ground before: the wall left there has to be read before any depth or price is firm")
        if self.ground is None:
            said.append("whether the case was ever ground was not said: look for an old scallop on the boss")
        if self.cracked or self.welded:
            said.append("cracked or welded at boss, web or saddle: this case is not to be used, whatever the gap")
        return tuple(text for text in said if text)


def read_case(text: str, where: str, units: Units | None) -> CaseSaid:
    """Metal and history from a few words.

    >>> read_case("Nodular, never ground", "case", None)
    CaseSaid(metal=<Material.NODULAR: 'nodular'>, ground=False, cracked=None, welded=None)
    """
    rest = " ".join(text.lower().replace("’", "'").split())
    metals = []
    for metal, words in _METALS:
        rest, found = re.subn(rf"\b(?:{words})\b", " ", rest)
        metals += [metal] if found else []
    states: dict[str, bool] = {}
    for name, words in _STATES:
        if match := re.search(rf"\b(?:{_NOT})?(?:{words})\b", rest):
            states[name] = not match["no"]
            rest = rest.replace(match[0], " ")
    left = _FILLERS.sub(" ", rest).split()
    right = "such as: nodular, never ground (nodular, grey, aluminium or don't know; ground, cracked, welded)"
    if left:
        raise refuse(where, f"{' '.join(left)!r} is not understood", right)
    if len(metals) > 1:
        raise refuse(where, f"{len(metals)} metals", right)
    return CaseSaid(metals[0] if metals else Material.UNKNOWN, **states)
