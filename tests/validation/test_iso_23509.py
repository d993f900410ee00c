"""ISO 23509:2016, Bevel and hypoid gear geometry, Annex F: the standard's own worked examples.

Figures: shared/iso23509_annex_f.toml (quoted, see there; the standard itself was not opened). Every printed value of
F.2 (spiral bevel 14/39) and F.3 (hypoid 13/42, method 1) that has a counterpart here is compared. F.4 and F.5 reach
their pitch cones by other methods; there the printed cones must meet our invariants, and our blanks built on them must
be the printed ones.

Tolerance: the values are printed to three decimals and formed from values rounded likewise, so one and a half units
of the last digit.
"""

from __future__ import annotations

import math
import tomllib
from pathlib import Path

import pytest

from geartrack.gearset.depth import Taper, ToothDepth, addendum_factor, duplex_sum, mean_depth
from geartrack.gearset.pinion import pinion_blank, pinion_cones, pinion_face_split
from geartrack.gearset.pitch import PitchCones, pitch_cones
from geartrack.gearset.ring import end_line_on_cone, face_split, ring_blank, ring_corners, root_cone, tip_cone
from geartrack.gearset.teeth import ToothPair

SHARED = Path(__file__).parents[2] / "shared"
TABLES = tomllib.loads((SHARED / "iso23509_annex_f.toml").read_text())
F2, F3, F4, F5 = "F2_spiral_bevel_14_39", "F3_hypoid_13_42", "F4_hypoid_9_34", "F5_hypoid_12_49"
PRINTED = 0.0015
PAIRS = {name: ToothPair(t["inputs"]["pinion_teeth"], t["inputs"]["ring_teeth"]) for name, t in TABLES.items()}


def sizes(name: str) -> dict[str, float]:
    given = TABLES[name]["inputs"]
    return {"ring_diameter_mm": given["ring_outer_pitch_diameter"], "face_width_mm": given["face_width"]}


def cones_of(name: str) -> PitchCones:
    """With the standard's own stop (within 1 % of the cutter radius): its printed digits come from there."""
    given = TABLES[name]["inputs"]
    return pitch_cones(
        PAIRS[name],
        **sizes(name),
        offset_mm=given["offset"],
        pinion_spiral=math.radians(given["spiral"]),
        cutter_radius_mm=given["cutter_radius"],
        stop="standard",
    )


def depth_of(name: str, cones: PitchCones) -> ToothDepth:
    given = TABLES[name]["inputs"]
    factors = {k: given[k] for k in ("depth_factor", "addendum_factor", "clearance_factor")}
    if name == F2:
        # The standard goes on with the profile shift 0.505, rounded from 0.50526; its printed ham2 shows it.
        factors["addendum_factor"] = (1 - 0.505) / 2
    taken = mean_depth(cones, PAIRS[name], ring_diameter_mm=1.0, cutter_radius_mm=1.0, **factors)
    return ToothDepth(
        taken.mean_normal_module_mm,
        taken.working_mm,
        taken.clearance_mm,
        taken.ring_addendum_mm,
        math.radians(given["ring_addendum_angle"]),
        math.radians(given["ring_dedendum_angle"]),
    )


