"""What the searches of a kit share, with the searches themselves played by hand (invented parts)."""

import math
from collections.abc import Sequence
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest
import small_kits
from random_shops import offer

from optimise.model import kit_house as module
from optimise.model.choice import ChannelChoice, Choice
from optimise.model.kit_house import FEW, ROUNDS, KitHouse
from optimise.model.market import Market
from optimise.parts import Catalogue, Supplier
from optimise.scenario import Scenario

PARTS = small_kits.traded()
KIT = small_kits.kit((1.0, 1), (1.7, 2))
FREE = {"cost": math.inf, "mass": math.inf, "power": math.inf}


def house(catalogue: Catalogue = PARTS, scenario: Scenario = KIT, objective: str = "cost") -> KitHouse:
    return KitHouse(catalogue, scenario, objective, None, 1, None)


def light(number: int) -> Choice:
    return Choice("e", (ChannelChoice("d", 1, 1, 0.5, number),), "p", None, "b", 1, 1, "c", "f", "k", "m")


def test_losses_count_where_power_does() -> None:
    assert not house().power_counts
    assert house(objective="power").power_counts
    assert house(scenario=small_kits.kit((1.0, 1), power=90.0)).power_counts
    assert not house(scenario=small_kits.kit((1.0, 1), mass=90.0)).power_counts
    # On a circuit that lights share losses count as well.
    power = KIT.kit[0].job.power.model_copy(update={"source": "any", "mains_voltage": 230.0, "circuit": 10.0})
    entry = KIT.kit[0].model_copy(update={"job": KIT.kit[0].job.model_copy(update={"power": power})})
    assert house(scenario=KIT.model_copy(update={"kit": (entry, KIT.kit[1])})).power_counts
    # Then every light is told apart by them: its power is limited at all.
    assert house(objective="power").job(KIT.kit[0]).limits.power == 1e9
    assert house().job(KIT.kit[0]).limits.power is None


def test_each_light_has_a_market_and_columns_of_its_own() -> None:
    mine = house()
    assert len(mine.markets) == 2
    assert [market.target for market in mine.markets] == pytest.approx([6000.0, 10200.0])
    assert mine.problems == [{}, {}]
    assert mine.problems[0] is not mine.problems[1]
    assert (mine.credited, mine.first_stage, mine.few) == (frozenset(), 1, 0)
    # What the scenario does not let in is not offered.
    limits = KIT.limits.model_copy(update={"suppliers": ("south",)})
    assert house(scenario=KIT.model_copy(update={"limits": limits})).offers == {}
    assert set(mine.offers) == set(PARTS.offers)


def test_a_shop_is_priced_once_for_all_its_searches(monkeypatch: pytest.MonkeyPatch) -> None:
    mine = house()
    priced: list[Any] = []
    plain = module.at_least

    def at_least(*told: Any) -> Any:
        priced.append(told)
        return plain(*told)

    monkeypatch.setattr(module, "at_least", at_least)
    mine.credited = frozenset({"b"})
    orders = (SimpleNamespace(supplier="north"),)
    make = mine.open(PARTS, KIT, orders, ("mass",), ((), ("these",)))  # type: ignore[arg-type]
    assert priced == []
    first, second = make(), make()
    assert first is not second
    assert len(priced) == 1
    assert priced[0] == (PARTS, mine.offers, KIT, frozenset({"b"}))
    assert first.lights is second.lights
    assert (first.order, first.terms.orders, first.terms.offers) == (("mass",), orders, mine.offers)
    assert [light.given for light in first.lights] == [(), ("these",)]
    assert [light.number for light in first.lights] == [0, 1]
    for state in first.lights:
        assert isinstance(state.market, Market)
        assert state.market.together is not None
        assert state.market.together.lights == 3
        assert state.plain.together is None
    assert all(light.given is None for light in mine.open(PARTS, KIT, (), ("mass",), None)().lights)
    owned = {**PARTS.offers, "b": (offer("b", "own", 0, stock=1.0), offer("b", "north", 2000))}
    assert mine.open(replace(PARTS, offers=owned), KIT, (), ("cost",), None)().credit == 2000.0


class Shop:
    """A search that is played: whether its bounds leave any room, what they come to, and its first guesses."""

    def __init__(self, least: float = 0.0, room: bool = True, quick: Any = None) -> None:
        self.figure, self.room, self.quick = least, room, quick
        self.lights = [SimpleNamespace(starts={"cost": "one"}), SimpleNamespace(starts={"cost": "two"})]

    def bounded(self, caps: dict[str, float]) -> bool:
        assert caps == FREE
        return self.room

    def least(self, scale: str) -> float:
        assert scale == "cost"
        return self.figure

    def starts(self) -> Any:
        return iter(["started"])

    def quickly(self, caps: dict[str, float]) -> Any:
        assert caps == FREE
        return self.quick


