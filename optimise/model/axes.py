"""The figures of a build that can be traded against each other."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from optimise.model.choice import Evaluation
from optimise.model.heuristic import value_of
from optimise.model.state import step
from optimise.parts import Panel

HAIR = 1e-6
"""Share by which light and runtime must differ to be told apart."""


@dataclass(frozen=True)
class Axis:
    """One figure: where better lies, and how a build reads on it."""

    name: str
    what: str
    """In words."""
    prefers: Literal["less", "more"]
    unit: str
    """In which `of` counts."""
    of: Callable[[Evaluation, Panel], float]
    next: Callable[[float], float]
    """The least change of a value that counts as better."""
    listed: Callable[[Panel], float] | None = None
    """The value of a panel, where it is the panel's alone."""

    def loss(self, value: float) -> float:
        """Return a number that is less for a better value."""
        return value if self.prefers == "less" else -value

    def better(self, one: float, other: float) -> bool:
        """Whether one value is better than another."""
        return self.loss(one) < self.loss(other)

    def ends_at(self, value: float) -> bool:
        """Whether nothing is better than a value: nothing runs longer than the mains."""
        return not self.better(self.next(value), value)

    @property
    def worst(self) -> float:
        """A value that every build reaches."""
        return float("inf") if self.prefers == "less" else 0.0

    def of_panel(self, panel: Panel) -> float:
        """Return the value of a panel. Raises TypeError for a figure that is not the panel's alone."""
        assert self.listed is not None
        return self.listed(panel)


def _runtime(found: Evaluation, _: Panel) -> float:
    """Return the runtime, s; infinite on mains."""
    hours = found.figures["runtime"][0]
    return float("inf") if hours is None else hours * 3600.0


def _longer(panel: Panel) -> float:
    return max(panel.width, panel.height)


def _shorter(panel: Panel) -> float:
    return min(panel.width, panel.height)


AXES: dict[str, Axis] = {
    axis.name: axis
    for axis in (
        Axis("cost", "cost", "less", "cent", lambda e, _: float(e.cents), lambda v: v - 1.0),
        Axis("mass", "mass", "less", "mg", lambda e, _: float(e.milligrams), lambda v: v - 1.0),
        Axis("power", "power drawn", "less", "W", lambda e, _: value_of(e, "power"), lambda v: v - step("power", v)),
        Axis("runtime", "runtime", "more", "s", _runtime, lambda v: v * (1.0 + HAIR)),
        Axis("illuminance", "illuminance", "more", "lx", lambda e, _: e.lux, lambda v: v * (1.0 + HAIR)),
        Axis("panel_size", "longer side", "less", "m", lambda _, p: _longer(p), lambda v: v * (1.0 - 1e-9), _longer),
        Axis(
            "source_size", "shorter side", "more", "m", lambda _, p: _shorter(p), lambda v: v * (1.0 + 1e-9), _shorter
        ),
    )
}