def ours(name: str) -> dict[str, float]:
    cones = cones_of(name)
    depth, size = depth_of(name, cones), sizes(name)
    ring = ring_blank(cones, depth, **size)
    pinion = pinion_blank(cones, depth, PAIRS[name], **size)
    corners = ring_corners(cones, depth, **size)
    outside, inside = face_split(cones, **size)
    pinion_out, pinion_in = pinion_face_split(cones, depth, PAIRS[name], **size)
    outer, deg = cones.ring_cone_distance_mm + outside, math.degrees
    return {
        "delta1": deg(cones.pinion_angle),
        "delta2": deg(cones.ring_angle),
        "Rm1": cones.pinion_cone_distance_mm,
        "Rm2": cones.ring_cone_distance_mm,
        "beta_m1": deg(cones.pinion_spiral),
        "beta_m2": deg(cones.ring_spiral),
        "c_be2": outside / size["face_width_mm"],
        "dm1": 2 * cones.pinion_mean_radius_mm,
        "dm2": 2 * cones.ring_mean_radius_mm,
        "zeta_m": deg(cones.offset_angle_axial_plane),
        "zeta_mp": deg(cones.offset_angle_pitch_plane),
        "m_mn": depth.mean_normal_module_mm,
        "alpha_lim": deg(cones.limit_pressure_angle),
        "Re2": outer,
        "Ri2": outer - size["face_width_mm"],
        "di2": 2 * (outer - size["face_width_mm"]) * math.sin(cones.ring_angle),
        "be2": outside,
        "bi2": inside,
        "tzm1": cones.mean_point_x_mm,
        "tzm2": cones.mean_point_height_mm,
        "tz1": cones.pinion_apex_beyond_mm,
        "tz2": cones.ring_apex_beyond_mm,
        "hmw": depth.working_mm,
        "ham1": depth.pinion_addendum_mm,
        "ham2": depth.ring_addendum_mm,
        "hfm1": depth.pinion_dedendum_mm,
        "hfm2": depth.ring_dedendum_mm,
        "c": depth.clearance_mm,
        "hm": depth.whole_mm,
        "delta_a1": deg(pinion.tip_angle),
        "delta_a2": deg(ring.tip_angle),
        "delta_f1": deg(pinion.root_angle),
        "delta_f2": deg(ring.root_angle),
        "tzF1": -pinion.tip_apex_x_mm,
        "tzR1": -pinion.root_apex_x_mm,
        "tzF2": -ring.tip_apex_z_mm,
        "tzR2": -ring.root_apex_z_mm,
        "zeta_R": deg(contact_angle(cones, ring.root_angle)),
        "zeta_o": deg(contact_angle(cones, ring.tip_angle)),
        "b1": pinion.face_width_mm,
        "be1": pinion_out,
        "bi1": pinion_in,
        "he2": ring.whole_depth_heel_mm,
        "hi2": ring.whole_depth_toe_mm,
        "dae1": 2 * pinion.head_radius_mm,
        "dai1": 2 * pinion.toe_radius_mm,
        "dfe1": 2 * pinion.heel_root_radius_mm,
        "dfi1": 2 * pinion.toe_root_radius_mm,
        "dae2": 2 * ring.heel_radius_mm,
        "dai2": 2 * ring.toe_radius_mm,
        "dfe2": 2 * float(corners[3, 0]),
        "dfi2": 2 * float(corners[7, 0]),
        "txo1": pinion.heel_position_mm,
        "txi1": pinion.toe_position_mm,
        "txo2": ring.heel_tip_height_mm,
        "txi2": ring.toe_tip_height_mm,
    }


def contact_angle(cones: PitchCones, ring_angle: float) -> float:
    """Angle about the ring axis of the normal that crosses both axes; from the standard's own relation, 90 deg
    shafts."""
    reach = cones.ring_cone_distance_mm * math.cos(cones.ring_angle - ring_angle)
    reach -= cones.ring_apex_beyond_mm * math.cos(ring_angle)
    return math.asin(cones.offset_mm * math.sin(ring_angle) / reach)


@pytest.mark.parametrize("symbol", TABLES[F2]["outputs"])
def test_sample_f2_spiral_bevel(symbol):
    assert ours(F2)[symbol] == pytest.approx(TABLES[F2]["outputs"][symbol], abs=PRINTED)


@pytest.mark.parametrize("symbol", TABLES[F3]["outputs"])
def test_sample_f3_hypoid(symbol):
    assert ours(F3)[symbol] == pytest.approx(TABLES[F3]["outputs"][symbol], abs=PRINTED)


def test_the_exact_root_is_as_near_to_the_print():
    """Solved to the cutter radius exactly the mean cone distances move by 0.003 mm at most: the 1 % stop hardly matters
    here, because the standard's own steps had come to 0.005 % of the cutter."""
    given = TABLES[F3]["inputs"]
    exact = pitch_cones(
        PAIRS[F3],
        **sizes(F3),
        offset_mm=given["offset"],
        pinion_spiral=math.radians(given["spiral"]),
        cutter_radius_mm=given["cutter_radius"],
    )
    assert exact.pinion_cone_distance_mm == pytest.approx(TABLES[F3]["outputs"]["Rm1"], abs=0.003)
    assert exact.ring_cone_distance_mm == pytest.approx(TABLES[F3]["outputs"]["Rm2"], abs=0.003)
    assert exact.mean_point_height_mm == pytest.approx(TABLES[F3]["outputs"]["tzm2"], abs=0.001)


