"""Factors that explain readings, by least squares in logarithms, and how sure so many readings make them."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike

from optimise.physics.arrays import Array, numbers

CONFIDENCE = 0.95
"""Share of cases in which the truth lies within a stated interval (JCGM 100:2008, 6.3.3, names this as usual)."""


MANY = 1000
"""Degrees of freedom from which Student's t is taken as normal: it is within 0.2 % of it."""


@dataclass(frozen=True)
class LogFit:
    """Logarithms of factors, any number of them, and how the readings scatter about each."""

    logs: Array
    deviations: Array
    """Standard uncertainties, in the logarithm; NaN where there are no more readings than factors."""
    freedom: int
    """Readings beyond those that the factors take."""


def student_quantile(freedom: int, confidence: float = CONFIDENCE) -> float:
    """Return t such that a Student variable of `freedom` degrees lies within −t to t with probability `confidence`.

    Raises ValueError where freedom is less than 1, or confidence outside (0, 1).
    Source: Abramowitz & Stegun, 26.7.3 and 26.7.4 (from memory), inverted by halving.
    """
    if freedom < 1:
        raise ValueError("freedom must be at least 1")
    if not 0.0 < confidence < 1.0:
        raise ValueError("confidence must be between 0 and 1")
    low, high = 0.0, math.pi / 2.0
    for _ in range(64):
        middle = (low + high) / 2.0
        if _within(middle, freedom) < confidence:
            low = middle
        else:
            high = middle
    return math.sqrt(freedom) * math.tan(low)


def _within(angle: float, freedom: int) -> float:
    """Return the probability that |t| is less than √freedom tan(angle)."""
    cosine, sine = math.cos(angle), math.sin(angle)
    odd = freedom % 2 == 1
    if freedom == 1:
        return 2.0 * angle / math.pi
    term = cosine if odd else 1.0
    terms = [term]
    for step in range(3 if odd else 2, freedom - 1, 2):
        term *= cosine**2 * (step - 1) / step
        terms.append(term)
    total = sine * math.fsum(terms)
    return 2.0 / math.pi * (angle + total) if odd else total


def coverage_factor(freedom: float, confidence: float = CONFIDENCE) -> float:
    """Return how many standard uncertainties an interval reaches to either side.

    freedom: degrees of freedom, at least 1, cut to a whole number; math.inf where the uncertainty is known as such.
    Raises ValueError as `student_quantile` does. Source: JCGM 100:2008 (GUM), G.3.4 and G.4.2.
    """
    if freedom > MANY:
        return NormalDist().inv_cdf((1.0 + confidence) / 2.0)
    return student_quantile(math.floor(freedom + 1e-9), confidence)


def expanded(parts: Sequence[tuple[float, float]], confidence: float = CONFIDENCE) -> float:
    """Return half of the width of the interval about an estimate with several uncertainties, independent of each other.

    parts: standard uncertainty and degrees of freedom of each, in the unit of the estimate. Raises ValueError where
    degrees of freedom are fewer than 1, or an uncertainty is not finite. Source: JCGM 100:2008 (GUM), 5.1.2 for the sum
    of squares, G.4.1 (Welch and Satterthwaite) for its degrees of freedom.
    """
    numbers("deviation", [deviation for deviation, _ in parts])
    if any(not freedom >= 1.0 for _, freedom in parts):
        raise ValueError("freedom must be at least 1")
    variance = math.fsum(deviation**2 for deviation, _ in parts)
    if variance == 0.0:
        return 0.0
    weight = math.fsum(deviation**4 / freedom for deviation, freedom in parts)
    freedom = variance**2 / weight if weight > 0.0 else math.inf
    return coverage_factor(freedom, confidence) * math.sqrt(variance)


def fit_logs(design: ArrayLike, logs: ArrayLike) -> LogFit:
    """Return the factors x, in logarithms, for which design · x comes nearest to `logs` by least squares.

    design: n × p, which factors each reading holds (1) or not (0); logs: n, the logarithm of measured over predicted.
    The uncertainties are those of the scatter about the fit, with n − p degrees of freedom. Raises ValueError where
    shapes do not match or the readings cannot tell the factors apart. Source: ordinary least squares.
    """
    rows, values = numbers("design", design), numbers("logs", logs)
    if rows.ndim != 2 or values.shape != rows.shape[:1]:
        raise ValueError("design must be n × p for n logs")
    if np.linalg.matrix_rank(rows) < rows.shape[1]:
        raise ValueError("the readings cannot tell the factors apart")
    inverse = np.linalg.inv(rows.T @ rows)
    found = inverse @ rows.T @ values
    left = values - rows @ found
    freedom = rows.shape[0] - rows.shape[1]
    if freedom == 0:
        return LogFit(found, np.full(found.shape, np.nan), 0)
    spread = float(left @ left) / freedom
    return LogFit(found, np.sqrt(np.diag(inverse) * spread), freedom)
