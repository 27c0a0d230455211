"""Where emitters sit on a board: rows and columns about its centre, and in which order a wire goes through them."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from optimise.physics.arrays import Array, numbers


@dataclass(frozen=True)
class Grid:
    """Lines of emitters on a rectangle: rows from the bottom up, or columns from the left to the right.

    Each line holds as many as the fullest one or one less; a line with one less keeps the pitch and is centred, so that
    its emitters stand between those of its neighbours.
    """

    rows: int
    columns: int
    pitch_x: float
    pitch_y: float
    """Between neighbours in one row and in one column, m: the rectangle divided evenly."""
    short: tuple[int, ...]
    """Which lines hold one less, from 0, rising."""
    upright: bool
    """Whether the lines are columns."""

    @property
    def lines(self) -> tuple[int, ...]:
        """Emitters of each line."""
        count, most = (self.columns, self.rows) if self.upright else (self.rows, self.columns)
        short = set(self.short)
        return tuple(most - (line in short) for line in range(count))

    @property
    def count(self) -> int:
        """All emitters."""
        return self.rows * self.columns - len(self.short)

    @property
    def symmetric(self) -> bool:
        """Whether the places are the same left to right and bottom to top."""
        last = (self.columns if self.upright else self.rows) - 1
        return self.short == tuple(last - line for line in reversed(self.short))


@lru_cache(maxsize=100_000)
def grid_of(count: int, columns_max: int, rows_max: int, width: float, height: float) -> Grid:
    """Return the grid of `count` emitters on a rectangle, m, of at most so many columns and rows.

    Symmetric about both axes where any such grid holds that number; of those with cells as near to square as fits.
    Where none does (an odd number on an even grid that is nearly full), it is so from left to right only.
    Raises ValueError where columns_max × rows_max cannot hold the emitters, or a side is not above 0.
    """
    for name, side in (("width", width), ("height", height)):
        numbers(name, side, above=0.0)
    if count < 1 or count > columns_max * rows_max:
        raise ValueError("the grid cannot hold that many emitters")
    return min(_grids(count, columns_max, rows_max, width, height), key=_rank)


def _rank(grid: Grid) -> tuple[bool, float, bool, int]:
    elongation = float(np.abs(np.log(grid.pitch_x / grid.pitch_y)))
    return not grid.symmetric, round(elongation, 12), grid.upright, grid.columns


def _grids(count: int, columns_max: int, rows_max: int, width: float, height: float) -> Iterator[Grid]:
    for upright, lines_max, most in ((False, rows_max, columns_max), (True, columns_max, rows_max)):
        for lines in range(-(-count // most), min(lines_max, count) + 1):
            full = -(-count // lines)
            short = _short_lines(lines, lines * full - count)
            rows, columns = (full, lines) if upright else (lines, full)
            grid = Grid(rows, columns, width / columns, height / rows, short, upright)
            # Columns are for what rows cannot: a grid that is not symmetric has its centred lines across.
            if not upright or (short and grid.symmetric):
                yield grid


def _short_lines(lines: int, missing: int) -> tuple[int, ...]:
    """Return which lines hold one less, spread evenly, alike from both ends as far as that can be."""
    pairs, odd = lines // 2, missing % 2
    middle = odd if lines % 2 else 0
    short = {pairs} if middle else set[int]()
    for pair in range(missing // 2):
        line = int((pair + 0.5) * pairs / (missing // 2 + 0.5 * middle))
        short |= {line, lines - 1 - line}
    if odd and not middle:
        short.add(max(set(range(lines)) - short))
    return tuple(sorted(short))


def grid_places(grid: Grid) -> tuple[Array, Array]:
    """Return the places (x, y), m from the centre of the rectangle, line by line; shapes (count,)."""
    lines = grid.lines
    line = np.repeat(np.arange(len(lines)), lines)
    place = np.concatenate([np.arange(number) - (number - 1) / 2.0 for number in lines])
    across = line - (len(lines) - 1) / 2.0
    x, y = (across, place) if grid.upright else (place, across)
    return np.asarray(x * grid.pitch_x), np.asarray(y * grid.pitch_y)


_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(5)


def grid_points(
    count: int,
    columns_max: int,
    rows_max: int,
    width: float,
    height: float,
    length: float = 0.0,
    lying: bool = True,
) -> tuple[Array, Array, Array]:
    """Return places (x, y) along each of `count` emitters spread over a rectangle (see `grid_of`), and weights.

    Each emitter is a line of `length` m, evenly bright, along the width where `lying`, else along the height
    (five-point Gauss-Legendre quadrature); a length of 0 makes it a point. Shapes (count, 5), (count, 5) and (5,);
    the weights of the places of one emitter sum to 1. Raises ValueError as `grid_of` does, or where the length is below
    0.
    """
    x, y = grid_places(grid_of(count, columns_max, rows_max, width, height))
    along = _NODES * float(numbers("length", length, least=0.0)) / 2.0
    x = x[:, None] + (along if lying else 0.0 * along)
    y = y[:, None] + (0.0 * along if lying else along)
    return x, y, _WEIGHTS / 2.0
