"""Kits by hand, and the program of one against what the exact check says of single kits (invented parts)."""

import itertools
import math
from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import small_kits

from optimise.columns.supplies import MAINS
from optimise.model import kit_program as module
from optimise.model.choice import ChannelChoice, Choice, Evaluation, Margin
from optimise.model.kit import KitEvaluation, _circuit, _flying, evaluate_kit, flight_group, sharing
from optimise.model.kit_goods import KitGoods
from optimise.model.kit_house import KitHouse
from optimise.model.kit_program import Block, KitProgram, kit_program
from optimise.model.solver import Outcome, Program, Status
from optimise.model.state import Tangent
from optimise.scenario import KitLight, Scenario

PARTS = small_kits.traded()
KIT = small_kits.kit((1.0, 1), (1.7, 2))


def light(number: int = 1, emitter: str = "e", battery: str = "b2", string: int = 1) -> Choice:
    """Return a light of so many drivers with a string each."""
    driver = "d" if string == 1 else "d2"
    return Choice(
        emitter, (ChannelChoice(driver, string, 1, 0.5, number),), "p", None, battery, 1, 1, "c", "f", "k", "m"
    )


def test_a_kit_by_hand() -> None:
    """One light of one emitter, two of two on two drivers: all parts by the piece, 1 m of cable for each."""
    limits = KIT.limits.model_copy(update={"budget": 22000, "mass": 6.5, "power": 40.0})
    kit = evaluate_kit([light(1), light(2)], PARTS, KIT.model_copy(update={"limits": limits}))
    # 700 p, 3300 b2, 150 c, 90 f, 120 k, 500 m: 4860 each; 900 e and 800 d, one and twice two.
    assert kit.cents == 3 * 4860 + 5 * 1700 == 23080
    # 1 kg p, 0.6 b2, 0.1 c, 0.2 m: 1.9 kg each; 20 g e and 100 g d.
    assert kit.milligrams == 3 * 1_900_000 + 5 * 120_000
    assert kit.watts == pytest.approx(kit.lights[0].watts + 2 * kit.lights[1].watts)
    assert kit.figures == {"cost": (230.8, "EUR"), "mass": (6.3, "kg"), "power": (kit.watts, "W")}
    assert kit.counts == (1, 2)
    assert kit.choice == (light(1), light(2))
    assert [(m.name, m.required, m.unit, m.holds) for m in kit.margins] == [
        ("budget", 220.0, "EUR", False),
        ("mass", 6.5, "kg", True),
        ("power", 40.0, "W", kit.watts <= 40.0),
    ]
    assert [m.achieved for m in kit.margins] == [230.8, 6.3, kit.watts]
    assert {line.part: line.needed for line in kit.bill} == {
        "e": 5,
        "d": 5,
        "p": 3,
        "b2": 3,
        "c": 3.0,
        "f": 3,
        "k": 3,
        "m": 3,
    }
    assert kit.lights[0].cents == 0
    assert evaluate_kit([light(1), light(2)], PARTS, KIT).margins == ()


def test_a_kit_passes_where_all_of_it_does() -> None:
    good: Any = SimpleNamespace(passes=True)
    bad: Any = SimpleNamespace(passes=False)
    held, missed = Margin("mass", "max", 2.0, 1.0, "kg", "x"), Margin("mass", "max", 1.0, 2.0, "kg", "x")
    for lights, margins, missing, passes in (
        ((good, good), (held, held), (), True),
        ((good, bad), (held,), (), False),
        ((good, good), (held, missed), (), False),
        ((bad, bad), (held,), (), False),
        ((good,), (missed,), (), False),
        ((good,), (), ("e",), False),
    ):
        kit = KitEvaluation(lights, (1,) * len(lights), (), (), margins, {}, 0, 0, 0.0, missing)
        assert kit.passes is passes


