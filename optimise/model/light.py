"""What a head needs and a channel gives at a board's temperature, and how warm a board is."""

import numpy as np

from optimise.columns.expand import Floats, Ints
from optimise.model.problem import Problem
from optimise.physics.emitters import REFERENCE_TEMPERATURE
from optimise.physics.heat import board_temperature, heat_shed

HAIR = 1e-9
"""Relative slack of a bound, for rounding."""


def need_of(problem: Problem, heads: Ints, board: Floats) -> Floats:
    """Return target / lux per lumen, corrected for a board at `board` °C, for the heads at an index."""
    per_kelvin = np.array([e.flux_per_kelvin for e in problem.parts.emitters])[problem.heads.emitter[heads]]
    warm = np.maximum(1.0 + per_kelvin * (board - REFERENCE_TEMPERATURE), 1e-6)
    return np.asarray(problem.target / (problem.heads.lux_per_lumen[heads] * warm))


def flux_of(problem: Problem, channels: Ints, coldest: Floats) -> Floats:
    """Return the lumens of channels when the board is at the coldest of their emitter, per `need_of`.

    coldest: °C by emitter. flux(T) = flux25 (1 + a (T + rise − 25)); divided by (1 + a (T − 25)) it falls
    with T, so the coldest board gives the most.
    """
    emitter = problem.channels.emitter[channels]
    per_kelvin = np.array([e.flux_per_kelvin for e in problem.parts.emitters])[emitter]
    warm = np.maximum(1.0 + per_kelvin * (coldest[emitter] - REFERENCE_TEMPERATURE), 1e-6)
    share = 1.0 + per_kelvin * problem.channels.rise[channels] / warm
    return np.asarray(problem.channels.flux[channels] * np.maximum(share, 0.0))


def boards(problem: Problem, heads: Ints, heat: Floats) -> Floats:
    """Return the board temperature of heads at an index for the heat given, °C (a lower bound by 1e-9 K)."""
    ambient = problem.scenario.power.ambient
    panels = [problem.parts.panels[i] for i in problem.heads.panel[heads]]
    measured = np.array([p.thermal_resistance or 0.0 for p in panels], dtype=np.float64)
    limited = np.minimum(heat * (1 - HAIR), problem.heads.heat_max[heads])
    calculated = board_temperature(
        limited,
        ambient,
        np.array([p.width for p in panels]),
        np.array([p.height for p in panels]),
        np.array([p.faces for p in panels]),
        np.array([p.emissivity for p in panels]),
    )
    known = np.where(measured > 0.0, ambient + limited * measured, calculated)
    return np.asarray(np.maximum(known - 1e-9, ambient))


def heat_at(problem: Problem, head: int, board: float) -> float:
    """Return the heat, W, at which the board of a head is at `board` °C."""
    panel = problem.parts.panels[problem.heads.panel[head]]
    ambient = problem.scenario.power.ambient
    if panel.thermal_resistance is not None:
        return float((board - ambient) / panel.thermal_resistance)
    return float(heat_shed(board, ambient, panel.width, panel.height, panel.faces, panel.emissivity))
