"""Supplies: what they can deliver, against the same limits by hand."""

import math
from collections.abc import Sequence
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimise.columns.dearer import Offers
from optimise.columns.eligible import Eligible, code_digits, meets_ip
from optimise.columns.supplies import MAINS, Supplies, build_supplies, counts_power
from optimise.parts import Battery, Cable, Connector, Fuse, Offer
from optimise.parts.beaten import unbeaten
from optimise.parts.buying import Want
from optimise.scenario import Scenario
from optimise.scenario.light import Light
from optimise.scenario.model import Limits, Power, Safety, Search, Travel

# Invented figures.
BATTERY = Battery(
    part="b",
    chemistry="lead-acid",
    voltage=12.0,
    voltage_min=10.8,
    voltage_max=14.4,
    capacity=20 * 3600.0,
    rated_time=20 * 3600.0,
    peukert=1.2,
    current_max=8.0,
    usable=0.5,
    capacity_per_kelvin=0.008,
    series_max=2,
    parallel_max=2,
    mass=6.0,
)
CABLES = (
    Cable(part="thick", area=6e-6, cores=2, rating=40.0, voltage_max=60.0, mass_per_length=0.2),
    Cable(part="thin", area=1e-6, cores=2, rating=10.0, voltage_max=60.0, mass_per_length=0.05),
)
FUSES = (
    Fuse(part="f10", rating=10.0, voltage_max=58.0, supply="dc", kind="blade"),
    Fuse(part="f15", rating=15.0, voltage_max=24.0, supply="dc", kind="blade"),
    Fuse(part="f3ac", rating=3.0, voltage_max=250.0, supply="ac", kind="plug fuse"),
)
CONNECTORS = (
    Connector(part="c12", rating=12.0, voltage_max=48.0, supply="dc"),
    Connector(part="c30", rating=30.0, voltage_max=48.0, supply="dc"),
)


def offers(*codes: str) -> dict[str, tuple[Offer, ...]]:
    return {
        code: (Offer(part=code, supplier="s", price=100, sold_by="length" if code in {"thick", "thin"} else "each"),)
        for code in codes
    }


PARTS = Eligible(
    emitters=(),
    drivers=(),
    panels=(),
    diffusers=(),
    batteries=(BATTERY,),
    cables=CABLES,
    fuses=FUSES,
    connectors=CONNECTORS,
    mounts=(),
    offers=offers("b", "thick", "thin", "f10", "f15", "f3ac", "c12", "c30"),
)


def scenario(**power: object) -> Scenario:
    settings_: dict[str, object] = {"source": "battery", "runtime": 7200.0, "lead_length": 3.0, "ambient": 15.0}
    return Scenario(light=Light(illuminance=100.0, distance=2.0), power=Power.model_validate({**settings_, **power}))


def deliverable(cable: Cable, fuse: Fuse, series: int, parallel: int) -> float:
    """The greatest load by bisection on every limit, each tested as stated."""
    resistance = 2 * 3.0 * cable.ohms_per_metre * (1 + 0.00393 * 40)
    lowest, nominal = series * 10.8, series * 12.0
    cold = 1 - 0.008 * 10

    def holds(load: float) -> bool:
        under = lowest**2 - 4 * resistance * load
        if under < 0:
            return False
        current = (lowest - math.sqrt(under)) / (2 * resistance)
        run = (nominal - math.sqrt(nominal**2 - 4 * resistance * load)) / (2 * resistance) / parallel
        hours = min(20 * (20 / (run * 20)) ** 1.2, 20 / run) * 0.5 * cold
        return (
            1.25 * current <= fuse.rating
            and current <= 8.0 * parallel
            and current * resistance <= 0.03 * nominal
            and hours >= 2.0
        )

    low, high = 0.0, 1e4
    for _ in range(80):
        middle = (low + high) / 2
        low, high = (middle, high) if holds(middle) else (low, middle)
    return low


