"""Flicker against IEEE 1789-2015, published shutter angles, and measured exposures.

Levels of IEEE 1789-2015 were seen second-hand (an article that quotes recommended practices 1 and 2). Safe angles are
those of a lighting technician's published table (50 and 60 Hz mains), and follow from whole periods.
"""

import math

import numpy as np
import pytest

from optimise.physics.flicker import (
    change_in_stops,
    exposure_extremes,
    ieee_1789,
    pwm_extremes,
    ripple_residual,
    safe_shutter_angles,
)

# Hz, low risk and no observable effect in per cent: IEEE 1789-2015, practices 1 and 2 (0.08 f and 0.0333 f, below 90 Hz
# 0.025 f and 0.01 f). 8.0 % and 3.3 % at 100 Hz are quoted as such.
LEVELS = [
    (50.0, 1.25, 0.5),
    (80.0, 2.0, 0.8),
    (90.0, 7.2, 2.997),
    (100.0, 8.0, 3.33),
    (120.0, 9.6, 3.996),
    (200.0, 16.0, 6.66),
    (400.0, 32.0, 13.32),
    (1000.0, 80.0, 33.3),
]


@pytest.mark.parametrize(("frequency", "low_risk", "no_effect"), LEVELS)
def test_levels_of_ieee_1789(frequency: float, low_risk: float, no_effect: float) -> None:
    assert ieee_1789(no_effect / 100, frequency) == "no observable effect"
    assert ieee_1789(no_effect / 100 * 1.001, frequency) == "low risk"
    assert ieee_1789(low_risk / 100, frequency) == "low risk"
    assert ieee_1789(low_risk / 100 * 1.001, frequency) == "above low risk"


def test_full_switching_is_low_risk_from_1250_and_without_effect_from_3000_hertz() -> None:
    # IEEE 1789-2015: no limit above 1250 Hz (low risk) and 3000 Hz (no observable effect).
    found = [ieee_1789(1.0, f) for f in (1249.0, 1250.0, 2999.0, 3000.0, 25_000.0)]
    assert found == ["above low risk", "low risk", "low risk", "no observable effect", "no observable effect"]


def test_the_step_of_ieee_1789_is_at_90_hertz() -> None:
    assert ieee_1789(0.07, 89.999) == "above low risk"
    assert ieee_1789(0.07, 90.0) == "low risk"


# Frames a second, light's frequency (twice the mains), safe angles up to 360°.
ANGLES = [
    (24, 100, [86.4, 172.8, 259.2, 345.6]),
    (24, 120, [72, 144, 216, 288, 360]),
    (25, 100, [90, 180, 270, 360]),
    (25, 120, [75, 150, 225, 300]),
    (30, 100, [108, 216, 324]),
    (48, 100, [172.8, 345.6]),
    (60, 100, [216]),
    (120, 100, []),
]


@pytest.mark.parametrize(("rate", "frequency", "angles"), ANGLES)
def test_safe_shutter_angles(rate: float, frequency: float, angles: list[float]) -> None:
    found = safe_shutter_angles(rate, frequency)
    assert found == pytest.approx(np.array(angles, dtype=np.float64), rel=1e-12)
    assert ripple_residual(1.0, frequency, found / 360.0 / rate) == pytest.approx(np.zeros(len(angles)), abs=1e-12)


def test_lamps_on_50_hertz_mains_photographed_at_a_hundredth_and_a_two_hundredth() -> None:
    # Measured (a photographer's published series of one lamp, 2017): frames at 1/200 s differ by about 1 EV, at 1/100 s
    # not at all. The most that a light which goes to nothing twice a period of the mains can do is 2.2 EV.
    low, high = exposure_extremes(0.01, 1.0, 100.0)
    assert float(change_in_stops(low, high)) == pytest.approx(0.0, abs=1e-12)
    low, high = exposure_extremes(0.005, 1.0, 100.0)
    assert 1.0 < float(change_in_stops(low, high)) == pytest.approx(math.log2((1 + 2 / math.pi) / (1 - 2 / math.pi)))


# Worked by hand from the closed forms: f, time of exposure, residual of a sine of depth 1.
RESIDUALS = [(100, 1 / 48, 0.03954), (120, 1 / 48, 0.12732), (120, 1 / 50, 0.12614), (1000, 1 / 48, 0.00764)]


@pytest.mark.parametrize(("frequency", "time", "residual"), RESIDUALS)
def test_residuals_of_a_sine(frequency: float, time: float, residual: float) -> None:
    assert float(ripple_residual(1.0, frequency, time)) == pytest.approx(residual, abs=6e-6)


@pytest.mark.parametrize(
    ("frequency", "duty", "change", "in_stops"),
    [(100, 0.5, 0.08, 0.115), (1000, 0.5, 0.016, 0.023), (25_000, 0.05, 0.00192, 0.003)],
)
def test_residuals_of_switching_at_a_forty_eighth(
    frequency: float, duty: float, change: float, in_stops: float
) -> None:
    low, high = pwm_extremes(duty, frequency, 1 / 48)
    assert float(high - low) == pytest.approx(change, rel=1e-9)
    assert float(change_in_stops(low, high)) == pytest.approx(in_stops, abs=6e-4)
