"""Flicker: closed forms against numerical integration over many phases, bounds that are never passed."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from optimise.physics.flicker import (
    change_in_stops,
    exposure_extremes,
    flicker,
    ieee_1789,
    pwm_extremes,
    ripple_residual,
    safe_shutter_angles,
    safe_times,
    waveform_extremes,
)

SHARES = st.floats(0.02, 1.0)
CYCLES = st.floats(0.05, 12.0)


def switched(duty: float, cycles: float, openings: np.ndarray) -> np.ndarray:
    """Return the time on, in periods, of exposures that open at these phases: the integral of a pulse train."""

    def until(phase: np.ndarray) -> np.ndarray:
        return np.floor(phase) * duty + np.minimum(phase - np.floor(phase), duty)

    return until(openings + cycles) - until(openings)


@pytest.mark.parametrize("cycles", [0.3, 0.5, 1.0, 1.7, 2.4, 2.5, 20.833])
@pytest.mark.parametrize("phase", [0.0, 0.4, 1.9])
def test_no_exposure_of_a_sine_is_beyond_the_residual_and_some_reach_it(cycles: float, phase: float) -> None:
    found, _ = quad(lambda t: 1 + 0.4 * np.sin(2 * np.pi * t + phase), 0.0, cycles, limit=400, epsabs=1e-13)
    residual = float(ripple_residual(0.4, 100.0, cycles / 100.0))
    assert abs(found / cycles - 1.0) <= residual + 1e-12
    middle, _ = quad(lambda t: 1 + 0.4 * np.cos(2 * np.pi * t), -cycles / 2, cycles / 2, limit=400, epsabs=1e-13)
    assert abs(middle / cycles - 1.0) == pytest.approx(residual, abs=1e-12)


@given(SHARES, CYCLES)
@settings(max_examples=60, deadline=None)
def test_switching_against_every_phase(duty: float, cycles: float) -> None:
    openings = np.linspace(0.0, 1.0, 20_001)
    edges = np.array([0.0, duty, -cycles, duty - cycles]) % 1.0
    exposures = switched(duty, cycles, np.concatenate([openings, edges])) / (duty * cycles)
    low, high = pwm_extremes(duty, 50.0, cycles / 50.0)
    assert float(low) == pytest.approx(exposures.min(), abs=1e-9)
    assert float(high) == pytest.approx(exposures.max(), abs=1e-9)


def test_a_short_shutter_may_miss_the_light_altogether() -> None:
    low, high = pwm_extremes(0.25, 100.0, 0.005)
    assert (float(low), float(high)) == pytest.approx((0.0, 2.0))
    assert float(change_in_stops(low, high)) == np.inf


@given(SHARES, SHARES, CYCLES, st.floats(0.05, 40.0))
@settings(max_examples=60, deadline=None)
def test_no_exposure_of_a_rippling_light_switched_is_beyond_the_bounds(
    duty: float, depth: float, cycles: float, ratio: float
) -> None:
    # Unit of time: one period of the ripple. The switching has `ratio` periods in it.
    low, high = (float(v) for v in exposure_extremes(cycles, depth, 1.0, duty, ratio))
    openings = np.linspace(0.0, 1.0 / ratio, 40, endpoint=False)
    pulses = np.arange(-1, int(np.ceil((cycles + 1.0 / ratio) * ratio)) + 1) / ratio
    for phase in np.linspace(0.0, 2 * np.pi, 24, endpoint=False):
        start = np.clip(pulses[None, :], openings[:, None], openings[:, None] + cycles)
        end = np.clip(pulses[None, :] + duty / ratio, openings[:, None], openings[:, None] + cycles)
        sine = (np.cos(2 * np.pi * start + phase) - np.cos(2 * np.pi * end + phase)) / (2 * np.pi)
        exposures = (end - start + depth * sine).sum(axis=1) / (duty * cycles)
        assert exposures.min() >= low - 1e-9
        assert exposures.max() <= high + 1e-9


@given(SHARES, SHARES, CYCLES)
@settings(max_examples=40, deadline=None)
def test_bounds_are_reached_by_either_alone(duty: float, depth: float, cycles: float) -> None:
    low, high = exposure_extremes(cycles, 0.0, 1.0, duty, 3.0)
    assert (float(low), float(high)) == pytest.approx(tuple(float(v) for v in pwm_extremes(duty, 3.0, cycles)))
    low, high = exposure_extremes(cycles, depth, 1.0)
    residual = float(ripple_residual(depth, 1.0, cycles))
    assert (float(low), float(high)) == pytest.approx((1.0 - residual, 1.0 + residual))


@given(st.lists(SHARES, min_size=2, max_size=2), SHARES, CYCLES, st.floats(0.2, 40.0))
@settings(max_examples=80, deadline=None)
def test_the_bounds_never_widen_with_the_duty(duties: list[float], depth: float, cycles: float, ratio: float) -> None:
    dim, bright = sorted(duties)
    low, high = exposure_extremes(cycles, depth, 1.0, [dim, bright], ratio)
    assert low[0] <= low[1] + 1e-9
    assert high[0] >= high[1] - 1e-9


@given(st.lists(st.floats(0.0, 2.0), min_size=2, max_size=9), CYCLES)
@settings(max_examples=60, deadline=None)
def test_a_measured_waveform_against_every_phase(levels: list[float], cycles: float) -> None:
    if sum(levels) < 0.05:
        levels = [1.0, *levels]
    corners = np.array([*levels, levels[0]])
    fine = 4_000
    time = (np.arange(fine * 14) + 0.5) / fine
    light = np.interp(time % 1.0, np.linspace(0.0, 1.0, len(corners)), corners)
    sums = np.append(0.0, np.cumsum(light)) / fine
    steps = np.arange(fine) / fine
    exposure = np.interp(steps + cycles, np.arange(len(sums)) / fine, sums) - np.interp(
        steps, np.arange(len(sums)) / fine, sums
    )
    mean = cycles * ((corners[1:] + corners[:-1]) / 2.0).mean()
    low, high = waveform_extremes(levels, 100.0, cycles / 100.0)
    assert low == pytest.approx(exposure.min() / mean, abs=5e-3)
    assert high == pytest.approx(exposure.max() / mean, abs=5e-3)
    assert low <= exposure.min() / mean + 2e-5  # the numerical integral is not exact at corners
    assert high >= exposure.max() / mean - 2e-5


def test_a_sine_as_a_measured_waveform() -> None:
    levels = 1 + 0.3 * np.sin(2 * np.pi * np.arange(2_000) / 2_000)
    residual = float(ripple_residual(0.3, 100.0, 1 / 48))
    assert waveform_extremes(levels, 100.0, 1 / 48) == pytest.approx((1 - residual, 1 + residual), abs=1e-6)


def test_safe_times_are_whole_periods() -> None:
    assert safe_times(100.0, 0.02) == pytest.approx([0.01, 0.02])
    assert len(safe_times(100.0, 0.0099)) == 0
    assert len(safe_shutter_angles(120.0, 100.0)) == 0


@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda: ripple_residual(1.1, 100.0, 0.02), "depth"),
        (lambda: ripple_residual(0.1, 0.0, 0.02), "frequency"),
        (lambda: pwm_extremes(0.0, 100.0, 0.02), "duty"),
        (lambda: pwm_extremes(0.5, 100.0, -1.0), "time"),
        (lambda: exposure_extremes(0.02, 0.1, float("nan")), "ripple_frequency"),
        (lambda: change_in_stops(-0.1, 1.0), "low"),
        (lambda: waveform_extremes([0.0, 0.0], 100.0, 0.02), "levels"),
        (lambda: waveform_extremes([[1.0, 2.0]], 100.0, 0.02), "levels"),
        (lambda: ieee_1789(-0.1, 100.0), "depth"),
        (lambda: safe_times(100.0, 0.0), "longest"),
        (lambda: safe_shutter_angles(0.0, 100.0), "frame_rate"),
    ],
)
def test_what_cannot_be_is_refused(call: object, name: str) -> None:
    with pytest.raises(ValueError, match=name):
        call()  # type: ignore[operator]


def test_what_is_not_stated_neither_ripples_nor_switches() -> None:
    assert np.array(exposure_extremes(0.013)) == pytest.approx([1.0, 1.0], rel=1e-12)
    switched = np.array(pwm_extremes(0.3, 100.0, 0.013))
    assert np.array(exposure_extremes(0.013, duty=0.3, pwm_frequency=100.0)) == pytest.approx(switched, rel=1e-12)
    change = float(ripple_residual(0.4, 100.0, 0.013))
    rippling = np.array(exposure_extremes(0.013, depth=0.4, ripple_frequency=100.0))
    assert rippling == pytest.approx([1.0 - change, 1.0 + change], rel=1e-12)


@pytest.mark.parametrize("cycles", [0.3, 0.7, 1.3, 2.5])
def test_the_bounds_of_both_are_those_of_the_source(cycles: float) -> None:
    # As the docstring derives: |sinc| and (2 + V) (1 − d) / 2 f T, V being the most that the sine rises and falls in
    # T, here gone through over many phases.
    time, duty, depth, pwm = 0.01, 0.5, 0.2, 40_000.0 / 3.0
    phases = np.linspace(0.0, 1.0, 501)[:, None]
    sine = np.sin(2.0 * np.pi * (phases + np.linspace(0.0, cycles, 4001)))
    travel = float(np.abs(np.diff(sine, axis=1)).sum(axis=1).max())
    part = abs(float(np.sinc(cycles))) + (2.0 + travel) * (1.0 - duty) / (2.0 * pwm * time)
    low, high = pwm_extremes(duty, pwm, time)
    least, most = exposure_extremes(time, depth, cycles / time, duty, pwm)
    assert least == pytest.approx(float(low) - depth * part, rel=1e-6)
    assert most == pytest.approx(float(high) + depth * part, rel=1e-6)


def test_flicker_counts_what_is_known_of_ripple_and_switching() -> None:
    # Half of the time on at 1 kHz over 1/48 s: 10.5 to 10.33 periods.
    on_off = math.log2(10.5 / (10.0 + 1.0 / 3.0))
    assert flicker(1 / 48, None, (0.5, 1000.0)) == pytest.approx(on_off, rel=1e-9)
    assert flicker(1 / 48, (0.0, 100.0), (0.5, 1000.0)) == pytest.approx(on_off, rel=1e-9)
    # A ripple of a tenth at 100 Hz over 2.083 periods changes it by 0.1 × 0.03954 either way.
    part = 0.1 * math.sin(math.pi * 100 / 48) / (math.pi * 100 / 48)
    for always in (None, (1.0, 1000.0)):
        found = flicker(1 / 48, (0.1, 100.0), always)
        assert found == pytest.approx(math.log2((1 + part) / (1 - part)), rel=1e-9)
        assert flicker(1 / 48, None, always) is None


def test_a_short_exposure_of_both_is_bounded_by_the_ripple_of_what_is_on() -> None:
    # A hundredth of a period, all of it on: twice the mean of a half, and half as much again at the crest.
    low, high = exposure_extremes(1e-5, 0.5, 100.0, 0.5, 1000.0)
    assert (float(low), float(high)) == pytest.approx((0.0, 3.0))


def test_a_million_times_are_listed_and_no_more() -> None:
    assert len(safe_times(1.0, 1_000_000.0)) == 1_000_000
    with pytest.raises(ValueError, match="longest must hold at most"):
        safe_times(1.0, 1_000_001.0)
