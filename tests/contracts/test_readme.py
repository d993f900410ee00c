"""README.md opens with the job and gives two commands in two shells; what a shell block calls runs, in trade words."""

import re
import shlex
import tomllib
from pathlib import Path

import pytest
import screen_words as words
from command_line import run_geartrack
from packaging.requirements import Requirement

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def blocks(text, language):
    """The fenced blocks of that language, in order."""
    return re.findall(rf"^```{language} *\n(.*?)^```", text, re.MULTILINE | re.DOTALL)


def section(text, heading):
    """What stands under the heading, down to the next one."""
    (found,) = re.findall(rf"^#+ {heading} *\n(.*?)(?=^#+ |\Z)", text, re.MULTILINE | re.DOTALL)
    return found


def calls(text):
    """Arguments of every geartrack call in the text's bash blocks."""
    for line in "".join(blocks(text, "bash")).splitlines():
        for part in re.split(r"&&|;|\|", line):
            if re.match(r"\s*(\S*/)?geartrack\b", part):
                yield shlex.split(part)[1:]


def test_it_opens_with_the_job_and_the_way_through():
    title, first, pipeline = README.split("\n\n")[:3]
    assert title == "# geartrack"
    assert first.startswith("geartrack ")
    assert pipeline.strip() == "gear set -> sweep -> boss -> gap -> relief -> quote"


@pytest.mark.parametrize(
    ("heading", "last"),
    [("Try it", "geartrack demo"), ("Run the tests", "python -m pytest -n auto --dist loadfile")],
)
def test_each_command_stands_once_for_each_shell(heading, last):
    text = section(README, heading)
    for language, between in (("bash", "&&"), ("powershell", ";")):
        (command,) = blocks(text, language)
        steps = [step.strip() for step in command.split(between)]
        assert len(steps) == 3
        assert "venv" in steps[0]
        assert "pip" in steps[1]
        assert re.sub(r"\S*[/\\]", "", steps[2]) == last


def test_every_call_shown_runs(tmp_path):
    shown = [arguments for text in (README, GUIDE) for arguments in calls(text)]
    assert ["demo"] in shown
    for arguments in shown:
        ran = run_geartrack(*arguments, cwd=tmp_path)
        assert ran.returncode == 0, (arguments, ran.stderr)
        said = ran.stdout or ran.stderr  # of what only writes files, that it wrote them
        assert said
        assert words.forbidden(said, metals=words.METALS) == [], arguments


def test_the_guide_draws_every_layer():
    settings = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    layers = settings["tool"]["importlinter"]["contracts"][0]["layers"]
    drawing = section(GUIDE, "Layout")
    rows = [
        next(
            n for n, line in enumerate(drawing.splitlines()) if re.search(rf"^[ /|\\]*{layer.split(' | ')[0]}\b", line)
        )
        for layer in layers
    ]
    assert rows == sorted(rows)
    assert [name for layer in layers for name in layer.split(" | ") if not re.search(rf"\b{name}\b", drawing)] == []


def test_every_dependency_has_its_reason():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    lists = [project["dependencies"], *project["optional-dependencies"].values()]
    wanted = [Requirement(line).name for lines in lists for line in lines]
    reasons = section(GUIDE, "Why each dependency")
    assert [name for name in wanted if not re.search(rf"(?<![\w-]){name}(?![\w-])", reasons)] == []


def test_the_nomenclature_names_what_is_there():
    table = [row.split("|") for row in section(GUIDE, "Nomenclature").splitlines() if row.startswith("| ")][1:]
    names = [name for row in table for name in re.findall(r"`(\w+)`", row[2])]
    assert len(names) > 20
    code = "".join(path.read_text(encoding="utf-8") for path in (ROOT / "geartrack").rglob("*.py"))
    assert [name for name in names if not re.search(rf"\b{name}\b", code)] == []


def test_it_uses_the_trade_words():
    assert words.forbidden(README) == []
    assert words.forbidden("the housing") != []