def beside_tip_cone(name: str, values: dict[str, float], diameter: str, position: str) -> float:
    """How much larger a crown's diameter is than the exact tip cone's at the same position."""
    cones = cones_of(name)
    (angle, apex), _ = pinion_cones(cones, depth_of(name, cones))
    return float(values[diameter] - 2 * (values[position] - apex) * math.tan(angle))


@pytest.mark.parametrize(("name", "mismatch"), [(F2, None), (F3, 0.0093)])
def test_the_crown_stands_beside_the_tip_cone_as_in_the_standard(name, mismatch):
    """The printed crown comes from the mean addendum, the printed tip cone runs c clear of the ring's roots; the two
    do not quite meet, in the standard's own figures nor in ours. Without offset, closed form: the crown stands
    c (1/cos(theta_f2) - 1) high along the pitch cone's normal; with offset 0.0093 mm is recorded from ourselves."""
    out, found = TABLES[name]["outputs"], ours(name)
    if mismatch is None:
        theta = math.radians(TABLES[name]["inputs"]["ring_dedendum_angle"])
        mismatch = 2 * out["c"] * (1 / math.cos(theta) - 1) * math.cos(theta) / math.cos(math.radians(out["delta_a1"]))
    for ends in (("dae1", "txo1"), ("dai1", "txi1")):
        assert beside_tip_cone(name, found, *ends) == pytest.approx(mismatch, abs=0.001)
        assert beside_tip_cone(name, out, *ends) == pytest.approx(mismatch, abs=0.002)


def test_the_bevel_addendum_factor_is_the_one_of_f2():
    """Printed input c_ham = 0.24737 for 14/39: 0.210 + 0.290/u^2."""
    assert addendum_factor(PAIRS[F2], hypoid=False) == pytest.approx(TABLES[F2]["inputs"]["addendum_factor"], abs=6e-6)


def test_duplex_taper_gives_the_printed_angles_of_f2():
    """Printed inputs theta_a2 = 2.1342 and theta_f2 = 6.4934: the duplex sum, split as the working depth."""
    given = TABLES[F2]["inputs"]
    cones = cones_of(F2)
    total = duplex_sum(
        cones, PAIRS[F2], sizes(F2)["ring_diameter_mm"], given["cutter_radius"], math.radians(given["pressure_angle"])
    )
    wanted = given["ring_addendum_angle"] + given["ring_dedendum_angle"]
    assert math.degrees(total) == pytest.approx(wanted, abs=0.0002)
    depth = mean_depth(
        cones,
        PAIRS[F2],
        ring_diameter_mm=sizes(F2)["ring_diameter_mm"],
        cutter_radius_mm=given["cutter_radius"],
        depth_factor=2.0,
        addendum_factor=given["addendum_factor"],
        taper=Taper.DUPLEX,
    )
    assert math.degrees(depth.ring_addendum_angle) == pytest.approx(given["ring_addendum_angle"], abs=0.0001)
    assert math.degrees(depth.ring_dedendum_angle) == pytest.approx(given["ring_dedendum_angle"], abs=0.0001)


def printed_cones(name: str) -> PitchCones:
    """The printed pitch cones of F.4 and F.5 (uniform depth, so tip angle = pitch angle)."""
    out, rad = TABLES[name]["outputs"], math.radians
    offset = TABLES[name]["inputs"]["offset"]
    e1, d2 = rad(out["zeta_m"]), rad(out["delta_a2"])
    eta = math.asin((offset - out["dm2"] / 2 * math.sin(e1)) / (out["dm1"] / 2))
    return PitchCones(
        offset,
        rad(out["delta_a1"]),
        d2,
        out["dm1"] / 2,
        out["dm2"] / 2,
        out["Rm1"],
        out["Rm2"],
        rad(out["beta_m1"]),
        rad(out["beta_m2"]),
        rad(out["zeta_mp"]),
        e1,
        eta,
    )


