"""The phone card: four answers, no length needed; is the boss likely to be in the way, and what to ask for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import sqrt
from pathlib import Path
from typing import Any

from geartrack.assembly import plan
from geartrack.cards.answer import DRAWS, CardAnswer
from geartrack.cards.axle import Ring, read_axle
from geartrack.cards.case import CaseSaid, read_case
from geartrack.cards.entries import Card, Cost, Entry, Ratio, Setting, read_entries, teeth
from geartrack.cards.shift import SAME_RATIO, toe_tip_shift, usual_offset, usual_pairs
from geartrack.cards.shop_list import ShopList, seen_from, shop_list
from geartrack.errors import refuse
from geartrack.frame import Hand
from geartrack.gearset.teeth import ToothPair
from geartrack.job import job_from_dict
from geartrack.materials import FACTS
from geartrack.quantity import give_or_take
from geartrack.quote import Quote, Work, quote
from geartrack.spread import Range
from geartrack.study import rates_of
from geartrack.study.check import ranged_gap
from geartrack.units import Units, parse_length, show_both, show_length
from geartrack.verdict import Code

STARTS_AT = 4.86  # steeper than this the question starts to be asked: common practice, no source
# Length, width and depth of a small and of a large patch that is ground off a boss: worked out, from memory.
PATCHES = (("0.8 in", "0.35 in", "0.040 in"), ("1.5 in", "0.5 in", "0.060 in"))
PATCH_WORDS = (
    "a likely piece of work, not a result: a patch from 0.8 by 0.35 in, 0.040 in deep, to 1.5 by 0.5 in, 0.060 in deep"
    " (from memory)"
)
ENTRIES = (
    Entry(
        "axle",
        "Axle: its name in the shop's list, or ring diameter and whether the pinion also runs in a small bearing at its"
        " inner end (such as 9 in, pilot / no pilot / don't know)",
        "Ring diameter across the outside of the ring gear. The small bearing sits behind the pinion's head, in a boss"
        " of the case beside the ring gear.",
        "nothing can be worked out for this axle",
        read_axle,
    ),
    Entry(
        "ratio_now",
        "Ratio in it now (teeth such as 9/35, or 3.89)",
        "Teeth on the pinion and on the ring, or turns of the pinion flange to one of both wheels.",
        "whether the wanted one is steeper is not known",
        teeth,
    ),
    Entry(
        "ratio_wanted",
        "Ratio wanted (teeth such as 7/36, or 5.14)",
        "Teeth on the pinion and on the ring, or the ratio that is asked for.",
        "nothing can be worked out without it",
        teeth,
    ),
    Entry(
        "case",
        "Case: nodular, grey, aluminium or don't know; and was it ever ground?",
        "The casting mark says it, or a magnet and a file. Ground: a scallop on the boss on the side of the ring gear.",
        "the metal is taken as not known",
        read_case,
    ),
)


@dataclass(frozen=True)
class Call:
    """What was said on the phone, and the shop's list it is held against; axle: the file of a listed axle."""

    said: Mapping[str, Any]
    case: CaseSaid
    listed: ShopList
    axle: Path | None
    setting: Setting

    @property
    def ring(self) -> Ring | None:
        """The axle that no list has."""
        said = self.said.get("axle")
        return said if isinstance(said, Ring) else None


@dataclass(frozen=True)
class Found:
    """A verdict and why.

    gap: low to high on the shop's own case; shift: of the toe tips, low to high; settled: nothing is left to find.
    job: the document that was worked, if one was.
    """

    code: Code
    sentence: str
    gap: Range | None = None
    shift: Range | None = None
    settled: bool = False
    job: Mapping[str, Any] | None = None
    notes: tuple[str, ...] = ()


def work(typed: Mapping[str, str], setting: Setting) -> CardAnswer:
    """The phone card's answer from typed texts. Raises InputError with every fault."""
    said = read_entries(ENTRIES, typed, setting.bare)
    listed = shop_list(setting.axles, setting.base)
    call = Call(said, said.get("case", CaseSaid()), listed, _listed_axle(said.get("axle"), listed), setting)
    found = _found(call)
    job, lacks = _job(call, found)
    blanks = (entry for entry in ENTRIES if entry.key not in said)
    return CardAnswer(
        "phone",
        found.code,
        found.sentence,
        low_mm=found.gap.low if found.gap else None,
        high_mm=found.gap.high if found.gap else None,
        price=None if found.settled else _price(call),
        price_for=PATCH_WORDS,
        costs=tuple(Cost(entry.key, None, f"{entry.name}: not said: {entry.blank}") for entry in blanks),
        next=() if found.settled else _next(call, found),
        job=job,
        job_lacks=lacks,
        notes=(*found.notes, *call.case.notes()),
    )


