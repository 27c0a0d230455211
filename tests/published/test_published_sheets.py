"""Two sheets one behind the other against published formulae.

Sources: Stokes, Proc. R. Soc. 11 (1862) 545 (pile of plates that absorb nothing: 1 / T grows by the same with each
plate); Kubelka, J. Opt. Soc. Am. 38 (1948) 448 (reflectance and transmittance of a scattering layer, hyperbolic form).
Formulae from memory; the figures are worked out from them here.
"""

import math

import numpy as np
import pytest

from optimise.physics.sheets import stacked


@pytest.mark.parametrize("back", [0.04, 0.3, 0.8])
def test_a_pile_of_clear_plates_is_stokes(back: float) -> None:
    through, thrown = 1.0 - back, back
    for plates in range(2, 7):
        t, r = stacked(1.0 - back, back, through, thrown)
        through, thrown = float(t), float(r)
        # (1 − R) / (1 + (n − 1) R) of n plates.
        assert through == pytest.approx((1.0 - back) / (1.0 + (plates - 1) * back), rel=1e-12)
        assert through + thrown == pytest.approx(1.0, rel=1e-12)


def layer(scattering: float, absorption: float, thickness: float) -> tuple[float, float]:
    """Return (T, R) of a layer with these coefficients: a = (S + K)/S, b² = a² − 1."""
    a = (scattering + absorption) / scattering
    b = math.sqrt(a * a - 1.0)
    sinh, cosh = math.sinh(b * scattering * thickness), math.cosh(b * scattering * thickness)
    return b / (a * sinh + b * cosh), sinh / (a * sinh + b * cosh)


@pytest.mark.parametrize(("scattering", "absorption"), [(3.0, 0.1), (0.5, 2.0), (10.0, 0.01)])
@pytest.mark.parametrize(("one", "other"), [(0.3, 0.3), (0.2, 1.1), (2.0, 0.05)])
def test_two_layers_of_one_stuff_are_kubelkas_thicker_layer(
    scattering: float, absorption: float, one: float, other: float
) -> None:
    t, r = stacked(*layer(scattering, absorption, one), *layer(scattering, absorption, other))
    through, thrown = layer(scattering, absorption, one + other)
    assert float(t) == pytest.approx(through, rel=1e-10)
    assert float(r) == pytest.approx(thrown, rel=1e-10)


def test_what_throws_nothing_back_is_the_product_and_order_does_not_change_what_goes_through() -> None:
    assert stacked(0.5, 0.0, 0.8, 0.0)[0] == pytest.approx(0.4)
    assert stacked(0.5, 0.3, 0.8, 0.0)[0] == pytest.approx(0.4)
    rng = np.random.default_rng(1)
    t = rng.uniform(0.1, 0.9, (2, 50))
    r = (1.0 - t) * rng.uniform(0.0, 1.0, (2, 50))
    one, other = stacked(t[0], r[0], t[1], r[1]), stacked(t[1], r[1], t[0], r[0])
    np.testing.assert_allclose(one[0], other[0], rtol=1e-13)
    assert np.all(one[0] + one[1] <= 1.0 + 1e-12)
    assert np.all(one[0] >= t[0] * t[1])


def test_what_no_sheet_can_be_is_refused() -> None:
    with pytest.raises(ValueError, match="at most 1 together"):
        stacked(0.6, 0.5, 0.5, 0.1)
    with pytest.raises(ValueError, match="must not both be 1"):
        stacked(0.0, 1.0, 0.0, 1.0)
    with pytest.raises(ValueError, match="outer"):
        stacked(0.5, 0.1, -0.1, 0.1)
