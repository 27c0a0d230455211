"""The blue-light hazard weighting of IEC 62471, for a screening value: never a classification.

Numbers of clauses and tables in standards are from memory; the values were seen second-hand.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from optimise.physics.arrays import SMALLEST, numbers

EDITION = "IEC 62471:2006"

LUMINOUS_EFFICACY = 683.002
"""lm/W at the peak of V(λ) (CIE 15:2018)."""

EXEMPT = 100.0
"""W/(m² sr) up to which a source is exempt: 10 000 s of looking (IEC 62471:2006, 6.1)."""
LOW_RISK = 1e4
"""W/(m² sr) up to which a source is of risk group 1: 100 s of looking."""
MODERATE_RISK = 4e6
"""W/(m² sr) up to which a source is of risk group 2: 0.25 s, the time of a blink."""

Floats = NDArray[np.float64]

_TABLE = np.array(
    [
        (300, 0.01), (380, 0.01), (385, 0.013), (390, 0.025), (395, 0.05), (400, 0.1), (405, 0.2), (410, 0.4),
        (415, 0.8), (420, 0.9), (425, 0.95), (430, 0.98), (435, 1.0), (440, 1.0), (445, 0.97), (450, 0.94),
        (455, 0.9), (460, 0.8), (465, 0.7), (470, 0.62), (475, 0.55), (480, 0.45), (485, 0.4), (490, 0.22),
        (495, 0.16), (500, 0.1),
    ]
)  # fmt: skip


def blue_light_weight(wavelengths: ArrayLike) -> Floats:
    """Return B(λ), without unit, any shape; 0 below 300 nm and above 700 nm.

    wavelengths: nm; raises ValueError where one is below 0. Between the table's wavelengths it is taken on straight
    lines.
    Source: IEC 62471:2006, table 4.2: its values by 5 nm, 10^((450 − λ)/50) from 500 nm to 600 nm, 0.001 to 700 nm.
    """
    waves = numbers("wavelengths", wavelengths, least=0.0)
    curve = np.interp(waves, _TABLE[:, 0], _TABLE[:, 1])
    curve = np.where(waves > 500.0, 10.0 ** ((450.0 - np.minimum(waves, 600.0)) / 50.0), curve)
    curve = np.where(waves > 600.0, 0.001, curve)
    return np.asarray(np.where((waves < 300.0) | (waves > 700.0), 0.0, curve))


def blue_light_per_lumen(wavelengths: ArrayLike, values: ArrayLike, efficiency: ArrayLike) -> float:
    """Return watts of blue light, as weighted by B(λ), for each lumen of a light, W/lm.

    The same factor takes luminance, cd/m², to blue-light weighted radiance, W/(m² sr).
    wavelengths: nm, shape (n,), rising; values: power for a length of wave, any measure; efficiency: V(λ) at them.
    Integrals are by the trapezium rule. Raises ValueError where shapes differ, a value is not finite, a wavelength is
    below 0, or the light has no lumens.
    Source: IEC 62471:2006, 4.3.3 (the weighted radiance); CIE 15:2018 (683.002 lm/W).
    """
    waves, power, seen = (
        numbers("wavelengths", wavelengths),
        numbers("values", values),
        numbers("efficiency", efficiency),
    )
    if not waves.shape == power.shape == seen.shape or waves.ndim != 1:
        raise ValueError("wavelengths, values and efficiency have one shape, (n,)")
    width = np.diff(waves) / 2.0

    def total(curve: Floats) -> float:
        return float(((curve[1:] + curve[:-1]) * width).sum())

    lumens = LUMINOUS_EFFICACY * total(power * seen)
    if not lumens >= SMALLEST:
        raise ValueError("the light has no lumens")
    return total(power * blue_light_weight(waves)) / lumens
