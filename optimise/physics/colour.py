"""Colour of light: mired, chromaticity, the Planckian locus, and mixtures of two lights.

Numbers of clauses in standards are from memory.
"""

from collections.abc import Mapping

import numpy as np
from numpy.typing import ArrayLike, NDArray

from optimise.physics.arrays import SMALLEST, numbers

SECOND_RADIATION = 1.4388e-2
"""Second radiation constant, m K, as CIE 15:2018 rounds it."""

Floats = NDArray[np.float64]

COOLEST, HOTTEST = 100.0, 1e6
"""K: what is colder has no light that can be seen, and what is hotter is all of one colour."""


def mired(temperature: ArrayLike) -> Floats:
    """Return a colour temperature in reciprocal megakelvin (mired).

    temperature: K, any shape. Raises ValueError where one is not above 0.
    Source: definition, 10⁶ / T.
    """
    return np.asarray(1e6 / numbers("a colour temperature", temperature, above=0.0))


def filtered_temperature(temperature: ArrayLike, shift: ArrayLike) -> Floats:
    """Return the colour temperature, K, of light behind a filter.

    temperature: K, of the light before it; shift: mired, above 0 for a filter that warms. Shapes broadcast.
    Raises ValueError where a temperature is not above 0, or nothing is left of a reciprocal one.
    Source: definition of the mired shift, 10⁶/T₂ − 10⁶/T₁; strict for Planckian radiators, near for others.
    """
    left = mired(temperature) + numbers("shift", shift)
    if not np.all(left >= SMALLEST):
        raise ValueError("the filter leaves no colour temperature")
    return np.asarray(1e6 / left)


def filtered_light(figures: Mapping[str, float | None], shift: float) -> Mapping[str, float | None]:
    """Return the colour figures of light behind a filter: a new colour temperature, and no other figure.

    figures: by name, of the light before it, `cct` in K; shift: mired, 0 for no filter. What else a filter does to a
    light is not known without its transmittance over the spectrum.
    Raises ValueError as `filtered_temperature` does, but where nothing is left of a colour temperature it is None.
    """
    if shift == 0.0:
        return figures
    before = figures["cct"]
    left = (
        None
        if before is None or float(mired(before)) + shift < SMALLEST
        else float(filtered_temperature(before, shift))
    )
    return {**dict.fromkeys(figures), "cct": left}


def tristimulus(flux: ArrayLike, x: ArrayLike, y: ArrayLike) -> Floats:
    """Return X, Y, Z, shape (..., 3), of light of a flux and chromaticity; Y is the flux.

    flux: lm; x, y: CIE 1931 chromaticity. Shapes broadcast. Raises ValueError where a y is not above 0.
    Source: CIE 15:2018, 7.
    """
    lumens, x_, y_ = np.broadcast_arrays(numbers("flux", flux), numbers("x", x), numbers("y", y, above=0.0))
    return np.stack([lumens * x_ / y_, lumens, lumens * (1.0 - x_ - y_) / y_], axis=-1)


def chromaticity(xyz: ArrayLike) -> Floats:
    """Return CIE 1931 x, y, shape (..., 2).

    xyz: shape (..., 3). Mixtures are made by adding their X, Y, Z before (Grassmann's law).
    Raises ValueError where X + Y + Z is not above 0.
    Source: CIE 15:2018, 7.
    """
    parts = numbers("xyz", xyz)
    total = parts.sum(axis=-1, keepdims=True)
    if not np.all(total >= SMALLEST):
        raise ValueError("there is no light")
    return np.asarray(parts[..., :2] / total)


def uniform_chromaticity(xyz: ArrayLike) -> Floats:
    """Return u, v of the CIE 1960 diagram, shape (..., 2), in which colour temperatures are defined.

    xyz: shape (..., 3). Raises ValueError where there is no light.
    Source: CIE 15:2018, 9.5: u = 4X / (X + 15Y + 3Z), v = 6Y / (X + 15Y + 3Z).
    """
    parts = numbers("xyz", xyz)
    total = parts @ np.array([1.0, 15.0, 3.0])
    if not np.all(total >= SMALLEST):
        raise ValueError("there is no light")
    return np.asarray(np.stack([4.0 * parts[..., 0], 6.0 * parts[..., 1]], axis=-1) / total[..., None])


