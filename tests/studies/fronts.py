"""The front of a small problem by looking at every build, to compare with."""

import math

from oracle import LOOSE, Build, Oracle, lead_current, runs, whole

from optimise.model.axes import AXES

SAME = 3e-6
"""Share within which power, light or runtime count as equal: what the search does not tell apart, and rounding."""


def figures(build: Build, oracle: Oracle) -> dict[str, float]:
    """Return the figures of a build on every axis, in the units of the axes, worked out by the oracle's own sums."""
    lit, source = build.lit, build.source
    panel, count = lit.head.panel, sum(kind.count for kind in lit.kinds)
    heat = math.fsum(kind.heat for kind in lit.kinds)
    hours = math.inf
    if source.battery is not None:
        hours = runs(source, lead_current(source.nominal, source.resistance, lit.apparent), oracle.scenario)
    return {
        "cost": float(build.cents),
        "mass": float(build.milligrams),
        "power": build.watts,
        "runtime": hours,
        "illuminance": lit.head.lux(lit.kinds, lit.head.board(heat), lit.head.factor(count)),
        "panel_size": max(panel.width, panel.height),
        "source_size": min(panel.width, panel.height),
    }


def every_build(oracle: Oracle) -> list[tuple[Build, dict[str, float]]]:
    """Return all builds that keep every limit, or are so near to one that only the exact check can tell."""
    found = []
    for lit in oracle.lit:
        for source in oracle.sources:
            for mount in oracle.mounts:
                build = whole(lit, source, mount, oracle.scenario, LOOSE)
                if build is not None:
                    found.append((build, figures(build, oracle)))
    return found


def front_of(oracle: Oracle, axes: tuple[str, ...]) -> list[tuple[float, ...]]:
    """Return the losses (less is better) of the builds that no other beats, in the order of the first axis."""
    rules = [AXES[axis] for axis in axes]
    builds = [(tuple(rule.loss(values[rule.name]) for rule in rules), build) for build, values in every_build(oracle)]
    kept: list[tuple[float, ...]] = []
    for losses, build in sorted(builds, key=lambda row: row[0]):
        beaten = any(all(a <= b for a, b in zip(other, losses, strict=True)) for other in kept)
        if not beaten and oracle.check(build).passes:
            kept.append(losses)
    return kept


def covers(one: tuple[float, ...], other: tuple[float, ...], axes: tuple[str, ...]) -> bool:
    """Whether one point is no worse than another, but for what counts as equal."""
    return all(
        a <= b + (SAME * abs(b) if axis in ("power", "runtime", "illuminance") and math.isfinite(b) else 1e-9)
        for a, b, axis in zip(one, other, axes, strict=True)
    )
