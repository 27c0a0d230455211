"""Student's t against the table of the guide to uncertainty in measurement."""

import pytest

from optimise.physics.fitting import student_quantile

TABLE = {1: 12.71, 2: 4.30, 3: 3.18, 4: 2.78, 5: 2.57, 6: 2.45, 7: 2.36, 8: 2.31, 9: 2.26, 10: 2.23}
TABLE |= {15: 2.13, 20: 2.09, 30: 2.04, 50: 2.01, 100: 1.984}


@pytest.mark.parametrize(("freedom", "quantile"), TABLE.items())
def test_table_of_the_guide(freedom: int, quantile: float) -> None:
    # JCGM 100:2008 (GUM), Table G.2, column of 95 % (values from memory).
    assert student_quantile(freedom, 0.95) == pytest.approx(quantile, abs=0.0051)
