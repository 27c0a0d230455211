"""The lead: conductor resistance, current of a constant-power load, voltage drop, derating."""

import numpy as np
from numpy.typing import ArrayLike

from optimise.physics.arrays import Array, numbers

COPPER_PER_KELVIN = 0.00393
"""Temperature coefficient of copper's resistance at 20 °C, 1/K (IEC 60028)."""


def conductor_resistance(resistance_20: ArrayLike, temperature: ArrayLike) -> Array:
    """Return the resistance of copper at `temperature` °C from that at 20 °C (any unit of resistance).

    R = R20 (1 + 0.00393 (T − 20)). Raises ValueError where R20 is negative. Source: IEC 60028.
    """
    r = numbers("resistance_20", resistance_20, least=0.0)
    return np.asarray(r * (1.0 + COPPER_PER_KELVIN * (numbers("temperature", temperature) - 20.0)))


def load_current(voltage: ArrayLike, resistance: ArrayLike, power: ArrayLike) -> Array:
    """Return the current, A, of a load that draws `power` W behind a lead of `resistance` ohm in both wires.

    Driver inputs draw constant power: V I − R I² = P, so I = (V − √(V² − 4RP)) / 2R, written without
    cancellation as 2P / (V + √(V² − 4RP)). NaN where the lead cannot carry the power (no real root).
    All arguments broadcast. Raises ValueError where voltage is not above 0 or another is negative.
    Source: maximum power transfer, any circuit text.
    """
    v = numbers("voltage", voltage, above=0.0)
    r = numbers("resistance", resistance, least=0.0)
    p = numbers("power", power, least=0.0)
    under = v * v - 4.0 * r * p
    root = np.sqrt(np.where(under >= 0.0, under, np.nan))
    return np.asarray(2.0 * p / (v + root))


def load_power(voltage: ArrayLike, resistance: ArrayLike, current: ArrayLike) -> Array:
    """Return the power, W, that reaches the load at `current` A: V I − R I², the inverse of `load_current`.

    Currents above V / 2R are taken as V / 2R, where the power is greatest. Raises ValueError as `load_current` does.
    """
    v = numbers("voltage", voltage, above=0.0)
    r = numbers("resistance", resistance, least=0.0)
    i = numbers("current", current, least=0.0)
    with np.errstate(divide="ignore", over="ignore"):
        most = np.where(r > 0.0, v / np.where(r > 0.0, 2.0 * r, 1.0), np.inf)
    i = np.minimum(i, most)
    return np.asarray(v * i - r * i * i)


def ambient_factor(ambient: ArrayLike, conductor_max: ArrayLike) -> Array:
    """Return the share of the 30 °C current rating that holds at `ambient` °C: √((Tc − Ta) / (Tc − 30)).

    Never above 1, and 0 where the air is as hot as the conductor may be. Raises ValueError where that is not above 30
    °C.
    Source: heat balance of the conductor; reproduces the 60 °C cord factors of BS 7671 Table 4F3A.
    """
    air = numbers("ambient", ambient)
    hot = numbers("conductor_max", conductor_max, above=30.0)
    return np.asarray(np.minimum(1.0, np.sqrt(np.maximum(hot - air, 0.0) / (hot - 30.0))))
