"""The real place of every emitter of a build, and which driver feeds it.

Part of the exact check's side: places are those by which illuminance and evenness are counted (`physics.places`).
"""

from collections.abc import Iterator
from dataclasses import dataclass

from optimise.model import limits
from optimise.model.choice import ChannelChoice
from optimise.model.face import usable_size
from optimise.model.limits import Build
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
    emitter, panel, count = build.emitter, build.panel, build.choice.emitters
    columns, rows = limits.grid(emitter, panel)
    if not 0 < count <= columns * rows:
        return None
    grid = grid_of(count, columns, rows, *usable_size(panel))
    lying = limits.lies(emitter, panel)
    x, y = grid_places(grid)
    x, y = x + panel.width / 2.0, y + panel.height / 2.0
    piece = (emitter.length, emitter.width) if lying else (emitter.width, emitter.length)
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
    """Yield the runs when all drivers share out one line through the board, each string and run in one piece."""
    order = serpentine(x, y, upright).tolist()
    numbers: dict[str, int] = {}
    for channel in build.choice.channels:
        for _ in range(channel.number):
            numbers[channel.driver] = numbers.get(channel.driver, 0) + 1
            mine, order = order[: channel.series * channel.parallel], order[channel.series * channel.parallel :]
            yield _run(channel, numbers[channel.driver], mine, build.emitter, x, y, lying)


def _run(
    channel: ChannelChoice, number: int, mine: list[int], emitter: Emitter, x: Array, y: Array, lying: bool
) -> Run:
    length = 0.0 if emitter.form == "module" else emitter.length
    strings = [tuple(mine[i : i + channel.series]) for i in range(0, len(mine), channel.series)]
    wire, turned = run_wire([string_wire(x[list(one)], y[list(one)], length, lying) for one in strings])
    fed = tuple(one[::-1] if back else one for one, back in zip(strings, turned, strict=True))
    return Run(channel.driver, number, fed, wire)
