"""How far the inverse-square law may be trusted, against the five-times rule.

Source: IES definition 9.1.1, inverse-square law: within 1 % where the distance is at least five times the
greatest dimension of the source as seen from the point (read on the society's page of definitions). The
errors of disk and square are computed for this project from Howell's factors (see test_published_faces).
"""

import math

import pytest

from optimise.physics.faces import face_factor

TIMES = (1, 2, 3, 5, 10, 15)


def square_error(edge: float, distance: float) -> float:
    """By how much the inverse-square law says too much for a square face, as a share."""
    return edge**2 / (math.pi * distance**2) / float(face_factor(edge, edge, distance)) - 1.0


@pytest.mark.parametrize(("times", "percent"), list(zip(TIMES, (32.9, 8.30, 3.70, 1.332, 0.333, 0.148), strict=True)))
def test_error_of_a_square_by_its_edge(times: int, percent: float) -> None:
    assert 100.0 * square_error(1.0, times) == pytest.approx(percent, rel=2e-3)


@pytest.mark.parametrize(("times", "percent"), list(zip(TIMES, (25.0, 6.25, 2.778, 1.00, 0.25, 0.1111), strict=True)))
def test_square_errs_more_than_the_disk_inside_it_and_less_than_the_one_around_it(times: int, percent: float) -> None:
    # Disk of diameter D at n D: 1 / (4 n²). The disk around a square of edge D has twice its area.
    assert percent < 100.0 * square_error(1.0, times) < 2.0 * percent


def test_five_times_rule_holds_for_the_diagonal_of_a_square() -> None:
    # Greatest dimension of a square is its diagonal: 0.67 % at five times.
    error = square_error(1.0 / math.sqrt(2.0), 5.0)
    assert error == pytest.approx(0.0067, abs=5e-5)
    assert error <= 0.01


def test_five_times_rule_does_not_hold_for_the_edge_of_a_square() -> None:
    assert 0.0133 < square_error(1.0, 5.0) < 0.0134
