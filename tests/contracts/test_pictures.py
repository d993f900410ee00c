"""README's pictures: small, all shown with words for those who cannot see them, made by the story's own commands."""

import re

import numpy as np
import paper_read
import pytest
import readme_pictures as pictures
from PIL import Image
from screen_words import forbidden

README = (pictures.ROOT / "README.md").read_text(encoding="utf-8")
SHOWN = re.findall(r'<img src="shared/pictures/(\w+)\.png" width="\d+" alt="([^"]+)">', README)


def test_every_picture_is_shown_with_its_words():
    assert [name for name, _ in SHOWN] == list(pictures.NAMES)
    assert {path.stem for path in pictures.FOLDER.iterdir()} == set(pictures.NAMES)
    for name, words in SHOWN:
        assert len(words) > 40, name
        assert forbidden(words) == [], name
    assert sum(path.stat().st_size for path in pictures.FOLDER.iterdir()) < 300_000


def test_the_story_goes_from_scan_to_template_solids_and_gauge():
    assert [each[0] for each in pictures.commands()] == [
        "demo",
        "scan",
        "check",
        "template",
        "depths",
        "solids",
        "gauge",
    ]


@paper_read.needs_poppler
def test_the_command_that_makes_them_runs(tmp_path):
    """The same pictures in size, each with as much on it as the one that is shown, give or take a fifth."""
    pictures.story(tmp_path)
    pictures.make(tmp_path, tmp_path / "made")
    for name in pictures.NAMES:
        made, shown = (Image.open(folder / f"{name}.png") for folder in (tmp_path / "made", pictures.FOLDER))
        assert made.size == shown.size, name
        drawn = [(np.asarray(each.convert("L")) < 245).mean() for each in (made, shown)]
        assert drawn[0] == pytest.approx(drawn[1], rel=0.2), name
        assert drawn[0] > 0.02, name
