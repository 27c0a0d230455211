"""Student's t and an example of several uncertainties, of the guide to uncertainty in measurement."""

import math

import pytest

from optimise.physics.fitting import coverage_factor, expanded, student_quantile

TABLE = {1: 12.71, 2: 4.30, 3: 3.18, 4: 2.78, 5: 2.57, 6: 2.45, 7: 2.36, 8: 2.31, 9: 2.26, 10: 2.23}
TABLE |= {15: 2.13, 20: 2.09, 30: 2.04, 50: 2.01, 100: 1.984}


@pytest.mark.parametrize(("freedom", "quantile"), TABLE.items())
def test_table_of_the_guide(freedom: int, quantile: float) -> None:
    # JCGM 100:2008 (GUM), Table G.2, column of 95 % (values from memory).
    assert student_quantile(freedom, 0.95) == pytest.approx(quantile, abs=0.0051)


def test_normal_quantiles_of_the_guide() -> None:
    # JCGM 100:2008, 4.3.4 and the last row of Table G.2 (values from memory).
    assert coverage_factor(math.inf, 0.90) == pytest.approx(1.645, abs=0.0005)
    assert coverage_factor(math.inf, 0.95) == pytest.approx(1.960, abs=0.0005)
    assert coverage_factor(math.inf, 0.99) == pytest.approx(2.576, abs=0.0005)


def test_end_gauge_of_the_guide() -> None:
    # JCGM 100:2008, H.1.6 (values from memory): 25 nm with 18 degrees of freedom, 9.7 nm with 25.6, 2.9 nm with 50 and
    # 16.6 nm with 2 make 32 nm with 16; t at 99 % is 2.92, and the expanded uncertainty 93 nm.
    parts = [(25.0, 18.0), (9.7, 25.6), (2.9, 50.0), (16.6, 2.0)]
    assert math.sqrt(sum(deviation**2 for deviation, _ in parts)) == pytest.approx(32.0, abs=0.5)
    assert coverage_factor(16.7, 0.99) == pytest.approx(2.92, abs=0.005)
    assert expanded(parts, 0.99) == pytest.approx(93.0, abs=1.5)
