"""Supplies: a battery pack or the mains, with cable, fuse and connector, and what power they can deliver."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from optimise.columns.dearer import StandIn
from optimise.columns.eligible import Eligible, flying_number
from optimise.columns.expand import Floats, Ints
from optimise.parts.beaten import first_unbeaten_of, unbeaten
from optimise.parts.buying import Want, price_of
from optimise.parts.part import whole_milligrams
from optimise.physics.batteries import cold_factor, discharge_current
from optimise.physics.leads import ambient_factor, conductor_resistance, load_current, load_power
from optimise.scenario import Scenario

MAINS = -1
"""Index of the battery where the supply is the mains."""

Cheaper = Callable[[Ints, Ints], np.ndarray]
"""Tells which of the first (rows) costs no more than which of the second (columns), in a new array."""


@dataclass(frozen=True)
class Supplies:
    """Arrays of equal length, one entry a supply; battery, cable, fuse, connector index the eligible parts."""

    battery: Ints
    series: Ints
    parallel: Ints
    cable: Ints
    fuse: Ints
    connector: Ints
    cost: Ints
    """Cents."""
    mass: Ints
    """Milligrams."""
    nominal: Floats
    """Nominal voltage, V."""
    highest: Floats
    """Highest voltage, V: what driver inputs must bear."""
    floor: Floats
    """Lowest voltage that is left at the light at the full `deliverable` load, V."""
    resistance: Floats
    """Resistance of both conductors, warm, ohm."""
    deliverable: Floats
    """Greatest load at the light, VA, within runtime, drop, fuse, battery and circuit."""
    cores: Ints

    def __len__(self) -> int:
        return len(self.battery)

    def take(self, index: NDArray[np.int64] | NDArray[np.bool_]) -> "Supplies":
        """Return the supplies at `index` (whole numbers or a mask)."""
        return Supplies(**{f.name: getattr(self, f.name)[index] for f in fields(self)})

    def loss(self, load: Floats | float) -> Floats:
        """Return the power lost in each lead at a load of `load` VA, W, at the nominal voltage."""
        current = load_current(self.nominal, self.resistance, load)
        return np.asarray(current * current * self.resistance)


@dataclass(frozen=True)
class _Leads:
    """Every combination of cable, fuse and connector that is safe in itself for one kind of supply."""

    cable: Ints
    fuse: Ints
    connector: Ints
    cost: Ints
    mass: Ints
    fuse_rating: Floats
    voltage_max: Floats
    resistance: Floats
    cores: Ints


def _leads(parts: Eligible, scenario: Scenario, supply: str, stand_in: StandIn | None) -> _Leads:
    length = scenario.power.lead_length
    ambient = scenario.power.ambient
    cables, cable_cost = [], []
    for index, cable in enumerate(parts.cables):
        price = price_of(parts.offers.get(cable.part, ()), Want(cable.part, 1, length))
        if price is not None:
            cables.append(index)
            cable_cost.append(price)
    fuses, fuse_cost = _priced(parts, supply, "fuses")
    connectors, connector_cost = _priced(parts, supply, "connectors")
    hottest = np.array([parts.cables[i].conductor_max for i in cables], dtype=np.float64)
    rating = np.array([parts.cables[i].rating for i in cables]) * ambient_factor(ambient, hottest)
    voltage = np.array([parts.cables[i].voltage_max for i in cables])
    per_metre = np.array([parts.cables[i].ohms_per_metre for i in cables], dtype=np.float64)
    resistance = 2.0 * length * conductor_resistance(per_metre, hottest)
    cores = np.array([parts.cables[i].cores for i in cables], dtype=np.int64)
    mass = np.array([whole_milligrams(parts.cables[i].mass_per_length * length) for i in cables], dtype=np.int64)
    fuse_rating = np.array([parts.fuses[i].rating for i in fuses])
    fuse_volts = np.array([parts.fuses[i].voltage_max for i in fuses])
    fuse_mass = np.array([parts.fuses[i].milligrams for i in fuses], dtype=np.int64)
    plug_rating = np.array([parts.connectors[i].rating for i in connectors])
    plug_volts = np.array([parts.connectors[i].voltage_max for i in connectors])
    earthless = np.array([parts.connectors[i].earth is False for i in connectors], dtype=bool)
    plug_mass = np.array([parts.connectors[i].milligrams for i in connectors], dtype=np.int64)
    # What another of its kind can always stand in for goes before all combinations are formed.
    wants = (
        [Want(parts.cables[i].part, 1, length) for i in cables],
        [Want(parts.fuses[i].part, 1) for i in fuses],
        [Want(parts.connectors[i].part, 1) for i in connectors],
    )
    costs = cable_cost, fuse_cost, connector_cost
    cheaper = [_cheaper(stand_in, each, parts) for each in wants]
    good_cables = _good(costs[0], cheaper[0], mass, resistance, -rating, -voltage, -cores)
    good_fuses = _good(costs[1], cheaper[1], fuse_mass, fuse_rating, -fuse_rating, -fuse_volts)
    good_plugs = _good(costs[2], cheaper[2], plug_mass, -plug_rating, -plug_volts, earthless)
    c, f, j = (grid.ravel() for grid in np.meshgrid(good_cables, good_fuses, good_plugs, indexing="ij"))
    safe = (fuse_rating[f] <= rating[c] * (1 + 1e-12)) & (fuse_rating[f] <= plug_rating[j] * (1 + 1e-12))
    c, f, j = c[safe], f[safe], j[safe]
    leads = _Leads(
        cable=np.array(cables, dtype=np.int64)[c],
        fuse=np.array(fuses, dtype=np.int64)[f],
        connector=np.array(connectors, dtype=np.int64)[j],
        cost=np.array(cable_cost, dtype=np.int64)[c]
        + np.array(fuse_cost, dtype=np.int64)[f]
        + np.array(connector_cost, dtype=np.int64)[j],
        mass=mass[c] + fuse_mass[f] + plug_mass[j],
        fuse_rating=fuse_rating[f],
        voltage_max=np.minimum.reduce([voltage[c], fuse_volts[f], plug_volts[j]]),
        resistance=resistance[c],
        # A third core that ends at a plug without earth is none.
        cores=np.where(earthless[j], np.minimum(cores[c], 2), cores[c]),
    )
    figures = (leads.cost, leads.mass, leads.resistance, -leads.fuse_rating, -leads.voltage_max, -leads.cores)

    def together(rows: Ints, columns: Ints) -> np.ndarray:
        ways = zip(cheaper, (c, f, j), strict=True)
        return np.asarray(np.logical_and.reduce([way(of[rows], of[columns]) for way, of in ways if way is not None]))

    kept = _good(leads.cost, None if stand_in is None else together, *figures[1:])
    return _Leads(**{field.name: getattr(leads, field.name)[kept] for field in fields(_Leads)})


def _good(costs: Sequence[int] | np.ndarray, cheaper: Cheaper | None, *figures: Sequence[int] | np.ndarray) -> Ints:
    """Return what nothing beats in cost and figures."""
    arrays = [np.asarray(figure) for figure in figures]
    if cheaper is None:
        return unbeaten(np.stack([np.asarray(costs), *arrays], axis=1).astype(np.float64))

    def beats(rows: Ints, columns: Ints) -> np.ndarray:
        found = cheaper(rows, columns)
        for figure in arrays:
            found &= figure[rows][:, None] <= figure[columns][None, :]
        return found

    return np.flatnonzero(first_unbeaten_of(len(arrays[0]), beats))


def _cheaper(stand_in: StandIn | None, wants: Sequence[Want], parts: Eligible) -> Cheaper | None:
    """Return which of these wants can be bought in place of which; None where the cheaper one may."""
    if stand_in is None:
        return None
    pairs = stand_in(wants, parts.offers)
    return lambda rows, columns: pairs[np.ix_(rows, columns)]


def _priced(parts: Eligible, supply: str, kind: str) -> tuple[list[int], list[int]]:
    indices, costs = [], []
    for index, part in enumerate(getattr(parts, kind)):
        price = price_of(parts.offers.get(part.part, ()), Want(part.part, 1))
        if part.supply == supply and price is not None:
            indices.append(index)
            costs.append(price)
    return indices, costs


@dataclass(frozen=True)
class _Source:
    """One pack, or the mains."""

    battery: int
    series: int
    parallel: int
    cost: int
    mass: int
    lowest: float
    nominal: float
    highest: float
    current_max: float
    """Most current that the source itself gives, A."""
    current_run: float
    """Most current that it gives for the whole runtime, A."""


def _packs(parts: Eligible, scenario: Scenario) -> list[_Source]:
    runtime = scenario.power.runtime
    assert runtime is not None, "a scenario that allows batteries states a runtime"
    sources: list[_Source] = []
    for index, battery in enumerate(parts.batteries):
        most = flying_number(battery, scenario)
        cold = float(cold_factor(scenario.power.ambient, battery.capacity_per_kelvin))
        for series in range(1, battery.series_max + 1):
            # Terminals can be touched.
            if series * battery.voltage_max > scenario.safety.string_voltage * (1 + 1e-12):
                break
            for parallel in range(1, battery.parallel_max + 1):
                number = series * parallel
                if most is not None and number > most:
                    continue
                price = price_of(parts.offers.get(battery.part, ()), Want(battery.part, number))
                if price is None:
                    continue
                # Usable share and cold shorten the time: the full capacity must last longer in return.
                stretched = runtime / (battery.usable * cold) if cold > 0.0 else np.inf
                each = (
                    float(
                        discharge_current(stretched, battery.capacity, battery.rated_time or stretched, battery.peukert)
                    )
                    if np.isfinite(stretched)
                    else 0.0
                )
                sources.append(
                    _Source(
                        battery=index,
                        series=series,
                        parallel=parallel,
                        cost=price,
                        mass=battery.milligrams * number,
                        lowest=series * battery.voltage_min,
                        nominal=series * battery.voltage,
                        highest=series * battery.voltage_max,
                        current_max=parallel * battery.current_max,
                        current_run=parallel * each,
                    )
                )
    return sources


def build_supplies(
    parts: Eligible, scenario: Scenario, floors: Sequence[float], stand_in: StandIn | None = None
) -> Supplies:
    """Return the supplies that no other beats in every figure that counts.

    stand_in: which part may be bought in place of which, where a cheaper one may be the worse one, since it counts
    from whom it is bought, or with what; left out: the cheaper one is the better one.

    `floors` are the lowest input voltages of the drivers: where one of them is above the voltage that is
    left at full load, a second entry with less load and a higher floor is made.
    """
    pieces: list[Supplies] = []
    if scenario.power.battery:
        leads = _leads(parts, scenario, "dc", stand_in)
        packs = _packs(parts, scenario)
        if packs:
            figures = [
                [p.cost, p.mass, -p.lowest, -p.nominal, p.highest, -p.current_max, -p.current_run] for p in packs
            ]
            best = range(len(packs)) if stand_in else unbeaten(np.array(figures, dtype=np.float64)).tolist()
            pieces += [_of_source(packs[i], leads, scenario, floors, stand_in) for i in best]
    if scenario.power.mains:
        volts = scenario.power.mains_voltage
        assert volts is not None
        circuit = scenario.power.circuit
        limit = np.inf if circuit is None else circuit / scenario.safety.continuous_factor
        source = _Source(MAINS, 0, 0, 0, 0, volts, volts, volts, limit, np.inf)
        pieces.append(_of_source(source, _leads(parts, scenario, "ac", stand_in), scenario, floors, stand_in))
    if not pieces:
        return _none()
    whole = Supplies(**{f.name: np.concatenate([getattr(p, f.name) for p in pieces]) for f in fields(Supplies)})
    return whole if stand_in else _best_of_all(whole, scenario, floors)


def _none() -> Supplies:
    empty: dict[str, Any] = {
        f.name: np.zeros(0, dtype=np.int64 if f.type == Ints else np.float64) for f in fields(Supplies)
    }
    return Supplies(**empty)


def _of_source(
    source: _Source, leads: _Leads, scenario: Scenario, floors: Sequence[float], stand_in: StandIn | None
) -> Supplies:
    keep = np.flatnonzero(leads.voltage_max >= source.highest * (1 - 1e-12))
    resistance = leads.resistance[keep]
    strongest = np.minimum.reduce(
        [
            leads.fuse_rating[keep] / scenario.safety.continuous_factor,
            np.full(len(keep), source.current_max),
            scenario.safety.voltage_drop * source.nominal / resistance,
        ]
    )
    # Worst case at the lowest voltage; the runtime is counted at the nominal one.
    load = load_power(source.lowest, resistance, strongest)
    if np.isfinite(source.current_run):
        load = np.minimum(load, load_power(source.nominal, resistance, source.current_run))
    floor = source.lowest - load_current(source.lowest, resistance, load) * resistance
    index, deliverable, left = [np.arange(len(keep))], [load], [floor]
    for volts in sorted(set(floors)):
        higher = np.flatnonzero((floor < volts) & (volts < source.lowest))
        if len(higher):
            index.append(higher)
            deliverable.append(
                load_power(source.lowest, resistance[higher], (source.lowest - volts) / resistance[higher])
            )
            left.append(np.full(len(higher), volts))
    rows = np.concatenate(index)
    number = len(rows)
    supplies = Supplies(
        battery=np.full(number, source.battery, dtype=np.int64),
        series=np.full(number, source.series, dtype=np.int64),
        parallel=np.full(number, source.parallel, dtype=np.int64),
        cable=leads.cable[keep][rows],
        fuse=leads.fuse[keep][rows],
        connector=leads.connector[keep][rows],
        cost=source.cost + leads.cost[keep][rows],
        mass=source.mass + leads.mass[keep][rows],
        nominal=np.full(number, source.nominal),
        highest=np.full(number, source.highest),
        floor=np.concatenate(left),
        resistance=resistance[rows],
        deliverable=np.concatenate(deliverable),
        cores=leads.cores[keep][rows],
    )
    supplies = supplies.take(supplies.deliverable > 0.0)
    if stand_in is not None:
        return supplies
    figures = [supplies.cost, supplies.mass, -supplies.deliverable]
    # Which driver inputs a floor reaches matters, not its volts; and loss only where power counts.
    figures += [-np.searchsorted(np.array(sorted(set(floors))), supplies.floor * (1 + 1e-12), side="right")]
    figures += [supplies.resistance] if counts_power(scenario) else []
    figures += [-np.minimum(supplies.cores, 3)] if source.battery == MAINS else []
    return supplies.take(unbeaten(np.stack(figures, axis=1).astype(np.float64)))


def _best_of_all(supplies: Supplies, scenario: Scenario, floors: Sequence[float]) -> Supplies:
    """Return the supplies that no other of the same voltages, for the same drivers, can stand in for."""
    if not len(supplies):
        return supplies
    reach = np.searchsorted(np.array(sorted(set(floors))), supplies.floor * (1 + 1e-12), side="right")
    mains = supplies.battery == MAINS
    earth = np.where(mains, np.minimum(supplies.cores, 3), 3)
    alike = np.stack([mains, earth, reach, supplies.highest, supplies.nominal]).astype(np.float64)
    _, group = np.unique(alike, axis=1, return_inverse=True)
    figures = [supplies.cost, supplies.mass, -supplies.deliverable]
    figures += [supplies.resistance] if counts_power(scenario) else []
    table = np.stack(figures, axis=1).astype(np.float64)
    order = np.argsort(np.ravel(group), kind="stable")
    edges = np.flatnonzero(np.diff(np.ravel(group)[order])) + 1
    kept = [mine[unbeaten(table[mine])] for mine in np.split(order, edges)]
    return supplies.take(np.sort(np.concatenate(kept)))


def counts_power(scenario: Scenario) -> bool:
    """Whether the power drawn, and so the loss in the lead, can decide between builds."""
    return scenario.search.objective == "power" or scenario.limits.power is not None
