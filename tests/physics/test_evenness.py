"""How even light is over a subject, by hand. The table is invented."""

import math

import numpy as np
import pytest

from optimise.parts.photometry import Photometry
from optimise.physics.evenness import evenness_of, grid_evenness, subject_grid
from optimise.physics.intensity import measured

FAN = Photometry(
    "C", np.array([0.0, 45.0, 90.0]), np.array([0.0, 90.0]), np.array([[100.0, 20.0, 0.0], [100.0, 100.0, 0.0]])
)
"""Narrow along the piece, wide across it."""


def test_points_and_weights_of_a_subject() -> None:
    points, weights, edge = subject_grid(0.8, 0.4, 2.0)
    assert points.shape == (81, 3)
    assert set(points[:, 0].round(12)) == {round(0.1 * i, 12) for i in range(-4, 5)}
    assert set(points[:, 1].round(12)) == {round(0.05 * i, 12) for i in range(-4, 5)}
    assert set(points[:, 2]) == {2.0}
    assert edge.sum() == 32
    # By the trapezoid rule a corner has a quarter of what the middle has, an edge a half; there are 64 cells.
    assert weights.sum() == pytest.approx(1.0)
    assert sorted(set((weights * 64).round(9))) == [0.25, 0.5, 1.0]
    assert (weights[edge] * 64).sum() == pytest.approx(4 * 0.25 + 28 * 0.5)
    # A line has but its own points, and both ends of it are its edge.
    points, weights, edge = subject_grid(0.0, 0.4, 2.0)
    assert (len(points), edge.sum()) == (9, 2)
    assert sorted(set((weights * 8).round(9))) == [0.5, 1.0]
    for sides in ((-0.1, 0.4), (0.4, -0.1)):
        with pytest.raises(ValueError, match="side must be at least 0"):
            subject_grid(*sides, 2.0)


@pytest.mark.parametrize(
    ("lux", "stops"),
    [
        ([2.0, 4.0, 1.0], 2.0),
        ([8.0, 4.0, 2.0], 1.0),
        ([0.0, 4.0, 2.0], math.inf),
        ([1.0, 0.0, 2.0], math.inf),
        ([0.0, 0.0, 0.0], math.inf),
    ],
)
def test_stops_from_the_middle_to_the_edge(lux: list[float], stops: float) -> None:
    found = evenness_of(np.array(lux), np.array([0.25, 0.5, 0.25]), np.array([True, False, True]))
    assert found.edge == stops
    assert (found.least, found.mean) == (min(lux), (lux[0] + 2 * lux[1] + lux[2]) / 4)
    assert found.share == (min(lux) / found.mean if found.mean else 0.0)


@pytest.mark.parametrize("lying", [True, False])
def test_one_emitter_with_a_table_that_lies_or_stands(lying: bool) -> None:
    beam = measured(FAN)
    found = grid_evenness(beam, 1, 1, 1, 0.5, 0.5, 1.0, 0.0, lying, (2.0, 0.0))
    x = np.linspace(-1.0, 1.0, 9)
    # Linear from 100 to 20 at 45° along the piece; across it the same as ahead.
    along = 100.0 - 80.0 * np.degrees(np.arctan(np.abs(x))) / 45.0 if lying else np.full(9, 100.0)
    lux = along / (1.0 + x**2) ** 1.5
    mean = (lux.sum() - (lux[0] + lux[-1]) / 2) / 8
    assert found.share == pytest.approx(lux.min() / mean, rel=1e-9)
    assert found.edge == pytest.approx(math.log2(lux[4] / lux[0]), rel=1e-9)
