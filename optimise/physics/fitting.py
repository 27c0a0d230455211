"""Factors that explain readings, by least squares in logarithms, and how sure so many readings make them."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from optimise.physics.arrays import Array, numbers

CONFIDENCE = 0.95
"""Share of cases in which the truth lies within a stated interval (JCGM 100:2008, 6.3.3, names this as usual)."""


@dataclass(frozen=True)
class LogFit:
    """Logarithms of factors, any number of them, and half of the width of the interval of each."""

    logs: Array
    half_widths: Array
    """At `CONFIDENCE`, in the logarithm; NaN where there are no more readings than factors."""
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


def fit_logs(design: ArrayLike, logs: ArrayLike) -> LogFit:
    """Return the factors x, in logarithms, for which design · x comes nearest to `logs` by least squares.

    design: n × p, which factors each reading holds (1) or not (0); logs: n, the logarithm of measured over predicted.
    The interval is that of the scatter about the fit, with Student's t for n − p degrees of freedom. Raises ValueError
    where shapes do not match or the readings cannot tell the factors apart.
    Source: ordinary least squares; JCGM 100:2008 (GUM), G.3 for the interval.
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
    return LogFit(found, student_quantile(freedom) * np.sqrt(np.diag(inverse) * spread), freedom)
