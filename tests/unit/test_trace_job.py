"""A job's trace: its keys, what they need of each other, and bad drawings through the command, in bounded memory."""

from __future__ import annotations

import json
import math
import subprocess
import sys

import pytest
from demo import demo_job
from screen_words import forbidden
from trace_drawings import block, circle, dxf, insert, saved, svg

from geartrack.datafiles import data_path
from geartrack.errors import InputError
from geartrack.job import job_from_dict, read_job, with_changes, write_job

END = 'end_view = "end.dxf", seen_from = "pinion-nut end", twelve_oclock = "up"'
SIDE = 'side_view = "side.svg", side_axis = "AXIS", pinion_side = "left", side_shows = "profile"'
PROFILE = svg('<g id="AXIS"><path d="M 0 60 H 99"/></g>', '<path d="M 40 60 V 32.8 H 62"/>')


def text_of(trace, extra=""):
    """The demo's job with another trace, and more lines under [boss]."""
    return f"""
format = 1
name = "traced"
[axle]
ring_diameter = "240 mm"
offset = "54 mm"
hand = "below"
[gears]
teeth = "7/36"
[boss]
end_face = "50 mm"
bore_diameter = "38 mm"
bore_depth = "20 mm"
trace = {{ {trace} }}
{extra}
"""


def job_in(folder, trace, extra="", end=None, side=PROFILE):
    """The job's file in a folder with its drawings."""
    saved(folder, "end.dxf", dxf(circle(27.2), circle(19)) if end is None else end)
    saved(folder, "side.svg", side)
    return saved(folder, "job.toml", text_of(trace, extra))


def test_the_keys_of_a_trace(tmp_path):
    keys = f'{END}, end_layer = "A", end_scale = "SCALE = 2 in", give_or_take = "10 thou", {SIDE}, side_layer = "B"'
    trace = read_job(job_in(tmp_path, keys)).boss.trace
    assert trace.end_view.path == tmp_path.resolve() / "end.dxf"
    assert (trace.twelve_oclock, trace.seen_from, trace.side_shows) == (0.0, "pinion-nut end", "profile")
    assert trace.give_mm == pytest.approx(0.254)
    assert trace.end_scale.length_mm == pytest.approx(50.8)


@pytest.mark.parametrize(
    ("typed", "clockwise"), [("up", 0), ("right", 90), ("down", 180), ("left", -90), ("30 deg", 30), ("-45 deg", -45)]
)
def test_directions_on_a_drawing(tmp_path, typed, clockwise):
    trace = read_job(job_in(tmp_path, END.replace('"up"', f'"{typed}"'))).boss.trace
    assert math.degrees(trace.twelve_oclock) == pytest.approx(clockwise)


def test_a_job_with_a_trace_reads_back_the_same(tmp_path):
    job = demo_job("grind-by-trace")
    path = tmp_path / "written.toml"
    write_job(job, path)
    assert read_job(path) == job
    typed = read_job(job_in(tmp_path, f'{END}, end_scale = "bore", {SIDE}'))
    document = json.loads(json.dumps(typed.model_dump(mode="json", by_alias=True, exclude_none=True)))
    assert job_from_dict(document, tmp_path, "x") == typed


def test_one_key_of_a_borrowed_trace_is_changed():
    job = with_changes(demo_job("grind-by-trace"), {"boss.trace.seen_from": "other end"})
    assert job.boss.trace.seen_from == "other end"
    assert job.boss.trace.end_layer == "BOSS"


def test_a_drawing_that_was_written_anew_is_another(tmp_path):
    path = job_in(tmp_path, END)
    before = read_job(path)
    assert read_job(path) == before
    saved(tmp_path, "end.dxf", dxf(circle(28), circle(19), circle(5)))
    assert read_job(path).boss != before.boss


FAULTS = {
    "no view": ('give_or_take = "0.2 mm"', "", "trace.end_view (line 14): neither an end view nor a side view"),
    "no side seen from": (
        'end_view = "end.dxf", twelve_oclock = "up"',
        "",
        'trace.seen_from (line 14): not given, and the drawing does not say it; seen_from = "pinion-nut end"',
    ),
    "no 12 o'clock": ('end_view = "end.dxf", seen_from = "other end"', "", "trace.twelve_oclock (line 14): not given"),
    "seen from nowhere": (
        END.replace("pinion-nut end", "below"),
        "",
        "(line 14): 'below' is not a choice",
    ),
    "no direction": (
        END.replace('"up"', '"north"'),
        "",
        "'north' is no direction on the drawing; up, right",
    ),
    "no axis": (SIDE.replace('side_axis = "AXIS", ', ""), "", "trace.side_axis (line 14): not given"),
    "no pinion side": (SIDE.replace('pinion_side = "left", ', ""), "", "trace.pinion_side (line 14): not given"),
    "shows nothing": (SIDE.replace(', side_shows = "profile"', ""), "", "trace.side_shows (line 14): not given"),
    "outline alone": (
        SIDE.replace("profile", "outline") + ', side_up = "0 deg"',
        "",
        "trace.side_shows (line 14): an outline from the side alone",
    ),
    "outline without up": (f"{END}, {SIDE.replace('profile', 'outline')}", "", "trace.side_up (line 14): not given"),
    "profile with up": (
        f'{SIDE}, side_up = "0 deg"',
        "",
        "side_up (line 14): given, but the side view is a profile",
    ),
    "key of no view": (f'{END}, side_axis = "AXIS"', "", "trace.side_axis (line 14): given, but no side_view is"),
    "bore from the side": (f'{SIDE}, side_scale = "bore"', "", "a side view shows no bore circle"),
    "scale without length": (f'{END}, end_scale = "SCALE"', "", "'SCALE' is no scale; such as"),
    "scale in nothing": (f'{END}, end_scale = "SCALE = 50"', "", "trace.end_scale (line 14)"),
    "unknown key": (f'{END}, end_layr = "A"', "", "unknown key 'end_layr'; was end_layer meant?"),
    "no file": (END.replace("end.dxf", "gone.dxf"), "", "trace.end_view (line 14): there is no file 'gone.dxf'"),
    "name no text": (END.replace('"end.dxf"', "7"), "", 'such as end_view = "boss-end.dxf"'),
    "edge break": (END, 'edge_break = "1 mm"', "boss.edge_break (line 15): given beside a trace"),
    "length": (SIDE, 'length = "22 mm"', "boss.length (line 15): given beside a side view, which shows it"),
    "and parts": (END, 'stations = "end.dxf"', "both stations and trace"),
}


