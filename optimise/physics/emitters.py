"""Flux, voltage and heat of an emitter at a drive current and temperature."""

import numpy as np
from numpy.typing import ArrayLike

from optimise.physics.arrays import Array, numbers

REFERENCE_TEMPERATURE = 25.0
"""Junction temperature in °C to which catalogue flux and voltage belong."""


def relative_flux(drive: ArrayLike, droop: ArrayLike) -> Array:
    """Return flux relative to rated at `drive` = current / rated current: g(x) = x (1 + droop (1 − x)).

    drive ≥ 0; droop in [0, 0.5); they broadcast. g(1) = 1, and efficacy g/x rises by `droop` as x → 0.
    Raises ValueError outside the domain. Source: first-order expansion of efficacy droop about the rated
    current (the design's own model, no published table).
    """
    x = numbers("drive", drive, least=0.0)
    d = numbers("droop", droop, least=0.0)
    if np.any(d >= 0.5):
        raise ValueError("droop must be less than 0.5")
    return np.asarray(x * (1.0 + d * (1.0 - x)))


def temperature_factor(junction: ArrayLike, per_kelvin: ArrayLike) -> Array:
    """Return flux relative to that at 25 °C: 1 + per_kelvin (junction − 25), never below 0.

    junction in °C; per_kelvin in 1/K. Raises ValueError where one is not finite. Source: linear hot/cold factor of LED
    data sheets (common practice).
    """
    t = numbers("junction", junction)
    a = numbers("per_kelvin", per_kelvin)
    return np.asarray(np.maximum(1.0 + a * (t - REFERENCE_TEMPERATURE), 0.0))


def junction_temperature(board: ArrayLike, heat: ArrayLike, resistance: ArrayLike) -> Array:
    """Return the junction temperature, °C: board + heat · resistance (heat in W of one emitter, K/W).

    Raises ValueError where heat or resistance is negative.
    """
    p = numbers("heat", heat, least=0.0)
    r = numbers("resistance", resistance, least=0.0)
    return np.asarray(numbers("board", board) + p * r)


def forward_voltage(
    rated_voltage: ArrayLike,
    current: ArrayLike,
    rated_current: ArrayLike,
    dynamic_resistance: ArrayLike,
    per_kelvin: ArrayLike = 0.0,
    junction: ArrayLike = REFERENCE_TEMPERATURE,
) -> Array:
    """Return the voltage, V, at `current` A: V + r (i − i_rated) + k (T − 25), at least 0.

    Raises ValueError where the rated voltage, a current or the resistance is negative.
    Source: linearised diode characteristic about the rated point (common practice of data sheets).
    """
    v = numbers("rated_voltage", rated_voltage, least=0.0)
    i = numbers("current", current, least=0.0)
    i0 = numbers("rated_current", rated_current, least=0.0)
    r = numbers("dynamic_resistance", dynamic_resistance, least=0.0)
    k = numbers("per_kelvin", per_kelvin)
    t = numbers("junction", junction)
    return np.asarray(np.maximum(v + r * (i - i0) + k * (t - REFERENCE_TEMPERATURE), 0.0))