def test_every_pack_delivers_what_its_limits_allow() -> None:
    supplies = build_supplies(PARTS, scenario(), [])
    seen = set()
    for i in range(len(supplies)):
        cable, fuse = CABLES[supplies.cable[i]], FUSES[supplies.fuse[i]]
        series, parallel = int(supplies.series[i]), int(supplies.parallel[i])
        seen.add((series, parallel))
        assert supplies.deliverable[i] == pytest.approx(deliverable(cable, fuse, series, parallel), rel=1e-9)
        assert fuse.rating <= cable.rating
        assert fuse.rating <= CONNECTORS[supplies.connector[i]].rating
        assert fuse.voltage_max >= series * 14.4
        assert fuse.supply == "dc"
    assert seen == {(1, 1), (1, 2), (2, 1), (2, 2)}


def test_a_higher_floor_costs_load_and_is_offered() -> None:
    low = build_supplies(PARTS, scenario(), [])
    high = build_supplies(PARTS, scenario(), [10.75])
    one = (high.series == 1) & (high.floor >= 10.75)
    assert one.any()
    # 10.8 V empty: only 0.05 V may be lost, whatever the fuse would carry.
    assert high.deliverable[one].max() < low.deliverable[low.series == 1].max()
    resistance = high.resistance[one]
    assert high.deliverable[one] == pytest.approx(10.75 * 0.05 / resistance, rel=1e-9)


def test_mains_counts_the_circuit_and_only_mains_parts() -> None:
    plug = Connector(part="plug", rating=13.0, voltage_max=250.0, supply="ac")
    flex = CABLES[0].model_copy(update={"voltage_max": 300.0})
    parts = PARTS.__class__(
        **{
            **PARTS.__dict__,
            "connectors": (*CONNECTORS, plug),
            "cables": (flex,),
            "offers": offers("thick", "f10", "f15", "f3ac", "c12", "c30", "plug"),
        }
    )
    supplies = build_supplies(parts, scenario(source="mains", mains_voltage=230.0, circuit=1.0, runtime=None), [])
    assert supplies.battery.tolist() == [MAINS]
    assert FUSES[supplies.fuse[0]].part == "f3ac"
    current = 1.0 / 1.25
    assert supplies.deliverable[0] == pytest.approx(230 * current - supplies.resistance[0] * current**2)


def test_nothing_fits_is_empty_and_not_an_error() -> None:
    parts = PARTS.__class__(**{**PARTS.__dict__, "fuses": ()})
    assert len(build_supplies(parts, scenario(), [])) == 0


def of(wanted: Scenario, **changes: object) -> Supplies:
    return build_supplies(PARTS.__class__(**{**PARTS.__dict__, **changes}), wanted, [])


def asking(wanted: Scenario, **sections: object) -> Scenario:
    return wanted.model_copy(update=sections)


def test_cost_and_mass_are_the_sums_of_the_parts() -> None:
    prices = {"b": 5000, "thin": 70, "f10": 250, "c12": 90}
    priced = {
        code: (Offer(part=code, supplier="s", price=price, sold_by="length" if code == "thin" else "each"),)
        for code, price in prices.items()
    }
    light = FUSES[0].model_copy(update={"mass": 0.01}), *FUSES[1:]
    plugs = CONNECTORS[0].model_copy(update={"mass": 0.03}), CONNECTORS[1]
    found = of(scenario(), offers=priced, fuses=light, connectors=plugs)
    assert set(found.series.tolist()) == {1, 2}
    for series, parallel, cost, mass in zip(found.series, found.parallel, found.cost, found.mass, strict=True):
        assert cost == series * parallel * 5000 + 3 * 70 + 250 + 90
        # 6 kg each, 3 m of 50 g, 10 g and 30 g.
        assert mass == series * parallel * 6_000_000 + 190_000


def test_what_a_lead_loses_is_what_the_supply_gives_more_than_the_light_takes() -> None:
    found = of(scenario())
    for load in (5.0, 20.0):
        lost = found.loss(load)
        # I V = P + lost, and lost = I² R.
        current = (load + lost) / found.nominal
        np.testing.assert_allclose(lost, current**2 * found.resistance, rtol=1e-9)
        assert np.all(lost > 0.0)


