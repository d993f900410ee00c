"""The developers' guide names every key of a check's JSON, in the row of its group."""

import re
from pathlib import Path

import pytest
from demo import demo_job

from geartrack.spread import Sampling
from geartrack.study import as_document, check

GUIDE = Path(__file__).parents[2] / "DEVELOPERS.md"
HEAD = {"schema", "kind", "geartrack"}  # said above the table
WHOLE = ("pinion", "teeth_run", "case")  # the rest of the answer, as groups


def rows():
    text = GUIDE.read_text(encoding="utf-8")
    table = text[text.index("`check`:") : text.index("`ratios`:")]
    return [line for line in table.splitlines() if line.startswith("| `")]


@pytest.fixture(scope="module")
def document():
    return as_document(check(demo_job("measure"), Sampling(256)))


def test_every_key_stands_in_a_row_of_its_group(document):
    missing = []
    for group, value in document.items():
        own = [row for row in rows() if re.search(rf"`{group}[`.\[]", row)]
        leaves = list(value) if isinstance(value, dict) and group not in WHOLE else []
        if isinstance(value, list) and value and isinstance(value[0], dict) and group != "alternatives":
            leaves = list(value[0])
        if not own and group not in HEAD:
            missing.append(group)
        missing += [f"{group}.{leaf}" for leaf in leaves if not any(re.search(rf"[`.]{leaf}\b", row) for row in own)]
    assert missing == []


def test_no_row_says_what_is_no_longer_so(document):
    assert isinstance(document["running"]["p_contact"], float)
    assert document["band"]["method"] == "draws"
    assert as_document(check(demo_job("measure")))["running"]["p_contact"] is None
    assert "not worked out yet" not in "".join(rows())
