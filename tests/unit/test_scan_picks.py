"""Picked points: what is read, and every fault in one line."""

import pytest

from geartrack.boss.scan.picks import parse_picks, read_picks
from geartrack.errors import InputError


def test_points_by_name_in_the_scan_s_unit():
    picks = parse_picks(
        "what, x, y, z\nbore, 1, 0, 0\nbore, 0, 1, 0\nBore, 0, 0, 1\n# a note\nring side, 0, 0, 2\n", "in"
    )
    assert picks["bore"].shape == (3, 3)
    assert picks["ring side"].tolist() == [[0.0, 0.0, pytest.approx(50.8)]]
    assert parse_picks("ring side, 0, 0, 0.1", "m")["ring side"][0, 2] == pytest.approx(100.0)


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("", "holds no point"),
        ("bore, 1, 2, 3\nbore, 4, 5, 6", "2 picked for the bore; 3 or more, well apart"),
        (
            "bore, 0, 0, 0\nbore, 1, 1, 1\nbore, 9, 9, 9",
            "the points picked for the bore lie on one line; three or more",
        ),
        ("end face, 0, 0, 0\nend face, 0, 0, 0\nend face, 0, 0, 0", "lie on one line"),
        ("hole, 1, 2, 3", "row 1: 'hole, 1, 2, 3' is no picked point; a line a point, such as: bore, 12.5"),
        ("ring side, 1, 2", "row 1: 'ring side, 1, 2' is no picked point"),
        ("ring side, 1, 2, up", "row 1: x, y and z are not all plain numbers"),
        ("ring side, 1, 2, nan", "row 1: a point that cannot be"),
        ("ring side, 1, 2, 1e9", "row 1: a point that cannot be"),
    ],
)
def test_a_fault_is_one_line(text, fault):
    with pytest.raises(InputError) as refused:
        parse_picks(text, "mm")
    assert fault in str(refused.value)
    assert len(str(refused.value).splitlines()) == 1


def test_a_file_that_is_none(tmp_path):
    (tmp_path / "large.csv").write_text("ring side, 0, 0, 1\n" * 10_000)
    (tmp_path / "binary.csv").write_bytes(b"\xff\xfe\x00")
    for name, fault in (
        ("none.csv", "cannot be read"),
        ("large.csv", "no list of"),
        ("binary.csv", "is not plain text"),
    ):
        with pytest.raises(InputError, match=fault):
            read_picks(tmp_path / name, "mm")
