"""The bare-case card: a case on the bench, no gears, no drawing; up to sixteen entries by caliper, straightedge, bars.

Where the ring's teeth run comes from the gear model alone, so this card never says that the boss is cleared.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from geartrack.assembly import Plan, assemble, closer_by, plan
from geartrack.cards.answer import DRAWS, CardAnswer
from geartrack.cards.bare_entries import ENTRIES, NEEDED, checks
from geartrack.cards.bare_sums import USUAL_WALL, boss_parts, is_round, outside, place, ring_diameter
from geartrack.cards.case import CaseSaid
from geartrack.cards.entries import Card, Cost, Entry, Setting, cost, read_entries
from geartrack.cards.job_table import in_mm, table
from geartrack.cards.shift import usual_pairs
from geartrack.cards.shop_list import seen_from, shop_list
from geartrack.clearance import boss_gap
from geartrack.frame import Hand
from geartrack.gearset.teeth import ToothPair
from geartrack.job import job_from_dict
from geartrack.quantity import Origin
from geartrack.spread import Range
from geartrack.study import check, quote_for
from geartrack.study.answer import Answer
from geartrack.study.check import ranged_gap
from geartrack.study.judge import READINGS
from geartrack.units import Units, show_both
from geartrack.verdict import Code
from geartrack.words import sentence

WORTH_MM = 0.1  # a reading on which the gap hangs by less, each way, is not asked for
_RING_READINGS = {
    "gears.face_width": "length of the ring's teeth, by caliper along them",
    "axle.ring_diameter": "the ring's outer pitch diameter, from its maker",
}
_ALONG = "the boss is drawn along its length as its wall was read at the pinion-side end: no taper, nothing read there"
_RING = "where the ring's teeth run comes from tooth counts: this card alone never says that the boss is cleared"


def work(typed: Mapping[str, str], setting: Setting) -> CardAnswer:
    """The bare-case card's answer from typed texts. Raises InputError with every fault."""
    said = read_entries(ENTRIES, typed, setting.bare, (checks,))
    case = said.get("case", CaseSaid())
    lacking = [entry for entry in ENTRIES if entry.key in NEEDED and entry.key not in said]
    if lacking or said.get("square") == "no":
        return _no_answer(said, case, lacking, setting)
    pairs, notes = usual_pairs(said["teeth"])
    pair = min(pairs, key=lambda each: _nominal_mm(said, case, setting, each))
    document = job_document(said, case, pair, setting)
    answer = check(job_from_dict(document, setting.base, "bare-case card"), DRAWS)
    return _answered(said, answer, document, setting, (*notes, *case.notes(), *_walls_note(said)))


CARD = Card("bare-case", ENTRIES, work)


def capped(code: Code) -> Code:
    """The best word of a card that does not place the ring is NOT EXPECTED."""
    return Code.NOT_EXPECTED if code is Code.CLEARS else code


def _no_answer(said: Mapping[str, Any], case: CaseSaid, lacking: Sequence[Entry], setting: Setting) -> CardAnswer:
    """What is still to be read, and as much of a job as there is."""
    why = f"No answer without {', '.join(entry.name for entry in lacking)}."
    asks = [entry.question for entry in lacking]
    lacks = {"axle": ("ring_diameter", "offset"), "gears": ("teeth",), "boss": ("end_face", "bore_diameter", "parts")}
    if said.get("square") == "no":
        why = (
            "The parting face is not square to the pinion, so depths from it do not place the boss: this card does not"
        )
        why += " hold."
        asks.insert(0, "the boss's pinion-side end to a bar in the saddles, along the pinion: boss.end_face of the job")
    document = _head(setting, "From the bare-case card, not all of it read.") | {
        "axle": {"ring_diameter": in_mm(said["ring_diameter"])} if "ring_diameter" in said else {},
        "gears": {"teeth": str(usual_pairs(said["teeth"])[0][0])} if "teeth" in said else {},
        "case": case.table(),
        "boss": {"bore_diameter": in_mm(said["pilot_bore"])} if "pilot_bore" in said else {},
    }
    if not lacking:
        document = job_document(said, case, usual_pairs(said["teeth"])[0][0], setting)
        del document["boss"]["end_face"]
    return CardAnswer(
        "bare-case",
        Code.CANT_SAY,
        why,
        costs=tuple(cost(entry, None, setting.units) for entry in lacking),
        next=tuple(asks),
        job=document,
        job_lacks=tuple(f"{name}.{key}" for name, keys in lacks.items() for key in keys if key not in document[name]),
        notes=case.notes(),
    )


