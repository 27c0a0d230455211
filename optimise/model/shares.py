"""In what shares two whites may be mixed, for the mixture to keep the limits on colour.

Limits on colour temperature are lines in X, Y, Z (`temperature_lines`), so that of two lights they leave one range of
shares, in closed form. Limits on Duv and on quality bend: they are looked at along that range, between its points and
at the peaks between them, and may leave several.
"""

from collections.abc import Callable
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from optimise.model.mixture import Floats, Mixture, white_of
from optimise.parts import Emitter
from optimise.parts.colour import library_version, worked_out
from optimise.physics.whites import COLDEST, WARMEST, temperature_and_duv, temperature_lines
from optimise.scenario.colour import ColourLimit, asked
from optimise.scenario.model import Look

Shares = tuple[tuple[float, float], ...]
"""Ranges of the share of the light that the second kind gives, rising; empty where no mixture will do."""

POINTS, FEW_POINTS = 65, 33
"""Shares that are looked at where Duv is limited, and where quality is, which takes longer."""

_HAIR = 1e-9
"""By how much a range is widened: the exact check decides at its ends."""

HALVINGS, FEW_HALVINGS = 40, 14
"""Of a range in which a limit is met or not; where they are few the range is told too wide, never too narrow."""

_GOLDEN = (np.sqrt(5.0) - 1.0) / 2.0


@lru_cache(maxsize=256)
def _line(temperature: float) -> Floats:
    # No light is colder or warmer than what whites are looked for in: a limit beyond that is one at its end.
    return temperature_lines(min(max(temperature, WARMEST / 2.0), 2.0 * COLDEST))


def widest_shares(first: Emitter, second: Emitter, low: float | None, high: float | None) -> tuple[float, float] | None:
    """Return the range of shares of the second light within two colour temperatures, K; None where there is none.

    It holds every mixture of both within them. None as well where the chromaticity of one is not known.
    """
    whites = white_of(first), white_of(second)
    if whites[0] is None or whites[1] is None:
        return None
    least, most = 0.0, 1.0
    for limit, sign in ((low, 1.0), (high, -1.0)):
        if limit is None:
            continue
        line = sign * _line(limit)
        here, there = (float(line @ np.array(xyz)) for xyz in whites)
        if max(here, there) < 0.0:
            return None
        if here < 0.0:
            least = max(least, here / (here - there))
        elif there < 0.0:
            most = min(most, here / (here - there))
    return (least, most) if least <= most else None


def shares_of(first: Emitter, second: Emitter, look: Look) -> Shares:
    """Return the ranges of shares of the second light in which a mixture may keep every limit on colour."""
    return _shares(first, second, look, library_version())


@lru_cache(maxsize=4096)
def _shares(first: Emitter, second: Emitter, look: Look, library: str | None) -> Shares:
    """Return the ranges of `shares_of`, remembered for the colour library that works spectra out."""
    widest = widest_shares(first, second, look.cct_min, look.cct_max)
    if widest is None:
        return ()
    rest = [(limit, required) for limit, required in asked(look) if limit.figure != "cct"]
    quality = [item for item in rest if item[0].figure != "duv"]
    if quality and not (worked_out(first) and worked_out(second)):
        return ()  # what cannot be worked out is never taken as kept

    whites = white_of(first), white_of(second)
    assert whites[0] is not None
    assert whites[1] is not None
    hues = tuple((limit, required) for limit, required in rest if limit.figure == "duv")
    ranges = _of_hue(whites[0], whites[1], hues, widest)
    for limit, required in quality:
        left = _Quality(first, second, look, limit, required)
        ranges = tuple(part for low, high in ranges for part in _within(left, low, high, FEW_POINTS, FEW_HALVINGS))
    return tuple((max(low - _HAIR, 0.0), min(high + _HAIR, 1.0)) for low, high in ranges)


