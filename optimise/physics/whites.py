"""White lights: the chromaticity that a correlated colour temperature and Duv mean, and back, by their definition.

Numbers of clauses in standards are from memory.
"""

from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from optimise.physics.arrays import numbers
from optimise.physics.colour import COOLEST, HOTTEST, SECOND_RADIATION, uniform_chromaticity
from optimise.physics.observer import OBSERVER, WAVELENGTHS

WARMEST, COLDEST = 1000.0, 25000.0
"""K: the colour temperatures that are looked for."""

FARTHEST = 0.05
"""|Duv| beyond which a correlated colour temperature means nothing (CIE 15:2018, 9.5)."""

_ROUNDS = 25

Floats = NDArray[np.float64]


def locus(temperature: ArrayLike) -> Floats:
    """Return u, v of the CIE 1960 diagram, shape (..., 2), of Planckian radiators.

    temperature: K, any shape. Raises ValueError where one is not from `COOLEST` to `HOTTEST`.
    Source: Planck's law and sums by 5 nm, CIE 15:2018, 4.1.1 and 7.1.
    """
    kelvin = numbers("temperature", temperature, least=COOLEST, most=HOTTEST)
    metres = WAVELENGTHS * 1e-9
    x = SECOND_RADIATION / (metres * kelvin[..., None])
    # 1 / (e^x − 1) without overflow, and over that of 1 µm, which keeps the cold from vanishing.
    power = (metres / 560e-9) ** -5.0 * np.exp(SECOND_RADIATION / (1e-6 * kelvin[..., None]) - x) / -np.expm1(-x)
    return uniform_chromaticity(power @ OBSERVER)


def _tangents(kelvin: Floats) -> Floats:
    """Return the direction, of length 1, in which the locus runs towards the cold."""
    along = locus(kelvin + 0.5) - locus(kelvin - 0.5)
    return np.asarray(along / np.hypot(along[..., 0], along[..., 1])[..., None])


def temperature_lines(temperature: ArrayLike) -> Floats:
    """Return the coefficients a, shape (..., 3), of the lines of correlated colour temperatures: a · XYZ = 0 on them.

    As `isotemperature`, with the observer of `observer`: above 0 for what is colder, below for what is warmer.
    temperature: K, any shape. Raises ValueError where one is not within `COOLEST` and `HOTTEST`, 1 K inside. Source:
    CIE 15:2018, 9.5.
    """
    kelvin = numbers("temperature", temperature, least=COOLEST + 1.0, most=HOTTEST - 1.0)
    point, tangent = locus(kelvin), _tangents(kelvin)
    along = (point * tangent).sum(axis=-1)
    return np.stack([4.0 * tangent[..., 0] - along, 6.0 * tangent[..., 1] - 15.0 * along, -3.0 * along], axis=-1)


def white(temperature: float, duv: float = 0.0) -> Floats:
    """Return X, Y, Z, shape (3,), with Y = 1, of light of a correlated colour temperature, in K, and Duv.

    duv: distance from the Planckian locus in the CIE 1960 diagram, above 0 on the greenish side.
    Raises ValueError where the temperature is outside that of `temperature_lines`, or |duv| is above `FARTHEST`.
    Source: CIE 15:2018, 9.5; Duv as in ANSI C78.377 (definition from memory).
    """
    if not abs(duv) <= FARTHEST:
        raise ValueError("too far from the Planckian locus")
    kelvin = numbers("temperature", temperature, least=COOLEST + 1.0, most=HOTTEST - 1.0)
    along = _tangents(kelvin)
    # Towards the cold u falls: the greenish side is to the right.
    u, v = locus(kelvin) + duv * np.array([along[1], -along[0]])
    whole = 6.0 / v  # X + 15Y + 3Z
    return np.array([u * whole / 4.0, 1.0, (whole - u * whole / 4.0 - 15.0) / 3.0])


@cache
def _grid() -> tuple[Floats, Floats]:
    """Return reciprocal temperatures from the coldest on, in mired, and the coefficients of their lines."""
    mireds = np.linspace(1e6 / COLDEST, 1e6 / WARMEST, 97)
    return mireds, temperature_lines(1e6 / mireds)


def temperature_and_duv(xyz: ArrayLike) -> Floats:
    """Return the correlated colour temperature, K, and Duv of lights, shape (..., 2); not a number where one has none.

    xyz: X, Y, Z, shape (..., 3), in any measure. A light has none outside of `WARMEST` … `COLDEST`, and farther than
    `FARTHEST` from the Planckian locus. Raises ValueError where there is no light.
    Source: CIE 15:2018, 9.5, by the definition: that of the Planckian radiator which is nearest in the CIE 1960
    diagram, on whose line the light lies.
    """
    light = numbers("xyz", xyz)
    lights = light.reshape(-1, 3)
    points = uniform_chromaticity(lights)
    mireds, lines = _grid()
    side = lights @ lines.T
    nearest = np.full(len(lights), np.inf)
    found = np.full((len(lights), 2), np.nan)
    crossed = (side[:, :-1] <= 0.0) & (side[:, 1:] > 0.0)
    # Far from the locus a light lies on several lines: the nearest one counts, so all are looked at.
    which, place = np.nonzero(crossed)
    if len(which):
        kelvin = 1e6 / _roots(
            lights[which], mireds[place], mireds[place + 1], side[which, place], side[which, place + 1]
        )
        away = points[which] - locus(kelvin)
        apart = np.hypot(away[:, 0], away[:, 1])
        signed = np.where(away[:, 1] > 0.0, apart, -apart)
        for one, temperature, duv in zip(which.tolist(), kelvin.tolist(), signed.tolist(), strict=True):
            if abs(duv) <= FARTHEST * (1.0 + 1e-9) and abs(duv) < nearest[one]:
                nearest[one], found[one] = abs(duv), (temperature, duv)
    return found.reshape((*light.shape[:-1], 2))


def _roots(lights: Floats, low: Floats, high: Floats, under: Floats, over: Floats) -> Floats:
    """Return the mireds between `low` and `high` on whose lines lights lie, by false position (Illinois rule)."""
    low, high, under, over = low.copy(), high.copy(), under.copy(), over.copy()
    last = np.zeros(len(low))
    point = low
    for _ in range(_ROUNDS):
        point = (low * over - high * under) / (over - under)
        value = (temperature_lines(1e6 / point) * lights).sum(axis=-1)
        if np.all(np.abs(value) <= 1e-14 * np.abs(lights).max(axis=-1)):
            break
        above = value > 0.0
        under = np.where(above & (last > 0.0), under / 2.0, np.where(above, under, value))
        over = np.where(~above & (last < 0.0), over / 2.0, np.where(above, value, over))
        low, high = np.where(above, low, point), np.where(above, point, high)
        last = np.where(above, 1.0, -1.0)
    return np.asarray(point)
