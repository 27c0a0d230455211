"""A measured beam behind a diffuser that spreads a narrow beam: convolution on the sphere, in both angles."""

from dataclasses import dataclass, field
from functools import lru_cache
from typing import Literal

import numpy as np

from optimise.physics.arrays import Array, numbers
from optimise.physics.beams import beam_exponent
from optimise.physics.intensity import MeasuredBeam, Table, flux_ahead, intensity_towards, measured, table_flux

NARROW = 10.0
"""Spread, deg, below which the diffuser's own lobe is sampled rather than the beam."""

_SLACK = 1.01
"""What quadrature may add to the peak of a convolution."""


@dataclass(frozen=True)
class _Made:
    """A table of type C that a sheet or a grid makes of another: equal where what went into it was."""

    source: Table
    by: Literal["spread", "grid"]
    angle: float
    vertical: Array = field(compare=False)
    horizontal: Array = field(compare=False)
    candela: Array = field(compare=False)
    kind: Literal["C"] = "C"


def scattered_peak(table: Table, spread: float) -> float:
    """Return a value that the intensity behind the diffuser never exceeds, cd for each lumen through it.

    A convolution is nowhere above the peak of either factor, and a lobe about a direction ahead sends at least half
    of its light ahead. Quick, where `scattered` is not. Raises ValueError as it does.
    """
    exponent = float(beam_exponent(spread))
    beam = measured(table)
    return 2.0 * min(beam.peak / beam.ahead, (exponent + 1.0) / (2.0 * np.pi)) * _SLACK


@lru_cache(maxsize=512)
def scattered(table: Table, spread: float) -> MeasuredBeam:
    """Return the beam behind a diffuser that gives a narrow beam the full width `spread`, deg.

    Every direction ahead is smeared by a lobe cos^n whose half-maximum width is `spread`; what the lobe sends back is
    taken to leave at the front like the rest, and so is what the table has behind 90°, so that the flux is that of
    the table. Raises ValueError where the table gives no light ahead, or the spread is outside the domain of
    `beam_exponent`.
    Source: definition of the half-maximum width applied to the cosine-power lobe; linearity of scattering. That the
    lobe is the same for every angle of incidence is an approximation (no published source): a lobe of 120° sends a
    little more aside than a diffuser called Lambertian.
    """
    exponent = float(beam_exponent(numbers("spread", spread, above=0.0)))
    if not flux_ahead(table) > 0.0:
        raise ValueError("a table of intensity must give light ahead")
    step = float(np.clip(spread / 20.0, 0.5, 1.0))
    vertical = np.linspace(0.0, 90.0, round(90.0 / step) + 1)
    smear = _by_lobe if spread < NARROW else _by_beam
    candela = smear(table, exponent, np.radians(vertical))
    if len(candela) == 1:
        axial = _Made(table, "spread", spread, vertical, np.zeros(1), candela)
        return MeasuredBeam(axial, table_flux(axial))
    around = _Made(
        table, "spread", spread, vertical, np.linspace(0.0, 360.0, _TURNS + 1), np.vstack([candela, candela[:1]])
    )
    return MeasuredBeam(around, table_flux(around))


