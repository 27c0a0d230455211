"""What a build is to the exact check: a choice with its parts found, and what the physics says of it."""

from dataclasses import dataclass

from optimise.model.choice import ChannelChoice, Choice
from optimise.model.stacks import layers_of
from optimise.parts import Battery, Cable, Connector, Diffuser, Driver, Emitter, Fuse, Mount, Panel, Part
from optimise.physics.evenness import Evenness
from optimise.scenario.points import Target


@dataclass(frozen=True)
class Build:
    """A choice with its parts found."""

    choice: Choice
    kinds: tuple[Emitter, ...]
    """In the order of `Choice.kinds`."""
    drivers: tuple[Driver, ...]
    panel: Panel
    diffuser: Diffuser | None
    battery: Battery | None
    cable: Cable
    fuse: Fuse
    connector: Connector
    mount: Mount | None

    @property
    def emitter(self) -> Emitter:
        """The kind of emitter, or the first of two: their light leaves alike (`mixture.one_beam`)."""
        return self.kinds[0]

    @property
    def parts(self) -> tuple[Part, ...]:
        """What it is bought as, each part once: both of two sheets."""
        found: list[Part | None] = [*self.kinds, *self.drivers, self.panel, *layers_of(self.diffuser)]
        found += [self.battery, self.cable, self.fuse, self.connector, self.mount]
        return tuple({part.part: part for part in found if part is not None}.values())

    def emitter_of(self, channel: ChannelChoice) -> Emitter:
        """Return the kind of emitter of a channel."""
        code = channel.emitter or self.choice.emitter
        return next(kind for kind in self.kinds if kind.part == code)


@dataclass(frozen=True)
class Strings:
    """What one entry of the channels does electrically (figures of one channel's string, or of all of them)."""

    channel: ChannelChoice
    driver: Driver
    emitter: Emitter
    low: float
    """Lowest voltage of a string over spread and temperature, V."""
    high: float
    """Highest voltage of a string over spread and temperature, V."""
    output: float
    """Most output power of one driver, W."""
    flux: float
    """Flux of one emitter at 25 °C junction, lm."""
    emitter_heat: float
    """Heat of one emitter, W."""
    heat: float
    """Heat of all emitters of these channels, W."""
    power: float
    """Input power of all these drivers, W."""
    apparent: float
    """Input volt-amperes of all these drivers."""


@dataclass(frozen=True)
class Lead:
    """Voltages and currents of the lead."""

    resistance: float
    nominal: float
    lowest: float
    highest: float
    current: float
    """At the lowest voltage, A: the worst case."""
    nominal_current: float
    drop: float
    loss: float


@dataclass(frozen=True)
class Spot:
    """What is asked of the light on one face, and what it gets, lx."""

    target: Target
    lux: float
    most: float
    """What it gets where the emitters are as bright as their tolerances let them be; else the same."""


@dataclass(frozen=True)
class Figures:
    """What the physics says of a build."""

    cents: int
    milligrams: int
    head_milligrams: int
    watts: float
    lux: float
    board: float
    hottest: float | None
    runtime: float | None
    lead: Lead
    strings: tuple[Strings, ...]
    fluxes: tuple[float, ...] = ()
    """Of each kind of emitter, lm."""
    evenness: Evenness | None = None
    """How even the light on the subject is; None where its size is not stated."""
    spots: tuple[Spot, ...] = ()
    dots: float | None = None
    """Ripple of dots on the diffuser; None where there is none, or the depth of the box is not stated."""
