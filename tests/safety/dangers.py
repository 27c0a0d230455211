"""What a danger is: a part that tempts, the figure that makes it dangerous, and where the edge lies."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

from judge import Found, of
from worlds import BATTERY_WORLD, MAINS_WORLD, TAPE_WORLD, TUBE_WORLD, Row, World

from optimise.model.choice import ChannelChoice, Choice, Evaluation
from optimise.model.exact import evaluate
from optimise.parts import Catalogue
from optimise.report.record_parts import choice_record, figures_record
from optimise.scenario import Scenario

BAIT = "BAIT"
"""Code of the part that is free, weighs nothing and loses nothing."""

SAFE = "SAFE"
"""Code of the like of it that is just safe."""

LITTLE = 1.0
"""EUR that it costs."""

COMMON = "common practice, no source"
MAKER = "the maker's rating, which the catalogue states"
COORDINATION = "IEC 60364-4-43, 433.1 (from memory)"
CONTINUOUS = "NEC 210.20(A) (seen second-hand)"
EXTRA_LOW = "IEC 60598-1:2008, 8.2.3 (seen second-hand)"
DROP = "BS 7671 Appendix 4, Table 4Ab (seen second-hand)"
DERATING = "BS 7671 Table 4F3A (seen second-hand)"
FLIGHT = "IATA DGR, passenger provisions 2.3 (seen second-hand)"
ENCLOSED = "IEC 60529"
EARTHED = "IEC 61140, class I"

Edge = Callable[[Found, Row], float]
"""The last safe value, from the figures of a build with the tempting part and that part's cells."""
Told = tuple[tuple[str, ...], str]
"""What the exact check calls a danger, and what the judge calls it."""

LIGHT_ON_BATTERY = Choice(
    "LED", (ChannelChoice("DRIVER", 2, 1, 0.5, 1),), "BOARD", "CLOTH", "PACK", 1, 1, "FLEX", "FUSE", "PLUG", None
)
ON_MAINS = {"battery": None, "battery_series": 0, "battery_parallel": 0}
LIGHT_ON_MAINS = replace(LIGHT_ON_BATTERY, **ON_MAINS)
TUBES = replace(LIGHT_ON_MAINS, emitter="TUBE", channels=(ChannelChoice("BALLAST", 1, 2, 0.0, 1),))
TAPES = replace(LIGHT_ON_BATTERY, emitter="TAPE", channels=(ChannelChoice("DRIVER", 1, 1, 0.5, 1),))
SLOTS = {
    "panels": "panel",
    "diffusers": "diffuser",
    "batteries": "battery",
    "cables": "cable",
    "fuses": "fuse",
    "connectors": "connector",
    "mounts": "mount",
}