@pytest.mark.parametrize("name", [F4, F5])
def test_printed_cones_of_other_methods_meet_the_invariants(name):
    """DESIGN 2.2 on printed figures; angles are printed to 0.001 deg (1.7e-5 rad), a few of them add up."""
    p, out, pair = printed_cones(name), TABLES[name]["outputs"], PAIRS[name]
    assert math.sin(p.pinion_angle) == pytest.approx(
        math.cos(p.ring_angle) * math.cos(p.offset_angle_axial_plane), abs=5e-5
    )
    assert math.cos(p.pinion_angle) * math.cos(p.eta) == pytest.approx(math.sin(p.ring_angle), abs=5e-5)
    assert math.cos(p.pinion_angle) * math.sin(p.eta) == pytest.approx(
        math.cos(p.ring_angle) * math.sin(p.offset_angle_axial_plane), abs=5e-5
    )
    assert math.tan(p.pinion_angle) * math.tan(p.ring_angle) == pytest.approx(
        math.cos(p.offset_angle_pitch_plane), abs=1e-4
    )
    # Spiral angles of F.4 differ by 23.981 where the printed offset angle is 23.969: the standard stopped iterating
    # there.
    assert out["beta_m1"] - out["beta_m2"] == pytest.approx(out["zeta_mp"], abs=0.013)
    rolled = p.pinion_mean_radius_mm * math.cos(p.pinion_spiral) / (p.ring_mean_radius_mm * math.cos(p.ring_spiral))
    assert rolled * pair.ratio == pytest.approx(1.0, abs=3e-4)
    assert p.mean_point_height_mm == pytest.approx(out["tzm2"], abs=0.003)
    assert p.mean_point_x_mm == pytest.approx(out["tzm1"], abs=0.003)
    # Apexes: a rounded cone distance times a rounded angle (Rm 181 mm x 0.0005 deg = 0.0016 mm), twice; Rm1 of F.5 is
    # printed to 0.01 only (159.10), the others to 0.001.
    assert p.ring_apex_beyond_mm == pytest.approx(out["tz2"], abs=0.006)
    assert p.pinion_apex_beyond_mm == pytest.approx(out["tz1"], abs=0.006 if name == F4 else 0.012)
    assert math.degrees(p.limit_pressure_angle) == pytest.approx(out["alpha_lim"], abs=0.004)


@pytest.mark.parametrize("name", [F4, F5])
def test_blanks_on_the_printed_cones_are_the_printed_blanks(name):
    p, out, given = printed_cones(name), TABLES[name]["outputs"], TABLES[name]["inputs"]
    depth = depth_of(name, p)
    size = {"ring_diameter_mm": 2 * out["Re2"] * math.sin(p.ring_angle), "face_width_mm": given["face_width"]}
    ring = ring_blank(p, depth, **size)
    corners = ring_corners(p, depth, **size)
    found = {
        "m_mn": depth.mean_normal_module_mm,
        "hmw": depth.working_mm,
        "ham2": depth.ring_addendum_mm,
        "hfm2": depth.ring_dedendum_mm,
        "c": depth.clearance_mm,
        "dae2": 2 * ring.heel_radius_mm,
        "dai2": 2 * ring.toe_radius_mm,
        "dfe2": 2 * float(corners[3, 0]),
        "txo2": ring.heel_tip_height_mm,
        "txi2": ring.toe_tip_height_mm,
    }
    tip, root = pinion_cones(p, depth)
    found["delta_a1"], found["delta_f1"] = math.degrees(tip[0]), math.degrees(root[0])
    mean = p.pinion_mean_radius_mm, p.mean_point_x_mm
    for end, along in (("o", out["be1"]), ("i", -out["bi1"])):
        radius, position = end_line_on_cone(mean, p.pinion_angle, along, 0.0, tip)
        found["dae1" if end == "o" else "dai1"] = 2 * radius
        found[f"tx{end}1"] = position
    found["dfi1"] = 2 * end_line_on_cone(mean, p.pinion_angle, -out["bi1"], 0.0, root)[0]
    for symbol, value in found.items():
        # Positions and diameters carry the rounding of angles over the cone distance, as above.
        assert value == pytest.approx(out[symbol], abs=0.006), symbol


def test_uniform_depth_keeps_the_pitch_angles():
    """Closed form on F.4: without taper, tip, pitch and root cones are parallel on ring and pinion."""
    p = printed_cones(F4)
    depth = depth_of(F4, p)
    assert tip_cone(p, depth)[0] == root_cone(p, depth)[0] == p.ring_angle
    tip, root = pinion_cones(p, depth)
    assert tip[0] == pytest.approx(root[0])
