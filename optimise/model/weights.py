"""What columns weigh on the scales of cost, mass and power, and what a scenario caps."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from optimise.columns.expand import Floats
from optimise.model.choice import TOLERANCE
from optimise.model.problem import Problem
from optimise.scenario import Scenario

SCALES = ("cost", "mass", "power")


@dataclass(frozen=True)
class Weighing:
    """What the columns of a problem weigh on one scale, or on several together."""

    channel: Floats
    """By channel, without the money for emitters and drivers."""
    money: float
    """Weight of a cent for emitters and drivers, whose price depends on their number."""
    head: Floats
    supply: Floats
    mount: float
    """Of the lightest mount."""


def weigh(problem: Problem, scale: str, least_load: float) -> Weighing:
    """Return what all columns weigh on a scale: cents, mg or W.

    The power lost in a lead is counted at `least_load` VA, the least that any build draws.
    """
    market = problem.market
    if scale == "cost":
        mount = float(market.mount_cost.min()) if market.mounts else 0.0
        none = np.zeros(len(problem.channels))
        return Weighing(none, 1.0, problem.head_cost, problem.supplies.cost.astype(np.float64), mount)
    if scale == "mass":
        mount = float(market.mount_mass.min()) if market.mounts else 0.0
        return Weighing(problem.channel_mass, 0.0, problem.head_mass, problem.supplies.mass.astype(np.float64), mount)
    loss = np.nan_to_num(problem.supplies.loss(least_load), nan=np.inf)
    return Weighing(problem.channels.power, 0.0, np.zeros(len(problem.heads)), loss, 0.0)


def capped(caps: Mapping[str, float]) -> list[str]:
    """Return the scales that have a cap."""
    return [scale for scale in SCALES if np.isfinite(caps[scale]) and caps[scale] > 0.0]


def weigh_all(problem: Problem, caps: Mapping[str, float], load: float) -> Weighing:
    """Return the weights of all capped scales together (one at least), each as a share of its cap, averaged.

    A build within every cap weighs at most 1: what is cheap but heavy, or light but dear, goes by this bound
    though it passes each cap alone.
    """
    known = capped(caps)
    parts = [(1.0 / (caps[scale] * len(known)), weigh(problem, scale, load)) for scale in known]
    return Weighing(
        channel=np.asarray(sum(share * part.channel for share, part in parts)),
        money=sum(share * part.money for share, part in parts),
        head=np.asarray(sum(share * part.head for share, part in parts)),
        supply=np.asarray(sum(share * part.supply for share, part in parts)),
        mount=sum(share * part.mount for share, part in parts),
    )


def limits_of(scenario: Scenario) -> dict[str, float]:
    """Return the scenario's own limits on the three scales, in cents, mg and W, as the exact check takes them."""
    limit = scenario.limits
    return {
        "cost": np.inf if limit.budget is None else float(limit.budget),
        "mass": np.inf if limit.mass is None else limit.mass * 1e6 * (1 + TOLERANCE),
        "power": np.inf if limit.power is None else limit.power * (1 + TOLERANCE),
    }
