"""The problem as arrays: every column that a scenario and a catalogue allow, with cost, mass and power."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from optimise.columns.channels import Channels, build_channels
from optimise.columns.eligible import Eligible, eligible_parts
from optimise.columns.expand import Floats, Ints
from optimise.columns.heads import NO_DIFFUSER, Heads, build_heads, grid_limits
from optimise.columns.supplies import MAINS, Supplies, build_supplies
from optimise.model.exact import wanted_illuminance
from optimise.parts import Catalogue, Offer, Part
from optimise.parts.buying import amount_of, cheapest, least_packs, most_packs
from optimise.scenario import Scenario

MOST_PIECES = 100_000


@dataclass(frozen=True)
class Buying:
    """How one kind of emitter or driver can be bought in a number not known beforehand."""

    part: str
    offers: tuple[Offer, ...]
    per_piece: tuple[float, ...]
    """Pieces or metres of each offer that one piece takes."""
    unit: float
    """Lowest price of a piece by any offer, cents: never more than what is paid."""
    exact: bool
    """Whether every piece costs exactly `unit`, whatever their number."""
    most: int
    """Most pieces that one offer can supply."""

    def prices(self, most: int) -> Floats:
        """Return what 0 … `most` pieces cost by the cheapest single offer, cents; infinite where none can."""
        pieces = np.arange(most + 1)
        least = np.full(most + 1, np.inf)
        for offer, per in zip(self.offers, self.per_piece, strict=True):
            packs = np.maximum(np.ceil(pieces * per / offer.pack * (1 - 1e-9)), least_packs(offer))
            there = most_packs(offer)
            paid = packs * offer.price
            least = np.minimum(least, paid if there is None else np.where(packs <= there, paid, np.inf))
        least[0] = 0.0
        return least


@dataclass(frozen=True)
class Problem:
    """All columns, before screening. Costs in cents and masses in milligrams are whole numbers."""

    catalogue: Catalogue
    scenario: Scenario
    parts: Eligible
    target: float
    channels: Channels
    heads: Heads
    supplies: Supplies
    channel_cost: Floats
    """Lower bound, exact where emitter and driver are bought at one price."""
    channel_mass: Floats
    head_cost: Floats
    head_mass: Floats
    head_metal: np.ndarray
    mounts: tuple[int, ...]
    """Indices of the mounts that can be bought; empty where none is asked for."""
    mount_cost: Floats
    mount_mass: Floats
    mount_load: Floats
    emitter_buying: tuple[Buying, ...]
    driver_buying: tuple[Buying, ...]

    @property
    def size(self) -> int:
        """Number of columns of all kinds."""
        return len(self.channels) + len(self.heads) + len(self.supplies) + len(self.mounts)

    @cached_property
    def capacity(self) -> Ints:
        """Most emitters of each head: what fits, and what can be bought."""
        most = np.array([b.most for b in self.emitter_buying], dtype=np.int64)
        return np.minimum(self.heads.capacity, most[self.heads.emitter])

    @cached_property
    def feeds(self) -> np.ndarray:
        """Which driver (rows) may hang on which supply (columns), by kind and input window."""
        supplies, drivers = self.supplies, self.parts.drivers
        mains = supplies.battery == MAINS
        ac = np.array([d.input == "ac" for d in drivers], dtype=bool)[:, None]
        low = np.array([d.input_min for d in drivers], dtype=np.float64)[:, None]
        high = np.array([d.input_max for d in drivers], dtype=np.float64)[:, None]
        return np.asarray(
            (ac == mains[None, :])
            & (low <= supplies.floor[None, :] * (1 + 1e-12))
            & (high >= supplies.highest[None, :] * (1 - 1e-12))
        )

    @cached_property
    def earthed(self) -> np.ndarray:
        """Which supplies may feed a head with metal: batteries, and mains with a protective earth."""
        return np.asarray((self.supplies.battery != MAINS) | (self.supplies.cores >= 3))


def _buying(part: Part, offers: Sequence[Offer], length: float) -> Buying:
    per_piece = tuple(amount_of(offer, 1, length) for offer in offers)
    units = [o.price / o.pack * p for o, p in zip(offers, per_piece, strict=True)]
    unit = min(units)
    best = [
        offer
        for offer, price, per in zip(offers, units, per_piece, strict=True)
        if price == unit and per == 1.0 and offer.pack == 1.0 and offer.quantity_min <= 1 and offer.stock is None
    ]
    most = max(_most(offer, length) for offer in offers)
    return Buying(part.part, tuple(offers), per_piece, unit, bool(best), most)


def build_problem(catalogue: Catalogue, scenario: Scenario) -> Problem:
    """Return all columns of a problem. Empty columns are left to screening to report."""
    parts = eligible_parts(catalogue, scenario)
    grid = grid_limits(parts.emitters, parts.panels)
    emitter_buying = tuple(_buying(e, parts.offers[e.part], e.length) for e in parts.emitters)
    driver_buying = tuple(_buying(d, parts.offers[d.part], 0.0) for d in parts.drivers)
    capacity = (
        np.minimum((grid[0] * grid[1]).max(axis=1), [b.most for b in emitter_buying]).astype(np.int64)
        if parts.emitters and parts.panels
        else np.zeros(len(parts.emitters), dtype=np.int64)
    )
    channels = build_channels(
        parts.emitters, parts.drivers, scenario.power.ambient, scenario.safety.string_voltage, capacity
    )
    heads = build_heads(parts.emitters, parts.panels, parts.diffusers, grid, scenario)
    supplies = build_supplies(parts, scenario, sorted({d.input_min for d in parts.drivers}))
    panel_cost = np.array([_fixed(parts, panel.part) for panel in parts.panels], dtype=np.float64)
    sheet_cost = np.array([_fixed(parts, sheet.part) for sheet in parts.diffusers] + [0.0], dtype=np.float64)
    head_cost = panel_cost[heads.panel] + sheet_cost[heads.diffuser]
    buyable = np.isfinite(head_cost)
    heads, head_cost = heads.take(buyable), head_cost[buyable]
    mounts = tuple(i for i, mount in enumerate(parts.mounts) if np.isfinite(_fixed(parts, mount.part)))
    return Problem(
        catalogue=catalogue,
        scenario=scenario,
        parts=parts,
        target=wanted_illuminance(scenario),
        channels=channels,
        heads=heads,
        supplies=supplies,
        channel_cost=_per_channel(channels, [b.unit for b in emitter_buying], [b.unit for b in driver_buying]),
        channel_mass=_per_channel(
            channels,
            [float(e.milligrams) for e in parts.emitters],
            [float(d.milligrams) for d in parts.drivers],
        ),
        head_cost=head_cost,
        head_mass=_head_mass(parts, heads),
        head_metal=np.array([panel.metal for panel in parts.panels], dtype=bool)[heads.panel],
        mounts=mounts,
        mount_cost=np.array([_fixed(parts, parts.mounts[i].part) for i in mounts], dtype=np.float64),
        mount_mass=np.array([float(parts.mounts[i].milligrams) for i in mounts], dtype=np.float64),
        mount_load=np.array([float(round(parts.mounts[i].load * 1e6)) for i in mounts], dtype=np.float64),
        emitter_buying=emitter_buying,
        driver_buying=driver_buying,
    )


def without_short_offers(problem: Problem, least: Ints) -> Problem:
    """Return the problem without the offers of emitters that cannot supply `least` pieces (by emitter).

    One offer supplies all pieces of a part, so such an offer is in no build; left in, a few owned pieces
    would make every lumen seem free.
    """
    narrowed = []
    for buying, emitter, number in zip(problem.emitter_buying, problem.parts.emitters, least, strict=True):
        offers = [o for o in buying.offers if _most(o, emitter.length) >= number]
        same = not offers or len(offers) == len(buying.offers)
        narrowed.append(buying if same else _buying(emitter, offers, emitter.length))
    units = [b.unit for b in narrowed], [b.unit for b in problem.driver_buying]
    return replace(problem, emitter_buying=tuple(narrowed), channel_cost=_per_channel(problem.channels, *units))


def _most(offer: Offer, length: float) -> int:
    """Return how many pieces an offer can supply at most."""
    packs = most_packs(offer)
    if packs is None:
        return MOST_PIECES
    if packs < least_packs(offer):
        return 0
    return int(np.floor(packs * offer.pack / amount_of(offer, 1, length) * (1 + 1e-9)))


def _fixed(parts: Eligible, code: str) -> float:
    """Price of one piece, cents; infinite where none can be bought."""
    bought = cheapest(parts.offers[code], 1)
    return np.inf if bought is None else float(bought.line)


def _per_channel(channels: Channels, emitter: Sequence[float], driver: Sequence[float]) -> Floats:
    if not len(channels):
        return np.zeros(0)
    e = np.array(emitter, dtype=np.float64)[channels.emitter]
    d = np.array(driver, dtype=np.float64)[channels.driver]
    return np.asarray(channels.count * e + d, dtype=np.float64)


def _head_mass(parts: Eligible, heads: Heads) -> Floats:
    panel = np.array([float(p.milligrams) for p in parts.panels])
    area = np.array([p.width * p.height for p in parts.panels])
    sheet = np.array([d.mass_per_area for d in parts.diffusers] + [0.0])
    if not len(heads):
        return np.zeros(0)
    covering = np.where(heads.diffuser == NO_DIFFUSER, 0.0, sheet[heads.diffuser])
    return np.asarray(panel[heads.panel] + np.round(covering * area[heads.panel] * 1e6))