def test_terminals_may_have_the_voltage_that_can_be_touched_and_no_more() -> None:
    # Two of 14.4 V; three and four are never tried, and what comes after is.
    many = BATTERY.model_copy(update={"series_max": 4}), BATTERY.model_copy(update={"part": "other", "mass": 5.0})
    codes = offers("b", "other", "thick", "thin", "f10", "f15", "c12", "c30")
    for limit, most in ((28.8, 2), (28.7, 1)):
        wanted = asking(scenario(), safety=Safety(string_voltage=limit))
        assert max(of(wanted, batteries=many[:1], offers=codes).series) == most
        found = of(wanted, batteries=many, offers=codes)
        assert set(found.battery.tolist()) >= {1}
        assert max(found.series) == most


def test_as_many_batteries_as_may_fly() -> None:
    # 144 Wh with approval: two (IATA DGR 2.3, seen second-hand), of four that the maker allows.
    flying = BATTERY.model_copy(update={"chemistry": "li-ion", "capacity": 12 * 3600.0})
    assert flying.watt_hours == pytest.approx(144.0)
    found = of(asking(scenario(), travel=Travel(mode="air", approval=True)), batteries=(flying,))
    assert set(zip(found.series.tolist(), found.parallel.tolist(), strict=True)) == {(1, 1), (1, 2), (2, 1)}


def test_a_battery_that_the_cold_leaves_nothing_of_feeds_nothing() -> None:
    # 5 % for each kelvin below 25 °C: nothing at 5 °C, and half of it at 15 °C.
    frail = BATTERY.model_copy(update={"capacity_per_kelvin": 0.05})
    assert len(of(scenario(ambient=5.0), batteries=(frail,))) == 0
    assert len(of(scenario(ambient=-20.0), batteries=(frail,))) == 0
    assert len(of(scenario(ambient=15.0), batteries=(frail,))) > 0


def test_without_a_battery_or_a_lead_there_is_no_supply() -> None:
    for gone in ("batteries", "cables", "fuses", "connectors"):
        found = of(scenario(), **{gone: ()})
        assert len(found) == 0
        assert found.cost.dtype == np.int64
        assert found.deliverable.dtype == np.float64
    assert MAINS < 0, "no index of a battery"


def test_mains_takes_part_without_a_circuit_or_an_earth() -> None:
    flex = CABLES[0].model_copy(update={"voltage_max": 300.0, "cores": 3})
    wanted = scenario(source="mains", mains_voltage=230.0, runtime=None)
    for earth, cores in ((None, 3), (True, 3), (False, 2)):
        plug = Connector(part="plug", rating=13.0, voltage_max=250.0, supply="ac", earth=earth)
        found = of(wanted, connectors=(plug,), cables=(flex,), offers=offers("thick", "f3ac", "plug"))
        assert found.cores.tolist() == [cores]
        assert (found.series[0], found.parallel[0], found.cost[0], found.mass[0]) == (0, 0, 3 * 100 + 2 * 100, 600_000)
        # Only the fuse limits it: 3 A / 1.25.
        assert found.deliverable[0] == pytest.approx(230.0 * 2.4 - found.resistance[0] * 2.4**2)


def test_power_counts_where_it_is_limited_or_made_least() -> None:
    assert not counts_power(scenario())
    assert not counts_power(asking(scenario(), search=Search(objective="mass")))
    assert counts_power(asking(scenario(), search=Search(objective="power")))
    assert counts_power(asking(scenario(), limits=Limits(power=100.0)))


def both(one: Battery, **changes: object) -> tuple[tuple[Battery, Battery], dict[str, tuple[Offer, ...]]]:
    """Two batteries, the second of another price and with other figures, and all that is on offer."""
    codes = offers("b", "other", "thick", "f10", "c30")
    codes["other"] = (codes["other"][0].model_copy(update={"price": 500}),)
    return (one, one.model_copy(update={"part": "other", **changes})), codes


