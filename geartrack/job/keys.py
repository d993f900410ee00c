"""Every key of a job file, how it is typed and what it means: comments of a new file, hints in messages."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import NamedTuple


class Key(NamedTuple):
    """An example as it stands in a file, and the meaning in a builder's words."""

    example: str
    means: str


_TOP = {
    "name": Key('"8/39 in the spare case"', "what to call this job"),
    "note": Key('"customer\'s own gears"', "anything worth keeping with it"),
    "units": Key('"in"', 'which unit stands first in what is shown: "in" or "mm"'),
    "default_unit": Key('"mm"', 'unit of lengths typed as bare numbers in this file: "in" or "mm"'),
}
_AXLE = {
    "name": Key('"my axle"', "what to call the axle"),
    "ring_diameter": Key('"9 in"', "outer pitch diameter of the ring"),
    "offset": Key('"2.25 in"', "hypoid offset: pinion's centre line to the ring's; 0 mm for a bevel set"),
    "hand": Key(
        '"below"', 'pinion "below" or "above" the ring\'s centre line, seen from the teeth with the pinion right'
    ),
    "shaft_angle": Key('"90 deg"', "only 90 degrees is in scope"),
    "pinion_stub_diameter": Key('"28 mm"', "the pinion's stub in the pilot bearing"),
    "carrier_flange_height": Key('"60 mm"', "carrier ring flange to the pinion's centre line"),
    "ring_spacer": Key('"0 mm"', "spacer between ring and carrier ring flange"),
    "adjuster_travel": Key('"0.030 in"', "how far the adjusters may have moved between the old set and this one"),
}
_GEARS = {
    "name": Key('"my gear set"', "what to call the gear set"),
    "teeth": Key('"8/39"', "pinion and ring teeth"),
    "kind": Key('"hypoid"', '"hypoid", "spiral bevel" or "straight bevel"; by the offset if left out'),
    "face_width": Key('"37 mm"', "length of the ring's teeth"),
    "pinion_spiral": Key('"50 deg"', "the pinion's mean spiral angle"),
    "cutter_radius": Key('"95 mm"', "radius of the cutter head"),
    "depth_factor": Key("1.9", "working depth over the mean normal module"),
    "addendum_factor": Key("0.17", "the ring's share of the working depth"),
    "clearance_factor": Key("0.125", "tip clearance over working depth"),
    "taper": Key('"standard"', 'how the teeth taper: "standard", "duplex" or "uniform"'),
    "set": Key('"standard"', '"thick" or "thin" if made for the other carrier ring flange'),
    "set_thickness": Key('"0.4 in"', "how much thicker or thinner than standard"),
    "made_for_flange_height": Key('"60 mm"', "carrier ring flange height the set is made for"),
    "toe_end_angle": Key('"0 deg"', "lean of the toe end against square to the teeth"),
    "toe_chamfer": Key('"1 mm"', "chamfer at the toe end of the tips"),
    "tip_chamfer": Key('"0.5 mm"', "chamfer along the tips"),
}
_MEASURED = {
    "toe_height": Key(
        '{ value = "34.2 mm", how = "depth micrometer" }', "back face on a flat plate: up to the toe tip"
    ),
    "heel_height": Key('{ value = "30.5 mm", how = "depth micrometer" }', "the same at the heel tip"),
    "outside_diameter": Key('{ value = "241.0 mm", how = "caliper" }', "over the heel"),
    "toe_inside_diameter": Key('{ value = "168.0 mm", how = "caliper" }', "across the toe tips"),
    "pinion_toe_root_diameter": Key('{ value = "39.5 mm", how = "caliper" }', "across the tooth roots at the toe"),
    "pinion_heel_root_diameter": Key('{ value = "55.0 mm", how = "caliper" }', "across the tooth roots at the heel"),
    "back_face": Key('{ value = "58.0 mm", give_or_take = "0.1 mm" }', "ring's back face to the pinion's centre line"),
    "back_face_from": Key('"this set"', 'read with "this set" at final backlash, or with the "old set"'),
    "old_flange_height": Key('"60 mm"', "carrier ring flange height the old set was made for"),
    "old_ring_spacer": Key('"0 mm"', "spacer under the old ring"),
}
_CASE = {
    "name": Key('"spare case"', "what to call the case"),
    "mark": Key('"A-1"', "mark or number on the casting: the answer is for this case only"),
    "material": Key('"not known"', '"nodular", "grey", "aluminium" or "not known"'),
    "cracked": Key("false", "a crack at boss, web or saddle"),
    "welded": Key("false", "a weld at boss, web or saddle"),
    "ground_before": Key("false", "the boss was ground before"),
    "wall_in_old_scallop": Key('"6 mm"', "the wall where it was ground before"),
    "bore": Key('"good"', 'the pilot bore: "good", "loose", "oval", "spun", "sleeved" or "opened"'),
    "bore_put_right": Key("false", "a loose, oval or spun bore has been put right"),
    "measured": Key('"this case"', 'the boss was measured on "this case" or "another case"'),
    "minimum_wall": Key('"5 mm"', "least wall to leave round the pilot bearing; yours to decide"),
    "makers_minimum_wall": Key('"not known"', 'the maker\'s least wall, or "not known" once looked for'),
    "outside_off_centre": Key('"0 mm +/- 0.75 mm"', "how far the boss's outside sits off the bore's centre"),
    "outside_size": Key('"0 mm +/- 0.5 mm"', "how far the boss's outside is over size"),
    "bore_off_axis": Key('"0 mm +/- 0.03 mm"', "how far the pilot bore sits off the pinion's centre line"),
}
_BOSS = {
    "end_face": Key('{ value = "50 mm", how = "caliper" }', "pinion-side end face to the ring's centre line"),
    "bore_diameter": Key('{ value = "45 mm", how = "caliper" }', "pilot bore"),
    "bore_depth": Key('"20 mm"', "how deep the bore runs in from the pinion-side end"),
    "seat_from": Key('"1 mm"', "where the bearing's outer ring bears: from here in"),
    "seat_to": Key('"18 mm"', "to here, chamfers left out"),
    "edge_break": Key('"1 mm"', "break or radius of the edge at the pinion-side end"),
    "parts": Key(
        '[{ kind = "cylinder", diameter = "54 mm", from = "0 mm", to = "22 mm" }]',
        "what the boss is made of: cylinder, cone, pad, rib, fillet, cut",
    ),
    "stations": Key('"boss.csv"', "or a table of readings round the boss, in a file"),
    "length": Key('"27 mm"', "length of a boss given by a table or a scan; the bore's depth or as seen if left out"),
    "stations_give": Key('"radius"', 'what that table gives: "radius" or "wall"'),
    "scan": Key('"boss.stl"', "or a scan of the boss or the whole case: STL, PLY, OBJ or 3MF"),
    "scan_unit": Key('"mm"', 'what the scan\'s numbers are: "mm", "in" or "m"; by its size if left out'),
    "scan_picks": Key('"picks.csv"', "points picked on the scan, for what is not found in it"),
    "trace": Key(
        '{ end_view = "boss-end.dxf", seen_from = "pinion-nut end", twelve_oclock = "up" }',
        "or its outline traced or drawn: an end view, a side view or both, DXF or SVG",
    ),
}
_TARGET = {
    "gap": Key('"0.020 in"', "gap wanted at set-up (common practice, no source)"),
    "allowance": Key('"0.005 in"', "how much past the target the grinding may go"),
    "confidence": Key("97.5", "chance, in percent, that the cut to hold it gives the gap wanted: 50 to 99.9"),
}
_RUNNING = {
    "backlash_now": Key('"0.010 in"', "backlash while measuring"),
    "backlash_final": Key('"0.008 in"', "backlash it will run at"),
    "runout": Key('"0.003 in"', "back face, total reading"),
    "radial_runout": Key('"0.002 in"', "the ring's outside, total reading"),
    "pinion_moved": Key(
        '"0.003 in +/- 0.001 in"', "pinion goes so much deeper, toward the ring's centre line, after these readings"
    ),
    "deflection": Key('"0.004 in"', "ring toward the boss under load"),
    "heat": Key('"0.001 in"', "gap lost warm"),
    "settling": Key('"0.001 in"', "gap lost as bearings settle"),
    "drive": Key(
        '["0 in", "0 in", "0.003 in"]',
        "or the ring's way under drive: toward the pinion's head, to the pinion's side, away from it",
    ),
    "coast": Key('["0 in", "0 in", "-0.002 in"]', "and coasting"),
}
_TURNING = {
    "name": Key('"ring bolts"', "another body that turns with the ring"),
    "section": Key(
        '[["60 mm", "70 mm"], ["80 mm", "70 mm"], ["80 mm", "80 mm"]]', "corners: out from the ring's axis, in"
    ),
}
_SHOP = {
    "name": Key('"my shop"', "for the head of the quote"),
    "currency": Key('"USD"', "shown with every sum"),
    "rate": Key("110", "an hour's labour; a figure, or [low, likely, high]"),
    "consumables": Key("25", "burrs, dye, solvent"),
    "crack_check_fee": Key("60", "sent out, each"),
    "minimum_hours": Key("1.0", "least time charged"),
    "removal_g_min": Key("[1.0, 2.0, 4.5]", "grams of metal that you take off by hand in a minute"),
    "hours": Key("{ fit = 0.3, blend = [0.1, 0.2, 0.3] }", "your own hours, by line of the quote"),
    "sublets": Key('[{ name = "Hot tank", fee = 35, when = "if ground" }]', "work given out: always, or if ground"),
    "arrives": Key('"bare case"', 'what comes through the door: "bare case" or "assembled"'),
    "tax_percent": Key("8.25", "added last"),
    "tax_name": Key('"Sales tax"', "what the tax is called"),
    "round_to": Key("1", "totals go up to the next multiple of this"),
    "valid_days": Key("30", "how long a quote holds"),
    "if_found": Key('{ grind = "call me", late = "no" }', "the customer's answers: yes, no or call me"),
    "terms": Key('{ valid = "Holds for two weeks." }', "terms in your own words; see data/shop.toml of the demo"),
}
_OLD_GEARS = {
    "teeth": Key('"9/35"', "teeth of the set that was in the axle, for readings taken with it"),
    "face_width": Key('"37 mm"', "length of its ring's teeth"),
    "pinion_spiral": Key('"50 deg"', "its pinion's mean spiral angle"),
    "toe_height": Key('{ value = "30.1 mm", how = "depth micrometer" }', "its ring's back face up to the toe tip"),
}
_CORRELATED = {
    "first": Key('"gears.measured.toe_height"', "two inputs that err together, as check --inputs names them"),
    "second": Key('"gears.measured.heel_height"', "the other one"),
    "by": Key("0.5", "how much so: from -1 to 1"),
}
_SETUP = {
    "spacer": Key('"solid"', 'between the pinion bearings: "solid" with shims, or a "crush" sleeve'),
    "bearings": Key('"new"', 'the pinion bearings that go in: "new" or "used"'),
    "target": Key('["14 lb-in", "19 lb-in"]', "turning torque by the maker's specification for these bearings"),
    "target_seal": Key('"out"', 'that specification is with the pinion seal "in" or "out"'),
    "target_from": Key('"maker\'s manual, page 5-12"', "where that specification stands"),
    "shims_read_with": Key('"micrometer"', "the tool that all shims here were read with"),
    "shims": Key(
        '[{ value = "0.0102 in", how = "micrometer" }]', "shims on hand, each measured, with those in the pinion now"
    ),
    "readings": Key(
        '[{ torque = "25 lb-in", bearings = "new", seal = "out" }]', "turning torque as read, seal in and seal out"
    ),
    "stacks": Key(
        '[{ shims = [{ value = "0.018 in", how = "micrometer" }], torque = "0 lb-in", seal = "out" }]',
        "shim stacks tried and the torque found with each",
    ),
    "crush": Key('[{ torque = "9 lb-in", seal = "out" }]', "torque after each pull on the nut over a crush sleeve"),
}
SETUP_KEYS: Mapping[str, Key] = MappingProxyType(
    {
        "torque": Key('"25 lb-in"', "turning torque, rolling steadily: lb-in or N.m"),
        "seal": Key('"out"', 'with the pinion seal "in" or "out"'),
        "bearings": Key('"new"', 'with "new" or "used" bearings'),
        "stage": Key('"after"', '"before" or "after" the work'),
        "shims": Key('[{ value = "0.010 in", how = "micrometer" }]', "every shim of the stack, each measured"),
        "play": Key('"0.001 in"', "how far the pinion moved end to end, where nothing was preloaded"),
        "sleeve": Key("1", "which sleeve: the first is 1, a new one 2"),
        "date": Key('"2026-11-25"', "the day it was read"),
        "by": Key('"JK"', "initials of who read it"),
    }
)
TRACE_KEYS: Mapping[str, Key] = MappingProxyType(
    {
        "end_view": Key('"boss-end.dxf"', "the boss as seen along the bore: its outline and the pilot bore's circle"),
        "end_layer": Key('"BOSS"', "the layer or group that holds the outline, where the drawing has others too"),
        "end_bore": Key('"BORE"', "the layer or group that holds the pilot bore's circle"),
        "end_scale": Key('"bore"', 'what is known in the drawing: "bore", or a layer\'s line, "SCALE = 50 mm"'),
        "seen_from": Key('"pinion-nut end"', 'looking from the "pinion-nut end" or from the "other end"'),
        "twelve_oclock": Key('"up"', "where the ring gear lies on the drawing: up, right, down, left, or degrees"),
        "side_view": Key('"boss-side.svg"', "the boss as seen across the bore"),
        "side_layer": Key('"BOSS"', "the layer or group that holds its outline"),
        "side_axis": Key('"AXIS"', "the layer or group that holds the bore's centre line, one straight line"),
        "side_scale": Key('"SCALE = 50 mm"', "a layer whose one line is so long; the drawing's own unit if left out"),
        "pinion_side": Key('"left"', "where the pinion-side end lies on the drawing: left, right, up or down"),
        "side_shows": Key('"profile"', 'a "profile" that holds all round, or the "outline" seen from one side'),
        "side_up": Key('"0 deg"', "clock angle of what lies above the centre line (right of it, if that is upright)"),
        "give_or_take": Key('"0.015 in"', "how well the lines were traced"),
    }
)
PART_KEYS: Mapping[str, Key] = MappingProxyType(
    {
        "kind": Key('"cylinder"', "cylinder, cone, pad, rib, fillet or cut"),
        "from": Key('"0 mm"', "in from the pinion-side end: starts here"),
        "to": Key('"22 mm"', "and ends here"),
        "diameter": Key('"54 mm"', "outside diameter"),
        "diameter_from": Key('"54 mm"', "outside diameter where it starts"),
        "diameter_to": Key('"60 mm"', "outside diameter where it ends"),
        "clock": Key('"30 deg"', "seen from the pinion-nut end, 0 straight at the ring gear, clockwise"),
        "distance": Key('"26 mm"', "bore's centre line to the flat"),
        "width": Key('"10 mm"', "across"),
        "reach": Key('"40 mm"', "bore's centre line to its outer edge"),
        "radius": Key('"3 mm"', "of the rounding"),
        "at": Key('"10 mm"', "in from the pinion-side end: where the step is"),
    }
)
READING_KEYS: Mapping[str, Key] = MappingProxyType(
    {
        "kind": Key('"gap"', '"gap", "hits before backlash closes", "wind-over", "bar to toe" or "wall"'),
        "gap": Key(
            '{ value = "0.031 in", how = "feeler" }',
            "tightest gap over a full turn, or at a clock angle",
        ),
        "backlash_at_touch": Key(
            '{ value = "0.012 in", how = "dial" }', "backlash where the ring just touches the boss"
        ),
        "travel": Key(
            '{ value = "0.040 in", how = "dial" }', "carrier wound sideways until the ring touches, pinion out"
        ),
        "notches": Key("6", "or the notches that an adjuster was turned"),
        "thread_pitch": Key('"1.5 mm"', "the adjuster moves this far in a turn"),
        "notches_per_turn": Key("24", "notches all round the adjuster"),
        "bar_diameter": Key('{ value = "38 mm", how = "micrometer" }', "bar through pilot bore and support bore"),
        "gauge": Key('{ value = "0.210 in", how = "telescoping gauge" }', "from the bar up to the toe of the teeth"),
        "wall": Key('{ value = "0.310 in", how = "micrometer" }', "pilot bore to the boss's outside, on this case"),
        "station": Key('"8 mm"', "where gap or wall was read, in from the pinion-side end; the least if left out"),
        "clock": Key(
            '"32 deg"', "seen from the pinion-nut end, 0 straight at the ring, or o'clock; all round if left out"
        ),
        "backlash": Key('"0.008 in"', "backlash while this was read"),
        "caps_torqued": Key("true", "caps torqued while this was read"),
        "final_preload": Key("true", "side bearings at final preload while this was read"),
        "bearings": Key('"final"', '"final", or "set-up" for ground-out bearings'),
        "gears": Key('"this set"', 'read with "this set" fitted, or with the "old set" (see [old_gears])'),
        "date": Key('"2026-11-25"', "the day it was read"),
        "by": Key('"JK"', "initials of who read it"),
    }
)


