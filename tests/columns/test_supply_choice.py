"""Supplies against every combination of their parts, each limit taken by itself. All parts are invented."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from random import Random
from typing import TypeVar

import numpy as np
import pytest

from optimise.columns.dearer import Offers
from optimise.columns.eligible import Eligible
from optimise.columns.supplies import MAINS, Supplies, build_supplies
from optimise.parts import Battery, Cable, Connector, Fuse, Offer, Part
from optimise.parts.buying import Want
from optimise.scenario import Scenario
from optimise.scenario.light import Light
from optimise.scenario.model import Power, Safety, Search

P = TypeVar("P", bound=Part)
LENGTH = 3.0
BATTERY = Battery(
    part="b",
    chemistry="li-ion",
    voltage=12.0,
    voltage_min=10.8,
    voltage_max=14.4,
    capacity=20 * 3600.0,
    current_max=6.0,
    usable=0.5,
    mass=2.0,
)
CABLE = Cable(part="c", area=1e-6, cores=2, rating=10.0, voltage_max=300.0, resistance=0.008, mass_per_length=0.05)
FUSE = Fuse(part="f", rating=5.0, voltage_max=60.0, supply="dc", kind="blade", mass=0.01)
PLUG = Connector(part="k", rating=10.0, voltage_max=60.0, supply="dc", mass=0.02)
PRICES = {"b": 5000, "c": 100, "f": 250, "k": 75}


def offers(prices: dict[str, int], metres: Sequence[str] = ("c",), **stock: float) -> dict[str, tuple[Offer, ...]]:
    return {
        code: (
            Offer(
                part=code,
                supplier="s",
                price=price,
                sold_by="length" if code in metres else "each",
                stock=stock.get(code),
            ),
        )
        for code, price in prices.items()
    }


def parts(**changes: object) -> Eligible:
    kinds: dict[str, object] = dict.fromkeys(("emitters", "drivers", "panels", "diffusers", "mounts"), ())
    kinds |= {"batteries": (BATTERY,), "cables": (CABLE,), "fuses": (FUSE,), "connectors": (PLUG,)}
    return Eligible(**{**kinds, "offers": offers(PRICES), **changes})  # type: ignore[arg-type]


def scenario(source: str = "battery", ambient: float = 25.0, **sections: object) -> Scenario:
    volts = {} if source == "battery" else {"mains_voltage": 230.0, "circuit": 10.0}
    run = None if source == "mains" else 7200.0
    power = Power(source=source, runtime=run, lead_length=LENGTH, ambient=ambient, **volts)  # type: ignore[arg-type]
    return Scenario.model_validate({"light": Light(illuminance=100.0, distance=2.0), "power": power, **sections})


@dataclass(frozen=True)
class Way:
    """One pack or the mains with its lead, and what it is by the rules of the scenario."""

    battery: int
    series: int
    parallel: int
    cable: int
    fuse: int
    connector: int
    cost: int
    mass: float
    nominal: float
    highest: float
    lowest: float
    resistance: float
    cores: int
    most: float
    """A: of the fuse, the source and the voltage drop."""
    run: float
    """A at the nominal voltage, for the whole runtime."""

    def load(self, floor: float = 0.0) -> float:
        """The greatest load in VA at which so many volts are left."""
        current = min(self.most, (self.lowest - floor) / self.resistance)
        load = self.lowest * current - self.resistance * current**2
        return min(load, self.nominal * self.run - self.resistance * self.run**2) if np.isfinite(self.run) else load

    def left(self, load: float) -> float:
        """The volts that are left at a load."""
        return (self.lowest + (self.lowest**2 - 4.0 * self.resistance * load) ** 0.5) / 2.0


def leads(held: Eligible, wanted: Scenario, kind: str, price: dict[str, int]) -> Iterator[tuple[int, int, int]]:
    air = wanted.power.ambient
    for c, f, k in product(range(len(held.cables)), range(len(held.fuses)), range(len(held.connectors))):
        cable, fuse, plug = held.cables[c], held.fuses[f], held.connectors[k]
        derated = min(1.0, ((cable.conductor_max - air) / (cable.conductor_max - 30.0)) ** 0.5) * cable.rating
        fits = fuse.supply == plug.supply == kind and fuse.part in price
        if fits and fuse.rating <= derated * (1 + 1e-9) and fuse.rating <= plug.rating:
            yield c, f, k


def ways(held: Eligible, wanted: Scenario, price: dict[str, int]) -> Iterator[Way]:
    sources: list[tuple[int, int, int, str]] = []
    if wanted.power.battery:
        for i, battery in enumerate(held.batteries):
            numbers = product(range(1, battery.series_max + 1), range(1, battery.parallel_max + 1))
            sources += [(i, s, p, "dc") for s, p in numbers]
    if wanted.power.mains:
        sources.append((MAINS, 0, 0, "ac"))
    for b, s, p, kind in sources:
        for c, f, k in leads(held, wanted, kind, price):
            cable, fuse, plug = held.cables[c], held.fuses[f], held.connectors[k]
            resistance = 2 * LENGTH * cable.ohms_per_metre * (1 + 0.00393 * (cable.conductor_max - 20))
            cost = 3 * price[cable.part] + price[fuse.part] + price[plug.part]
            mass = 1e6 * (LENGTH * cable.mass_per_length + fuse.mass + plug.mass)
            if b == MAINS:
                volts = (230.0,) * 3
                most, run = 10.0 / 1.25, np.inf
            else:
                battery = held.batteries[b]
                volts = s * battery.voltage, s * battery.voltage_max, s * battery.voltage_min
                most = p * battery.current_max
                run = p * battery.capacity * battery.usable / 7200.0
                cost, mass = cost + s * p * price[battery.part], mass + 1e6 * s * p * battery.mass
            nominal, highest, lowest = volts
            if highest > wanted.safety.string_voltage * (1 + 1e-9) and b != MAINS:
                continue
            if highest > min(cable.voltage_max, fuse.voltage_max, plug.voltage_max) * (1 + 1e-9):
                continue
            cores = 2 if plug.earth is False else cable.cores
            most = min(most, fuse.rating / 1.25, 0.03 * nominal / resistance)
            yield Way(b, s, p, c, f, k, cost, mass, nominal, highest, lowest, resistance, cores, most, run)


def some(rng: Random) -> tuple[Eligible, dict[str, int]]:
    """Invent a few parts of each kind: one, and others that differ from it in one figure or two, and in price."""
    price: dict[str, int] = {}

    def kinds(name: str, part: P, number: int, **choices: Sequence[object]) -> tuple[P, ...]:
        found = []
        for index in range(number):
            changed = rng.sample(sorted(choices), min(index, rng.choice([1, 2])))
            update = {figure: rng.choice(choices[figure]) for figure in changed}
            price[f"{name}{index}"] = rng.choice([100, 150, 200])
            found.append(part.model_copy(update={**update, "part": f"{name}{index}"}))
        return tuple(found)

    cables = kinds("c", CABLE, 4, rating=(5.0, 12.0), voltage_max=(28.8, 60.0), cores=(3, 4), resistance=(0.004, 0.03),
                   mass_per_length=(0.03, 0.08), conductor_max=(90.0,))  # fmt: skip
    fuses = kinds("f", FUSE, 4, rating=(3.0, 10.0), voltage_max=(14.4, 28.8), mass=(0.005, 0.02))
    live = FUSE.model_copy(update={"supply": "ac", "voltage_max": 250.0})
    fuses += kinds("g", live, 3, rating=(3.0, 10.0), mass=(0.005, 0.02))
    plugs = kinds("k", PLUG, 4, rating=(5.0, 12.0), voltage_max=(14.4, 28.8), mass=(0.01, 0.03))
    mains = PLUG.model_copy(update={"supply": "ac", "voltage_max": 250.0})
    plugs += kinds("l", mains, 4, rating=(5.0, 12.0), mass=(0.01, 0.03), earth=(True, False))
    batteries = kinds("b", BATTERY, 3, voltage_min=(10.8, 11.0), voltage_max=(14.6,), voltage=(11.9, 12.4),
                      mass=(1.9, 2.5), current_max=(3.0, 9.0), capacity=(9 * 3600.0, 40 * 3600.0),
                      series_max=(3,), parallel_max=(2,))  # fmt: skip
    # One fuse is sold out.
    stocked = offers(price, [c.part for c in cables], f3=0.0)
    del price["f3"]
    held = parts(batteries=batteries, cables=cables, fuses=fuses, connectors=plugs, offers=stocked)
    return held, price


def parts_of(one: Supplies | Way, row: int | None = None) -> tuple[int, ...]:
    names = ("battery", "series", "parallel", "cable", "fuse", "connector")
    return tuple(int(getattr(one, n) if row is None else getattr(one, n)[row]) for n in names)


def near(a: float, b: float) -> bool:
    return abs(a - b) <= 1e-9 * max(abs(a), abs(b), 1e-6)


def check_each(supplies: Supplies, every: Sequence[Way], floors: Sequence[float]) -> None:
    """Each supply is a combination that is allowed, with the figures that it has."""
    known = {parts_of(way): way for way in every}
    for row in range(len(supplies)):
        way = known[parts_of(supplies, row)]
        names = ("cost", "mass", "nominal", "highest", "resistance", "cores")
        told = {name: float(getattr(supplies, name)[row]) for name in names}
        assert all(near(told[n], getattr(way, n)) for n in told), told
        load, floor = float(supplies.deliverable[row]), float(supplies.floor[row])
        full = near(load, way.load()) and near(floor, way.left(load))
        assert full or any(near(floor, f) and near(load, way.load(f)) for f in floors), (load, floor)
        assert load > 0.0


CASES = [(seed, source, ambient) for seed in range(12) for source, ambient in (("any", 25.0), ("battery", 45.0))]
FLOORS = (10.75, 10.79, 23.0, 230.0 * 0.99)


@pytest.mark.parametrize(("seed", "source", "ambient"), CASES)
def test_no_combination_is_better_than_all_supplies_and_none_is_there_in_vain(
    seed: int, source: str, ambient: float
) -> None:
    held, price = some(Random(seed))
    search = Search(objective="power" if seed % 2 else "cost")
    wanted = scenario(source, ambient, search=search, safety=Safety(string_voltage=28.8))
    supplies = build_supplies(held, wanted, FLOORS)
    every = list(ways(held, wanted, price))
    check_each(supplies, every, FLOORS)
    battery = supplies.battery == MAINS
    earth = np.where(battery, np.minimum(supplies.cores, 3), 3)
    for way in every:
        for floor in (0.0, *FLOORS):
            if floor >= way.lowest or way.load(floor) <= 0.0:
                continue
            # A pack of more volts loses less, and one that is never above another's suits all drivers that bear that.
            covers = (supplies.nominal >= way.nominal) & (supplies.highest <= way.highest)
            covers &= (supplies.cost <= way.cost) & (supplies.mass <= way.mass + 0.5)
            covers &= supplies.deliverable >= way.load(floor) * (1 - 1e-9)
            covers &= supplies.floor >= floor * (1 - 1e-9)
            covers &= (battery == (way.battery == MAINS)) & (earth >= min(way.cores, 3) * (way.battery == MAINS))
            if search.objective == "power":
                covers &= supplies.resistance <= way.resistance * (1 + 1e-12)
            assert covers.any(), (way, floor)
    # Of two of the same voltages, for the same drivers and boards, the one is cheaper, lighter or stronger.
    reach = np.array([sum(floor >= f * (1 - 1e-9) for f in FLOORS) for floor in supplies.floor.tolist()])
    alike = ~np.eye(len(supplies), dtype=bool)
    for figure in (supplies.nominal, supplies.highest, battery, earth, reach):
        alike &= figure[:, None] == figure[None, :]
    figures = [supplies.cost, supplies.mass, -supplies.deliverable]
    for figure in [*figures, *([supplies.resistance] if search.objective == "power" else [])]:
        alike &= figure[:, None] <= figure[None, :]
    assert not alike.any()


@pytest.mark.parametrize("seed", range(6))
def test_only_what_may_stand_in_takes_the_place_of_a_part(seed: int) -> None:
    rng = Random(seed)
    held, price = some(rng)
    wanted = scenario("any", safety=Safety(string_voltage=28.8))
    # An order of our own, which has nothing to do with the prices.
    order = {code: rng.randrange(3) for code in held.offers}
    asked: list[Want] = []

    def stand_in(wants: Sequence[Want], known: Offers) -> np.ndarray:
        assert known is held.offers
        asked.extend(wants)
        keys = np.array([order[want.part] for want in wants])
        return np.asarray(keys[:, None] <= keys[None, :])

    supplies = build_supplies(held, wanted, FLOORS, stand_in)
    assert {(w.pieces, w.length) for w in asked if w.part.startswith("c")} == {(1, LENGTH)}
    assert {(w.pieces, w.length) for w in asked if not w.part.startswith("c")} == {(1, 0.0)}
    every = list(ways(held, wanted, price))
    check_each(supplies, every, FLOORS)
    placed = [parts_of(supplies, row) for row in range(len(supplies))]
    kinds = (held.cables, held.fuses, held.connectors)
    keys = np.array([[order[kind[i].part] for kind, i in zip(kinds, place[3:], strict=True)] for place in placed])
    places = np.array(placed)
    for way in every:
        alike = (places[:, :3] == parts_of(way)[:3]).all(axis=1)
        mine = [order[kind[i].part] for kind, i in zip(kinds, parts_of(way)[3:], strict=True)]
        for floor in (0.0, *FLOORS):
            if floor >= way.lowest or way.load(floor) <= 0.0:
                continue
            covers = alike & (keys <= np.array(mine)).all(axis=1)
            covers &= (supplies.mass <= way.mass + 0.5) & (supplies.resistance <= way.resistance * (1 + 1e-12))
            covers &= (supplies.cores >= way.cores) & (supplies.floor >= floor * (1 - 1e-9))
            covers &= supplies.deliverable >= way.load(floor) * (1 - 1e-9)
            assert covers.any(), (way, floor)


def test_where_nothing_stands_in_all_combinations_stay_in_the_order_of_their_parts() -> None:
    held, price = some(Random(3))
    wanted = scenario("any")

    def apart(wants: Sequence[Want], known: Offers) -> np.ndarray:
        return np.eye(len(wants), dtype=bool)

    supplies = build_supplies(held, wanted, (), apart)
    every = [parts_of(way) for way in ways(held, wanted, price)]
    assert [parts_of(supplies, row) for row in range(len(supplies))] == every
    assert len(every) > 10
