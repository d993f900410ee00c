"""A finding is one line whatever is in it; an error holds all its findings."""

from hypothesis import given
from hypothesis import strategies as st

from geartrack.errors import Finding, InputError


@given(st.text(), st.text(min_size=1), st.text())
def test_a_finding_is_always_one_line(where, what, right):
    assert len(str(Finding(where, what, right)).splitlines()) == 1


def test_an_error_has_a_line_for_each_finding():
    error = InputError(Finding("a", "is wrong", "b"), Finding("", "c\nd"))
    assert str(error).splitlines() == ["a: is wrong; b", "c\\nd"]
