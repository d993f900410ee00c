"""How far each input moves a result: the simple range, by worst-case sum from the limits of every input (DESIGN 5)."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from geartrack.quantity import Origin, Quantity


@dataclass(frozen=True)
class Share:
    """How far one input alone moves a result between its limits.

    name: dotted name of the input. origin: of the input.
    down, up: the move of the result to its low and to its high side, both >= 0, in the result's own unit [any].
    """

    name: str
    down: float
    up: float
    origin: Origin

    @property
    def width(self) -> float:
        """From one end to the other."""
        return self.down + self.up


@dataclass(frozen=True)
class Range:
    """A result's low and high end [any] and what makes them, widest share first."""

    low: float
    high: float
    shares: tuple[Share, ...]

    def widest(self, *origins: Origin) -> Share | None:
        """The widest share among inputs of the given origins, or None where none of them moves the result."""
        return next((s for s in self.shares if s.origin in origins and s.width > 0), None)


def clearances(target: float, nominal: float, found: Range, margin: float | None = None) -> tuple[float, float, float]:
    """Clearances to cut for in nominal geometry: least (gap at its high end), as calculated, and to hold the target.

    A ring that really stands nearer by d needs, for the target, the cut that nominal geometry needs for target plus d.
    target, nominal: the gap wanted and the gap as calculated [mm]. margin: how far past the target the cut that holds
    it goes [mm]; by default as far as the gap's low end lies under the gap as calculated.

    >>> [round(c, 6) for c in clearances(0.5, 0.1, Range(-0.1, 0.4, ()))]
    [0.2, 0.5, 0.7]
    """
    return target - (found.high - nominal), target, target + (nominal - found.low if margin is None else margin)


def worst_case(
    evaluate: Callable[[Mapping[str, float]], float], inputs: Mapping[str, Quantity], nominal: float
) -> Range:
    """The straight sum of every input's own effect, each end re-evaluated; see `worst_case_of_many`.

    nominal: the result with nothing moved [any].

    >>> from geartrack.quantity import give_or_take
    >>> r = worst_case(lambda v: 2 * v.get("a", 1.0), {"a": give_or_take(1.0, 0.25)}, 2.0)
    >>> r.low, r.high
    (1.5, 2.5)
    """
    return worst_case_of_many(lambda many: [evaluate(values) for values in many], inputs, nominal)


def worst_case_of_many(
    evaluate: Callable[[Sequence[Mapping[str, float]]], Sequence[float]],
    inputs: Mapping[str, Quantity],
    nominal: float,
) -> Range:
    """The straight sum of every input's own effect, for an evaluation that takes many cases at once.

    nominal: the result with nothing moved [any]. evaluate takes, for each case, changed values by name (all others at
    nominal) and returns the results; an input whose limits are its value is skipped. Both ends are evaluated since the
    nearest point jumps: the sign of an effect is found, never assumed. A one-sided input moves the result to one side
    only. All are moved together too: where one place blocks what another frees, together they do more than the sum of
    each alone.
    """
    ends = [(name, end) for name, each in inputs.items() for end in (each.low, each.high) if end != each.value]
    moves = [found - nominal for found in evaluate([{name: end} for name, end in ends])] if ends else []
    shares: list[Share] = []
    up_ends: dict[str, float] = {}
    down_ends: dict[str, float] = {}
    for name, quantity in inputs.items():
        own = {end: move for (of, end), move in zip(ends, moves, strict=True) if of == name}
        down, up = -min(own.values(), default=0.0), max(own.values(), default=0.0)
        shares.append(Share(name, max(0.0, down), max(0.0, up), quantity.origin))
        for end, move in own.items():
            if move == up >= 0:
                up_ends[name] = end
            if -move == down >= 0:
                down_ends[name] = end
    shares.sort(key=lambda s: -s.width)
    together_low, together_high = evaluate([down_ends, up_ends])
    return Range(
        min(nominal - sum(s.down for s in shares), together_low),
        max(nominal + sum(s.up for s in shares), together_high),
        tuple(s for s in shares if s.width > 0),
    )
