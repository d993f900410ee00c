"""A method as a figure with its words under the drawing, and the same words alone."""

from __future__ import annotations

from textwrap import wrap

from matplotlib.figure import Figure

from geartrack.draw import ink
from geartrack.draw.methods import pen
from geartrack.draw.methods.bench import Method

WIDTH, DRAWING, HEAD, FOOT = 6.4, 4.3, 0.5, 0.12  # inches
_LINE, _INDENT, _LETTERS = 0.165, 1.16, 72
_KEY = "Dot: where it touches. Letter: a reading. Grey: the tool. Hatched: cut metal. To scale, sizes invented."


def rows(method: Method) -> tuple[tuple[str, str], ...]:
    """The card's words in the order of work, each with its heading."""
    return (
        ("Tool", method.tool),
        ("Touches", method.touches),
        ("Read", method.reading),
        ("Usual mistake", method.mistake),
        ("How close", f"{method.accuracy[0].upper()}{method.accuracy[1:]}."),
    )


def describe(method: Method) -> str:
    """The text equivalent: the card's title and words, a line each."""
    return "\n".join([method.title, *(f"{heading}: {words}" for heading, words in rows(method))])


def _kept_together(words: str) -> str:
    """Sums with their proper signs, not broken over two lines."""
    for typed, sign in (("=", "="), ("-", "\u2212"), ("x", "\u00d7"), ("/", "/")):
        words = words.replace(f" {typed} ", f"\u00a0{sign}\u00a0")
    return words


def figure(method: Method) -> Figure:
    """The drawing with its title and words, as tall as the words need; its label is the text equivalent."""
    wrapped = [(heading, wrap(_kept_together(words), _LETTERS)) for heading, words in rows(method)]
    lines = sum(len(text) for _, text in wrapped)
    tall = HEAD + DRAWING + _LINE * (lines + 0.35 * len(wrapped) + 2.0) + FOOT
    sheet = Figure(figsize=(WIDTH, tall), facecolor="white", label=describe(method))
    sheet.suptitle(method.title, x=0.025, y=1 - 0.12 / tall, ha="left", va="top", fontsize=15, fontweight="bold")
    ax = sheet.add_axes((0.02, 1 - (HEAD + DRAWING) / tall, 0.96, DRAWING / tall))
    ax.set_axis_off()
    method.draw(ax)
    down = HEAD + DRAWING + 1.2 * _LINE
    for heading, text in wrapped:
        y = 1 - down / tall
        sheet.text(0.025, y, heading, fontsize=pen.WORDS, fontweight="bold", color=ink.INK, va="top", linespacing=1.25)
        words = "\n".join(text)
        sheet.text(0.025 + _INDENT / WIDTH, y, words, fontsize=pen.WORDS, color=ink.INK, va="top", linespacing=1.25)
        down += _LINE * (len(text) + 0.35)
    sheet.text(0.025, FOOT / tall, _KEY, fontsize=8, color=ink.SOFT, va="bottom")
    return sheet