def job_document(said: Mapping[str, Any], case: CaseSaid, pair: ToothPair, setting: Setting) -> dict[str, Any]:
    """The job that the entries make, for one tooth pair."""
    where = place(said, setting.units)
    walls, bore, length = said.get("walls"), said["pilot_bore"], said["boss_length"]
    size = table(outside(walls, said.get("stands_out")))
    hand = {"hand": said["hand"]} if "hand" in said else {}
    rates = shop_list(setting.axles, setting.base).rates
    shop = {"shop": {"file": seen_from(rates, setting.base)}} if rates else {}
    return (
        _head(setting, "From the bare-case card. " + ". ".join(where.sums) + ".")
        | shop
        | {
            "axle": {
                "ring_diameter": table(ring_diameter(said["ring_diameter"])),
                "offset": table(where.offset),
                **hand,
            },
            "gears": {"teeth": str(pair)},
            "case": case.table() | {"measured": "this case" if walls else "another case", "outside_size": size},
            "boss": {
                "end_face": table(where.end_face),
                "bore_diameter": {"value": in_mm(bore), "how": "caliper"},
                "bore_depth": in_mm(min(said.get("bore_depth", length), length)),
                "parts": boss_parts(bore, walls, length),
            },
        }
    )


def _answered(
    said: Mapping[str, Any], answer: Answer, document: Mapping[str, Any], setting: Setting, notes: tuple[str, ...]
) -> CardAnswer:
    units, code, cuts = setting.units, capped(answer.verdict.code), answer.cuts
    deep = cuts if cuts and cuts.nominal.depth_radial_max_mm > 0 and code is not Code.NOT_EXPECTED else None
    stop = cuts.at_stop if cuts and answer.verdict.grinds else None
    return CardAnswer(
        "bare-case",
        code,
        sentence(answer, units),
        sums=place(said, units).sums,
        low_mm=answer.band.low,
        high_mm=answer.band.high,
        depth_mm=deep.nominal.depth_radial_max_mm if deep else None,
        stop_mm=stop.depth_radial_max_mm if stop else None,
        wall_left_mm=deep.wall.left_mm if deep else None,
        price=quote_for(answer) if deep else None,
        price_for="the cut from its least to its most, as worked out here",
        costs=_costs(said, answer, setting),
        next=_next(answer, units),
        job=document,
        notes=tuple(dict.fromkeys((_RING, _ALONG, *notes, *answer.notes))),
    )


def _costs(said: Mapping[str, Any], answer: Answer, setting: Setting) -> tuple[Cost, ...]:
    """What each blank adds to half of low to high: all drawn again with the give or take of its usual tool."""
    assumed = {
        "square": "yes",
        "saddle_bar": said["saddle_bore"],
        "pilot_bar": said["pilot_bore"],
        "bore_depth": said["boss_length"],
        "walls": (USUAL_WALL[1],) * 5,
        "stands_out": 0.0,
        "case": said.get("case", CaseSaid()),
    }
    chosen = plan(answer.job, answer.pair, answer.boss.seat.hand)
    one_hand = _half_mm(ranged_gap(chosen, DRAWS)[2])
    found = []
    for entry in ENTRIES:
        if entry.key in said:
            continue
        if entry.key == "hand":
            narrower = _half_mm(answer.band) - one_hand
        else:
            full = {**said, entry.key: assumed[entry.key]}
            document = job_document(full, full.get("case", CaseSaid()), answer.pair, setting)
            job = job_from_dict(document, setting.base, "bare-case card")
            narrower = one_hand - _half_mm(ranged_gap(plan(job, answer.pair, chosen.hand), DRAWS)[2])
        found.append(cost(entry, max(0.0, narrower), setting.units))
    return tuple(sorted(found, key=lambda each: -(each.mm or 0.0)))


def _half_mm(band: Range) -> float:
    return (band.high - band.low) / 2


def _gap_mm(chosen: Plan, values: Mapping[str, float]) -> float:
    moved = assemble(chosen, values)
    return boss_gap(moved.boss, moved.section).nominal_mm - closer_by(chosen, values)


def _nominal_mm(said: Mapping[str, Any], case: CaseSaid, setting: Setting, pair: ToothPair) -> float:
    job = job_from_dict(job_document(said, case, pair, setting), setting.base, "bare-case card")
    return _gap_mm(plan(job, pair, job.axle.hand or Hand.BELOW), {})


def _next(answer: Answer, units: Units) -> tuple[str, ...]:
    """The readings not asked for here, in order of what the gap hangs on them."""
    worth: dict[str, float] = {}
    readings = READINGS | _RING_READINGS
    for share in answer.band.shares:
        if share.origin is not Origin.MEASURED and share.name in readings and not share.name.startswith("case."):
            words = readings[share.name]
            worth[words] = worth.get(words, 0.0) + share.width / 2
    ranked = sorted(worth.items(), key=lambda item: -item[1])
    return tuple(
        f"{words}: the gap hangs on it by {show_both(mm, units)} each way at most"
        for words, mm in ranked
        if mm > WORTH_MM
    )


def _walls_note(said: Mapping[str, Any]) -> tuple[str, ...]:
    walls = said.get("walls")
    if walls is None or is_round(walls):
        return ()
    return ("the walls differ: the boss is drawn by flats through the five of them, the least of them on its far side",)


def _head(setting: Setting, note: str) -> dict[str, Any]:
    return {"format": 1, "name": "Bare-case card", "note": note, "units": setting.units}
