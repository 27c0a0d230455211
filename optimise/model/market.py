"""What all kinds of emitter of a scenario share: what can be bought beside them, and at which prices."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from optimise.columns.channels import DriverFigures
from optimise.columns.dearer import StandIn, Together, never_dearer
from optimise.columns.eligible import Eligible, eligible_parts
from optimise.columns.expand import Floats, Ints
from optimise.columns.heads import Boards, grid_limits
from optimise.columns.supplies import MAINS, Supplies, build_supplies, counts_power
from optimise.model.choice import TOLERANCE
from optimise.model.exact import wanted_illuminance
from optimise.model.part_prices import Prices, prices_of
from optimise.model.pieces import Buying, buying_of
from optimise.model.stacks import stacks_of
from optimise.parts import Catalogue, Offer, Supplier
from optimise.parts.basket import charges
from optimise.parts.buying import Want
from optimise.scenario import Scenario
from optimise.scenario.model import Power
from optimise.scenario.points import Target

SuppliesKey = tuple[tuple[Sequence[Offer], ...], StandIn | None, Power, bool]
"""What supplies of the same parts depend on: offers, what may be bought instead, power asked, whether power counts."""

REMEMBERED = 8
"""Markets of the same parts whose supplies are kept."""


@dataclass(frozen=True)
class Market:
    """What all emitters share. Costs in cents and masses in milligrams are whole numbers."""

    catalogue: Catalogue
    scenario: Scenario
    parts: Eligible
    target: float
    boards: Boards
    grid: tuple[Ints, Ints]
    """Columns and rows of emitters, each of shape (emitters, panels)."""
    drivers: DriverFigures
    supplies: Supplies
    supplies_at: dict[SuppliesKey, Supplies]
    """Those of markets of the same parts."""
    panel_cost: Floats
    sheet_cost: Floats
    """Shape (panels, diffusers and none at the end)."""
    mounts: tuple[int, ...]
    """Indices of the mounts that can be bought; empty where none is asked for."""
    mount_cost: Floats
    mount_mass: Floats
    mount_load: Floats
    emitter_buying: tuple[Buying, ...]
    driver_buying: tuple[Buying, ...]
    orders: tuple[Supplier, ...] = ()
    """Suppliers whose charges are counted with the goods: from whom a part is bought then matters."""
    together: Together | None = None
    """Where other lights are bought in the same basket: what a piece costs depends on what they take, and the prices
    here are bounds."""

    @cached_property
    def targets(self) -> tuple[Target, ...]:
        """What is asked on single faces, in the order of `Heads.spots`."""
        return self.scenario.limited_targets(self.target)

    @cached_property
    def light_is_limited(self) -> bool:
        """Whether there can be too much light."""
        return any(target.most is not None for target in self.targets)

    @property
    def stand_in(self) -> StandIn | None:
        """Which part may be bought in place of which; None where the cheaper one may."""
        return stand_in_of(self.orders, self.together)

    @property
    def charged(self) -> bool:
        """Whether a build may cost more than its goods, or not be had of any number of suppliers."""
        selling = {offer.supplier for rows in self.parts.offers.values() for offer in rows}
        sellers = [supplier for supplier in self.catalogue.suppliers if supplier.supplier in selling]
        return self.scenario.limits.suppliers_max is not None or charges(sellers)

    @cached_property
    def capacity(self) -> Ints:
        """Most emitters of each kind: what fits the roomiest panel, and what can be bought."""
        most = np.array([b.most for b in self.emitter_buying], dtype=np.int64)
        if not self.parts.panels:
            return np.zeros(len(most), dtype=np.int64)
        return np.asarray(np.minimum((self.grid[0] * self.grid[1]).max(axis=1), most))

    @cached_property
    def _window(self) -> tuple[Ints, np.ndarray]:
        """Return the kind of each supply by the drivers it feeds, and which driver (rows) takes which kind."""
        supplies, drivers = self.supplies, self.parts.drivers
        low = np.array([d.input_min for d in drivers], dtype=np.float64)
        high = np.array([d.input_max for d in drivers], dtype=np.float64)
        ac = np.array([d.input == "ac" for d in drivers], dtype=bool)
        floors, ceilings = np.unique(low), np.unique(high)
        keys = np.stack(
            [
                (supplies.battery == MAINS).astype(np.int64),
                np.searchsorted(floors, supplies.floor * (1 + 1e-12), side="right"),
                np.searchsorted(ceilings, supplies.highest * (1 - 1e-12)),
            ]
        )
        kinds, inverse = np.unique(keys, axis=1, return_inverse=True)
        takes = ac[:, None] == (kinds[0] == 1)[None, :]
        takes &= np.searchsorted(floors, low)[:, None] < kinds[1][None, :]
        takes &= np.searchsorted(ceilings, high)[:, None] >= kinds[2][None, :]
        return np.ravel(inverse).astype(np.int64), takes

    def feeds(self, drivers: Ints, supplies: Ints) -> np.ndarray:
        """Return which of these drivers (rows) may hang on which of these supplies, by kind and input window."""
        kind, takes = self._window
        return np.asarray(takes[drivers[:, None], kind[supplies][None, :]])

    def fed(self, supplies: Ints) -> np.ndarray:
        """Return the mask of drivers that at least one of these supplies feeds."""
        kind, takes = self._window
        return np.asarray(takes[:, self._present(kind[supplies], takes.shape[1])].any(axis=1))

    def feeding(self, drivers: Ints) -> np.ndarray:
        """Return the mask of supplies that feed at least one of these drivers."""
        kind, takes = self._window
        return np.asarray(takes[self._present(drivers, takes.shape[0])].any(axis=0)[kind])

    def groups(self, drivers: Ints, supplies: Ints) -> list[tuple[np.ndarray, Ints]]:
        """Return (mask of these drivers, places of these supplies) for supplies that feed the same of these drivers."""
        kind, takes = self._window
        there = np.flatnonzero(self._present(kind[supplies], takes.shape[1]))
        patterns, group = np.unique(takes[np.ix_(drivers, there)], axis=1, return_inverse=True)
        of_kind = np.zeros(takes.shape[1], dtype=np.int64)
        of_kind[there] = np.ravel(group)
        mine = of_kind[kind[supplies]]
        return [(patterns[:, g], np.flatnonzero(mine == g)) for g in range(patterns.shape[1])]

    @staticmethod
    def _present(values: Ints, number: int) -> np.ndarray:
        there = np.zeros(number, dtype=bool)
        there[values] = True
        return there

    @cached_property
    def earthed(self) -> np.ndarray:
        """Which supplies may feed a head with metal: batteries, and mains with a protective earth."""
        return np.asarray((self.supplies.battery != MAINS) | (self.supplies.cores >= 3))


def build_market(catalogue: Catalogue, scenario: Scenario, together: Together | None = None) -> Market:
    """Return what the emitters of a catalogue share for a scenario.

    together: of what a kit is bought of which this is one light; the prices of the catalogue are then bounds.
    """
    parts = eligible_parts(catalogue, scenario)
    if scenario.look.sheets_max > 1:
        parts = replace(parts, diffusers=(*parts.diffusers, *stacks_of(parts.diffusers)))
    prices = prices_of(parts, scenario)
    there = np.isfinite(prices.panels), np.asarray(np.isfinite(prices.diffusers).any(axis=0))
    parts = replace(
        parts,
        panels=tuple(p for p, can in zip(parts.panels, there[0], strict=True) if can),
        diffusers=tuple(d for d, can in zip(parts.diffusers, there[1], strict=True) if can),
    )
    prices = replace(prices, panels=prices.panels[there[0]], diffusers=prices.diffusers[there[0]][:, there[1]])
    return _priced(
        prices,
        parts,
        catalogue=catalogue,
        scenario=scenario,
        target=wanted_illuminance(scenario),
        boards=Boards(parts.panels, parts.diffusers, scenario),
        grid=grid_limits(parts.emitters, parts.panels),
        drivers=DriverFigures(parts.drivers),
        supplies_at={},
        together=together,
    )


def repriced(
    market: Market,
    catalogue: Catalogue,
    scenario: Scenario,
    orders: tuple[Supplier, ...] = (),
    together: Together | None = None,
) -> Market:
    """Return a market of the same parts at other prices; what is not on offer any more costs endlessly much.

    The scenario may differ in limits on cost, mass and power only. All indices stay what they are. orders: suppliers
    whose charges are counted in the program of such a market; they are counted nowhere else in its columns. together:
    as in `build_market`.
    """
    offers = {code: rows for code, rows in catalogue.offers.items() if rows}
    parts = replace(market.parts, offers=offers)
    same = {name: getattr(market, name) for name in ("target", "boards", "grid", "drivers", "supplies_at")}
    prices = prices_of(parts, scenario)
    return _priced(prices, parts, catalogue=catalogue, scenario=scenario, orders=orders, together=together, **same)


def _priced(
    prices: Prices,
    parts: Eligible,
    *,
    scenario: Scenario,
    orders: tuple[Supplier, ...] = (),
    together: Together | None = None,
    **rest: Any,
) -> Market:
    mounts = tuple(np.flatnonzero(np.isfinite(prices.mounts)).tolist())
    return Market(
        **rest,
        scenario=scenario,
        parts=parts,
        supplies=supplies_of(parts, scenario, rest["supplies_at"], orders, together),
        orders=orders,
        together=together,
        panel_cost=prices.panels,
        sheet_cost=np.append(prices.diffusers, np.zeros((len(parts.panels), 1)), axis=1),
        mounts=mounts,
        mount_cost=prices.mounts[list(mounts)],
        mount_mass=np.array([float(parts.mounts[i].milligrams) for i in mounts], dtype=np.float64),
        # Whole milligrams, never more than the exact check lets it carry.
        mount_load=np.floor([parts.mounts[i].load * 1e6 * (1 + TOLERANCE) for i in mounts]),
        emitter_buying=tuple(
            buying_of(Want(e.part, 1, e.length), parts.offers.get(e.part, ())) for e in parts.emitters
        ),
        driver_buying=tuple(buying_of(Want(d.part, 1), parts.offers.get(d.part, ())) for d in parts.drivers),
    )


def supplies_of(
    parts: Eligible,
    scenario: Scenario,
    known: dict[SuppliesKey, Supplies],
    orders: tuple[Supplier, ...] = (),
    together: Together | None = None,
) -> Supplies:
    """Return the supplies of a market, those known where all that they depend on is the same."""
    stand_in, floors = stand_in_of(orders, together), sorted({d.input_min for d in parts.drivers})
    if together is not None:
        return build_supplies(parts, scenario, floors, stand_in)
    kinds = (parts.batteries, parts.cables, parts.fuses, parts.connectors)
    offers = tuple(parts.offers.get(part.part, ()) for kind in kinds for part in kind)
    key = offers, stand_in, scenario.power, counts_power(scenario)
    if key not in known:
        while len(known) >= REMEMBERED:
            del known[next(iter(known))]
        known[key] = build_supplies(parts, scenario, floors, stand_in)
    return known[key]


def stand_in_of(orders: Sequence[Supplier], together: Together | None) -> StandIn | None:
    """Return which part may be bought in place of which; None where the cheaper one may."""
    if together is not None:
        return together.singles
    return never_dearer if orders else None