@pytest.mark.parametrize("name", FAULTS)
def test_a_fault_in_the_keys_is_one_line(tmp_path, name):
    trace, extra, says = FAULTS[name]
    with pytest.raises(InputError) as caught:
        read_job(job_in(tmp_path, trace, extra))
    lines = str(caught.value).splitlines()
    assert len(lines) == 1
    assert says in lines[0]
    assert forbidden(lines[0]) == []


def checked(path, megabytes=1200):
    """`geartrack check` in a process of its own that may not take more memory than this: status, what it says."""
    resource = pytest.importorskip("resource", reason="no such limit on this system")
    limit = megabytes * 1024**2

    def bound():
        resource.setrlimit(resource.RLIMIT_DATA, (limit, limit))

    ran = subprocess.run(
        [sys.executable, "-m", "geartrack", "check", str(path)],
        capture_output=True,
        text=True,
        preexec_fn=bound,
        timeout=60,
        check=False,
    )
    return ran.returncode, ran.stdout, ran.stderr


def laughs():
    """A billion laughs."""
    steps = "".join(f'<!ENTITY l{n} "{"".join(f"&l{n - 1};" for _ in range(10))}">' for n in range(1, 10))
    return svg("<text>&l9;</text>", before=f'<!DOCTYPE svg [<!ENTITY l0 "ha">{steps}]>')


def bomb():
    """Nine blocks, each of nine uses of the next: 387 million circles."""
    deep = [block(f"B{n}", *(insert(f"B{n + 1}") for _ in range(9))) for n in range(9)]
    return dxf(insert("B0"), blocks="".join(deep) + block("B9", circle(5)))


WICKED = {
    "laughs": (SIDE, {"side": laughs()}, "declares entities"),
    "bomb": (END, {"end": bomb()}, "more than 50000 lines, curves and blocks"),
    "empty": (END, {"end": ""}, "end.dxf: is empty"),
    "nothing": (END, {"end": dxf()}, "holds no lines or curves"),
    "lines": (END, {"end": b"0\nLINE\n" * 700_000}, "end.dxf: "),
    "elements": (SIDE, {"side": svg("<g/>" * 1_200_000)}, "side.svg: more than 50000"),
    "numbers": (SIDE, {"side": svg(f'<path d="M0 0{" 1 1" * 1_200_000}"/>')}, "more than 200000 numbers"),
}


@pytest.mark.parametrize("name", WICKED)
def test_a_wicked_drawing_ends_the_check_in_one_line(tmp_path, name):
    trace, drawings, says = WICKED[name]
    status, out, err = checked(job_in(tmp_path, trace, **drawings))
    assert status == 2, err
    assert out == ""
    (message,) = err.strip().splitlines()
    assert says in message


def test_the_check_says_what_the_drawings_rest_on():
    status, out, err = checked(data_path("jobs/grind-by-trace.toml"))
    assert (status, err) == (0, "")
    said = " ".join(out.split())
    assert "larch-end.dxf: one unit is 1 mm, by the bore's circle, 38 mm across; seen from the pinion-nut end, " in said
    assert "12 o'clock up" in said
    assert "larch-side.svg: one unit is 1 mm, by what is drawn on layer scale, 50 mm long; stations start at " in said
    assert "the tracing gives or takes 0.005 in (0.13 mm)" in said


def test_a_trace_in_place_of_a_borrowed_boss_leaves_what_was_its_own(tmp_path):
    """Edge break and length were read of the boss as it stands in the other file, not as it was traced."""
    other = text_of(END).replace("trace = {", "# {").split("[boss]")[1]
    parts = 'edge_break = "1 mm"\nparts = [{ kind = "cylinder", diameter = "54 mm", from = "0 mm", to = "22 mm" }]'
    saved(tmp_path, "case.toml", f"[boss]{other}{parts}\n")
    path = job_in(tmp_path, END)
    text = path.read_text(encoding="utf-8").split("[boss]")[0]
    path.write_text(f'{text}[boss]\nfile = "case.toml"\ntrace = {{ {END} }}\n', encoding="utf-8")
    boss = read_job(path).boss
    assert boss.parts is None
    assert boss.edge_break is None
