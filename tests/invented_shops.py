"""Invented shops with invented axles: the true gap, and the job that each shop's readings make of it.

Truth is drawn from the spreads that the package itself states, the gear model's own error among them (DESIGN 5), and
readings from the spreads of their tools; by numpy's own generator, not by the package's draws, and worked one axle at a
time, not many at once. The boss is the plain cylinder of the sketch case. An axle whose readings no bench could take (a
feeler that does not go in, numbers that the package refuses) is passed over by what was read, never by the truth.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from geartrack.assembly import assemble, closer_by, plan
from geartrack.assembly.model import MODEL
from geartrack.clearance import boss_gap
from geartrack.errors import GeartrackError
from geartrack.frame import Hand
from geartrack.gearset.place import ADJUSTER_TRAVEL
from geartrack.gearset.teeth import one_pair
from geartrack.job import TOOLS, Job, job_from_dict
from geartrack.quantity import Quantity, Shape
from geartrack.spread.draws import SIGMAS

PAIRS = ("11/40", "9/35", "10/41", "9/41", "8/39", "7/35", "7/36", "7/38", "6/35")
OLD_PAIRS = ("13/40", "12/41", "11/40", "11/41", "10/41", "9/37", "9/35")
THINNEST_MM = 0.04  # feeler
STOOD = {"caps_torqued": True, "final_preload": True, "bearings": "final", "backlash": "0.008 in"}


@dataclass(frozen=True)
class Shop:
    """name; this_case: whether the boss was read on the case itself; what else it reads, with which tool."""

    name: str
    this_case: bool = True
    ring: bool = False
    gap: str = ""
    old_gap: str = ""


SHOPS = (
    Shop("tooth counts, another case", this_case=False),
    Shop("boss read, tooth counts"),
    Shop("ring heights and back face", ring=True),
    Shop("gap by feeler", gap="feeler"),
    Shop("gap by clay, another case", this_case=False, gap="clay"),
    Shop("old gears' gap and two heights", old_gap="feeler"),
    Shop("old gears' gap by clay, and heights", old_gap="clay", this_case=False),
    Shop("all of it", ring=True, gap="solder", old_gap="feeler"),
)


@dataclass(frozen=True)
class Axle:
    """A job as the shop types it, and the set-up gap that it really has [mm]."""

    shop: Shop
    job: Job
    truth_mm: float


def invented(shop: Shop, rng: np.random.Generator) -> Axle:
    """An axle of a shop; draws that make no gear set are drawn again."""
    while True:
        try:
            return _invented(shop, rng)
        except GeartrackError:
            continue


def _invented(shop: Shop, rng: np.random.Generator) -> Axle:
    pair, old_pair = str(rng.choice(PAIRS)), str(rng.choice(OLD_PAIRS))
    document = _document(shop, pair)
    true, values = _truth(document, pair, {}, rng)
    tips, read_gap = _tips(true, values), _gap(true, _as_read(values))
    back_face = tips + 34.0
    readings: list[dict[str, Any]] = []
    measured = document["gears"].setdefault("measured", {})
    if shop.ring:
        measured |= {
            "toe_height": _read(back_face - tips, "depth micrometer", rng),
            "back_face": _read(back_face, "depth micrometer", rng),
            "back_face_from": "this set",
        }
    if shop.gap:
        readings.append({"kind": "gap", "gap": _gap_read(read_gap, shop.gap, rng)} | STOOD)
    if shop.old_gap:
        shared = {name: value for name, value in values.items() if name.startswith(("axle.", "boss.", "case."))}
        old, old_values = _truth(_document(shop, old_pair), old_pair, shared, rng)
        old_values = _as_read(old_values)
        travel = ADJUSTER_TRAVEL.spread / SIGMAS * rng.normal()
        old_height = back_face + travel - _tips(old, old_values)
        old_gap = _gap(old, old_values)
        readings.append({"kind": "gap", "gap": _gap_read(old_gap, shop.old_gap, rng), "gears": "old set"} | STOOD)
        document["old_gears"] = {"teeth": old_pair, "toe_height": _read(old_height, "depth micrometer", rng)}
        measured.setdefault("toe_height", _read(back_face - tips, "depth micrometer", rng))
    if readings:
        document["readings"] = readings
    return Axle(shop, job_from_dict(document, Path(), "invented"), _gap(true, values))


def _document(shop: Shop, pair: str) -> dict[str, Any]:
    case = {"measured": "this case" if shop.this_case else "another case", "minimum_wall": "3 mm"}
    part = {"kind": "cylinder", "diameter": "54 mm", "from": "0 mm", "to": "22 mm"}
    boss = {"end_face": {"value": "50 mm", "how": "caliper"}, "bore_diameter": "38 mm", "bore_depth": "20 mm"}
    return {
        "name": f"invented, {pair}",
        "axle": {"ring_diameter": "240 mm", "offset": "54 mm", "hand": "below"},
        "gears": {"teeth": pair, "face_width": "37 mm +/- 0.5 mm"},
        "case": case | {"material": "nodular"},
        "boss": boss | {"parts": [part]},
        "running": {"backlash_final": "0.008 in"},
    }


def _truth(document: Mapping[str, Any], pair: str, shared: Mapping[str, float], rng: np.random.Generator) -> Any:
    made = plan(job_from_dict(document, Path(), "truth"), one_pair(pair), Hand.BELOW)
    return made, {name: _true(quantity, rng) for name, quantity in made.inputs.items()} | shared


def _true(quantity: Quantity, rng: np.random.Generator) -> float:
    """A value by the meaning of a quantity's limits: even between them, or half a normal of 2 sigma to either side,
    each as likely as it is wide."""
    below, above = quantity.value - quantity.low, quantity.high - quantity.value
    if quantity.shape is Shape.UNIFORM:
        return float(rng.uniform(quantity.low, quantity.high))
    side = -below if rng.uniform() * (below + above) < below else above
    return float(quantity.value + side / SIGMAS * abs(rng.normal()))


def _as_read(values: Mapping[str, float]) -> dict[str, float]:
    """Values while a reading is taken: neither backlash nor pinion have been moved since."""
    return {name: value for name, value in values.items() if name not in ("running.backlash", "running.pinion_moved")}


def _tips(made: Any, values: Mapping[str, float]) -> float:
    """Where the toe tips run, the setting of the backlash aside [mm]."""
    return assemble(made, values).blanks.ring.toe_tip_height_mm + values[MODEL]


def _gap(made: Any, values: Mapping[str, float]) -> float:
    stands = assemble(made, values)
    return boss_gap(stands.boss, stands.section).nominal_mm - closer_by(made, values)


def _gap_read(true_mm: float, tool: str, rng: np.random.Generator) -> dict[str, str]:
    shown = _read(true_mm, tool, rng)
    if float(shown["value"].split()[0]) <= THINNEST_MM:
        raise GeartrackError("no feeler goes in")
    return shown


def _read(value: float, tool: str, rng: np.random.Generator) -> dict[str, str]:
    shown = float(value + TOOLS[tool].two_sigma_mm / SIGMAS * rng.normal())
    return {"value": f"{shown:.6f} mm", "how": tool}
