"""Flicker: how far the exposure of one frame, or of one line of it, depends on when the shutter opens.

A light that changes at a frequency f gives the same exposure whenever the shutter opens, if it stays open for a whole
number n of periods: t = n/f. Otherwise exposures lie between a least and a greatest one, whatever the phase; frames
differ by that where the shutter slips against the light, lines of a rolling shutter always do.
"""

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from optimise.physics.arrays import Array, numbers

Level = Literal["no observable effect", "low risk", "above low risk"]

MOST_TIMES = 1_000_000
"""Times of exposure that are listed at the most."""


def ripple_residual(depth: ArrayLike, frequency: ArrayLike, time: ArrayLike) -> Array:
    """Return the greatest change of an exposure from the mean one, as a share of it, for light that ripples as a sine.

    depth: (greatest − least) / (greatest + least) of the light, 0 to 1; frequency in Hz and time of exposure in s,
    above 0; all broadcast. Raises ValueError outside the domain. Source: the mean of 1 + m sin(2 π f t + φ) over a
    time T is 1 + m sin(π f T) / (π f T) · sin(φ').
    """
    m = _share("depth", depth)
    cycles = numbers("frequency", frequency, above=0.0) * numbers("time", time, above=0.0)
    return np.asarray(m * np.abs(np.sinc(cycles)))


def pwm_extremes(duty: ArrayLike, frequency: ArrayLike, time: ArrayLike) -> tuple[Array, Array]:
    """Return the least and the greatest exposure relative to the mean one, for light switched on and off.

    duty: share of each period in which it is on, above 0, at most 1; frequency in Hz and time in s, above 0; all
    broadcast. Raises ValueError outside the domain.
    Source: with N whole periods and a rest r of one, the time on is N d + min(r, d) at most and N d + max(0, r + d − 1)
    at least, in periods (closed form; held against numerical integration in the tests).
    """
    d = _share("duty", duty, above=0.0)
    cycles = numbers("frequency", frequency, above=0.0) * numbers("time", time, above=0.0)
    whole = np.floor(cycles * (1.0 + 1e-12))
    rest = np.maximum(cycles - whole, 0.0)
    mean = d * cycles
    low = (whole * d + np.maximum(rest + d - 1.0, 0.0)) / mean
    high = (whole * d + np.minimum(rest, d)) / mean
    return np.asarray(np.minimum(low, 1.0)), np.asarray(np.maximum(high, 1.0))


def exposure_extremes(
    time: ArrayLike,
    depth: ArrayLike = 0.0,
    ripple_frequency: ArrayLike = 1.0,
    duty: ArrayLike = 1.0,
    pwm_frequency: ArrayLike = 1.0,
) -> tuple[Array, Array]:
    """Return bounds of the least and the greatest exposure relative to the mean one: a rippling light, switched.

    The light is (1 + m sin) while it is on. Where it is always on (duty 1), or does not ripple (depth 0), the bounds
    are reached; otherwise no exposure is beyond them. They never widen with the duty. Arguments as those of
    `ripple_residual` and `pwm_extremes`, which also say where ValueError is raised; all broadcast.

    Source: with p the switching and G the integral of p − d, |G| ≤ d (1 − d) / 2 f_p about its middle, the ripple's
    part of an exposure is m ∫ p sin = m d ∫ sin + m [G sin] − m ∫ G dsin: at most m (d T |sinc(f T)| + (2 + V) d (1 −
    d) / 2 f_p), V being the most that the sine rises and falls in T. It is never more than m times the time on.
    """
    t = numbers("time", time, above=0.0)
    d = _share("duty", duty, above=0.0)
    m = _share("depth", depth)
    f_pwm = numbers("pwm_frequency", pwm_frequency, above=0.0)
    cycles = numbers("ripple_frequency", ripple_frequency, above=0.0) * t
    low, high = pwm_extremes(d, f_pwm, t)
    halves = np.floor(2.0 * cycles)
    travel = 2.0 * halves + 2.0 * np.sin(np.pi / 2.0 * (2.0 * cycles - halves))
    part = np.abs(np.sinc(cycles)) + (2.0 + travel) * (1.0 - d) / (2.0 * f_pwm * t)
    least = np.maximum(low * (1.0 - m), low - m * part)
    most = np.minimum(high * (1.0 + m), high + m * part)
    return np.asarray(np.maximum(least, 0.0)), np.asarray(most)


def change_in_stops(low: ArrayLike, high: ArrayLike) -> Array:
    """Return log2(high / low) of exposures; infinite where some exposure gets no light at all.

    Raises ValueError where low is below 0, or high is not above 0.
    """
    least = numbers("low", low, least=0.0)
    most = numbers("high", high, above=0.0)
    with np.errstate(divide="ignore"):
        return np.asarray(np.log2(most) - np.log2(least))


