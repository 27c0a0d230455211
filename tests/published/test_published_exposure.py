"""Exposure, against ISO 2720 and practice on set. The constant C is stated in every check."""

import math

import pytest

from optimise.parts import units
from optimise.physics.exposure import exposure_illuminance, stops
from optimise.scenario.light import Light

FOOTCANDLE = 1.0 / 0.3048**2

# A working cinematographer's posted rule fc = 25 T² / (ISO t) is C = 25 fc s in lx s.
PRACTICE_C = 25.0 * FOOTCANDLE


def test_iso_2720_example() -> None:
    # ISO 2720:1974 with C = 250: f/8, 1 s, ISO 100 → 160 lx. Seen second-hand in the documentation of a
    # library for colour.
    assert exposure_illuminance(8.0, 1.0, 100.0, 250.0) == pytest.approx(160.0, rel=1e-12)


@pytest.mark.parametrize("ev", range(-2, 16))
def test_exposure_values_at_iso_100(ev: int) -> None:
    # E = 2.5 · 2^EV lx at ISO 100, C = 250. EV 0 = 2.5 lx seen second-hand (same documentation);
    # EV = log2(N²/t) by Ray (2000), p. 318, second-hand; the rest computed.
    n = math.sqrt(2.0**ev)
    assert exposure_illuminance(n, 1.0, 100.0, 250.0) == pytest.approx(2.5 * 2.0**ev, rel=1e-12)
    assert stops(exposure_illuminance(n, 1.0, 100.0, 250.0), 2.5) == pytest.approx(ev, abs=1e-12)


def test_default_constant_lies_in_the_range_of_iso_2720() -> None:
    # ISO 2720:1974, flat receptor: 240 to 400, 250 usual. Seen second-hand (same documentation).
    default = Light(illuminance=1.0, distance=1.0).meter_constant
    assert 240.0 <= default <= 400.0
    assert exposure_illuminance(2.8, 1 / 48, 100.0) == exposure_illuminance(2.8, 1 / 48, 100.0, default)


def test_footcandle() -> None:
    # From the definition of the foot, 0.3048 m exactly; 10.764 seen second-hand.
    assert units.convert("1 fc", units.ILLUMINANCE, None) == pytest.approx(10.763910417, rel=1e-9)


def test_practice_rule_of_a_cinematographer() -> None:
    # Posted on a blog by a working ASC cinematographer (second-hand): T4, ISO 800, 1/48 s → "25 fc".
    # The rule itself gives 24.0; C = 25 fc s = 269.10 lx s lies inside the range of ISO 2720.
    lux = exposure_illuminance(4.0, 1 / 48, 800.0, PRACTICE_C)
    assert lux / FOOTCANDLE == pytest.approx(24.0, rel=1e-12)
    assert abs(stops(lux, 25.0 * FOOTCANDLE)) < 0.1


@pytest.mark.parametrize(
    ("constant", "lux", "footcandles", "n_for_100"),
    [
        (240.0, 903.2, 83.9, 3.0567),
        (250.0, 940.8, 87.4, 2.9950),
        (PRACTICE_C, 1012.7, 94.08, 2.8867),
        (300.0, 1129.0, 104.9, 2.7340),
        (340.0, 1279.5, 118.9, 2.5682),
        (400.0, 1505.3, 139.9, 2.3677),
    ],
)
def test_what_the_range_of_c_means(constant: float, lux: float, footcandles: float, n_for_100: float) -> None:
    # Computed for this project from N²/t = E S / C: f/2.8, ISO 100, 1/48 s, and the aperture for 100 fc.
    got = exposure_illuminance(2.8, 1 / 48, 100.0, constant)
    assert got == pytest.approx(lux, abs=0.06)
    assert got / FOOTCANDLE == pytest.approx(footcandles, abs=0.06)
    assert exposure_illuminance(n_for_100, 1 / 48, 100.0, constant) == pytest.approx(100.0 * FOOTCANDLE, rel=5e-5)


@pytest.mark.parametrize(("constant", "within"), [(250.0, 0.2), (PRACTICE_C, 0.1)])
def test_hundred_footcandles_give_about_f_2_8(constant: float, within: float) -> None:
    # "100 fc, ISO 100, 24 frames/s at 180°: f/2.8", a rule of thumb: value from memory.
    assert abs(stops(100.0 * FOOTCANDLE, exposure_illuminance(2.8, 1 / 48, 100.0, constant))) <= within


def test_half_the_shutter_angle_asks_for_a_stop_more() -> None:
    # Definition of the shutter angle: t = angle / 360° / frame rate.
    def lux(angle: float) -> float:
        light = Light(iso=800.0, f_number=4.0, shutter_angle=angle, frame_rate=24.0, distance=2.0)
        assert light.exposure_time is not None
        return float(exposure_illuminance(4.0, light.exposure_time, 800.0, 250.0))

    assert stops(lux(90.0), lux(180.0)) == pytest.approx(1.0, abs=1e-12)
    assert lux(180.0) == pytest.approx(float(exposure_illuminance(4.0, 1 / 48, 800.0, 250.0)), rel=1e-12)
