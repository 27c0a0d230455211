"""Charts: one or more lines over two axes, each with what it is beside it."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from optimise.report.drawing import Drawing

WIDTH, HEIGHT = 430.0, 300.0
LEFT, RIGHT, TOP, BOTTOM = 68.0, 62.0, 14.0, 50.0

Scale = Callable[[float], float]


@dataclass(frozen=True)
class Axis:
    """One axis: its ends, the numbers told on it, and what it measures."""

    low: float
    high: float
    ticks: Sequence[float]
    says: str
    logarithmic: bool = False
    written: Callable[[float], str] = lambda value: f"{value:g}"

    def share(self, value: float) -> float:
        """Return where a value lies, from 0 at the low end to 1 at the high one."""
        if self.logarithmic:
            return math.log(value / self.low) / math.log(self.high / self.low)
        return (value - self.low) / (self.high - self.low)


def across(axis: Axis) -> Scale:
    """Return the place on the page of a value on the level axis."""
    return lambda value: LEFT + axis.share(value) * (WIDTH - LEFT - RIGHT)


def up(axis: Axis) -> Scale:
    """Return the place on the page of a value on the upright axis."""
    return lambda value: HEIGHT - BOTTOM - axis.share(value) * (HEIGHT - TOP - BOTTOM)


def chart(key: str, title: str, description: str, level: Axis, upright: Axis, right: Axis | None = None) -> Drawing:
    """Return a chart with its axes; `right` is a second scale of the same upright direction."""
    drawing = Drawing(key, WIDTH, HEIGHT, title, description)
    x, y = across(level), up(upright)
    bottom, end = HEIGHT - BOTTOM, WIDTH - RIGHT
    for tick in level.ticks:
        drawing.line("grid", x(tick), TOP, x(tick), bottom)
        drawing.words(level.written(tick), x(tick), bottom + 17.0, "middle", "small")
    for tick in upright.ticks:
        drawing.line("grid", LEFT, y(tick), end, y(tick))
        drawing.words(upright.written(tick), LEFT - 7.0, y(tick) + 4.5, "end", "small")
    drawing.words(level.says, (LEFT + end) / 2.0, HEIGHT - 9.0, "middle", "small")
    drawing.upright_words(upright.says, 14.0, (TOP + bottom) / 2.0)
    if right is not None:
        place = up(right)
        for tick in right.ticks:
            drawing.line("thin", end, place(tick), end + 5.0, place(tick))
            drawing.words(right.written(tick), end + 9.0, place(tick) + 4.5, "start", "small")
        drawing.upright_words(right.says, WIDTH - 6.0, (TOP + bottom) / 2.0)
    drawing.path("thin", [(LEFT, TOP), (LEFT, bottom), (end, bottom)])
    return drawing
