"""The real place of every emitter of a build, and which driver feeds it.

Part of the exact check's side: places are those by which illuminance and evenness are counted (`physics.places`).
"""

from collections.abc import Iterator
from dataclasses import dataclass

from optimise.model.build import Build
from optimise.model.choice import ChannelChoice
from optimise.model.face import usable_size
from optimise.model.fitting import common_grid, common_lies, place_size
from optimise.parts import Emitter
from optimise.physics.arrays import Array
from optimise.physics.places import Grid, grid_of, grid_places
from optimise.physics.wiring import run_wire, serpentine, string_wire


@dataclass(frozen=True)
class Run:
    """The emitters of one driver, by their places in `Layout.x`."""

    driver: str
    number: int
    """Which of its kind, from 1."""
    emitter: str
    """Code of its emitters."""
    strings: tuple[tuple[int, ...], ...]
    """Each from its positive end to its negative one."""
    wire: float
    """Least wire on the board, m (see `physics.wiring`)."""


@dataclass(frozen=True)
class Layout:
    """Where everything sits on the board, seen from the front, in m from its lower left corner."""

    grid: Grid
    lying: bool
    """Whether the length of the pieces runs along the width."""
    x: Array
    y: Array
    """Middles of the pieces, row by row or column by column; shapes (emitters,)."""
    clearance_x: float
    clearance_y: float
    """From the outermost pieces to the edge of the board, m."""
    runs: tuple[Run, ...]

    @property
    def in_line(self) -> int:
        """Pieces end to end in the longest row or column."""
        return self.grid.columns if self.lying else self.grid.rows


def layout_of(build: Build) -> Layout | None:
    """Return the layout of a build; None where its board cannot hold the emitters."""
    panel, count = build.panel, build.choice.emitters
    columns, rows = common_grid(build.kinds, panel)
    if not 0 < count <= columns * rows:
        return None
    grid = grid_of(count, columns, rows, *usable_size(panel))
    lying = common_lies(build.kinds, panel)
    x, y = grid_places(grid)
    x, y = x + panel.width / 2.0, y + panel.height / 2.0
    length, width = place_size(build.kinds)
    piece = (length, width) if lying else (width, length)
    # Of two ways through the board the one with less wire; along the rows where they tie.
    ways = [tuple(_runs(build, x, y, lying, upright)) for upright in (False, True)]
    total = [sum(run.wire for run in way) for way in ways]
    return Layout(
        grid=grid,
        lying=lying,
        x=x,
        y=y,
        clearance_x=float(x.min()) - piece[0] / 2.0,
        clearance_y=float(y.min()) - piece[1] / 2.0,
        runs=ways[int(total[1] < total[0] - 1e-9)],
    )


def _runs(build: Build, x: Array, y: Array, lying: bool, upright: bool) -> Iterator[Run]:
    """Yield the runs when all drivers share out one line through the board, each string and run in one piece.

    Two kinds of emitter take turns along the line, as evenly as their numbers let them, and the drivers of each kind
    share out its places.
    """
    left = by_turns(serpentine(x, y, upright).tolist(), list(build.choice.pieces.values()))
    places = dict(zip(build.choice.kinds, left, strict=True))
    numbers: dict[str, int] = {}
    for channel in build.choice.channels:
        emitter = build.emitter_of(channel)
        for _ in range(channel.number):
            numbers[channel.driver] = numbers.get(channel.driver, 0) + 1
            each, order = channel.series * channel.parallel, places[emitter.part]
            mine, places[emitter.part] = order[:each], order[each:]
            yield _run(channel, numbers[channel.driver], mine, emitter, x, y, lying)


def by_turns(order: list[int], numbers: list[int]) -> list[list[int]]:
    """Return the places along a line that each of one or two kinds takes, whose numbers sum to those of the line."""
    second = numbers[1] if len(numbers) > 1 else 0
    # The rarer kind stands in the middle of its stretch, not at the beginning of it.
    turn = [(2 * (i + 1) * second + len(order)) // (2 * len(order)) for i in range(-1, len(order))]
    its = [turn[i + 1] > turn[i] for i in range(len(order))]
    shared = [[place for place, of in zip(order, its, strict=True) if of == bool(kind)] for kind in (0, 1)]
    return shared[: len(numbers)]


def _run(
    channel: ChannelChoice, number: int, mine: list[int], emitter: Emitter, x: Array, y: Array, lying: bool
) -> Run:
    length = 0.0 if emitter.form == "module" else emitter.length
    strings = [tuple(mine[i : i + channel.series]) for i in range(0, len(mine), channel.series)]
    wire, turned = run_wire([string_wire(x[list(one)], y[list(one)], length, lying) for one in strings])
    fed = tuple(one[::-1] if back else one for one, back in zip(strings, turned, strict=True))
    return Run(channel.driver, number, emitter.part, fed, wire)
