"""Least squares in logarithms and Student's t, against scipy."""

import math

import numpy as np
import pytest
import scipy.stats

from optimise.physics.fitting import CONFIDENCE, MANY, coverage_factor, expanded, fit_logs, student_quantile


@pytest.mark.parametrize("freedom", [1, 2, 3, 4, 5, 8, 13, 40, 121])
@pytest.mark.parametrize("confidence", [0.5, 0.95, 0.999])
def test_quantiles_are_those_of_a_general_library(freedom: int, confidence: float) -> None:
    expected = scipy.stats.t.ppf((1.0 + confidence) / 2.0, freedom)
    assert student_quantile(freedom, confidence) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(("freedom", "confidence"), [(0, 0.95), (-1, 0.95), (3, 0.0), (3, 1.0), (3, math.nan)])
def test_quantiles_outside_their_domain(freedom: int, confidence: float) -> None:
    with pytest.raises(ValueError, match="must be"):
        student_quantile(freedom, confidence)


def test_a_mean_has_the_interval_of_a_t_test() -> None:
    logs = np.array([-0.08, -0.05, -0.11, -0.06])
    fit = fit_logs(np.ones((4, 1)), logs)
    interval = scipy.stats.ttest_1samp(logs, 0.0).confidence_interval(CONFIDENCE)
    assert fit.freedom == 3
    assert float(fit.logs[0]) == pytest.approx(logs.mean(), rel=1e-12)
    half = expanded([(float(fit.deviations[0]), 3.0)])
    assert float(fit.logs[0]) - half == pytest.approx(interval.low, rel=1e-9)
    assert float(fit.logs[0]) + half == pytest.approx(interval.high, rel=1e-9)


def test_two_factors_have_the_intervals_of_a_straight_line() -> None:
    behind = np.array([0.0, 0.0, 1.0, 1.0, 1.0])
    logs = np.array([0.02, 0.05, -0.10, -0.12, -0.07])
    fit = fit_logs(np.column_stack([np.ones(5), behind]), logs)
    line = scipy.stats.linregress(behind, logs)
    assert fit.logs == pytest.approx([line.intercept, line.slope], rel=1e-12)
    assert fit.deviations == pytest.approx([line.intercept_stderr, line.stderr], rel=1e-9)
    assert fit.freedom == 3


def test_as_many_readings_as_factors_leave_no_interval() -> None:
    fit = fit_logs([[1.0, 0.0], [1.0, 1.0]], [0.1, 0.3])
    assert fit.logs == pytest.approx([0.1, 0.2])
    assert np.all(np.isnan(fit.deviations))
    assert fit.freedom == 0


def test_the_truth_is_within_as_often_as_is_said() -> None:
    # 1,000 sets of five readings of two factors with 4 % of noise; three standard deviations of that count either way.
    rng = np.random.default_rng(7)
    design = np.array([[1.0, 0.0], [1.0, 0.0], [1.0, 1.0], [1.0, 1.0], [1.0, 1.0]])
    truth = np.array([-0.07, 0.04])
    held = np.zeros(2)
    for _ in range(1000):
        fit = fit_logs(design, design @ truth + rng.normal(0.0, 0.04, 5))
        held += np.abs(fit.logs - truth) <= coverage_factor(fit.freedom) * fit.deviations
    assert np.all(np.abs(held / 1000 - CONFIDENCE) < 3.0 * math.sqrt(0.95 * 0.05 / 1000))


@pytest.mark.parametrize(
    ("design", "logs", "words"),
    [
        ([[1.0, 1.0], [1.0, 1.0]], [0.1, 0.2], "tell the factors apart"),
        ([[1.0, 0.0]], [0.1], "tell the factors apart"),
        ([1.0, 1.0], [0.1, 0.2], "n × p"),
        ([[1.0], [1.0]], [0.1], "n × p"),
        ([[1.0]], [math.nan], "finite"),
    ],
)
def test_what_cannot_be_fitted(design: list[list[float]], logs: list[float], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        fit_logs(design, logs)


def test_uncertainties_add_as_squares_with_degrees_of_freedom_of_their_own() -> None:
    assert expanded([]) == 0.0
    assert expanded([(3.0, math.inf), (4.0, math.inf)]) == pytest.approx(5.0 * scipy.stats.norm.ppf(0.975), rel=1e-12)
    # Welch's test of two means: equal scatter and numbers of n have 2 (n − 1) degrees of freedom.
    assert expanded([(1.0, 7.0), (1.0, 7.0)]) == pytest.approx(math.sqrt(2.0) * scipy.stats.t.ppf(0.975, 14), rel=1e-9)
    # What is hardly there hardly counts, however little is known of it.
    assert expanded([(1.0, math.inf), (1e-4, 1.0)]) == pytest.approx(1.959964, rel=1e-6)
    last, beyond = coverage_factor(MANY), coverage_factor(MANY + 1.0)
    assert last == pytest.approx(beyond, rel=2e-3)
    assert last > beyond
    for parts in ([(1.0, 0.5)], [(1.0, math.inf), (1.0, 0.0)]):
        with pytest.raises(ValueError, match="at least 1"):
            expanded(parts)


def test_an_uncertainty_of_one_is_not_none() -> None:
    # JCGM 100:2008 (GUM), table G.2: 2.57 for five degrees of freedom at 95 %.
    assert expanded([(1.0, 5.0)]) == pytest.approx(2.57, abs=5e-3)
    assert expanded([(0.0, 5.0)]) == 0.0
