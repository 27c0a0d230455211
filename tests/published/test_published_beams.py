"""The cosine-power beam, against its exact anchors and quadrature.

The table is computed for this project from the definition of the half-maximum width (no document prints it).
"""

import math

import pytest
from scipy.integrate import quad

from optimise.physics.beams import axial_intensity, beam_exponent

# Full width at half maximum in deg: (m, I0 in cd for 1000 lm, share of flux inside the half-maximum cone).
TABLE = {
    20: (45.277602, 7365.309, 0.507596),
    30: (19.993727, 3341.256, 0.517037),
    60: (4.818842, 926.0974, 0.566987),
    90: (2.000000, 477.4648, 0.646447),
    110: (1.246972, 357.6168, 0.713212),
    115: (1.115821, 336.7433, 0.731350),
    120: (1.000000, 318.3099, 0.750000),
    140: (0.646059, 261.9784, 0.828990),
}


def flux_inside(full_width: float, edge: float) -> float:
    """Flux in lm inside `edge` deg off axis of a 1000 lm beam, by quadrature over rings."""
    m = float(beam_exponent(full_width))
    peak = float(axial_intensity(1000.0, m))
    value, _ = quad(
        lambda t: 2 * math.pi * peak * math.cos(t) ** m * math.sin(t), 0.0, math.radians(edge), epsrel=1e-11
    )
    return float(value)


@pytest.mark.parametrize("width", TABLE)
def test_exponent_intensity_and_share_inside_the_cone(width: int) -> None:
    exponent, peak, share = TABLE[width]
    assert beam_exponent(width) == pytest.approx(exponent, rel=1e-6)
    assert axial_intensity(1000.0, beam_exponent(width)) == pytest.approx(peak, rel=1e-6)
    assert flux_inside(width, width / 2) == pytest.approx(1000.0 * share, rel=1e-6)


@pytest.mark.parametrize("width", TABLE)
def test_all_flux_lies_before_the_emitter(width: int) -> None:
    assert flux_inside(width, 90.0) == pytest.approx(1000.0, rel=1e-8)


def test_lambertian_emitter_is_120_degrees_wide() -> None:
    # Lambert's cosine law: flux = π I0. Textbook identity.
    assert beam_exponent(120.0) == pytest.approx(1.0, rel=1e-14)
    assert axial_intensity(1000.0, 1.0) == pytest.approx(1000.0 / math.pi, rel=1e-14)


def test_beam_90_degrees_wide_is_a_squared_cosine() -> None:
    # cos² 45° = 1/2 exactly.
    assert beam_exponent(90.0) == pytest.approx(2.0, rel=1e-14)
    assert axial_intensity(1000.0, 2.0) == pytest.approx(1500.0 / math.pi, rel=1e-14)