def test_a_dearer_battery_stays_for_what_it_alone_can_do() -> None:
    weak = BATTERY.model_copy(update={"current_max": 2.0, "capacity": 10 * 3600.0, "peukert": 1.0})
    found = {}
    for figure, value in (("current_max", 6.0), ("voltage_min", 11.5), ("mass", 5.0), ("voltage_max", 13.0)):
        batteries, codes = both(weak, **{figure: value})
        found[figure] = set(of(scenario(), batteries=batteries, offers=codes).battery.tolist())
    batteries, codes = both(weak.model_copy(update={"current_max": 8.0}), capacity=40 * 3600.0)
    found["capacity"] = set(of(scenario(), batteries=batteries, offers=codes).battery.tolist())
    assert all(kept == {0, 1} for kept in found.values()), found
    # One that is worse in all it does, and dearer, is of no use; whichever comes first.
    batteries, codes = both(weak, voltage_min=10.5, voltage=11.9, mass=7.0, capacity=9 * 3600.0)
    assert set(of(scenario(), batteries=batteries, offers=codes).battery.tolist()) == {0}
    assert set(of(scenario(), batteries=batteries[::-1], offers=codes).battery.tolist()) == {1}


def test_a_lead_that_loses_less_stays_where_power_counts() -> None:
    # The thick one with the small fuse costs as much as the thin one with the larger, and gives less.
    cables = CABLES[0].model_copy(update={"mass_per_length": 0.05}), CABLES[1]
    small = FUSES[0].model_copy(update={"part": "f3", "rating": 3.0})
    codes = offers("b", "thick", "thin", "f10", "f3", "c12")
    prices = {"thick": 150, "thin": 100, "f10": 250, "f3": 100}
    codes |= {code: (codes[code][0].model_copy(update={"price": price}),) for code, price in prices.items()}
    one = BATTERY.model_copy(update={"series_max": 1, "parallel_max": 1, "capacity": 100 * 3600.0})
    changes: dict[str, object] = {"cables": cables, "fuses": (FUSES[0], small), "batteries": (one,), "offers": codes}
    kept = {"power": {(0, 0), (0, 1), (1, 0), (1, 1)}, "cost": {(0, 0), (1, 0), (1, 1)}}
    for objective, expected in kept.items():
        found = of(asking(scenario(), search=Search(objective=objective)), **changes)  # type: ignore[arg-type]
        assert set(zip(found.cable.tolist(), found.fuse.tolist(), strict=True)) == expected


def test_of_two_alike_one_is_kept_where_either_stands_in() -> None:
    twin = CABLES[0].model_copy(update={"part": "twin"})
    codes = offers("b", "thick", "f10", "c12") | {"twin": offers("thick")["thick"]}

    def either(wants: Sequence[Want], known: Offers) -> np.ndarray:
        return np.ones((len(wants), len(wants)), dtype=bool)

    parts = PARTS.__class__(**{**PARTS.__dict__, "cables": (CABLES[0], twin), "offers": codes})
    assert set(build_supplies(parts, scenario(), [], either).cable.tolist()) == {0}


@given(st.lists(st.tuples(*[st.integers(0, 4)] * 3), min_size=1, max_size=40))
@settings(max_examples=60, deadline=None)
def test_unbeaten_keeps_exactly_one_of_what_nothing_beats(rows: list[tuple[int, int, int]]) -> None:
    kept = unbeaten(np.array(rows, dtype=np.float64))
    chosen = [rows[i] for i in kept]
    for a, b in product(chosen, chosen):
        assert a is b or not all(x <= y for x, y in zip(a, b, strict=True)) or a == b
    assert len(set(chosen)) == len(chosen)
    for row in rows:
        assert any(all(x <= y for x, y in zip(best, row, strict=True)) for best in chosen)


@pytest.mark.parametrize(
    ("code", "wanted", "enough"),
    [
        ("IP65", "IP44", True),
        ("IP44", "IP44", True),
        ("IP20", "IP44", False),
        ("IP4X", "IP44", False),
        ("IPX4", "IPX4", True),
        ("IP24", "IPX4", True),
        (None, "IP20", False),
        (None, None, True),
    ],
)
def test_ip_codes_compare_by_digit_and_x_is_never_enough(code: str | None, wanted: str | None, enough: bool) -> None:
    assert meets_ip(code, wanted) is enough
    assert code_digits("IPX4") == (-1, 4)