def on_mains(*entries: tuple[int, float | None, bool], circuit: float = 10.0, volts: float = 200.0) -> Scenario:
    """Return a kit of lights by (count, circuit of its job, whether it has a circuit of its own)."""
    scenario = small_kits.job()
    power = scenario.power.model_copy(update={"source": "any", "mains_voltage": volts, "circuit": circuit})
    kit = tuple(
        KitLight(
            name=f"l{n}",
            count=count,
            own_circuit=own,
            job=scenario.model_copy(update={"power": power.model_copy(update={"circuit": its})}),
        )
        for n, (count, its, own) in enumerate(entries)
    )
    return scenario.model_copy(update={"power": power, "kit": kit})


def drawing(current: float | None, battery: str | None = None) -> Evaluation:
    found: Any = SimpleNamespace(figures={"current": (current, "A")}, choice=SimpleNamespace(battery=battery))
    return found  # type: ignore[no-any-return]


def test_who_shares_the_circuit() -> None:
    kit = on_mains((1, 10.0, False), (1, None, False), (1, 10.0, True))
    assert sharing(kit) == (True, False, False)
    battery = small_kits.job()
    assert sharing(battery.model_copy(update={"kit": KIT.kit})) == (False, False)
    with_circuit = battery.power.model_copy(update={"circuit": 10.0})
    job = battery.model_copy(update={"power": with_circuit})
    assert sharing(battery.model_copy(update={"kit": (KIT.kit[0].model_copy(update={"job": job}),)})) == (False,)


def test_currents_on_one_circuit_by_hand() -> None:
    kit = on_mains((1, 10.0, False), (3, 10.0, False), (2, 10.0, True))
    (margin,) = _circuit([drawing(1.0), drawing(2.0), drawing(4.0)], kit)
    # 1.25 × (1 + 3 × 2) A of 10 A (NEC 210.20(A)).
    assert (margin.required, margin.achieved, margin.kind) == (10.0, 8.75, "max")
    # On a battery it draws nothing of the mains; one of which nothing is known counts as nothing.
    (margin,) = _circuit([drawing(1.0, "b"), drawing(2.0), drawing(4.0)], kit)
    assert margin.achieved == 7.5
    (margin,) = _circuit([drawing(None), drawing(2.0), drawing(4.0)], kit)
    assert margin.achieved == 7.5
    assert not list(_circuit([drawing(1.0, "b"), drawing(2.0, "b"), drawing(4.0)], kit))


def test_batteries_that_fly_by_hand() -> None:
    battery = PARTS.batteries[0]  # 12 V, 36 kC: 120 Wh
    assert flight_group(battery) == ("batteries that may fly", 20)
    lithium = battery.model_copy(update={"chemistry": "li-ion"})
    assert flight_group(lithium) == ("batteries above 100 Wh that may fly", 2)
    lead = battery.model_copy(update={"chemistry": "lead-acid", "capacity": 20000.0})
    assert flight_group(lead) == ("lead-acid batteries that may fly", 2)
    flying = KIT.model_copy(update={"travel": KIT.travel.model_copy(update={"mode": "air"})})
    parts = replace(PARTS, batteries=(lithium, lead.model_copy(update={"part": "b2"})))
    two = replace(light(battery="b"), battery_series=1, battery_parallel=2)

    def lit(*choices: Choice) -> list[Any]:
        return [SimpleNamespace(choice=choice) for choice in choices]

    found = {m.name: (m.required, m.achieved) for m in _flying(lit(light(battery="b2"), two), parts, flying)}
    assert found == {"batteries above 100 Wh that may fly": (2, 4), "lead-acid batteries that may fly": (2, 1)}
    both = {m.name: m.achieved for m in _flying(lit(two, two), parts, flying)}
    assert both == {"batteries above 100 Wh that may fly": 2 + 4}
    assert not list(_flying(lit(light(), two), parts, KIT))
    assert not list(_flying(lit(replace(light(), battery=None)), parts, flying.model_copy(update={"kit": KIT.kit[:1]})))


@pytest.fixture
def fresh() -> KitGoods:
    """Return lights of which no bounds are known."""
    return KitHouse(PARTS, KIT, "power", None, 1, None).open(PARTS, KIT, (), ("cost",), None)()


@pytest.fixture
def shop() -> KitGoods:
    """Return lights with bounds on cost and mass."""
    found = KitHouse(PARTS, KIT, "power", None, 1, None).open(PARTS, KIT, (), ("cost",), None)()
    assert found.bounded({**FREE, "mass": 1e8})
    return found