@lru_cache(maxsize=4096)
def _of_hue(
    first: tuple[float, float, float],
    second: tuple[float, float, float],
    limits: tuple[tuple[ColourLimit, float], ...],
    widest: tuple[float, float],
) -> Shares:
    """Return the ranges that limits on Duv leave of one; many kinds of emitter are of the same white."""
    ranges: Shares = (widest,)
    whites = np.array([first, second])

    for limit, required in limits:

        def left(shares: Floats, limit: ColourLimit = limit, required: float = required) -> Floats:
            mixed = np.stack([1.0 - shares, shares], axis=1) @ whites
            return _gap(temperature_and_duv(mixed)[:, 1], limit, required)

        ranges = tuple(part for low, high in ranges for part in _within(left, low, high, POINTS, HALVINGS))
    return ranges


def _gap(achieved: Floats, limit: ColourLimit, required: float) -> Floats:
    """Return what is left on a limit, below 0 where it is missed; endlessly so where a figure is not known."""
    gap = achieved - required if limit.kind == "min" else required - achieved
    return np.where(np.isnan(gap), -np.inf, gap)


class _Quality:
    """What mixtures of two spectra have left on one limit, by their share."""

    def __init__(self, first: Emitter, second: Emitter, look: Look, limit: ColourLimit, required: float) -> None:
        self.pair, self.reference = (first, second), look.ssi_reference
        self.limit, self.required = limit, required

    def __call__(self, shares: NDArray[np.float64]) -> Floats:
        """Return what is left at shares, below 0 where the limit is missed."""
        found = [Mixture(self.pair, (1.0 - s, s), self.reference)[self.limit.figure] for s in shares.tolist()]
        achieved = np.array([np.nan if value is None else value for value in found])
        return _gap(achieved, self.limit, self.required)


def _within(
    left: Callable[[Floats], Floats], low: float, high: float, points: int, halvings: int
) -> list[tuple[float, float]]:
    """Return the ranges between two shares in which something is left."""
    shares = np.linspace(low, high, points) if high > low else np.array([low])
    values = left(shares)
    inner = np.flatnonzero((values[1:-1] < 0.0) & (values[1:-1] >= values[:-2]) & (values[1:-1] >= values[2:])) + 1
    for place in inner.tolist():
        # A peak between points that are all missed may still reach the limit.
        peak, height = _peak(left, float(shares[place - 1]), float(shares[place + 1]), halvings)
        if height >= 0.0:
            shares, values = np.append(shares, peak), np.append(values, height)
    order = np.argsort(shares, kind="stable")
    shares, values = shares[order], values[order]
    kept = values >= 0.0
    ranges: list[tuple[float, float]] = []
    start: float | None = None
    for place in range(len(shares)):
        before = place > 0 and kept[place - 1]
        if kept[place] and not before:
            start = float(shares[place])
            if place > 0:
                start = _edge(left, float(shares[place]), float(shares[place - 1]), halvings)
        if start is not None and not kept[place] and before:
            ranges.append((start, _edge(left, float(shares[place - 1]), float(shares[place]), halvings)))
            start = None
    if start is not None:
        ranges.append((start, float(shares[-1])))
    return ranges


def _edge(left: Callable[[Floats], Floats], good: float, bad: float, halvings: int) -> float:
    """Return the last share from a good one towards a bad one, by halving; it is on the bad side by a hair."""
    for _ in range(halvings):
        middle = (good + bad) / 2.0
        if left(np.array([middle]))[0] >= 0.0:
            good = middle
        else:
            bad = middle
    return bad


def _peak(left: Callable[[Floats], Floats], low: float, high: float, halvings: int) -> tuple[float, float]:
    """Return the share between two with most left, and what is left there: by the golden section."""
    a, b = high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)
    at_a, at_b = float(left(np.array([a]))[0]), float(left(np.array([b]))[0])
    for _ in range(halvings):
        if at_a >= at_b:
            high, b, at_b = b, a, at_a
            a = high - _GOLDEN * (high - low)
            at_a = float(left(np.array([a]))[0])
        else:
            low, a, at_a = a, b, at_b
            b = low + _GOLDEN * (high - low)
            at_b = float(left(np.array([b]))[0])
        if max(at_a, at_b) >= 0.0:
            break
    return (a, at_a) if at_a >= at_b else (b, at_b)
