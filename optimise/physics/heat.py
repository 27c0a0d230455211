"""Board temperature from natural convection and radiation."""

import numpy as np
from numpy.typing import ArrayLike

from optimise.physics.arrays import Array, numbers

STEFAN_BOLTZMANN = 5.670374419e-8
"""W/(m² K⁴), CODATA 2018."""
GRAVITY = 9.80665
"""m/s², standard acceleration of free fall (CGPM 1901)."""
ZERO_CELSIUS = 273.15

# Air at atmospheric pressure: Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, Table A.4
# (values from memory; a test holds them against the `fluids` library's standard atmosphere).
_KELVIN = np.array([250.0, 300.0, 350.0, 400.0, 450.0])
_CONDUCTIVITY = np.array([22.3e-3, 26.3e-3, 30.0e-3, 33.8e-3, 37.3e-3])
_VISCOSITY = np.array([11.44e-6, 15.89e-6, 20.92e-6, 26.41e-6, 32.39e-6])
_PRANDTL = np.array([0.720, 0.707, 0.700, 0.690, 0.686])

HOTTEST = 1500.0
"""Excess over ambient in K within which a board temperature is sought."""


class TooHotError(ValueError):
    """More heat than a board sheds `HOTTEST` K above ambient."""


def air_properties(film: ArrayLike) -> tuple[Array, Array, Array]:
    """Return (conductivity W/(m K), kinematic viscosity m²/s, Prandtl number) of air at `film` K.

    Linear between the table's rows; outside 250 to 450 K the end values hold. Raises ValueError where a temperature is
    not above 0 K.
    """
    return _air(numbers("film", film, above=0.0))


def _air(film: Array) -> tuple[Array, Array, Array]:
    return (
        np.asarray(np.interp(film, _KELVIN, _CONDUCTIVITY)),
        np.asarray(np.interp(film, _KELVIN, _VISCOSITY)),
        np.asarray(np.interp(film, _KELVIN, _PRANDTL)),
    )


def nusselt_vertical(rayleigh: ArrayLike, prandtl: ArrayLike) -> Array:
    """Return the mean Nusselt number of a vertical plate in natural convection.

    Raises ValueError where a Rayleigh number is negative or a Prandtl number not above 0.
    Source: Churchill & Chu (1975), Int. J. Heat Mass Transfer 18:1323, all Rayleigh numbers.
    """
    ra = numbers("rayleigh", rayleigh, least=0.0)
    pr = numbers("prandtl", prandtl, above=0.0)
    return _nusselt(ra, pr)


def _nusselt(rayleigh: Array, prandtl: Array) -> Array:
    mixed = (1.0 + (0.492 / prandtl) ** (9 / 16)) ** (8 / 27)
    return np.asarray((0.825 + 0.387 * rayleigh ** (1 / 6) / mixed) ** 2)


def convection_coefficient(board: ArrayLike, ambient: ArrayLike, height: ArrayLike) -> Array:
    """Return the mean coefficient, W/(m² K), of a vertical plate `height` m tall; temperatures in °C.

    Zero where board and ambient are equal. Properties at the film temperature, β = 1/T_film (ideal gas). Raises
    ValueError where the height or the film temperature, in K, is not above 0.
    """
    hot = numbers("board", board) + ZERO_CELSIUS
    cold = numbers("ambient", ambient) + ZERO_CELSIUS
    tall = numbers("height", height, above=0.0)
    if np.any(hot + cold <= 0.0):
        raise ValueError("film must be more than 0")
    return _coefficient(hot, cold, tall)


def _coefficient(hot: Array, cold: Array, tall: Array) -> Array:
    film = (hot + cold) / 2.0
    conductivity, viscosity, prandtl = _air(film)
    difference = np.maximum(hot - cold, 0.0)
    rayleigh = GRAVITY / film * difference * tall**3 / viscosity**2 * prandtl
    return np.asarray(np.where(difference > 0.0, _nusselt(rayleigh, prandtl) * conductivity / tall, 0.0))