FREE = {"cost": math.inf, "mass": math.inf, "power": math.inf}


def solved(k: KitProgram, gap: float = 0.5) -> Outcome:
    return k.solve(gap, lambda: None, 1, None)


@cache
def every() -> list[list[Evaluation]]:
    return [small_kits.builds(PARTS, entry.job) for entry in KIT.kit]


@pytest.mark.long
def test_the_program_of_a_kit_comes_to_what_its_best_pair_comes_to(shop: KitGoods) -> None:
    """By cost, by mass, and by cost within a cap on mass; every pair of builds is looked at."""
    states = shop._states("cost", FREE)
    assert states is not None
    lows = [light.lows for light in shop.lights]
    pairs = [
        (a.cents + 2 * b.cents, a.milligrams + 2 * b.milligrams, a.watts + 2 * b.watts)
        for a, b in itertools.product(*every())
    ]
    cheapest, lightest = min(pairs)[0], min(mass for _, mass, _ in pairs)
    k = kit_program(states, shop.terms, {**FREE, "mass": 2.0 * lightest}, "cost", lows, power_counts=False)
    assert k.capped == {"mass": 2.0 * lightest}
    assert [block.light for block in k.blocks] == [0, 0, 1, 1]
    assert {block.loss for block in k.blocks} == {None}
    assert round(solved(k).objective) == cheapest
    # A cap that binds: never above what the best kit within it costs, and not without the cap.
    k = kit_program(states, shop.terms, {**FREE, "mass": float(lightest)}, "cost", lows, power_counts=False)
    assert cheapest < round(solved(k).objective) <= min(cents for cents, mass, _ in pairs if mass == lightest)
    k = kit_program(states, shop.terms, {**FREE, "mass": 0.9 * lightest}, "cost", lows, power_counts=False)
    assert solved(k).status is Status.IMPOSSIBLE
    k = kit_program(states, shop.terms, FREE, "mass", lows, power_counts=True)
    assert round(solved(k).objective) == min(mass for _, mass, _ in pairs)
    assert None not in {block.loss for block in k.blocks}
    # Losses are counted by their tangents, from below.
    for state in states:
        state.tangents = [Tangent(s, 20.0) for s in range(2)]
    known = [{**low, "power": 0.999 * min(b.watts for b in mine)} for low, mine in zip(lows, every(), strict=True)]
    k = kit_program(states, shop.terms, FREE, "power", known, power_counts=True)
    found, least = solved(k, 1e-6).objective, min(watts for _, _, watts in pairs)
    assert least * 0.99 < found <= least * (1.0 + 1e-6)
    for state in states:
        state.tangents = []
    # With no objective anything within the caps will do; within caps that nothing keeps nothing does.
    k = kit_program(states, shop.terms, {**FREE, "cost": 1e5}, "", lows, power_counts=False)
    assert solved(k).status is Status.OPTIMAL
    k = kit_program(states, shop.terms, {**FREE, "cost": 100.0}, "", lows, power_counts=False)
    assert solved(k).status is Status.IMPOSSIBLE


