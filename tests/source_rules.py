"""Rules that the source keeps, each a function from source text to the faults in it; tests/contracts applies them."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator

INCH = re.compile(r"(?<![\d.])(25\.4|0?\.0254|2\.54|0?\.254|645\.16|16387\.064)0*(?![\d])")
UNFINISHED = re.compile(r"\b(T[O]DO|FIX[M]E|X[X]X|NotImplemented[E]rror|pragma: no c[o]ver)\b")
MACHINE = re.compile(r"/w[o]rk/|/f[a]rm/|/t[m]p/|/h[o]me/|/r[o]ot/|/Us[e]rs/|[A-Z]:\\\\?Us[e]rs|\.\./sh[a]red")

SUFFIX_UNITS = {
    "mm": "mm",
    "mm2": "mm2",
    "mm3": "mm3",
    "deg": "deg",
    "rad": "rad",
    "nm": "Nm",
    "n": "N",
    "g": "g",
    "kg": "kg",
    "in": "in",
    "thou": "thou",
    "s": "s",
    "min": "min",
    "minutes": "min",
    "hours": "h",
    "c": "C",
    "k": "K",
    "gpa": "GPa",
    "mpa": "MPa",
    "px": "px",
    "dpi": "dpi",
    "pct": "%",
    "ratio": "-",
    "factor": "-",
    "relative": "-",
}
BRACKETS = re.compile(r"\[(-|any|%|[A-Za-z][A-Za-z/]{0,9}[23]?(?:/\w+)?)\]")
ANGLE = re.compile(r"(^|_)(angle|spiral|clock|eta)s?$")
ANGLES_IN_RADIANS = re.compile(r"\bangles in rad", re.IGNORECASE)
NUMBER_TYPES = re.compile(r"^(?!.*Callable).*\b(float|Array|NDArray|Points|Real)\b")
"""Annotations of physical numbers, which have a unit."""

Function = ast.FunctionDef | ast.AsyncFunctionDef


def lines_matching(pattern: re.Pattern[str], source: str) -> list[str]:
    """The lines, each with its number, in which the pattern is found."""
    return [f"{n}: {line.strip()}" for n, line in enumerate(source.splitlines(), 1) if pattern.search(line)]


def imports_of(package: str, source: str) -> list[str]:
    """Lines that import the package or anything under it, at any depth of the code."""
    found = []
    for node in ast.walk(ast.parse(source)):
        names = (
            [alias.name for alias in node.names]
            if isinstance(node, ast.Import)
            else [node.module or ""]
            if isinstance(node, ast.ImportFrom) and not node.level
            else []
        )
        found += [f"{node.lineno}: import of {name}" for name in names if name.split(".")[0] == package]
    return found


def calls_of(name: str, source: str) -> list[str]:
    """Lines that call the builtin of that name."""
    return [
        f"{node.lineno}: {name}(...)"
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == name
    ]


def _public(tree: ast.AST, inside: str = "") -> Iterator[tuple[str, Function | ast.ClassDef]]:
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.ClassDef | Function) and not node.name.startswith("_"):
            yield f"{inside}{node.name}", node
            if isinstance(node, ast.ClassDef):
                yield from _public(node, f"{inside}{node.name}.")


def undocumented(source: str) -> list[str]:
    """Public functions, methods and classes without a docstring; a property whose name says its unit needs none."""
    tree = ast.parse(source)
    faults = [] if ast.get_docstring(tree) else ["1: the module has no docstring"]
    return faults + [
        f"{node.lineno}: {name}" for name, node in _public(tree) if not (ast.get_docstring(node) or _plain(node))
    ]


def _plain(node: Function | ast.ClassDef) -> bool:
    return "property" in map(ast.unparse, node.decorator_list) and unit_of_name(node.name) is not None


def _numbers(node: Function | ast.ClassDef) -> Iterator[str]:
    """The name of each public number: a function's parameters, a class's fields."""
    if isinstance(node, ast.ClassDef):
        pairs = [(s.target.id, s.annotation) for s in node.body if _is_field(s)]
    else:
        args = [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]
        pairs = [(a.arg, a.annotation) for a in args if a.annotation]
    yield from (name for name, note in pairs if NUMBER_TYPES.search(ast.unparse(note)))


def _is_field(node: ast.stmt) -> bool:
    return isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name) and not node.target.id.startswith("_")


def unit_of_name(name: str) -> str | None:
    """The unit that a name's suffix says.

    >>> unit_of_name("depth_max_mm"), unit_of_name("mm"), unit_of_name("n")
    ('mm', 'mm', None)
    """
    stem, _, suffix = name.rpartition("_")
    return SUFFIX_UNITS.get(suffix) if stem or len(suffix) > 1 else None


def units_of_text(name: str, docstring: str) -> list[str]:
    """The units in brackets that may be meant for the name: the first in or after each clause that has it.

    >>> units_of_text("r", "r : (n,) float, distance from the axis [mm]; t : its clock angle [rad]")
    ['mm']
    """
    parts = re.split(rf"(?<![\w.]){re.escape(name)}(?!\w)", docstring, flags=re.IGNORECASE)[1:]
    return [found[1] for part in parts if (found := BRACKETS.search(part))]


def without_unit(source: str) -> list[str]:
    """Public numbers whose unit is neither in their name nor in brackets after their name in the docstring.

    A unit in both places must be the same one. [-] marks a plain number, [any] one that keeps its caller's unit.
    An angle may rely on its docstring, or its module's, saying that angles are in radians.
    """
    faults, tree = [], ast.parse(source)
    for where, node in _public(tree):
        text = ast.get_docstring(node) or ""
        radians = ANGLES_IN_RADIANS.search(f"{ast.get_docstring(tree)} {text}")
        for name in _numbers(node):
            said, written = unit_of_name(name), units_of_text(name, text)
            if not (said or written or (radians and ANGLE.search(name))):
                faults.append(f"{node.lineno}: {where}: {name} has no unit")
            clause = re.search(rf"(?<![\w.]){re.escape(name)}\b *:?(?:(?!\band\b)[^,:;\n\[])*\[(\w+)\]", text)
            if said and clause and clause[1] != said:
                faults.append(f"{node.lineno}: {where}: {name} is in {said} but its docstring says [{clause[1]}]")
    return faults
