"""A complete choice of parts, and what the exact check says of it."""

from dataclasses import dataclass
from typing import Literal, Protocol

from optimise.parts.basket import Order
from optimise.parts.buying import Purchase

YES_NO = "yes/no"
"""Unit of a limit that is kept or not: 1 and 0."""

TOLERANCE = 1e-9
"""Relative shortfall of a margin that the exact check forgives: rounding of floating point, nothing more."""


@dataclass(frozen=True, order=True)
class ChannelChoice:
    """So many equal channels: each one driver with its strings."""

    driver: str
    series: int
    parallel: int
    current: float
    """Current of one emitter, A; 0 for tubes and constant voltage's rated value otherwise."""
    number: int
    emitter: str = ""
    """Code of its emitters; empty where they are those of `Choice.emitter`, as in every light of one kind."""

    @property
    def emitters(self) -> int:
        """Emitters of all these channels."""
        return self.number * self.series * self.parallel


@dataclass(frozen=True)
class Choice:
    """All parts of a build by code; `battery` None means mains."""

    emitter: str
    """Of a light of two kinds, the one whose code comes first; channels of the other one name it."""
    channels: tuple[ChannelChoice, ...]
    panel: str
    diffuser: str | None
    battery: str | None
    battery_series: int
    battery_parallel: int
    cable: str
    fuse: str
    connector: str
    mount: str | None
    second_diffuser: str | None = None
    """A sheet before the diffuser, which is then the inner one."""

    @property
    def sheets(self) -> tuple[str, ...]:
        """Diffusers by code, the inner one first."""
        return tuple(code for code in (self.diffuser, self.second_diffuser) if code is not None)

    @property
    def emitters(self) -> int:
        """Emitters of the whole build."""
        return sum(channel.emitters for channel in self.channels)

    @property
    def kinds(self) -> tuple[str, ...]:
        """Codes of the kinds of emitter, its own first."""
        return self.emitter, *sorted({channel.emitter for channel in self.channels} - {"", self.emitter})

    @property
    def pieces(self) -> dict[str, int]:
        """How many of each kind of emitter, by code."""
        numbers = dict.fromkeys(self.kinds, 0)
        for channel in self.channels:
            numbers[channel.emitter or self.emitter] += channel.emitters
        return numbers

    @property
    def lit_by(self) -> str:
        """Its emitters in words."""
        return " + ".join(f"{number} × {code}" for code, number in self.pieces.items())

    @property
    def drivers(self) -> dict[str, int]:
        """How many of each driver, by code."""
        numbers: dict[str, int] = {}
        for channel in sorted(self.channels):
            numbers[channel.driver] = numbers.get(channel.driver, 0) + channel.number
        return numbers

    @property
    def batteries(self) -> int:
        """Batteries of the pack."""
        return self.battery_series * self.battery_parallel


@dataclass(frozen=True)
class Margin:
    """What a build has left on one limit."""

    name: str
    kind: Literal["min", "max"]
    required: float
    achieved: float
    unit: str
    source: str
    zero: float = 0.0
    """Where the scale of `left` begins: ambient for temperatures."""

    @property
    def left(self) -> float:
        """Share of the requirement that is left; negative where it is missed."""
        gap = self.achieved - self.required if self.kind == "min" else self.required - self.achieved
        scale = abs(self.required - self.zero)
        return gap / scale if scale > 0.0 else gap

    @property
    def holds(self) -> bool:
        """Whether the limit is kept, within `TOLERANCE`."""
        return self.left >= -TOLERANCE


@dataclass(frozen=True)
class BillLine:
    """What is bought of one part by one offer."""

    part: str
    purchase: Purchase
    needed: float
    """Pieces wanted of the part in all, or metres of cable."""
    left_over: float
    """Pieces (or metres) that all purchases of the part give beyond that."""


class Weighed(Protocol):
    """What costs, weighs and draws something: a light, or a kit."""

    @property
    def cents(self) -> int:
        """What arrives at the door costs."""

    @property
    def milligrams(self) -> int:
        """What is carried weighs."""

    @property
    def watts(self) -> float:
        """What is drawn from the supply."""


@dataclass(frozen=True)
class Evaluation:
    """All figures of a choice by the full physics; money in cents, mass in milligrams."""

    choice: Choice
    bill: tuple[BillLine, ...]
    orders: tuple[Order, ...]
    """By supplier, what is paid: goods, top-up, delivery."""
    margins: tuple[Margin, ...]
    figures: dict[str, tuple[float | None, str]]
    """Value and unit by name."""
    cents: int
    milligrams: int
    watts: float
    lux: float
    heat: float
    board: float
    """Board temperature, °C."""
    fluxes: tuple[float, ...]
    """Flux of each kind of emitter at the board's temperature, lm, in the order of `Choice.kinds`."""
    warming: float
    """Change of the illuminance per kelvin of board temperature, lx/K (not above 0)."""
    apparent: float
    """Volt-amperes at the light's inlet."""
    missing: tuple[str, ...]
    """Parts that cannot be bought in the number needed."""
    unchecked: tuple[str, ...]
    """Checks that were not made, and why."""
    dimming: float
    """Share by which the greatest light over the tolerances changes per kelvin of board temperature (not above 0)."""

    @property
    def passes(self) -> bool:
        """Whether every limit is kept and every part can be bought."""
        return not self.missing and all(margin.holds for margin in self.margins)