CARD = Card("phone", ENTRIES, work, asks_for_axles=True)


def _listed_axle(said: str | Ring | None, listed: ShopList) -> Path | None:
    if not isinstance(said, str):
        return None
    axle = listed.axle(said)
    if axle is None:
        names = ", ".join(listed.names()) or "there is none: name its folder with --axles"
        raise refuse("axle", f"{said!r} is not one axle of the shop's list", f"{names}; or a ring diameter")
    return axle


def _found(call: Call) -> Found:
    """The verdict, the surest grounds first."""
    now, wanted = call.said.get("ratio_now"), call.said.get("ratio_wanted")
    if call.ring and call.ring.pilot is False:
        why = "The pinion has no bearing at its inner end, so there is no boss beside the ring gear to touch."
        return Found(Code.NOT_EXPECTED, why, settled=True)
    if now and wanted and wanted.ratio <= now.ratio + SAME_RATIO:
        why = f"{wanted.ratio:.2f}:1 is not steeper than the {now.ratio:.2f}:1 in it now, which runs already."
        note = "not steeper holds for a set made for the same carrier ring flange; a thick set stands nearer the boss"
        return Found(Code.NOT_EXPECTED, why, settled=True, notes=(note,))
    if wanted is None or "axle" not in call.said:
        lacking = [name for name, there in (("axle", "axle" in call.said), ("ratio wanted", wanted)) if not there]
        return Found(Code.CANT_SAY, f"Nothing can be worked out without the {' and the '.join(lacking)}.")
    pairs, notes = usual_pairs(wanted)
    cases = tuple(call.listed.cases(call.axle, call.case.metal)) if call.axle else ()
    if call.axle and cases:
        return replace(_on_own_cases(call, call.axle, cases, pairs), notes=notes)
    if now is None:
        return Found(Code.CANT_SAY, f"Whether {wanted.ratio:.2f}:1 is steeper than what is in it now is not known.")
    return replace(_by_shift(call, now, wanted, pairs), notes=notes)


def _on_own_cases(call: Call, axle: Path, cases: Sequence[Path], pairs: Sequence[ToothPair]) -> Found:
    """The gear model against the boss of the shop's own case files; the worst pair on the worst case decides."""
    worked = []
    for pair, case in ((pair, case) for pair in pairs for case in cases):
        document = _whole_job(call, axle, case, pair)
        job = job_from_dict(document, call.setting.base, "phone card")
        for hand in [job.axle.hand] if job.axle.hand else Hand:
            _, gap, band = ranged_gap(plan(job, pair, hand), DRAWS)
            worked.append((gap.lower_mm, band, pair, case, document, job.target.gap.value))
    gap_mm, nearest, pair, case, document, target = min(worked, key=lambda each: each[0])
    ends = min(each[1].low for each in worked), max(each[1].high for each in worked)
    found: Range = Range(*ends, nearest.shares)
    units = call.setting.units
    low, high = (show_length(mm, units, rounding="down") for mm in (found.low, found.high))
    said = f"On the shop's own case {case.stem}, {pair} = {pair.ratio:.2f}:1 works out at a gap of"
    said += f" {show_both(gap_mm, units, rounding='down')}, {low} to {high}"
    if found.low >= target:
        code, why = Code.NOT_EXPECTED, "even the low end holds it"
    elif gap_mm < target:
        code, why = Code.LIKELY, "as worked out it falls short"
    else:
        code, why = Code.CANT_SAY, "as worked out it holds, its low end does not"
    return Found(code, f"{said}, against {show_length(target, units)} wanted: {why}.", gap=found, job=document)


def _by_shift(call: Call, now: ToothPair | Ratio, wanted: ToothPair | Ratio, pairs: Sequence[ToothPair]) -> Found:
    """How much nearer the toe tips come, without a word on the gap: nothing of the boss is known."""
    axle = call.listed.axle_job(call.axle).axle if call.axle else None
    ring = axle.ring_diameter if axle else give_or_take(call.ring.diameter_mm if call.ring else 0.0, 0.0)
    offset = axle.offset if axle else usual_offset(ring.value)
    old = usual_pairs(now)[0][0]
    nominal, found = max((toe_tip_shift(old, pair, ring, offset) for pair in pairs), key=lambda each: each[0])
    units = call.setting.units
    low, high = (show_length(mm, units) for mm in (found.low, found.high))
    moves = f"From {now.ratio:.2f} to {wanted.ratio:.2f}:1 the teeth come about {show_both(nominal, units)} nearer the"
    moves += f" pinion at the toe, {low} to {high}"
    if call.ring and call.ring.pilot is None:
        return Found(Code.CANT_SAY, f"{moves}, but whether there is a boss at all is not known.", shift=found)
    if wanted.ratio > STARTS_AT:
        why = f"past about {STARTS_AT}:1 the boss is often in the way (common practice, no source)"
        return Found(Code.LIKELY, f"{moves}, and {why}.", shift=found)
    why = f"short of about {STARTS_AT}:1, where the question usually starts (common practice, no source)"
    return Found(Code.CANT_SAY, f"{moves}: {why}.", shift=found)


