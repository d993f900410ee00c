"""Answers as plain documents for JSON: millimetres, degrees, grams, hours; versioned, documented in DEVELOPERS.md."""

from __future__ import annotations

from functools import singledispatch
from math import degrees
from typing import Any

from geartrack import __version__
from geartrack.clearance import Gap
from geartrack.inputs import ANGLES, PLAIN
from geartrack.relief import Relief
from geartrack.spread import Band, NextReading
from geartrack.study.answer import Answer, Cuts, RatioTable
from geartrack.study.gears import GearSheet

SCHEMA = 1
Document = dict[str, Any]


@singledispatch
def as_document(result: object) -> Document:
    """The document of an Answer, a RatioTable, a PassPlan, a Quote or a GearSheet."""
    raise TypeError(f"no document for {type(result).__name__}")


def head(kind: str) -> Document:
    """What every document starts with: schema, its kind, the version."""
    return {"schema": SCHEMA, "kind": kind, "geartrack": __version__}


@as_document.register
def _(answer: Answer) -> Document:
    verdict, place, cuts = answer.verdict, answer.place, answer.cuts
    minimum, scallop = answer.minimum_wall, answer.job.case.wall_in_old_scallop
    return head("check") | {
        "job": answer.job.name,
        "case": {"mark": answer.job.case.mark, "material": answer.job.case.material},
        "teeth": str(answer.pair),
        "ratio": answer.pair.ratio,
        "hand": answer.hand.value if answer.hand else None,
        "verdict": verdict.code.value,
        "words": verdict.words,
        "reason": verdict.reason,
        "next_reading": verdict.next_reading,
        "by_choice": verdict.by_choice,
        "wall_short": verdict.wall_short,
        "gap": _gap(answer.gap)
        | {
            "target_mm": answer.target_mm,
            "bounds_cover": "interpolant" if answer.boss.mesh.interpolated else "boss",
            "at": {
                "station_mm": place.station_mm,
                "x_mm": place.x_mm,
                "radius_mm": place.radius_mm,
                "clock_deg": degrees(place.clock) if answer.hand else None,
                "either_side_clock_deg": None if answer.hand else abs(degrees(place.clock)),
                "away_from_ring_centre_line": place.away,
                "ring_zone": answer.gap.zone,
            },
            "by_body": {name: _gap(gap) for name, gap in answer.by_body.items()},
        },
        "band": {
            "low_mm": answer.band.low,
            "high_mm": answer.band.high,
            **_band(answer.band),
        },
        "next_readings": [_next(each, verdict.settled) for each in answer.next_readings],
        "running": {"low_mm": answer.running_low_mm, "p_contact": answer.band.p_contact},
        "interference": {"axial_retreat_mm": answer.axial_retreat_mm},
        "relief": _relief(cuts, answer),
        "wall": {
            "before_mm": answer.wall_before.before_mm,
            "left_mm": cuts.wall.left_mm if cuts else None,
            "left_low_mm": cuts.wall_low_mm if cuts else None,
            "left_high_mm": cuts.wall_high_mm if cuts else None,
            "left_share": cuts.wall.left_mm / answer.wall_before.before_mm if cuts else None,
            "seat_length_left_mm": cuts.wall.seat_length_left_mm if cuts else None,
            "in_old_scallop_mm": scallop.value if scallop else None,
            "minimum_mm": minimum.value if minimum else None,
            "minimum_origin": minimum.origin.value if minimum else None,
        },
        "stop": _stop(cuts, answer),
        "pinion": {
            "gap_lower_mm": answer.pinion_gap.lower_mm,
            "gap_upper_mm": answer.pinion_gap.upper_mm,
            "toe_root_diameter_mm": 2 * answer.blanks.pinion.toe_root_radius_mm,
        },
        "teeth_run": {
            "toe_tip_height_mm": answer.placement.toe_tip.value,
            "give_or_take_mm": answer.placement.toe_tip.spread,
            "evidence": [
                {"name": e.name, "toe_tip_height_mm": e.toe_tip.value, "give_or_take_mm": e.toe_tip.spread}
                for e in answer.placement.evidence
            ],
            "disagreement": answer.placement.disagreement,
        },
        "alternatives": [
            {"words": a.words, "teeth": str(a.pair) if a.pair else None, "target_mm": a.target_mm}
            for a in answer.alternatives
        ],
        "inputs": [_input(name, q) for name, q in answer.inputs.items()],
        "notes": list(answer.notes),
    }


def _gap(gap: Gap) -> Document:
    return {"nominal_mm": gap.nominal_mm, "lower_mm": gap.lower_mm, "upper_mm": gap.upper_mm}


