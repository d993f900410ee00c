"""Builders meet their own words: DESIGN 13's table, applied to what the program prints, asks and complains about."""

import re
from pathlib import Path

import pytest
import screen_words as words
from click.testing import CliRunner
from command_line import command_paths

from geartrack.cli import main
from geartrack.datafiles import demo_jobs

PACKAGE = Path(__file__).parents[2] / "geartrack"


def short(path):
    return path.relative_to(PACKAGE).as_posix()


MODULES = sorted(PACKAGE.rglob("*.py"))
FACE = re.compile(r"(cards|cli|draw|verdict|words|quote|study|shopbook|sheets|web)\b")
FACES = [path for path in MODULES if FACE.match(short(path))]


def faults(found):
    """The strings with a word that is not said, each with its line and what to say."""
    return [f"{line}: {text!r}: {bad}" for line, text in found if (bad := words.forbidden(text, metals=words.METALS))]


def test_a_planted_word_is_found():
    planted = 'refuse("boss", f"the housing of {x} is thin")\nlabel = "the meridian"\nkey = "band.low_mm"'
    assert words.messages(planted) == [(1, "the housing of … is thin")]
    assert len(faults(words.spoken(planted))) == 2
    assert len(faults(words.spoken(planted, single=True))) == 3
    assert words.promises("this case is safe to run") == ["safe"]


@pytest.mark.parametrize("path", MODULES, ids=short)
def test_messages_use_the_trade_words(path):
    assert faults(words.messages(path.read_text(encoding="utf-8"))) == []


@pytest.mark.parametrize("path", FACES, ids=short)
def test_screens_use_the_trade_words(path):
    drawing = short(path).startswith("draw/")  # a label may be a single word
    assert faults(words.spoken(path.read_text(encoding="utf-8"), single=drawing)) == []


def test_a_verdict_promises_nothing():
    spoken = words.spoken((PACKAGE / "verdict.py").read_text(encoding="utf-8"))
    assert spoken
    assert [text for _, text in spoken if words.promises(text)] == []


@pytest.mark.parametrize("path", list(command_paths(main)), ids=" ".join)
def test_help_uses_the_trade_words(path):
    assert words.forbidden(CliRunner().invoke(main, [*path, "--help"]).output) == []


@pytest.mark.parametrize("job", demo_jobs(), ids=lambda path: path.stem)
def test_an_answer_uses_the_trade_words_and_promises_nothing(job):
    ran = CliRunner().invoke(main, ["check", str(job)])
    assert ran.exit_code == 0, ran.output
    assert words.forbidden(ran.output, metals=words.METALS) == []
    assert words.promises(ran.output) == []