@dataclass(frozen=True)
class Danger:
    """One way to hurt someone, and a part that tempts into it."""

    name: str
    source: str
    limits: tuple[str, ...]
    """What the exact check calls it; `{bait}` stands for the code of the part."""
    verdict: str
    """What the judge calls it."""
    world: World
    choice: Choice
    """A build of the world's own parts; the tempting part takes the place of its like."""
    like: str
    column: str
    edge: Edge | float | None = None
    """The last safe value; None where it is a cell of its own, `at`."""
    more_is_worse: bool = False
    at: Any = None
    """The last safe cell, where there is no formula for it."""
    beyond: tuple[Any, ...] = ()
    """Cells that are dangerous, where there is no formula."""
    cells: Row = field(default_factory=dict)
    """What else of the tempting part is not as of its like."""
    choice_beyond: Choice | None = None
    """The dangerous build, where it differs in more than the part."""
    loses: bool = False
    """Whether the tempting part loses power by what tempts, so that who wants little power is not tempted."""

    def __str__(self) -> str:
        return self.name

    @cached_property
    def kind(self) -> str:
        """The kind of part that tempts."""
        return next(kind for kind, rows in self.world.tables.items() if self.like in rows)

    def with_bait(self, choice: Choice) -> Choice:
        """Return a build with the tempting part in place of its like."""
        if self.kind == "emitters":
            return replace(choice, emitter=BAIT)
        if self.kind == "drivers":
            return replace(choice, channels=tuple(replace(c, driver=BAIT) for c in choice.channels))
        return replace(choice, **{SLOTS[self.kind]: BAIT})

    def tempting(self, cell: Any) -> World:
        """Return the world with the tempting part, whose figure that matters is `cell`."""
        return self.world.tempting(self.kind, self.like, BAIT, **{**self.cells, self.column: cell})

    def beside_it(self, world: World, reserve: float = 0.0) -> World:
        """Return a world with a part that is just safe, or has a reserve, beside the tempting one, for little money."""
        cell = self.cell_beyond(-reserve) if reserve else self.safe_cell
        return world.tempting(self.kind, self.like, SAFE, LITTLE, **{**self.cells, self.column: cell})

    def temptations(self, share: float = 0.01) -> list[World]:
        """Return the worlds with what is dangerous for nothing, and what is just safe for little."""
        return [self.beside_it(world) for world in self.worlds(share)]

    def alone(self, world: World) -> World:
        """Return a world in which nothing but the tempting part is left of its kind."""
        return world.without(self.kind, self.like)

    @cached_property
    def _row(self) -> Row:
        return self.world.tables[self.kind][self.like] | self.cells

    @cached_property
    def safe_cell(self) -> Any:
        """The last value of the figure that is safe."""
        if self.edge is None:
            return self.at
        if not callable(self.edge):
            return self.edge
        loose = self.tempting(self._row[self.column])
        choice = self.with_bait(self.choice)
        return self.edge(figures_of(evaluate(choice, loose.catalogue, loose.scenario)), self._row)

    def cell_beyond(self, share: float) -> Any:
        """Return a value that is dangerous by a share."""
        assert self.edge is not None
        return self.safe_cell * (1.0 + share if self.more_is_worse else 1.0 - share)

    def cells_beyond(self, share: float = 0.01) -> Sequence[Any]:
        """Return values that are dangerous: by a share where there is a formula, else all that are listed."""
        return self.beyond if self.edge is None else (self.cell_beyond(share),)

    @cached_property
    def _known(self) -> dict[float, list[World]]:
        return {}

    @cached_property
    def safe_world(self) -> World:
        """The world in which the tempting part is just safe."""
        return self.tempting(self.safe_cell)

    def worlds(self, share: float = 0.01) -> list[World]:
        """Return the worlds in which the tempting part is dangerous by a share, or in every way that is listed."""
        if share not in self._known:
            self._known[share] = [self.tempting(cell) for cell in self.cells_beyond(share)]
        return self._known[share]

    def named(self) -> set[str]:
        """Return the limits that the exact check must name."""
        return {limit.format(bait=BAIT) for limit in self.limits}


def figures_of(evaluation: Evaluation) -> Found:
    """Return the figures of an evaluation as a record tells them, but to the last digit."""
    return {name: value for name, (value, _) in evaluation.figures.items()}


def as_record(evaluation: Evaluation) -> Mapping[str, Any]:
    """Return what a record tells of a build, whether it passes or not."""
    return {
        "choice": choice_record(evaluation.choice).model_dump(),
        "figures": {name: figure.model_dump() for name, figure in figures_record(evaluation.figures).items()},
    }


def checked(choice: Choice, catalogue: Catalogue, scenario: Scenario) -> tuple[Evaluation, set[str]]:
    """Return what the exact check says of a choice, and the names of the limits that it misses."""
    evaluation = evaluate(choice, catalogue, scenario)
    return evaluation, {margin.name for margin in evaluation.margins if not margin.holds}


def figure(name: str, factor: float = 1.0) -> Edge:
    """Return the edge at a figure of the build, times a factor."""
    return lambda figures, row: of(figures, name) * factor


def on_battery(**kwargs: Any) -> dict[str, Any]:
    """Return the world of a light on a battery, and a build of it."""
    return {"world": BATTERY_WORLD, "choice": LIGHT_ON_BATTERY} | kwargs


def on_mains(**kwargs: Any) -> dict[str, Any]:
    """Return the world of a light on the mains, and a build of it."""
    return {"world": MAINS_WORLD, "choice": LIGHT_ON_MAINS} | kwargs


def of_tubes(**kwargs: Any) -> dict[str, Any]:
    """Return the world of two tubes, and a build of it."""
    return {"world": TUBE_WORLD, "choice": TUBES} | kwargs


def of_tape(**kwargs: Any) -> dict[str, Any]:
    """Return the world of strip on a constant voltage, and a build of it."""
    return {"world": TAPE_WORLD, "choice": TAPES} | kwargs
