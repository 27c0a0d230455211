"""Runtime of a battery, and the rules under which it may fly."""

from enum import Enum

import numpy as np
from numpy.typing import ArrayLike

from optimise.physics.arrays import Array, numbers

RATING_TEMPERATURE = 25.0
"""°C at which capacities are rated."""


def cold_factor(ambient: ArrayLike, per_kelvin: ArrayLike) -> Array:
    """Return the share of rated capacity left at `ambient` °C: 1 − per_kelvin (25 − ambient) below 25 °C.

    Never above 1 (no gain is counted in the heat) and never below 0. Raises ValueError where per_kelvin is below 0.
    Source: linear fit to makers' capacity tables (common practice).
    """
    cold = np.maximum(RATING_TEMPERATURE - numbers("ambient", ambient), 0.0)
    return np.asarray(np.clip(1.0 - numbers("per_kelvin", per_kelvin, least=0.0) * cold, 0.0, 1.0))


def discharge_time(current: ArrayLike, capacity: ArrayLike, rated_time: ArrayLike, peukert: ArrayLike) -> Array:
    """Return the time, s, to empty a battery at `current` A: t = H (C / (I H))^k.

    capacity C in C (A s), rated over H = rated_time s; peukert k from 1 to 2. At k = 1 the rated time does not
    matter. Raises ValueError outside the domain, or where another argument is not above 0.
    Source: Peukert (1897) in the rated-hour form. Below the rated current the law would promise more
    than the rated capacity; that is not counted: t ≤ C / I.
    """
    i = numbers("current", current, above=0.0)
    c = numbers("capacity", capacity, above=0.0)
    h = numbers("rated_time", rated_time, above=0.0)
    k = numbers("peukert", peukert, least=1.0, most=2.0)
    return np.asarray(np.minimum(h * (c / (i * h)) ** k, c / i))


def discharge_current(time: ArrayLike, capacity: ArrayLike, rated_time: ArrayLike, peukert: ArrayLike) -> Array:
    """Return the greatest current, A, that a battery gives for `time` s: the inverse of `discharge_time`.

    Raises ValueError as that does.
    """
    t = numbers("time", time, above=0.0)
    c = numbers("capacity", capacity, above=0.0)
    h = numbers("rated_time", rated_time, above=0.0)
    k = numbers("peukert", peukert, least=1.0, most=2.0)
    return np.asarray(np.minimum(c / h * (h / t) ** (1.0 / k), c / t))


def resting_voltage(taken: ArrayLike, full: float, nominal: float, empty: float) -> Array:
    """Return the voltage, V, of a battery of which a share of the rated charge has been taken, 0 to 1, any shape.

    Straight lines from full over nominal, at half of the charge, to empty: what a catalogue states, and no more. A real
    one stays longer near the nominal voltage. Raises ValueError where a share is outside 0 to 1.
    Source: common practice, no source.
    """
    share = numbers("taken", taken, least=0.0, most=1.0)
    return np.asarray(np.interp(share, [0.0, 0.5, 1.0], numbers("voltage", [full, nominal, empty])))


class Flight(Enum):
    """How a battery may travel as passenger baggage."""

    FREE = "cabin, no approval"
    APPROVAL = "cabin, with the airline's approval"
    REFUSED = "not as passenger baggage"


def flight_rule(chemistry: str, watt_hours: float, voltage: float) -> tuple[Flight, int]:
    """Return how one battery may fly, and how many such a passenger may carry.

    Lithium: up to 100 Wh free (20), up to 160 Wh with approval (2), above refused. Non-spillable lead-acid:
    at most 12 V and 100 Wh (2). NiMH and NiCd: no watt-hour rule (20 taken as for lithium).
    Source: IATA Dangerous Goods Regulations, passenger provisions 2.3 (figures seen second-hand for the
    editions of 2018, 2025 and 2026; lead-acid from one secondary page).
    """
    if chemistry == "lead-acid":
        return (Flight.FREE, 2) if watt_hours <= 100.0 and voltage <= 12.0 else (Flight.REFUSED, 0)
    if chemistry in {"nimh", "nicd"}:
        return Flight.FREE, 20
    if watt_hours <= 100.0:
        return Flight.FREE, 20
    if watt_hours <= 160.0:
        return Flight.APPROVAL, 2
    return Flight.REFUSED, 0
