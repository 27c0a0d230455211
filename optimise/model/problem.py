"""The problem as arrays: every column that a scenario and a catalogue allow, with cost, mass and power.

A light has one kind of emitter, so a problem falls into one for each kind, all of one `Market`: what can be bought
beside the emitter, and what does not depend on it.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from optimise.columns.channels import Channels, build_channels
from optimise.columns.eligible import Eligible
from optimise.columns.expand import Floats, Ints
from optimise.columns.heads import Heads, build_heads, mixed_heads, sharpened
from optimise.columns.supplies import Supplies
from optimise.model.choice import TOLERANCE
from optimise.model.market import Market, build_market
from optimise.model.mix import Mix, head_mass, per_channel
from optimise.model.pieces import Buying
from optimise.parts import Catalogue
from optimise.scenario import Scenario


@dataclass(frozen=True)
class Problem:
    """All columns of some kinds of emitter, before screening.

    A light has one of these kinds, on heads of its own; or, where there is a `mix`, both of two.
    """

    market: Market
    parts: Eligible
    """Of the market, with only these emitters."""
    channels: Channels
    heads: Heads
    channel_cost: Floats
    """Lower bound, exact where emitter and driver are bought at one price."""
    channel_mass: Floats
    head_cost: Floats
    head_mass: Floats
    head_metal: np.ndarray
    emitter_buying: tuple[Buying, ...]
    mix: Mix | None = None

    @property
    def kinds(self) -> Ints:
        """Which of the emitters each channel has."""
        return self.channels.emitter if self.mix is None else self.mix.kind

    @property
    def catalogue(self) -> Catalogue:
        """The catalogue."""
        return self.market.catalogue

    @property
    def scenario(self) -> Scenario:
        """The scenario."""
        return self.market.scenario

    @property
    def supplies(self) -> Supplies:
        """All supplies of the market."""
        return self.market.supplies

    @property
    def driver_buying(self) -> tuple[Buying, ...]:
        """How each driver can be bought."""
        return self.market.driver_buying

    @property
    def size(self) -> int:
        """Number of columns that are its own: channels and heads."""
        return len(self.channels) + len(self.heads)

    @cached_property
    def capacity(self) -> Ints:
        """Most emitters of each head: what fits, and what can be bought."""
        most = np.array([b.most for b in self.emitter_buying], dtype=np.int64)
        mine = most[self.heads.emitter] if self.mix is None else most.sum()
        return np.asarray(np.minimum(self.heads.capacity, mine), dtype=np.int64)

    @cached_property
    def driver_unit(self) -> Floats:
        """Lowest price of a driver of each channel, cents."""
        return np.array([b.unit for b in self.driver_buying], dtype=np.float64)[self.channels.driver]

    @cached_property
    def density(self) -> Floats:
        """Greatest heat for the area under one emitter of each channel, at its rated power or above, W/m²."""
        emitters = self.parts.emitters
        rated = np.array([e.heat_density for e in emitters], dtype=np.float64)[self.kinds]
        area = np.array([e.area for e in emitters], dtype=np.float64)[self.kinds]
        return np.maximum(rated, self.channels.heat / self.channels.count / area)

    @cached_property
    def bears(self) -> Floats:
        """What the exact check lets the board of each head bear of that; infinite where it is not stated."""
        return np.asarray(self.market.boards.bears[self.heads.panel] * (1 + TOLERANCE))

    def borne(self, channels: Ints, heads: Ints) -> np.ndarray:
        """Return whether boards bear the heat under one emitter of channels; indices broadcast."""
        return np.asarray(self.density[channels] <= self.bears[heads])

    @cached_property
    def other_end(self) -> Floats:
        """Light and heat at the other end of tolerances over that counted, shape (2, emitters)."""
        return np.array([e.other_end for e in self.parts.emitters], dtype=np.float64).reshape(-1, 2).T

    @cached_property
    def per_kelvin(self) -> Floats:
        """Relative change of flux per kelvin, by emitter; of a mixture that of the kind that loses less."""
        known = np.array([e.flux_per_kelvin for e in self.parts.emitters], dtype=np.float64)
        return known if self.mix is None else np.full(len(known), known.max())

    @cached_property
    def own_per_kelvin(self) -> Floats:
        """Relative change of flux per kelvin, by channel."""
        return np.array([e.flux_per_kelvin for e in self.parts.emitters], dtype=np.float64)[self.kinds]

    @cached_property
    def piece_cost(self) -> Floats:
        """Lowest price of an emitter of each channel, cents."""
        return np.array([b.unit for b in self.emitter_buying], dtype=np.float64)[self.kinds]


def problem_of(
    market: Market,
    emitters: Ints,
    shares: tuple[tuple[float, float], ...] | None = None,
    sheets: np.ndarray | None = None,
) -> Problem:
    """Return the columns of the emitters at these places. Empty columns are left to screening to report.

    shares: where the light of two emitters is mixed, see `Mix`; sheets: the mask of diffusers that make it alike.
    """
    parts = replace(market.parts, emitters=tuple(market.parts.emitters[i] for i in emitters.tolist()))
    buying = tuple(market.emitter_buying[i] for i in emitters.tolist())
    grid = market.grid[0][emitters], market.grid[1][emitters]
    scenario = market.scenario
    channels = build_channels(
        parts.emitters,
        market.drivers,
        scenario.power.ambient,
        scenario.safety.string_voltage,
        market.capacity[emitters],
        scenario.search.drive_step,
    )
    kinds, mix = channels.emitter, None
    if shares is None:
        heads = build_heads(parts.emitters, market.boards, grid)
    else:
        assert sheets is not None
        heads = mixed_heads((parts.emitters[0], parts.emitters[1]), market.boards, sheets)
        channels, mix = replace(channels, emitter=np.zeros_like(kinds)), Mix(kinds, shares)
    return Problem(
        market=market,
        parts=parts,
        channels=channels,
        heads=heads,
        channel_cost=_channel_cost(channels, kinds, market, buying),
        channel_mass=per_channel(
            channels,
            kinds,
            [float(e.milligrams) for e in parts.emitters],
            [float(d.milligrams) for d in parts.drivers],
        ),
        head_cost=_head_cost(heads, market),
        head_mass=head_mass(parts, heads),
        head_metal=np.array([panel.metal for panel in parts.panels], dtype=bool)[heads.panel],
        emitter_buying=buying,
        mix=mix,
    )


def hung_on(problem: Problem, market: Market) -> Problem:
    """Return a problem with the prices of another market of the same parts."""
    if market is problem.market:
        return problem
    known = {emitter.part: buying for emitter, buying in zip(market.parts.emitters, market.emitter_buying, strict=True)}
    buying = tuple(known[emitter.part] for emitter in problem.parts.emitters)
    return replace(
        problem,
        market=market,
        parts=replace(market.parts, emitters=problem.parts.emitters),
        channel_cost=_channel_cost(problem.channels, problem.kinds, market, buying),
        head_cost=_head_cost(problem.heads, market),
        emitter_buying=buying,
    )


def _channel_cost(channels: Channels, kinds: Ints, market: Market, buying: Sequence[Buying]) -> Floats:
    return per_channel(channels, kinds, [b.unit for b in buying], [b.unit for b in market.driver_buying])


def _head_cost(heads: Heads, market: Market) -> Floats:
    return np.asarray(market.panel_cost[heads.panel] + market.sheet_cost[heads.panel, heads.diffuser])


def build_problem(catalogue: Catalogue, scenario: Scenario) -> Problem:
    """Return all columns of all emitters, with the light of every head exact."""
    market = build_market(catalogue, scenario)
    problem = problem_of(market, np.arange(len(market.parts.emitters)))
    return with_sharp_heads(problem, np.arange(len(problem.heads)))


def with_sharp_heads(problem: Problem, heads: Ints) -> Problem:
    """Return the problem with the light of these heads exact."""
    sharp = sharpened(problem.heads, heads, problem.parts.emitters, problem.market.boards)
    return problem if sharp is problem.heads else replace(problem, heads=sharp)