def test_terms_of_a_kit_by_hand(fresh: KitGoods) -> None:
    """One light and two equal ones, of two kinds of emitter each, of which nothing is known beforehand."""
    states = fresh._states("cost", FREE)
    assert states is not None
    plain = kit_program(states, fresh.terms, FREE, "", [{}, {}], power_counts=False)
    assert (plain.scales["power"], plain.program._objective, plain.capped) == ({}, {}, {})
    assert {b.loss for b in plain.blocks} == {None}
    k = kit_program(states, fresh.terms, FREE, "mass", [{}, {}], power_counts=True)
    assert k.program._objective == k.scales["mass"]
    assert [b.light for b in k.blocks] == [0, 0, 1, 1]
    power, mass = {}, {}
    for b in k.blocks:
        f, count = b.formulation, KIT.kit[b.light].count
        assert b.loss is not None
        assert (k.program.highs[b.used], k.program._variables[b.used].cat) == (1, "Integer")
        power[b.loss] = float(count)
        for v, c in zip(f.channel_vars, f.kept.channels, strict=True):
            power[v] = count * f.problem.channels.power[c]
            # 20 g or 30 g an emitter, 100 g or 150 g a driver.
            emitter = 20_000 if f.problem.parts.emitters[0].part == "e" else 30_000
            driver = 100_000 if f.problem.channels.driver[c] == 0 else 150_000
            mass[v] = count * (emitter * f.problem.channels.count[c] + driver)
        for v, s in zip(f.supply_vars, f.kept.supplies, strict=True):
            # A battery of 1 kg or 0.6 kg, and 100 g of cable.
            battery = 1_000_000 if f.problem.supplies.battery[s] == 0 else 600_000
            number = int(f.problem.supplies.series[s] * f.problem.supplies.parallel[s])
            mass[v] = count * (battery * number + 100_000)
        mass |= dict.fromkeys(f.cell_vars, count * 1000000.0)
        mass |= dict.fromkeys(f.mount_vars, count * 200000.0)
    assert k.scales["power"] == pytest.approx(power)
    assert k.scales["mass"] == pytest.approx(mass)
    # What a light comes to at least is a row for each scale on which that is known and more than nothing.
    for lows, rows in (({"cost": 0.0}, 0), ({"cost": 100.0}, 1), ({"cost": 100.0, "mass": 1e5, "power": 0.1}, 3)):
        for some in ([{}, lows], [lows, {}]):
            more = kit_program(states, fresh.terms, FREE, "mass", some, power_counts=True)
            assert more.program.rows == k.program.rows + rows
    # It says nothing against either kind.
    for number in (0, 1):
        more = kit_program(states, fresh.terms, FREE, "", [lows, lows], power_counts=True)
        more.program.exactly({more.blocks[number].used: 1.0}, 1.0)
        assert solved(more).status is Status.OPTIMAL


def test_each_light_has_one_kind_and_no_less_than_its_bound(fresh: KitGoods) -> None:
    states = fresh._states("cost", FREE)
    assert states is not None
    lows: list[dict[str, float]] = [{"cost": 0.0}, {"mass": 3e6}]
    k = kit_program(states, fresh.terms, FREE, "mass", lows, power_counts=False)
    outcome = solved(k)
    used = [round(k.program.value(outcome, block.used)) for block in k.blocks]
    assert {(k.program.highs[b.used], k.program._variables[b.used].cat) for b in k.blocks} == {(1, "Integer")}
    assert (sum(used[:2]), sum(used[2:])) == (1, 1)
    assert [block.light for block in k.chosen(outcome)] == [0, 1]
    assert [block for block, use in zip(k.blocks, used, strict=True) if use] == k.chosen(outcome)
    # The second light weighs as much as it is said to at least.
    assert sum(w * k.program.value(outcome, v) for v, w in k.scales["mass"].items()) == pytest.approx(outcome.objective)
    plain = kit_program(states, fresh.terms, FREE, "mass", [{}, {}], power_counts=False)
    assert outcome.objective >= 6e6
    # One row for each bound that is known.
    assert k.program.rows == plain.program.rows + 1


def test_what_a_light_costs_at_least_by_hand(fresh: KitGoods) -> None:
    states = fresh._states("cost", FREE)
    assert states is not None
    k = kit_program(states, fresh.terms, FREE, "cost", [{}, {}], power_counts=False)
    f = k.blocks[0].formulation
    terms = module._least_cost(f)
    assert {terms[v] for v in f.cell_vars} == {700.0}
    assert [terms[v] for v in f.mount_vars] == [500.0]
    # Battery, 150 of cable, 90 and 120.
    assert {terms[v] for v in f.supply_vars} <= {2360.0, 3660.0, 4360.0, 6960.0}
    emitter = {"e": 900.0, "e2": 1100.0}[f.problem.parts.emitters[0].part]
    channels = f.problem.channels
    for v, c in zip(f.channel_vars, f.kept.channels, strict=True):
        assert terms[v] == emitter * channels.count[c] + (800.0 if channels.driver[c] == 0 else 950.0)