def _under(table: str, keys: Mapping[str, Key]) -> dict[str, Key]:
    return {f"{table}.{name}": key for name, key in keys.items()}


KEYS: Mapping[str, Key] = MappingProxyType(
    _TOP
    | _under("axle", _AXLE)
    | _under("gears", _GEARS)
    | _under("gears.measured", _MEASURED)
    | _under("case", _CASE)
    | _under("boss", _BOSS)
    | _under("target", _TARGET)
    | _under("running", _RUNNING)
    | _under("turning", _TURNING)
    | _under("old_gears", _OLD_GEARS)
    | _under("correlated", _CORRELATED)
    | _under("setup", _SETUP)
    | _under("shop", _SHOP)
)


def example_of(path: tuple[str | int, ...]) -> str:
    """How a key is typed, as `name = example`.

    >>> example_of(("axle", "offset"))
    'offset = "2.25 in"'
    """
    names = [step for step in path if isinstance(step, str)]
    if names[:2] == ["boss", "parts"] and names[2:]:
        key = PART_KEYS.get(names[-1])
    elif names[:2] == ["boss", "trace"] and names[2:]:
        key = TRACE_KEYS.get(names[-1])
    elif names[:1] == ["setup"] and names[2:]:
        key = SETUP_KEYS.get(names[-1])
    else:
        key = READING_KEYS.get(names[-1]) if names[:1] == ["readings"] else KEYS.get(".".join(names))
    return f"{names[-1]} = {key.example}" if key else ""
