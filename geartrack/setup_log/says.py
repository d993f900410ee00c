"""The pinion support's log in the words of the bench. Formats, never computes."""

from __future__ import annotations

from geartrack.setup_log.answer import SetupAnswer
from geartrack.setup_log.crush import NEVER_BACK_OFF
from geartrack.setup_log.drag import Drag
from geartrack.units import Units, parse_length, show_fine, show_torque, show_torques

FAR_MM = parse_length("0.003 in")  # further off is another stack: one and a half small steps


def both_fine(mm: float, units: Units) -> str:
    """A shim's thickness [mm] in both units, the given one first."""
    return f"{show_fine(mm, units)} ({show_fine(mm, 'mm' if units == 'in' else 'in')})"


def drag_line(drag: Drag, units: Units) -> str:
    """What the seal adds, low to high."""
    low, high = show_torque(drag.low_nm, units, rounding="down"), show_torque(drag.high_nm, units, rounding="up")
    what = "with the seal in less with it out; a new seal may drag more"
    return f"Seal drag: {show_torques(drag.nm, units)}, {low} to {high}: {what}."


def makers_range(answer: SetupAnswer, units: Units) -> str:
    """The maker's range, for the bearings alone and with the seal in."""
    setup = answer.job.setup
    if answer.target_nm is None:
        return "Its range is not known."
    source = f" ({setup.target_from})" if setup.target_from else ""
    low, high = (show_torques(end, units) for end in answer.target_nm)
    text = f"Range{source}, {setup.bearings or 'these'} bearings alone: {low} to {high}"
    if answer.target_seal_in_nm:
        text += "; with the seal in {} to {}".format(*(show_torque(end, units) for end in answer.target_seal_in_nm))
    return f"{text}."


def next_stack_lines(answer: SetupAnswer, units: Units) -> list[str]:
    """The stack to try next, how it was come by, and the shims on hand for it."""
    after = answer.next
    if after is None:
        return []
    if after.basis == "in range":
        return ["The last stack turned in the range: nothing to change. Turn it a few times more and read it again."]
    give = ""
    if after.low_mm is not None or after.high_mm is not None:
        ends = [both_fine(end, units) if end is not None else "?" for end in (after.low_mm, after.high_mm)]
        give = f", {ends[0]} to {ends[1]} by what the readings give or take"
    lines = [f"Next stack: {both_fine(after.wanted_mm, units)}{give}; {after.why}."]
    if after.basis == "outside the stacks tried":
        how = "Thinner preloads more, and fast: tighten by stages and keep turning"
        lines.append(f"WARNING: outside the stacks tried. {how}.")
    thicknesses = [each.thickness_mm for each in answer.tried]
    near = [made for made in answer.combinations if abs(made.off_mm) <= FAR_MM]
    for made in near:
        shims = " + ".join(both_fine(shim, units) for shim in made.shims_mm)
        off = f"{both_fine(abs(made.off_mm), units)} {'thicker' if made.off_mm > 0 else 'thinner'} than wanted"
        tried = min(thicknesses) <= made.total_mm <= max(thicknesses)
        warning = "" if tried else ". WARNING: outside the stacks tried"
        lines.append(f"  {shims} = {both_fine(made.total_mm, units)}, {off if made.off_mm else 'as wanted'}{warning}")
    if answer.combinations and not near:
        lines.append(f"No shims on hand come within {both_fine(FAR_MM, units)} of it.")
    if not answer.job.setup.shims:
        lines.append("No shims on hand are given (shims under [setup]).")
    return lines


def crush_lines(answer: SetupAnswer, units: Units) -> list[str]:
    """How the crush sleeve stands, and what not to do."""
    crush = answer.crush
    if crush is None:
        return []
    now = show_torques(crush.torque_nm, units) if crush.torque_nm is not None else "not known"
    start = f"Sleeve {crush.sleeve}, {crush.pulls} {'pull' if crush.pulls == 1 else 'pulls'}, bearings alone now {now}"
    said = {
        "overshot": f"STOP: it went past the range; {NEVER_BACK_OFF}",
        "fell": f"STOP: the torque fell between two pulls; {NEVER_BACK_OFF}",
        "in range": "in the range: stop here",
        "cannot tell": "whether that is in the range cannot be told",
        "pull on": "under the range: pull on, a little at a time, turning the pinion; there is no way back",
    }
    lines = [f"{start}. {said[crush.state][:1].upper()}{said[crush.state][1:]}."]
    if crush.next_overshoots and crush.gain_nm is not None:
        gain = show_torque(crush.gain_nm, units)
        lines.append(f"WARNING: the last pull added {gain}; as much again goes past the range. Smaller pulls.")
    return lines
