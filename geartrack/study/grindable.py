"""The cuts that somebody may grind by, or why there are none, in one line."""

from __future__ import annotations

from geartrack.errors import refuse
from geartrack.frame import Hand
from geartrack.relief import Relief
from geartrack.study.answer import Answer, Cuts


def cuts_to_grind(answer: Answer) -> Cuts:
    """An answer's cuts, of which the nominal one is ground by.

    Raises InputError where the verdict is not to grind, no depth may be given, or nothing is to be cut.
    """
    verdict, cuts, job = answer.verdict, answer.cuts, answer.job.name
    if not verdict.grinds or cuts is None or cuts.stop is None or cuts.at_stop is None:
        reading = f"next reading: {verdict.next_reading}" if verdict.next_reading else "there is nothing to grind by"
        raise refuse(job, f"{verdict.words}: {verdict.reason}", reading)
    if cuts.nominal.empty or not cuts.nominal.outline:
        raise refuse(job, "as calculated, nothing is to be cut", "there is nothing to grind by")
    return cuts


def stop_of(cuts: Cuts) -> Relief:
    """The cut at STOP, of cuts that may be ground by."""
    assert cuts.at_stop is not None
    return cuts.at_stop


def hand_of(answer: Answer) -> Hand:
    """The axle's hand, without which a mark may lie on either side; raises InputError where it is not given."""
    if answer.hand is None:
        what = "hand is not given, so the patch may lie on either side"
        raise refuse(f"{answer.job.name}, axle.hand", what, 'hand = "below" or "above" under [axle]')
    return answer.hand
