"""The words that a builder never meets on a screen, a sheet, a figure or in a message, and the code that finds them."""

from __future__ import annotations

import ast
import re

SAY_INSTEAD = {
    "housing": "case",
    "case flange": "carrier ring flange",
    "blank": "gear set, ring or pinion",
    "meridian": "side view",
    "band": "low to high",
    "spread": "give or take",
    "posterior": "after the reading",
    "prior": "before the reading",
    "free end": "in from the pinion-side end",
    "offset side": "toward or away from the ring's centre line",
    "iron": "metal, unless the material is known",
}
"""DESIGN 13: what not to say, and what to say."""

UNFILLED = re.compile(r"\b(left|leave|leave it)\s+blank\b|\bBlank:", re.IGNORECASE)
"""A place in a form that nobody filled in, which is no gear."""

METALS = ("nodular iron", "grey iron")
"""What a job may say that its case is made of; then the screen may say it back."""

NO_PROMISE = ("safe", "safely", "OK", "okay", "pass", "passes", "passed")
"""DESIGN 6: never in a verdict."""


def _found(words: tuple[str, ...], text: str) -> list[str]:
    """The words of the list that stand in the text, whole or in the plural, however written."""
    joined = " ".join(text.split())
    return [word for word in words if re.search(rf"(?<![\w-]){re.escape(word)}s?(?![\w-])", joined, re.IGNORECASE)]


def forbidden(text: str, *, metals: tuple[str, ...] = ()) -> list[str]:
    """Words that the text should not use, each with what to say; `metals` are materials that the job may name.

    >>> forbidden("the case's band is wide")
    ['band: say low to high']
    >>> forbidden("nodular iron", metals=("nodular iron",)), forbidden("abandon the banded spreadsheet")
    ([], [])
    >>> forbidden("leave it blank"), forbidden("a thick blank")
    ([], ['blank: say gear set, ring or pinion'])
    """
    text = UNFILLED.sub("", text)
    for metal in metals:
        text = re.sub(re.escape(metal), "", text, flags=re.IGNORECASE)
    return [f"{word}: say {SAY_INSTEAD[word]}" for word in _found(tuple(SAY_INSTEAD), text)]


def promises(text: str) -> list[str]:
    """Words in a verdict that promise more than a measurement can.

    >>> promises("Clears, so it is OK to run"), promises("0.005 in a token")
    (['OK'], [])
    """
    return _found(NO_PROMISE, text)


def spoken(source: str, *, single: bool = False) -> list[tuple[int, str]]:
    """The strings of a module that people read, with their lines: everything with a space in it except docstrings.

    Keys of JSON, names of options and formats have no space; where a module has none of these, `single` words count.
    The pieces of an f-string are put together, with "…" for what is filled in.
    """
    nodes = list(ast.walk(ast.parse(source)))
    silent = {id(node.value) for node in nodes if isinstance(node, ast.Expr)}  # docstrings, notes under attributes
    for whole in (node for node in nodes if isinstance(node, ast.JoinedStr)):
        silent |= {id(part) for part in whole.values}
    texts = ((node.lineno, _text(node)) for node in nodes if id(node) not in silent and _text(node))
    return [(line, text) for line, text in texts if single or " " in text.strip()]


def _text(node: ast.AST) -> str:
    if isinstance(node, ast.Constant):
        return node.value if isinstance(node.value, str) else ""
    if isinstance(node, ast.JoinedStr):
        return "".join(part.value if isinstance(part, ast.Constant) else "…" for part in node.values)
    return ""


def messages(source: str) -> list[tuple[int, str]]:
    """The strings inside what a module raises: arguments of refuse, Finding and every class named ...Error."""
    calls = (node for node in ast.walk(ast.parse(source)) if isinstance(node, ast.Call))
    raising = (call for call in calls if re.search(r"(^|\.)(refuse|Finding|\w*Error)$", ast.unparse(call.func)))
    said = ((call.lineno, f"_ = {ast.unparse(arg)}") for call in raising for arg in call.args)
    return [(line, text) for line, expression in said for _, text in spoken(expression)]