def _price(call: Call) -> Quote:
    """What relieving the boss would cost, for a likely piece of work at the shop's rates; not what a result says."""
    sizes = [[parse_length(side) for side in patch] for patch in PATCHES]
    (least, low), (most, high) = ((a * b * c * FACTS[call.case.metal].density_g_mm3, c) for a, b, c in sizes)
    made = Work((least, sqrt(least * most), most), (low, (low + high) / 2, high), call.case.metal)
    return quote(made, rates_of(call.listed.axle_job(call.axle)))


def _next(call: Call, found: Found) -> tuple[str, ...]:
    """What to bring or ask for: first what the card lacks, then what narrows the answer most."""
    ring, case = call.ring, call.case
    shares = (found.gap or found.shift or Range(0.0, 0.0, ())).shares

    def worth(*names: str) -> float:
        return sum(share.width for share in shares if share.name.startswith(names)) / 2

    asks = [entry.question for entry in ENTRIES[:3] if entry.key not in call.said]
    asks += ["does the pinion also run in a small bearing at its inner end?"] if ring and ring.pilot is None else []
    gears = worth("gears.") - worth("gears.model") + worth("new.")
    brings = [(worth("case.", "boss.", "axle.", "gears.model"), "the bare case, for geartrack quick bare-case")]
    brings += [(gears, "the new ring, its height read on a flat plate, or its tooth counts")]
    brings += [(worth("offset"), "the hypoid offset")] if found.shift else []
    ranked = [_worth(words, mm, call.setting.units, bool(found.gap)) for mm, words in sorted(brings, key=_first)]
    asks += ["the whole axle, old gears still in it: its gap and two ring heights, for geartrack quick old-gears"]
    asks += ranked
    asks += ["the wall left where it was ground"] if case.ground else []
    asks += ["whether the boss was ever ground: a scallop on the ring's side"] if case.ground is None else []
    asks += ["what the case is made of: casting mark, magnet, file"] if case.metal == "not known" else []
    return tuple(asks)


def _first(brought: tuple[float, str]) -> float:
    return -brought[0]


def _worth(words: str, mm: float, units: Units, of_gap: bool) -> str:
    narrows = "the gap" if of_gap else "the change of height"
    return f"{words}: {narrows} hangs on it by {show_both(mm, units)} each way at most" if mm else words


def _job(call: Call, found: Found) -> tuple[dict[str, Any], tuple[str, ...]]:
    """The job as far as four answers go, and what it still lacks."""
    if found.job:
        return dict(found.job), ()
    wanted = call.said.get("ratio_wanted")
    axle: dict[str, Any] = {}
    if call.axle:
        axle = {"file": seen_from(call.axle, call.setting.base)}
    elif call.ring:
        axle = {"ring_diameter": call.ring.typed}
    there = {"axle.ring_diameter": call.axle or call.ring, "axle.offset": call.axle, "gears.teeth": wanted}
    lacks = tuple(key for key, known in there.items() if not known)
    gears = {"teeth": str(usual_pairs(wanted)[0][0])} if wanted else {}
    document = _head(call) | {"axle": axle, "gears": gears, "case": call.case.table()}
    return document, (*lacks, "boss")


def _whole_job(call: Call, axle: Path, case: Path, pair: ToothPair) -> dict[str, Any]:
    """A job on the shop's own case file, of which the customer's is another casting."""
    base = call.setting.base
    shop = {"shop": {"file": seen_from(call.listed.rates, base)}} if call.listed.rates else {}
    boss = {"file": seen_from(case, base)}
    own = call.case.table() | {"measured": "another case"}
    tables = {"axle": {"file": seen_from(axle, base)}, "gears": {"teeth": str(pair)}, "case": boss | own, "boss": boss}
    return _head(call) | tables | shop


def _head(call: Call) -> dict[str, Any]:
    now = call.said.get("ratio_now")
    note = f"From the phone card; in it now: {now}." if now else "From the phone card."
    return {"format": 1, "name": "Phone card", "note": note, "units": call.setting.units}