def planckian(temperature: float, wavelengths: ArrayLike) -> Floats:
    """Return the spectrum of a Planckian radiator, shape (n,), scaled to 1 at 560 nm.

    temperature: K, from `COOLEST` to `HOTTEST`; wavelengths: nm, shape (n,), from 1 to 1e6. Raises ValueError outside
    that.
    Source: Planck's law, CIE 15:2018, 4.1.1.
    """
    waves = numbers("wavelengths", wavelengths, least=1.0, most=1e6)
    kelvin = float(numbers("temperature", temperature, least=COOLEST, most=HOTTEST))

    def radiance(nm: Floats) -> Floats:
        # e^−x / (1 − e^−x) for 1 / (e^x − 1), which would overflow.
        x = SECOND_RADIATION / (nm * 1e-9 * kelvin)
        return np.asarray((nm / 560.0) ** -5.0 * np.exp(-x) / -np.expm1(-x))

    return np.asarray(radiance(waves) / radiance(np.array(560.0)))


def isotemperature(temperature: float, wavelengths: ArrayLike, observer: ArrayLike) -> Floats:
    """Return coefficients a, shape (3,), of the line of one correlated colour temperature: a · XYZ = 0 on it.

    temperature: K; wavelengths: nm, shape (n,), even steps; observer: x̄, ȳ, z̄ at them, shape (n, 3).
    a · XYZ is above 0 for what is colder (of higher temperature), below for what is warmer: linear in the light, and
    so a row of a linear program. Holds near the Planckian locus (|Duv| to 0.05).
    Raises ValueError where the temperature is not from 1 K above `COOLEST` to 1 K below `HOTTEST`, shapes do not go
    together, or the observer tells no colours apart.
    Source: CIE 15:2018, 9.5: the line is normal to the Planckian locus in the CIE 1960 diagram.
    """
    waves, matching = numbers("wavelengths", wavelengths), numbers("observer", observer)
    numbers("temperature", temperature, least=COOLEST + 1.0, most=HOTTEST - 1.0)
    if matching.shape != (len(waves), 3):
        raise ValueError("observer must be of shape (n, 3)")

    def locus(kelvin: float) -> Floats:
        return uniform_chromaticity(planckian(kelvin, waves) @ matching)

    point = locus(temperature)
    tangent = locus(temperature + 0.5) - locus(temperature - 0.5)
    if not np.hypot(*tangent) > 0.0:
        raise ValueError("observer must tell colours apart")
    tangent = tangent / np.hypot(*tangent)
    along = float(point @ tangent)
    return np.array([4.0 * tangent[0] - along, 6.0 * tangent[1] - 15.0 * along, -3.0 * along])


def share_for(first: ArrayLike, second: ArrayLike, line: ArrayLike) -> float:
    """Return the share of the flux, 0 to 1, that the second of two lights gives in a mixture on a line.

    first, second: X, Y, Z of each, shape (3,), in any measure; line: coefficients as of `isotemperature`.
    Raises ValueError where one has no flux or another shape, or both lie on the same side of the line: no mixture of
    them reaches it.
    Source: X, Y, Z add (Grassmann's law; CIE e-ILV 17-23-033), so that the line is a linear equation in the share.
    """
    a, b, coefficients = numbers("first", first), numbers("second", second), numbers("line", line)
    if not (a.shape == b.shape == coefficients.shape == (3,) and a[1] >= SMALLEST and b[1] >= SMALLEST):
        raise ValueError("each light has flux")
    here, there = float(coefficients @ a / a[1]), float(coefficients @ b / b[1])
    if here == there or here * there > 0.0:
        raise ValueError("no mixture of the two has this colour temperature")
    return here / (here - there)
