"""Propagation by draws against the worked examples of the GUM and its first supplement.

JCGM 100:2008, Annex H.2 (resistance and reactance read together, correlated): inputs as Table H.2 has them; results
R = 127.732 (0.071), X = 219.847 (0.295), |Z| = 254.260 (0.236) ohm.
JCGM 101:2008, clause 9.2 (the sum of four inputs): 95 % intervals +-3.92 (normal), +-3.88 (rectangular), +-17.0 (one
rectangular input ten times as wide). Printed results are quoted from memory; the intervals of 9.2 are also closed
forms (sums of normal and of rectangular variables).
"""

import numpy as np
import pytest

from geartrack.quantity import Origin, Quantity, Shape, give_or_take
from geartrack.spread.band import percentiles
from geartrack.spread.draws import Correlation, draw


def rectangular(half: float) -> Quantity:
    return Quantity(0.0, -half, half, Origin.TYPED, "", Shape.UNIFORM)


ROOT3 = 3**0.5


@pytest.mark.parametrize(
    ("inputs", "end", "digits"),
    [
        ([give_or_take(0.0, 2.0)] * 4, 3.92, 0.01),
        ([rectangular(ROOT3)] * 4, 3.88, 0.01),
        ([rectangular(ROOT3)] * 3 + [rectangular(10 * ROOT3)], 17.0, 0.05),
    ],
    ids=["9.2.2 normal", "9.2.3 rectangular", "9.2.4 one wide"],
)
def test_the_additive_model_of_supplement_1(inputs, end, digits):
    values = draw({f"x{i}": each for i, each in enumerate(inputs)}, count=2**16)
    found = percentiles(sum(values.values()), np.ones(2**16))
    assert found.low == pytest.approx(-end, abs=digits)
    assert found.high == pytest.approx(end, abs=digits)
    assert max(found.low_error, found.high_error) < digits


def test_resistance_and_reactance_of_annex_h2():
    inputs = {
        "V": give_or_take(4.9990, 2 * 0.0032),
        "I": give_or_take(19.6610e-3, 2 * 0.0095e-3),
        "phi": give_or_take(1.04446, 2 * 0.00075),
    }
    together = (Correlation("V", "I", -0.36), Correlation("V", "phi", 0.86), Correlation("I", "phi", -0.65))
    v = draw(inputs, count=2**14, correlations=together)
    current, volts, phase = v["I"], v["V"], v["phi"]
    found = {"R": volts * np.cos(phase) / current, "X": volts * np.sin(phase) / current, "Z": volts / current}
    printed = {"R": (127.732, 0.071), "X": (219.847, 0.295), "Z": (254.260, 0.236)}
    for name, (value, sd) in printed.items():
        assert found[name].mean() == pytest.approx(value, abs=0.0011), name
        # 0.0011: half the last digit, and what the curvature of the model adds to a mean.
        # The correlations are printed to two digits, which moves the sd of R by up to 0.003.
        assert found[name].std() == pytest.approx(sd, abs=0.003 if name == "R" else 0.002), name