def credited(leasts: Sequence[float | None], overdrawn: Sequence[str]) -> tuple[set[str], int]:
    """Choose credit where bounds come to so much in turn (None: no room), and lights take too much of these parts."""
    mine = house()
    shops, taken = list(leasts), list(overdrawn)
    rounds: list[int] = []

    def opened(catalogue: Any, scenario: Any, orders: Any, order: Any, lines: Any) -> Any:
        assert (catalogue, scenario, orders, order, lines) == (PARTS, KIT, (), ("cost",), None)
        rounds.append(1)
        least = shops.pop(0)
        return lambda: Shop(0.0 if least is None else least, room=least is not None)

    def overdrawn_of(choices: list[str]) -> frozenset[str]:
        assert choices == ["one", "two"]
        return frozenset(taken.pop(0).split())

    mine.open, mine._overdrawn = opened, overdrawn_of  # type: ignore[method-assign, assignment]
    mine.choose_credit()
    return set(mine.credited), len(rounds)


def test_parts_are_credited_as_long_as_bounds_rise_by_it() -> None:
    assert ROUNDS == 4
    assert credited([100.0], [""]) == (set(), 1)
    assert credited([100.0, 200.0], ["b", "b"]) == ({"b"}, 2)
    assert credited([100.0, 200.0, 300.0], ["b", "f", "b f"]) == ({"b", "f"}, 3)
    # As high is as good; lower is not, and the last round is taken back.
    assert credited([100.0, 100.0, 99.0], ["b", "f", ""]) == ({"b"}, 3)
    assert credited([100.0, 99.0], ["b", "f"]) == (set(), 2)
    # Where nothing can be built nothing has to be credited.
    assert credited([None], [""]) == (set(), 1)
    assert credited([100.0, None], ["b", ""])[1] == 2
    # No more rounds than so many.
    assert credited([1.0, 2.0, 3.0, 4.0, 5.0], ["a", "b", "c", "d", "e"]) == ({"a", "b", "c"}, 4)


def test_parts_of_which_lights_take_more_than_there_are() -> None:
    """Three lights on three batteries, five emitters: of batteries one is owned, of emitters five, fuses none."""
    owned = {
        **PARTS.offers,
        "b": (offer("b", "own", 0, stock=1.0), offer("b", "north", 2000)),
        "e": (offer("e", "own", 0, stock=5.0), offer("e", "north", 900)),
        "k": (offer("k", "own", 0, stock=2.0), offer("k", "north", 120)),
    }
    mine = house(replace(PARTS, offers=owned))
    assert mine._overdrawn([light(1), light(2)]) == {"b", "k"}
    assert mine._overdrawn([light(1), light(1)]) == {"b", "k"}
    assert mine._overdrawn([light(2), light(2)]) == {"b", "e", "k"}


def test_first_guesses_are_of_all_shops_and_of_few(monkeypatch: pytest.MonkeyPatch) -> None:
    names = [f"s{n}" for n in range(4)]
    offers = {code: tuple(offer(code, name, 100) for name in (*names, "own")) for code in ("e", "d")}
    mine = house(replace(PARTS, suppliers=(Supplier(supplier="s1", delivery=5),)))
    mine.offers = offers
    looked: list[set[str]] = []
    times: list[int] = []

    def opened(catalogue: Any, scenario: Any, orders: Any, order: Any, lines: Any) -> Any:
        assert (scenario, orders, order, lines) == (KIT, (), ("mass",), None)
        sellers = {row.supplier for rows in catalogue.offers.values() for row in rows}
        looked.append(sellers)
        if catalogue is not mine.catalogue:
            assert catalogue.suppliers == ()
            assert "own" in sellers
        return lambda: Shop(quick=sorted(sellers) if "s1" in sellers else None)

    mine.open, mine.seconds_left = opened, lambda: times.append(1)  # type: ignore[method-assign, assignment, func-returns-value]
    found = list(mine.guesses(("mass",)))
    # All together, then each alone, in twos and in threes.
    assert [len(sellers) - 1 for sellers in looked[1:]] == [1] * 4 + [2] * 6 + [3] * 4
    assert len(times) == 14
    assert found[0] == "started"
    assert found[1:] == [sorted(sellers) for sellers in looked[1:] if "s1" in sellers]
    # No more sets than so many: 7 alone, 21 in twos, and 12 of 35 in threes.
    mine.offers = {"e": tuple(offer("e", f"s{n}", 100) for n in range(7))}
    looked.clear()

    def some(offers: Any, chosen: set[str]) -> Any:
        return {"e": (offer("e", "own", 1), *(offer("e", name, 1) for name in chosen))}

    monkeypatch.setattr(module, "of_suppliers", some)
    list(mine.guesses(("mass",)))
    assert len(looked) == 1 + FEW == 41
    mine.open = lambda *told: lambda: Shop(room=False)  # type: ignore[method-assign, assignment, return-value]
    assert list(mine.guesses(("mass",))) == []


def test_a_kit_is_evaluated_as_it_is_bought() -> None:
    kit = house().evaluate([light(1), light(2)], PARTS, KIT)
    assert kit.choice == (light(1), light(2))
    assert kit.cents > 0
