"""What the case's metal changes: density, cutting rate, crack check, advice; never a claim about strength."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Material(StrEnum):
    """What a case is cast from, as far as it is known."""

    NODULAR = "nodular"
    GREY = "grey"
    ALUMINIUM = "aluminium"
    UNKNOWN = "not known"


@dataclass(frozen=True)
class MaterialFacts:
    """Facts about one case material.

    words: what to call the metal on a screen. density_g_mm3 [g/mm3]: handbook value. removal_g_min: metal taken by hand
    in a confined place, low, likely, high [g/min]. heat_in: what heat may take off the gap at most [in], with its
    source. crack_check, burr, advice: lines for the sheet.
    """

    words: str
    density_g_mm3: float
    removal_g_min: tuple[float, float, float]
    removal_source: str
    heat_in: str
    heat_source: str
    crack_check: str
    burr: str
    advice: str


_DYE = "dye penetrant (cracks open to the surface only)"
_MAGNETIC = "magnetic particle, or dye penetrant"

FACTS: dict[Material, MaterialFacts] = {
    # Densities: grey iron 7.15 g/cm3, nodular iron 7.1 g/cm3, cast aluminium 2.7 g/cm3 (handbook values, from memory).
    # Removal rate on iron: 1 to 5 g/min (from memory, no published figure found); aluminium by its lower density.
    Material.NODULAR: MaterialFacts(
        "nodular iron",
        7.1e-3,
        (1.0, 2.0, 4.5),
        "from memory",
        "0.001 in",
        "worked out from published expansion, case 200 F warmer",
        _MAGNETIC,
        "double-cut carbide burr, tree or ball nose, 3/8 to 1/2 in",
        "",
    ),
    Material.GREY: MaterialFacts(
        "grey iron",
        7.15e-3,
        (1.0, 2.5, 5.0),
        "from memory",
        "0.001 in",
        "worked out from published expansion, case 200 F warmer",
        _MAGNETIC,
        "double-cut carbide burr, tree or ball nose, 3/8 to 1/2 in",
        "grey iron is brittle: prefer another case before grinding this one",
    ),
    Material.ALUMINIUM: MaterialFacts(
        "aluminium",
        2.7e-3,
        (0.5, 1.2, 2.5),
        "from memory",
        "0.005 in",
        "worked out from published expansion, case 200 F warmer",
        _DYE,
        "single-cut burr for aluminium, with wax or cutting oil against loading",
        "an aluminium case needs its maker's minimum wall before any depth is given",
    ),
    Material.UNKNOWN: MaterialFacts(
        "metal",
        7.15e-3,
        (1.0, 2.2, 5.0),
        "from memory, taken as grey",
        "0.005 in",
        "worked out from published expansion, as if it were aluminium",
        "dye penetrant, or magnetic particle where a magnet sticks",
        "find out the metal first, the burr follows from it",
        "what the case is made of is not known: prefer another case, or find out before grinding",
    ),
}