def outcome_of(p: Program, **values: float) -> Outcome:
    return Outcome(Status.OPTIMAL, 0.0, 0.0, dict(zip(p._names, values.values(), strict=True)))


def test_the_block_chosen_is_the_one_that_is_used_most() -> None:
    k = KitProgram()
    variables = [k.program.variable(0, 1, whole=True) for _ in range(5)]
    line: Any = None
    k.blocks = [Block(n, line, line, v, None) for n, v in zip((1, 1, 0, 0, 0), variables, strict=True)]
    outcome = outcome_of(k.program, a=1.0, b=0.0, c=1e-9, d=1.0, e=0.0)
    assert k.chosen(outcome) == [k.blocks[3], k.blocks[0]]
    # Of equal ones, the first.
    assert k.chosen(outcome_of(k.program, a=0.5, b=0.5, c=0.2, d=0.4, e=0.4)) == [k.blocks[3], k.blocks[0]]


def block(
    p: Program, number: int, batteries: Sequence[int], *, loss: float | None = None, inputs: Sequence[str] = ("ac",)
) -> Block:
    """Return a block with a supply of each of these batteries (series 2, parallel 3), and a driver of each input."""
    supplies = SimpleNamespace(
        battery=np.array(batteries), series=np.full(len(batteries), 2), parallel=np.full(len(batteries), 3)
    )
    drivers = [SimpleNamespace(input=each) for each in inputs]
    channels = SimpleNamespace(driver=np.arange(len(inputs)), apparent=np.full(len(inputs), 100.0))
    problem = SimpleNamespace(
        supplies=supplies, channels=channels, parts=SimpleNamespace(drivers=drivers, batteries=PARTS.batteries)
    )
    f: Any = SimpleNamespace(
        problem=problem,
        kept=SimpleNamespace(supplies=np.arange(len(batteries)), channels=np.arange(len(inputs))),
        channel_vars=[p.variable(0, 9, whole=True) for _ in inputs],
        supply_vars=[p.variable(0, 1, whole=True) for _ in batteries],
    )
    line: Any = None
    return Block(number, line, f, -1, None if loss is None else p.variable(0.0, loss, whole=False))


def most(k: KitProgram, terms: dict[int, float]) -> float:
    """Return the most that a sum can come to."""
    k.program.minimise({v: -weight for v, weight in terms.items()})
    outcome = k.program.solve(1e-6, None, 1)
    assert outcome.status is Status.OPTIMAL
    return -outcome.objective


def test_loads_on_one_circuit_by_hand() -> None:
    """1.25 × volt-amperes / 200 V on 10 A: 1600 VA in all; 100 VA a driver, of three equal lights 300 VA."""
    kit = on_mains((1, 10.0, False), (3, 10.0, False), (2, 10.0, True), (1, None, False))
    k = KitProgram()
    k.blocks = [block(k.program, number, [MAINS]) for number in range(4)]
    module._circuit(k, kit)
    first, second, own, without = (b.formulation.channel_vars[0] for b in k.blocks)
    assert most(k, {first: 1.0}) == pytest.approx(9.0)
    assert most(k, {second: 1.0}) == pytest.approx(5.0)
    assert most(k, {second: 1.0, first: 0.1}) == pytest.approx(5.1)
    assert most(k, {own: 1.0, without: 1.0}) == pytest.approx(18.0)
    # One that does not hang on it says nothing of those after it.
    first_own = on_mains((2, 10.0, True), (3, 10.0, False))
    k = KitProgram()
    k.blocks = [block(k.program, number, [MAINS]) for number in range(2)]
    module._circuit(k, first_own)
    assert most(k, {k.blocks[1].formulation.channel_vars[0]: 1.0}) == pytest.approx(5.0)
    # On a battery alone, or of drivers on direct current, nothing is taken of the mains.
    k = KitProgram()
    k.blocks = [block(k.program, 0, [0]), block(k.program, 1, [MAINS], inputs=["dc"])]
    module._circuit(k, kit)
    assert k.program.rows == 0
    k = KitProgram()
    k.blocks = [block(k.program, 1, [MAINS], inputs=["dc", "ac"])]
    module._circuit(k, kit)
    dc, ac = k.blocks[0].formulation.channel_vars
    assert (most(k, {dc: 1.0}), most(k, {ac: 1.0})) == (pytest.approx(9.0), pytest.approx(5.0))