def heat_shed(
    board: ArrayLike,
    ambient: ArrayLike,
    width: ArrayLike,
    height: ArrayLike,
    faces: ArrayLike,
    emissivity: ArrayLike,
) -> Array:
    """Return the heat, W, that an upright isothermal board sheds by convection and radiation.

    Temperatures in °C, lengths in m, faces 1 or 2, surroundings at ambient; all broadcast. Strictly
    increasing in the board temperature above ambient, zero at ambient. Raises ValueError where a side or the film
    temperature, in K, is not above 0, or faces or emissivity are below it.
    Source: Newton's and Stefan-Boltzmann's laws with `convection_coefficient`.
    """
    hot = numbers("board", board) + ZERO_CELSIUS
    cold = numbers("ambient", ambient) + ZERO_CELSIUS
    area = (
        numbers("width", width, above=0.0) * numbers("height", height, above=0.0) * numbers("faces", faces, least=0.0)
    )
    grey = numbers("emissivity", emissivity, least=0.0)
    if np.any(hot + cold <= 0.0):
        raise ValueError("film must be more than 0")
    return _shed(hot, cold, np.asarray(height, dtype=np.float64), area, grey)


def _shed(hot: Array, cold: Array, tall: Array, area: Array, grey: Array) -> Array:
    """As `heat_shed`, in kelvins, for arguments that are known to be sound."""
    convected = _coefficient(hot, cold, tall) * (hot - cold)
    radiated = grey * STEFAN_BOLTZMANN * (hot**4 - cold**4)
    return np.asarray(area * (convected + radiated))


def board_temperature(
    heat: ArrayLike,
    ambient: ArrayLike,
    width: ArrayLike,
    height: ArrayLike,
    faces: ArrayLike,
    emissivity: ArrayLike,
) -> Array:
    """Return the board temperature, °C, at which it sheds `heat` W: the inverse of `heat_shed`.

    All arguments broadcast. Raises ValueError where heat is negative or ambient not above 0 K, and as `heat_shed`
    does; `TooHotError` where heat is so great that the board would be more than `HOTTEST` K above ambient.
    """
    q = numbers("heat", heat, least=0.0)
    low = np.broadcast_to(
        numbers("ambient", ambient, above=-ZERO_CELSIUS),
        np.broadcast_shapes(*(np.shape(a) for a in (q, ambient, width, height, faces, emissivity))),
    ).astype(np.float64)
    q = np.broadcast_to(q, low.shape)
    high = low + HOTTEST
    below = -q.astype(np.float64)
    above = heat_shed(high, ambient, width, height, faces, emissivity) - q
    cold, tall = low + ZERO_CELSIUS, np.asarray(height, dtype=np.float64)
    area = np.asarray(width, dtype=np.float64) * tall * np.asarray(faces, dtype=np.float64)
    grey = np.asarray(emissivity, dtype=np.float64)
    if np.any(above < 0.0):
        raise TooHotError("heat is more than the board can shed at any temperature looked at")
    answer = low.copy()
    done = q == 0.0
    low_kept = high_kept = np.zeros(low.shape, dtype=bool)
    for _ in range(200):
        # Regula falsi with the side that stays put halved (Illinois): each element goes its own way.
        middle = high - above * (high - low) / (above - below)
        middle = np.where((middle > low) & (middle < high), middle, (low + high) / 2.0)
        excess = _shed(middle + ZERO_CELSIUS, cold, tall, area, grey) - q
        answer = np.where(done, answer, middle)
        done = done | (np.abs(excess) <= 1e-13 * q + 1e-12) | (high - low <= 1e-11)
        if np.all(done):
            break
        warmer = excess > 0.0
        below = np.where(warmer, np.where(low_kept, below / 2.0, below), excess)
        above = np.where(warmer, excess, np.where(high_kept, above / 2.0, above))
        low, high = np.where(warmer, low, middle), np.where(warmer, middle, high)
        low_kept, high_kept = warmer, ~warmer
    return np.asarray(answer)