def flicker(time: float, ripple: tuple[float, float] | None, switching: tuple[float, float] | None) -> float | None:
    """Return the most that one exposure may differ from another, in stops, as far as it is known of a light.

    time in s; ripple: its depth and frequency, switching: its duty and frequency, Hz, each None where it is not known
    and then not counted. None where nothing is known that could change an exposure; infinite where an exposure may get
    no light. Raises ValueError as `exposure_extremes` does.
    """
    if ripple is None and (switching is None or switching[0] >= 1.0):
        return None
    low, high = exposure_extremes(time, *(ripple or (0.0, 1.0)), *(switching or (1.0, 1.0)))
    return float(change_in_stops(low, high))


def waveform_extremes(levels: ArrayLike, frequency: float, time: float) -> tuple[float, float]:
    """Return the least and the greatest exposure relative to the mean one, for light of a measured waveform.

    levels: light at equal steps over one period, shape (n,), n ≥ 2, at least 0, straight lines between them and from
    the last to the first; frequency in Hz and time in s, above 0. Exact for such a waveform: an exposure is extreme
    where one of its ends is at a step, or where the light is as strong as it opens as it is as it closes. Raises
    ValueError outside the domain, or where there is no light.
    """
    light = numbers("levels", levels, least=0.0)
    if light.ndim != 1 or len(light) < 2 or not light.sum() > 0.0:
        raise ValueError("levels must be at least two, in one row, not all of them 0")
    cycles = float(numbers("frequency", frequency, above=0.0) * numbers("time", time, above=0.0))
    n = len(light)
    corners = np.append(light, light[0])
    sums = np.append(0.0, np.cumsum((corners[1:] + corners[:-1]) / 2.0)) / n
    shift = cycles % 1.0

    def at(phase: Array) -> Array:
        return np.asarray(np.interp(phase % 1.0, np.linspace(0.0, 1.0, n + 1), corners))

    def until(phase: Array) -> Array:
        place = (phase % 1.0) * n
        step = np.minimum(np.floor(place).astype(np.int64), n - 1)
        part = place - step
        rise = corners[step + 1] - corners[step]
        return np.asarray(np.floor(phase) * sums[-1] + sums[step] + (corners[step] + rise * part / 2.0) * part / n)

    steps = np.arange(n) / n
    opening = np.sort(np.concatenate([steps, (steps - shift) % 1.0, [0.0, 1.0]]))
    gap = at(opening + shift) - at(opening)
    # Between two of these both ends of the exposure are on straight lines, and so is the gap.
    crossing = gap[:-1] * gap[1:] < 0.0
    width, first, second = np.diff(opening)[crossing], gap[:-1][crossing], gap[1:][crossing]
    opening = np.append(opening, opening[:-1][crossing] + width * first / (first - second))
    exposure = until(opening + shift) - until(opening) + np.floor(cycles) * sums[-1]
    mean = cycles * sums[-1]
    return float(exposure.min() / mean), float(exposure.max() / mean)


def safe_times(frequency: float, longest: float) -> Array:
    """Return every time of exposure up to `longest`, s, that is a whole number of periods: n / f, shortest first.

    Raises ValueError where an argument is not above 0, or more than `MOST_TIMES` would be returned. Source: as in the
    module's head.
    """
    f = float(numbers("frequency", frequency, above=0.0))
    most = float(numbers("longest", longest, above=0.0))
    number = np.floor(most * f * (1.0 + 1e-12))
    if number > MOST_TIMES:
        raise ValueError(f"longest must hold at most {MOST_TIMES} periods")
    return np.asarray(np.arange(1, int(number) + 1) / f)


def safe_shutter_angles(frame_rate: float, frequency: float) -> Array:
    """Return every shutter angle up to 360°, at a frame rate in 1/s, that is open for whole periods of the light.

    360 · n · frame rate / f degrees, smallest first; empty where one period is longer than a frame.
    Raises ValueError as `safe_times` does.
    """
    rate = float(numbers("frame_rate", frame_rate, above=0.0))
    return np.asarray(safe_times(frequency, 1.0 / rate) * rate * 360.0)


def ieee_1789(depth: float, frequency: float) -> Level:
    """Return the level of IEEE 1789-2015 of light with a modulation (0 to 1) at a frequency in Hz.

    In per cent, low risk is up to 0.025 f below 90 Hz, 0.08 f from there to 1250 Hz, and any above; no observable
    effect is up to 0.01 f below 90 Hz, 0.0333 f from there to 3000 Hz, and any from 3000 Hz on (where 0.0333, rounded
    from 1/30, would be a hair short of all). 90 Hz itself belongs to the band above it. Raises ValueError outside the
    domain. Source: IEEE 1789-2015, recommended practices 1 and 2, seen second-hand.
    """
    share, f = float(_share("depth", depth)), float(numbers("frequency", frequency, above=0.0))
    per_cent = 100.0 * share * (1.0 - 1e-12)
    if f >= 3000.0 or per_cent <= (0.01 if f < 90.0 else 0.0333) * f:
        return "no observable effect"
    if f > 1250.0 or per_cent <= (0.025 if f < 90.0 else 0.08) * f:
        return "low risk"
    return "above low risk"


def _share(name: str, values: ArrayLike, above: float | None = None) -> Array:
    return numbers(name, values, least=0.0, above=above, most=1.0)
