"""Dots on a diffuser worked out a second time: by Poisson's sum with Bessel functions, or light by light."""

import math
from functools import lru_cache

import numpy as np
from scipy.special import gamma, kv

from optimise.parts import Diffuser, Emitter, Panel
from optimise.physics.dots import dot_ripple
from optimise.physics.intensity import measured
from optimise.physics.places import grid_of


def series(x: float, y: float, pitch: tuple[float, float], depth: float, exponent: float, line: np.ndarray) -> float:
    """Return the light of an endless grid over its mean; line: lengths of the pieces along x and y.

    The transform of (m + 1) / 2π · d^(m+1) / (ρ² + d²)^((m+3)/2) over the plane is 2 (kd/2)^n K_n(kd) / Γ(n), with
    n = (m + 1) / 2 and the modified Bessel function of the second kind (tables of Hankel transforms; Abramowitz and
    Stegun 11.4.44, number from memory); that of a line is a sinc.
    """
    n = (exponent + 1.0) / 2.0
    most = [math.ceil(45.0 * p / (2.0 * math.pi * depth)) for p in pitch]
    i, j = np.meshgrid(np.arange(-most[0], most[0] + 1), np.arange(-most[1], most[1] + 1))
    k = 2.0 * np.pi * depth * np.hypot(i / pitch[0], j / pitch[1])
    some = (k > 0.0) & (k < 45.0)
    i, j, k = i[some], j[some], k[some]
    waves = 2.0 * (k / 2.0) ** n * kv(n, k) / gamma(n)
    waves *= np.sinc(i * line[0] / pitch[0]) * np.sinc(j * line[1] / pitch[1])
    return 1.0 + float((waves * np.cos(2.0 * np.pi * (i * x / pitch[0] + j * y / pitch[1]))).sum())


def summed(x: float, y: float, pitch: tuple[float, float], depth: float, exponent: float, line: np.ndarray) -> float:
    """Return the same light by light, for beams so narrow that 20 depths hold it all, and not over its mean."""
    reach = 20.0 * depth + float(line.max())
    u, v = np.meshgrid(*(np.arange(-math.ceil(reach / p) - 1, math.ceil(reach / p) + 2) * p for p in pitch))
    nodes, weights = np.polynomial.legendre.leggauss(16)
    panels = max(1, math.ceil(2.0 * float(line.max()) * math.sqrt(exponent + 3.0) / depth))
    along = ((np.arange(panels)[:, None] + 0.5 + nodes / 2.0) / panels - 0.5).ravel()
    share = np.tile(weights / 2.0 / panels, panels)
    a, b = (x - u)[..., None] - along * line[0], (y - v)[..., None] - along * line[1]
    light = (1.0 + (a * a + b * b) / depth**2) ** (-(exponent + 3.0) / 2.0)
    return float((light @ share).sum())


@lru_cache(maxsize=100_000)
def ripple(emitter: Emitter, panel: Panel, sheet: Diffuser, count: int, grid: tuple[int, int], lying: bool) -> float:
    """Return the ripple of so many emitters on a panel of some depth."""
    assert panel.depth is not None
    side = math.sqrt(panel.usable)
    places = grid_of(count, *grid, panel.width * side, panel.height * side)
    pitch = places.pitch_x, places.pitch_y
    lit = emitter.length
    if emitter.form == "module" and emitter.emitting_area is not None:
        lit = min(lit, math.sqrt(emitter.emitting_area * emitter.length / emitter.width))
    depth = max(panel.depth, max(pitch) / 100.0)
    if emitter.photometric is not None:
        lit = min(lit, pitch[0] if lying else pitch[1])
        return dot_ripple(measured(emitter.photometric), *pitch, depth, sheet.spread, lit, lying)
    exponent = math.log(0.5) / math.log(math.cos(math.radians(emitter.beam / 2.0)))
    if sheet.spread is not None:
        exponent += math.log(0.5) / math.log(math.cos(math.radians(sheet.spread / 2.0))) - 1.0
    line = np.array([lit, 0.0] if lying else [0.0, lit])
    light = series if exponent < 12.0 else summed
    most = light(0.0, 0.0, pitch, depth, exponent, line)
    least = light(pitch[0] / 2.0, pitch[1] / 2.0, pitch, depth, exponent, line)
    return (most - least) / (most + least)