@lru_cache(maxsize=512)
def narrowed(beam: MeasuredBeam, grid: float, ahead: float) -> tuple[MeasuredBeam, float]:
    """Return what a grid of black cells leaves of a beam of type C, and the share of its light that passes.

    grid: full width at half maximum, deg, to which it narrows diffuse light, above 0, below 180; ahead: share of the
    light straight ahead that it lets through, above 0, at most 1. Raises ValueError outside the domain, or for a table
    of another type.
    Source: cells take light and gather none, so that the intensity in each direction falls by what they pass there;
    what makes a cosine into cos^g is cos^(g − 1) (a grid wider than a cosine, 120°, passes all alike).
    """
    open_ = float(numbers("ahead", ahead, above=0.0, most=1.0))
    table = beam.table
    if table.kind != "C":
        raise ValueError("a grid narrows tables of type C")
    exponent = max(float(beam_exponent(grid)) - 1.0, 0.0)
    top = min(float(table.vertical[-1]), 90.0)
    # Fine enough that straight lines between angles follow the beam that is left.
    fine = np.linspace(0.0, top, round(top / min(grid / 40.0, 1.0)) + 1)
    vertical = np.union1d(table.vertical[table.vertical <= top], fine)
    rows = np.stack([np.interp(vertical, table.vertical, row) for row in table.candela])
    candela = rows * np.maximum(np.cos(np.radians(vertical)), 0.0) ** exponent
    left = _Made(table, "grid", grid, vertical, table.horizontal, candela)
    flux = table_flux(left)
    return MeasuredBeam(left, flux), open_ * flux / beam.flux


_TURNS = 72
"""Horizontal angles of a convolution."""


def _axial(table: Table) -> bool:
    return table.kind == "C" and len(table.horizontal) == 1


def _by_beam(table: Table, exponent: float, vertical: Array) -> Array:
    """Sum the lobe over the directions of the beam, by Fourier series in the horizontal angle."""
    edges = np.radians(np.linspace(0.0, 90.0, 181))
    middle = (edges[:-1] + edges[1:]) / 2.0
    zone = (np.cos(edges[:-1]) - np.cos(edges[1:])) * (2.0 * np.pi / _TURNS)
    turn = np.arange(_TURNS) * (2.0 * np.pi / _TURNS)
    rays = np.sin(middle)[:, None] * np.cos(turn), np.sin(middle)[:, None] * np.sin(turn)
    light = intensity_towards(table, *rays, np.cos(middle)[:, None]) * zone[:, None]
    waves = np.fft.rfft(light, axis=1)
    result = np.empty((_TURNS, len(vertical)))
    for column, angle in enumerate(vertical):
        cosine = np.cos(angle) * np.cos(middle)[:, None] + np.sin(angle) * np.sin(middle)[:, None] * np.cos(turn)
        lobe = np.maximum(cosine, 0.0) ** exponent * ((exponent + 1.0) / (2.0 * np.pi))
        # The lobe is even in the turn, so that its series is real.
        result[:, column] = np.fft.irfft((waves * np.fft.rfft(lobe, axis=1).real).sum(axis=0), _TURNS)
    return np.maximum(result[:1] if _axial(table) else result, 0.0)


def _by_lobe(table: Table, exponent: float, vertical: Array) -> Array:
    """Sum the beam over the directions of a narrow lobe about each direction asked for."""
    nodes, weights = np.polynomial.legendre.leggauss(12)
    # With s = cos^(n+1) of the angle from its middle, the lobe's light is spread evenly over s.
    away = np.arccos(((nodes + 1.0) / 2.0) ** (1.0 / (exponent + 1.0)))[:, None]
    about = (np.arange(16) * (2.0 * np.pi / 16))[None, :]
    share = (weights / 2.0 / 16)[:, None]
    sideways, upward, outward = np.sin(away) * np.cos(about), np.sin(away) * np.sin(about), np.cos(away) + 0.0 * about
    turn = np.arange(1 if _axial(table) else _TURNS)[:, None, None] * (2.0 * np.pi / _TURNS)
    result = np.empty((len(turn), len(vertical)))
    for column, angle in enumerate(vertical):
        radial = sideways * np.cos(angle) + outward * np.sin(angle)
        ahead = outward * np.cos(angle) - sideways * np.sin(angle)
        along = radial * np.cos(turn) - upward * np.sin(turn)
        across = radial * np.sin(turn) + upward * np.cos(turn)
        light = np.where(ahead >= 0.0, intensity_towards(table, along, across, ahead + 0.0 * turn), 0.0)
        result[:, column] = (light * share).sum(axis=(1, 2))
    return result