def test_losses_count_on_the_circuit_where_they_hang_on_it() -> None:
    kit = on_mains((1, 10.0, False))
    for batteries, chosen, most_loss in (([MAINS], 0, 1100.0), ([MAINS, 0], 0, 1100.0), ([MAINS, 0], 1, 2000.0)):
        k = KitProgram()
        k.blocks = [block(k.program, 0, batteries, loss=2000.0)]
        module._circuit(k, kit)
        f, loss = k.blocks[0].formulation, k.blocks[0].loss
        assert loss is not None
        # Five drivers of 100 VA leave 1100 W to the lead; on the battery its loss is nothing to the circuit.
        told = [(v.lowBound, v.upBound, v.cat) for v in k.program._variables[len(batteries) + 2 :]]
        assert told == ([] if len(batteries) == 1 else [(0.0, 2000.0, "Continuous")])
        k.program.exactly({f.channel_vars[0]: 1.0}, 5.0)
        k.program.exactly({f.supply_vars[chosen]: 1.0}, 1.0)
        k.program.exactly(dict.fromkeys(f.supply_vars, 1.0), 1.0)
        assert most(k, {loss: 1.0}) == pytest.approx(most_loss, rel=1e-6)


def test_batteries_that_fly_are_held_to_their_number() -> None:
    """Packs of six; of NiMH twenty may fly with all lights: three lights of one, not four."""
    flying = KIT.model_copy(update={"travel": KIT.travel.model_copy(update={"mode": "air"})})
    k = KitProgram()
    k.blocks = [block(k.program, 0, [0, MAINS]), block(k.program, 1, [0, 1])]
    module._flying(k, flying)
    one, two = (b.formulation.supply_vars for b in k.blocks)
    assert k.program.rows == 1
    # 6 and 2 × 6 are 18.
    assert most(k, {one[0]: 1.0, two[0]: 1.0}) == pytest.approx(2.0)
    # 2 × 6 and 2 × 6 are too many, whichever of the two kinds.
    assert most(k, {two[0]: 1.0, two[1]: 1.0}) == pytest.approx(1.0)
    assert most(k, {one[1]: 1.0}) == pytest.approx(1.0)
    k = KitProgram()
    k.blocks = [block(k.program, 0, [0])]
    module._flying(k, KIT)
    assert k.program.rows == 0


def test_caps_are_kept_and_what_is_too_dear_is_dropped() -> None:
    k = KitProgram()
    x, y = (k.program.variable(0, 5, whole=True) for _ in range(2))
    k.scales = {"cost": {x: 10.0, y: 100.0}, "mass": {x: 3.0}}
    k.capped = {"cost": 50.0, "mass": 0.0}
    k.program.at_least({x: 1.0, y: 1.0}, 0.0)
    k.program.minimise({x: -1.0, y: -1.0})
    outcome = solved(k)
    assert (k.program.value(outcome, x), k.program.value(outcome, y)) == (0.0, 0.0)
    assert k.program.highs[y] == 0.0
    k = KitProgram()
    x = k.program.variable(0, 5, whole=True)
    k.program.at_least({x: 1.0}, 2.0)
    k.scales, k.capped = {"cost": {x: 10.0}}, {"cost": 15.0}
    outcome = solved(k)
    assert (outcome.status, outcome.objective, outcome.bound) == (Status.IMPOSSIBLE, math.inf, math.inf)
    asked: list[int] = []
    k = KitProgram()
    x = k.program.variable(0, 5, whole=True)
    k.scales, k.capped = {"cost": {x: 10.0}, "mass": {x: 1.0}}, {"cost": 25.0, "mass": 9.0}
    k.program.minimise({x: -1.0})
    outcome = k.solve(0.5, lambda: asked.append(1), 1, None)  # type: ignore[arg-type, return-value]
    assert k.program.value(outcome, x) == 2.0
    assert len(asked) == 3
