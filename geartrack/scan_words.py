"""What a scan shows, in the words of the bench, for the screen and the figure alike."""

from __future__ import annotations

from geartrack.boss.scan.files import unit_name
from geartrack.study.scan import ScanSheet
from geartrack.units import Units, show_both

_UNIT_FROM = {"said": "as said", "file": "as its file says", "inferred": "told by its size: --unit says which"}


def of_the_file(sheet: ScanSheet) -> str:
    """The file, how much it holds and in what unit."""
    unit = unit_name(sheet.scan.unit)
    return f"{sheet.scan.file}: {sheet.health.triangles:,} triangles in {unit}, {_UNIT_FROM[sheet.scan.unit_from]}"


def of_the_health(sheet: ScanSheet, units: Units) -> tuple[str, ...]:
    """Its size, its parts and its noise, a line each."""
    state = sheet.health
    many = f"{state.shells} shell" if state.shells == 1 else f"{state.shells} shells"
    whole = "closed" if state.watertight else f"{len(state.holes)} holes and rims, which do not matter for the gap"
    lines = [
        f"Box round it: {' x '.join(show_both(side, units) for side in state.box_mm)}",
        f"Health: {many}, {whole}; {100 * state.turned_share:.1f} % turned round",
    ]
    if state.scatter_mm is not None:
        lines.append(
            f"Its points scatter by {show_both(state.scatter_mm, units)} about the smooth surface through them"
        )
    return tuple(lines)


def of_the_datums(sheet: ScanSheet, units: Units) -> tuple[str, ...]:
    """The lengths between the datums and the hand, a line each."""
    bore, depth = show_both(sheet.bore_diameter_mm, units), show_both(sheet.bore_depth_mm, units)
    lines = [f"Pilot bore {bore}, {depth} deep"]
    reads = (("Hypoid offset", sheet.offset_mm), ("End face to the ring's centre line", sheet.end_face_mm))
    lines += [f"{name} {_give_or_take(read, units)}" for name, read in reads if read is not None]
    if sheet.support_beyond_mm is None:
        lines.append("Pinion support's face: not in the scan; no answer rests on it")
    else:
        lines.append(f"Pinion support's face to the end face {_give_or_take(sheet.support_beyond_mm, units)}")
    if sheet.support_mm is not None:
        lines.append(f"Pinion support's face to the ring's centre line {_give_or_take(sheet.support_mm, units)}")
    return (*lines, f"Hand: {of_the_hand(sheet)}")


def of_the_hand(sheet: ScanSheet) -> str:
    """The hand of the axle as the scan shows it, and by what."""
    if sheet.hand is None:
        return "does not show in the scan"
    return f"pinion {sheet.hand} the ring's centre line, by {sheet.told_by}"


def _give_or_take(read: tuple[float, float], units: Units) -> str:
    return f"{show_both(read[0], units)}, give or take {show_both(read[1], units, rounding='up')}"