def _relief(cuts: Cuts | None, answer: Answer) -> Document | None:
    if cuts is None:
        return None
    least, likely, most = answer.work.mass_g
    return (
        _cut(cuts.nominal)
        | {"mass_g": likely, "mass_low_g": least, "mass_high_g": most}
        | {"least": _cut(cuts.least), "hold": _cut(cuts.hold)}
        | {"confidence": answer.job.target.confidence / 100 if answer.band.draws else None}
    )


def _cut(cut: Relief) -> Document:
    return {
        "clearance_mm": cut.clearance_mm,
        "volume_mm3": cut.volume_mm3,
        "volume_error_mm3": cut.volume_error_mm3,
        "area_mm2": cut.area_mm2,
        "depth_max_mm": cut.depth_max_mm,
        "depth_max_error_mm": cut.depth_max_error_mm,
        "depth_radial_max_mm": cut.depth_radial_max_mm,
        "depth_axial_max_mm": cut.depth_axial_max_mm,
    }


def _stop(cuts: Cuts | None, answer: Answer) -> Document | None:
    if cuts is None or cuts.stop is None or cuts.at_stop is None or not answer.verdict.grinds:
        return None
    return {
        "clearance_mm": cuts.stop.clearance_mm,
        "gap_reads_mm": min(answer.target_mm + answer.job.target.allowance.value, cuts.stop.clearance_mm),
        "depth_radial_max_mm": cuts.at_stop.depth_radial_max_mm,
        "depth_axial_max_mm": cuts.at_stop.depth_axial_max_mm,
        "wall_left_mm": cuts.stop.wall_left_mm,
        "limited_by": cuts.stop.limited_by,
    }


def _band(band: Band) -> Document:
    return {
        "method": "draws" if band.draws else "worst-case sum",
        "middle_mm": band.middle,
        "low_error_mm": band.low_error,
        "high_error_mm": band.high_error,
        "draws": band.draws,
        "effective_draws": band.effective,
        "p_target": band.p_target,
        "p_clear": band.p_clear,
        "worst_low_mm": band.worst.low,
        "worst_high_mm": band.worst.high,
        "shares": [{"name": s.name, "down_mm": s.down, "up_mm": s.up, "origin": s.origin.value} for s in band.shares],
        "budget": [{"name": part.name, "share": part.share} for part in band.budget],
        "flagged": list(band.flagged),
    }


def _next(each: NextReading, settled: bool) -> Document:
    return {
        "reading": each.name,
        "minutes": each.minutes,
        "half_now_mm": each.worth.half_now,
        "half_after_mm": each.worth.half_after,
        "wrong_now": each.worth.wrong_now,
        "wrong_after": each.worth.wrong_after,
        "settles": None if settled else each.worth.settles,
    }


def _input(name: str, quantity: Any) -> Document:
    if name in ANGLES:
        value, low, high, unit = (*(degrees(v) for v in (quantity.value, quantity.low, quantity.high)), "deg")
    else:
        value, low, high, unit = quantity.value, quantity.low, quantity.high, "" if name in PLAIN else "mm"
    spread = {"low": low, "high": high, "spread": (high - low) / 2}
    return {
        "name": name,
        "value": value,
        "unit": unit,
        **spread,
        "origin": quantity.origin.value,
        "source": quantity.source,
    }


@as_document.register
def _(table: RatioTable) -> Document:
    return head("ratios") | {
        "job": table.job.name,
        "target_mm": table.target_mm,
        "rows": [
            {
                "teeth": str(row.pair),
                "ratio": row.pair.ratio,
                "hunting": row.pair.hunting,
                "gap": _gap(row.gap),
                "band": {"low_mm": row.band_low_mm, "high_mm": row.band_high_mm},
                "depth_radial_max_mm": row.depth_mm,
                "volume_mm3": row.volume_mm3,
                "wall_left_mm": row.wall_left_mm,
                "toe_tip_height_mm": row.toe_tip_height_mm,
            }
            for row in table.rows
        ],
        "crossings": [
            {
                "pinion_teeth": c.pinion,
                "level_mm": c.level_mm,
                "last_above": str(c.last_above) if c.last_above else None,
                "first_below": str(c.first_below) if c.first_below else None,
                "ratio": c.ratio,
            }
            for c in table.crossings
        ],
        "target_interval": list(table.target_interval) if table.target_interval else None,
        "contact_interval": list(table.contact_interval) if table.contact_interval else None,
    }


@as_document.register
def _(sheet: GearSheet) -> Document:
    document: Document = head("gears") | {"teeth": str(sheet.pair), "ratio": sheet.pair.ratio}
    for line in sheet.lines:
        group, name = line.key.split(".")
        document.setdefault(group, {})[name] = line.value
    return document | {"notes": list(sheet.notes), "bench_names": {line.key: line.bench_name for line in sheet.lines}}
