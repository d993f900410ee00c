"""What the source keeps to: length, one place for the inch and for figures, docstrings with units, nothing left over.

Each rule is tried on a planted fault first, so that a rule which finds nothing anywhere is noticed.
"""

from pathlib import Path

import pytest
import source_rules as rules

ROOT = Path(__file__).parents[2]
MODULES = sorted((ROOT / "geartrack").rglob("*.py"))
PARTS = ["README.md", "DEVELOPERS.md", "pyproject.toml", ".ci", "geartrack", "data", "notebooks", "tests", "shared"]
KINDS = {".py", ".md", ".toml", ".ipynb", ".csv", ".svg", ".json", ".txt", ""}
TEXTS = [
    path
    for part in (ROOT / name for name in PARTS)
    for path in ([part] if part.is_file() else sorted(part.rglob("*")))
    if path.is_file() and path.suffix in KINDS
]


def name(path):
    return path.relative_to(ROOT).as_posix()


def faults(rule, paths):
    """What the rule finds in each file, by name; files without a fault are left out."""
    found = {name(path): rule(path.read_text(encoding="utf-8")) for path in paths}
    return {path: what for path, what in found.items() if what}


def apart_from(*names):
    """The package's modules but for those named (a folder's name takes its whole folder)."""
    return [path for path in MODULES if not name(path).startswith(tuple(f"geartrack/{n}" for n in names))]


def test_modules_are_short():
    lengths = {name(path): len(path.read_text(encoding="utf-8").splitlines()) for path in MODULES}
    assert {path: n for path, n in lengths.items() if n > 400} == {}
    long = {path: n for path, n in lengths.items() if n > 300}
    assert len(long) <= len(MODULES) / 10, f"more than one module in ten is past 300 lines: {long}"


def test_the_inch_lives_in_units_alone():
    def rule(source):
        return rules.lines_matching(rules.INCH, source)

    assert len(rule("x = 25.4 * y\narea = 645.16\na = 0.0254")) == 3
    assert not rule("x = 125.4 + 25.41 + 0.02541")
    assert faults(rule, apart_from("units.py")) == {}
    assert rule((ROOT / "geartrack" / "units.py").read_text(encoding="utf-8"))


def test_only_draw_imports_matplotlib():
    def rule(source):
        return rules.imports_of("matplotlib", source)

    assert rule("def f():\n    from matplotlib.figure import Figure") == ["2: import of matplotlib.figure"]
    assert faults(rule, apart_from("draw")) == {}


def test_the_library_does_not_print():
    def rule(source):
        return rules.calls_of("print", source)

    assert rule("def f():\n    print(1)") == ["2: print(...)"]
    assert faults(rule, apart_from("cli")) == {}


def test_everything_public_has_a_docstring():
    assert rules.undocumented('"""M."""\nclass A:\n    """A."""\n    def b(self): ...') == ["4: A.b"]
    assert rules.undocumented('"""M."""\ndef _hidden(): ...\n@property\ndef gap_mm(self): ...') == []
    assert faults(rules.undocumented, MODULES) == {}


@pytest.mark.parametrize(
    ("planted", "fault"),
    [
        ('def f(width: float):\n    """Widen it."""', "1: f: width has no unit"),
        ('def f(width: float):\n    """Widen by width [mm]."""', None),
        ('def f(width_mm: float | None):\n    """Widen it."""', None),
        (
            'def f(width_mm: float):\n    """width_mm: how wide [rad]"""',
            "1: f: width_mm is in mm but its docstring says [rad]",
        ),
        ('class A:\n    """A."""\n    width: float', "1: A: width has no unit"),
        ('class A:\n    """Angles in rad."""\n    tip_angle: float', None),
        ('class A:\n    """Angles in rad."""\n    width: float', "1: A: width has no unit"),
        ('class A:\n    """A."""\n    _width: float\n    count: int', None),
    ],
)
def test_a_number_without_its_unit_is_found(planted, fault):
    assert rules.without_unit(planted) == ([fault] if fault else [])


def test_every_public_number_says_its_unit():
    # A command's docstring is its help, and its numbers are typed by people with their units.
    assert faults(rules.without_unit, apart_from("cli")) == {}


def test_nothing_is_left_unfinished():
    def rule(source):
        return rules.lines_matching(rules.UNFINISHED, source)

    assert len(rule("x = 1  # TO{0}DO later\nraise NotImplemented{0}Error".format(""))) == 2
    assert faults(rule, MODULES) == {}


def test_no_path_of_one_machine():
    def rule(source):
        return rules.lines_matching(rules.MACHINE, source)

    assert len(rule("open('/w{0}ork/x')\nC:\\Us{0}ers\\me\nsee ../sh{0}ared/x".format(""))) == 3
    assert len(TEXTS) > len(MODULES)
    assert faults(rule, TEXTS) == {}
