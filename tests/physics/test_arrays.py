import math

import numpy as np
import pytest

from optimise.physics.arrays import numbers


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, [1.0, math.nan]])
def test_values_that_are_not_finite_are_refused_by_name(value: float | list[float]) -> None:
    with pytest.raises(ValueError, match=r"^flux must be finite$"):
        numbers("flux", value)


def test_least_includes_its_bound() -> None:
    assert numbers("flux", 0.0, least=0.0) == 0.0
    with pytest.raises(ValueError, match=r"^flux must be at least 0$"):
        numbers("flux", [1.0, -1e-9], least=0.0)


def test_above_excludes_its_bound() -> None:
    assert numbers("distance", 1e-9, above=0.0) == 1e-9
    with pytest.raises(ValueError, match=r"^distance must be more than 0$"):
        numbers("distance", [1.0, 0.0], above=0.0)


def test_integers_become_floats_of_the_same_shape() -> None:
    array = numbers("count", [[1, 2, 3]])
    assert array.dtype == np.float64
    assert array.shape == (1, 3)
