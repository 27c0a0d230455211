"""What columns weigh on the scales of cost, mass and power, and what a scenario caps."""

from collections.abc import Mapping

import numpy as np

from optimise.columns.expand import Floats
from optimise.model.choice import TOLERANCE
from optimise.model.problem import Problem

SCALES = ("cost", "mass", "power")

Weights = tuple[Floats, Floats, Floats, float]
"""Weights of channels, heads and supplies by index, and of the lightest mount."""


def weights(problem: Problem, scale: str, least_load: float) -> Weights:
    """Return (channel, head, supply, mount) weights of all columns on a scale: cents, mg or W.

    The power lost in a lead is counted at `least_load` VA, the least that any build draws.
    """
    if scale == "cost":
        mount = float(problem.mount_cost.min()) if problem.mounts else 0.0
        return problem.channel_cost, problem.head_cost, problem.supplies.cost.astype(np.float64), mount
    if scale == "mass":
        mount = float(problem.mount_mass.min()) if problem.mounts else 0.0
        return problem.channel_mass, problem.head_mass, problem.supplies.mass.astype(np.float64), mount
    loss = np.nan_to_num(problem.supplies.loss(least_load), nan=np.inf)
    return problem.channels.power, np.zeros(len(problem.heads)), loss, 0.0


def capped(caps: Mapping[str, float]) -> list[str]:
    """Return the scales that have a cap."""
    return [scale for scale in SCALES if np.isfinite(caps[scale]) and caps[scale] > 0.0]


def weights_of_all(problem: Problem, caps: Mapping[str, float], load: float) -> Weights:
    """Return the weights of all capped scales together (one at least), each as a share of its cap, averaged.

    A build within every cap weighs at most 1: what is cheap but heavy, or light but dear, goes by this bound
    though it passes each cap alone.
    """
    known = capped(caps)
    parts = [(1.0 / (caps[scale] * len(known)), weights(problem, scale, load)) for scale in known]
    channel, head, supply = (sum(share * weighing[i] for share, weighing in parts) for i in range(3))
    mount = sum(share * weighing[3] for share, weighing in parts)
    return np.asarray(channel), np.asarray(head), np.asarray(supply), mount


def limits_of(problem: Problem) -> dict[str, float]:
    """Return the scenario's own limits on the three scales, in cents, mg and W, as the exact check takes them."""
    limit = problem.scenario.limits
    return {
        "cost": np.inf if limit.budget is None else float(limit.budget),
        "mass": np.inf if limit.mass is None else limit.mass * 1e6 * (1 + TOLERANCE),
        "power": np.inf if limit.power is None else limit.power * (1 + TOLERANCE),
    }
