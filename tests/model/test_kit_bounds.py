"""Bounds on the lights of a kit against every build of each, looked at by the exact check (invented parts)."""

import itertools
import math
import time
from collections.abc import Sequence
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest
import small_kits

from optimise.columns.dearer import Together
from optimise.model.choice import Evaluation
from optimise.model.kit import KitEvaluation, evaluate_kit
from optimise.model.kit_bounds import KitBounds, KitLightState, KitMemory, lowest, size_of, together_of
from optimise.model.kit_goods import KitGoods
from optimise.model.kit_house import KitHouse
from optimise.model.state import TimeUpError
from optimise.model.weights import limits_of

PARTS = small_kits.traded()
KIT = small_kits.kit((1.0, 1), (1.7, 2))
FREE = {"cost": math.inf, "mass": math.inf, "power": math.inf}


@pytest.fixture(scope="module")
def every() -> list[list[Evaluation]]:
    """Return every build of each light."""
    return [small_kits.builds(PARTS, entry.job) for entry in KIT.kit]


@pytest.fixture(scope="module")
def house() -> KitHouse:
    return KitHouse(PARTS, KIT, "cost", None, 1, None)


def opened(house: KitHouse, order: tuple[str, ...] = ("cost", "mass"), lines: Any = None) -> KitGoods:
    return house.open(house.catalogue, house.scenario, (), order, lines)()


def kits(every: list[list[Evaluation]]) -> list[tuple[int, int, tuple[Evaluation, ...]]]:
    """Return cents and milligrams of every pair of builds, in one basket; prices are by the piece, so they add up."""
    counts = [entry.count for entry in KIT.kit]
    return [
        (
            sum(n * build.cents for n, build in zip(counts, pair, strict=True)),
            sum(n * build.milligrams for n, build in zip(counts, pair, strict=True)),
            pair,
        )
        for pair in itertools.product(*every)
    ]


def least(every: list[list[Evaluation]], scale: str) -> list[int]:
    return [min({"cost": b.cents, "mass": b.milligrams}[scale] for b in builds) for builds in every]


@pytest.fixture(scope="module")
def shop(house: KitHouse) -> KitGoods:
    """Return all lights with bounds on every scale."""
    found = opened(house)
    assert found.bounded(ALL)
    return found


ALL = {**FREE, "mass": 1e8}


def test_each_light_is_bounded_by_its_own_best_build(
    house: KitHouse, shop: KitGoods, every: list[list[Evaluation]]
) -> None:
    for scale in ("cost", "mass"):
        for light, low in zip(shop.lights, least(every, scale), strict=True):
            # Never above the least, and no lower than what the solver may blur.
            assert low - 1.0 <= light.low(scale) < low
            start = evaluate_kit([light.starts[scale]] * 2, PARTS, KIT).lights[light.number]
            assert scale == "cost" or start.milligrams == low
    # Both best by cost make a kit that costs the least; it is known at once.
    assert shop.best is not None
    best = min(kits(every), key=lambda kit: kit[:2])
    assert (shop.best.cents, shop.best.milligrams) == best[:2]
    assert shop.low == shop.least("cost") == best[0] - 3
    assert shop.rounds >= 4
    # Each time the columns of a light are counted: of both emitters.
    assert shop.columns > 4 * 10
    # Which parts weigh least or draw least does not depend on who sells: it is known to all shops.
    assert set(house.lows) == {(n, scale) for n in (0, 1) for scale in ("cost", "mass")}
    starts = list(shop.starts())
    assert starts[0] == shop.best.choice
    assert starts[1] == tuple(light.starts["mass"] for light in shop.lights)
    assert len(starts) == 2
    shop.lights[0].starts["sum"] = shop.lights[1].starts["sum"] = shop.best.choice[0]
    assert list(shop.starts())[2] == (shop.best.choice[0],) * 2
    del shop.lights[1].starts["sum"]
    assert len(list(shop.starts())) == 2
    fresh = opened(house)
    assert (fresh.rounds, fresh.columns, fresh.kept, fresh.any_will_do, fresh.best, fresh.sum) == (
        0,
        0,
        0,
        False,
        None,
        None,
    )
    assert list(fresh.starts()) == []


def figures(cents: int, milligrams: int) -> Any:
    return SimpleNamespace(cents=cents, milligrams=milligrams, watts=1.0, choice=f"{cents} {milligrams}")


def test_what_all_shops_know_is_not_looked_for_again(house: KitHouse, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[tuple[int, str, dict[str, float]]] = []

    def found(self: KitBounds, light: KitLightState, market: Any, scale: str, caps: dict[str, float]) -> Any:
        asked.append((light.number, scale, caps))
        return figures(1000 + light.number, 5000)

    monkeypatch.setattr(KitBounds, "_least", found)
    fresh = KitHouse(PARTS, KIT, "cost", None, 1, None)
    caps = {**FREE, "cost": 8000.0, "mass": 1e5}
    first = opened(fresh)
    for scale in ("cost", "mass"):
        assert all(first._alone(light, scale, caps) for light in first.lights)
    # One of two may come to half of what the kit may.
    assert [(n, scale) for n, scale, _ in asked] == [(0, "cost"), (1, "cost"), (0, "mass"), (1, "mass")]
    assert asked[0][2] == {**FREE, "cost": 8000.0, "mass": 1e5}
    assert asked[1][2] == {**FREE, "cost": 4000.0, "mass": 5e4}
    assert first.lights[1].lows == {"cost": 1000.0, "mass": 4999.0}
    assert first.lights[1].starts == {"cost": "1001 5000", "mass": "1001 5000"}
    # In another shop cost is looked for anew, mass is not, unless it is what is made least; nor what is known here.
    for order, scales in ((("cost", "mass"), ["cost"]), (("mass", "cost"), ["cost", "mass"])):
        asked.clear()
        fresh.lows[0, "mass"] = 5.0, first.lights[0].starts["mass"]
        fresh.lows[0, "cost"] = 5.0, first.lights[0].starts["cost"]
        again = opened(fresh, order)
        for _ in range(2):
            assert all(again._alone(again.lights[0], scale, caps) for scale in ("cost", "mass"))
        assert [scale for _, scale, _ in asked] == scales
        assert again.lights[0].lows == {"cost": 999.0, "mass": 4999.0 if "mass" in scales else 5.0}
        # What was found first stays what all know.
        assert (fresh.lows[0, "mass"][0], fresh.lows[0, "cost"][0]) == (5.0, 5.0)
    # A credit is more for the lights by themselves, once for all.
    asked.clear()
    credited = opened(fresh)
    credited.credit = 100.0
    credited._alone(credited.lights[1], "cost", caps)
    assert asked[0][2]["cost"] == 4050.0
    # Limits of the light's own hold too.
    limits = KIT.kit[0].job.limits.model_copy(update={"mass": 0.02})
    job = KIT.kit[0].job.model_copy(update={"limits": limits})
    own = KIT.model_copy(update={"kit": (KIT.kit[0].model_copy(update={"job": job}), KIT.kit[1])})
    light = opened(KitHouse(PARTS, own, "cost", None, 1, None))
    light._alone(light.lights[0], "cost", caps)
    assert asked[-1][2] == {**FREE, "cost": 8000.0, "mass": pytest.approx(2e4, abs=1.0)}
    monkeypatch.setattr(KitBounds, "_least", lambda *arguments: None)
    nothing = opened(fresh)
    assert not nothing._alone(nothing.lights[0], "cost", caps)
    assert not nothing.bounded(caps)


def test_a_kit_has_to_fit_within_the_sum_of_bounds(monkeypatch: pytest.MonkeyPatch) -> None:
    """Lights of 100 and two of 200 cents, of 1 g and two of 2 g."""
    asked: list[tuple[int, str]] = []
    offered: list[list[str]] = []

    def alone(self: KitBounds, light: KitLightState, scale: str, caps: Any) -> bool:
        asked.append((light.number, scale))
        light.starts[scale] = scale  # type: ignore[assignment]
        return True

    monkeypatch.setattr(KitBounds, "_alone", alone)
    monkeypatch.setattr(KitBounds, "_offer", lambda self, choices, caps: offered.append(choices))
    monkeypatch.setattr(KitBounds, "_heavy", lambda self, caps: False)
    for caps, scales, fits in (
        ({}, ["cost"], True),
        ({"cost": 500.0}, ["cost"], True),
        ({"cost": 499.0}, ["cost"], False),
        ({"mass": 5000.0}, ["cost", "mass"], True),
        ({"mass": 4999.0, "power": 9.0}, ["cost", "mass", "power"], False),
    ):
        asked.clear()
        offered.clear()
        bounds = bare()
        assert bounds.bounded({**FREE, **caps}) is fits
        assert asked == [(number, scale) for scale in scales for number in (0, 1)]
        # What is best by each figure is tried as a kit.
        assert offered == ([[scale] * 2 for scale in scales] if fits else [])
        assert bounds.sum is None
    by_mass = bare(("mass",))
    asked.clear()
    assert by_mass.bounded({**FREE, "cost": 500.0})
    assert asked == [(0, "mass"), (1, "mass"), (0, "cost"), (1, "cost")]
    # Where neither figure alone will do, a sum of both is looked at, and may leave no room.
    monkeypatch.setattr(KitBounds, "_heavy", lambda self, caps: True)
    for low, fits in ((259.0, True), (260.0, True), (261.0, False)):
        summed = SimpleNamespace(cents_per_gram=2.0, lows=(10.0, low - 5.0), markets=())
        monkeypatch.setattr(KitBounds, "_weighed", lambda self, caps, summed=summed: summed)
        # 10 + 2 × 255 = 520 within 510 cents and 5 g at 2 cents.
        bounds = bare()
        assert bounds.bounded({**FREE, "cost": 510.0, "mass": 5000.0}) is fits
        assert bounds.sum is summed
    # Not where a kit is known.
    bounds = bare()
    bounds.best = kit_like(500)
    assert bounds.bounded({**FREE, "cost": 510.0, "mass": 5000.0})
    assert bounds.sum is None


def bare(order: tuple[str, ...] = ("cost",), credit: float = 0.0, lows: Sequence[float] = (100.0, 200.0)) -> KitBounds:
    """Return bounds of lights of which only numbers are known: one of 100 cents, two of 200."""
    lights: list[Any] = [
        KitLightState(n, KIT.kit[n], None, None, None, {"cost": low, "mass": 10 * low})  # type: ignore[arg-type]
        for n, low in enumerate(lows)
    ]
    terms: Any = SimpleNamespace(scenario=KIT, offers={})
    memory = KitMemory(PARTS, KIT, "cost", None, 1, None)
    return KitBounds(memory, terms, PARTS, order, lights, credit)


def test_what_lights_come_to_by_hand() -> None:
    bounds = bare(credit=60.0)
    assert [light.count for light in bounds.lights] == [1, 2]
    # 100 + 2 × 200, less 60 of credit; no credit of mass; nothing known of power.
    assert bounds.least("cost") == 440.0
    assert bounds.least("mass") == 5000.0
    assert bounds.least("power") == 0.0
    assert bounds.low == 440.0
    assert bare(credit=600.0).low == 0.0
    assert bare(("mass",), credit=60.0).low == 5000.0
    # Of 480 and 60 given back: 540 − 400 for the one, (540 − 100) / 2 for each of the others.
    caps = {**FREE, "cost": 480.0, "mass": 5000.0}
    assert bounds._share(bounds.lights[0], "cost", caps) == 140.0
    assert bounds._share(bounds.lights[1], "cost", caps) == 220.0
    assert bounds._share(bounds.lights[0], "mass", caps) == 1000.0
    assert bounds._share(bounds.lights[1], "power", caps) == math.inf
    assert bounds._share(bounds.lights[0], "mass", {**caps, "mass": 4999.0}) is None
    assert bounds._share(bounds.lights[1], "cost", {**caps, "cost": 440.0}) == 200.0
    assert bounds._share(bounds.lights[1], "cost", {**caps, "cost": 439.0}) is None


def test_what_lights_come_to_in_cost_and_mass_together_by_hand() -> None:
    bounds = bare(credit=60.0)
    summed: Any = SimpleNamespace(cents_per_gram=2.0, lows=(150.0, 260.0), markets=())
    bounds.sum = summed
    # 150 + 2 × 260; a kit within 480 cents and 5 g comes to 480 + 60 + 2 × 5.
    assert bounds._least_sum() == 670.0
    caps = {**FREE, "cost": 480.0, "mass": 5000.0}
    assert bounds._most_sum(caps) == 550.0
    assert bounds._sum_caps(bounds.lights[0], caps) == {**FREE, "cost": 550.0 - 520.0}
    assert bounds._sum_caps(bounds.lights[1], caps) == {**FREE, "cost": (550.0 - 150.0) / 2}


def test_a_bound_is_surely_below() -> None:
    # Cents and milligrams are whole: a whole one less. Watts: a few ten-millionths of them.
    assert lowest("cost", 100.0) == 99.0
    assert lowest("mass", 0.5) == 0.0
    assert 10.0 * (1 - 1e-6) < lowest("power", 10.0) < 10.0 * (1 - 2e-7)


def kit_like(cents: int, milligrams: int = 10, *, passes: bool = True) -> KitEvaluation:
    found: Any = SimpleNamespace(cents=cents, milligrams=milligrams, watts=1.0, passes=passes)
    return found  # type: ignore[no-any-return]


def test_caps_of_kits_that_are_no_worse_by_hand() -> None:
    bounds = bare()
    caps = {**FREE, "cost": 500.0}
    assert bounds._no_worse("cost", caps) == caps
    bounds.best = kit_like(450)
    within = bounds._no_worse("cost", caps)
    assert 450.0 <= within["cost"] < 451.0
    assert within is not caps
    assert caps["cost"] == 500.0
    bounds.best = kit_like(700)
    assert bounds._no_worse("cost", caps)["cost"] == 500.0
    assert bounds._no_worse("mass", caps)["mass"] == 10.25


def test_a_kit_is_kept_if_it_is_better_and_within_caps(monkeypatch: pytest.MonkeyPatch) -> None:
    known = {"a": kit_like(450), "b": kit_like(440), "c": kit_like(400, passes=False), "d": kit_like(440, 5)}
    known["e"] = kit_like(440, 5)
    monkeypatch.setattr("optimise.model.kit_bounds.evaluate_kit", lambda choice, *_: known[choice])
    bounds = bare(("cost", "mass"))
    for choice, best in (("a", "a"), ("c", "a"), ("b", "b"), ("a", "b"), ("d", "d"), ("b", "d"), ("e", "d")):
        bounds._offer(choice, {**FREE, "cost": 460.0})  # type: ignore[arg-type]
        assert bounds.best is known[best]
    bounds = bare()
    bounds._offer("a", {**FREE, "cost": 449.0})  # type: ignore[arg-type]
    assert bounds.best is None


def test_time_that_is_up_is_said() -> None:
    memory = KitMemory(PARTS, KIT, "cost", None, 1, None)
    assert memory.seconds_left() is None
    assert not memory.power_counts
    assert memory.cents_per_gram == 0.0
    left = replace(memory, deadline=time.monotonic() + 100.0).seconds_left()
    assert left is not None
    assert 90.0 < left <= 100.0
    with pytest.raises(TimeUpError):
        replace(memory, deadline=time.monotonic() - 1.0).seconds_left()


def test_of_what_lights_are_bought_together() -> None:
    asked = small_kits.kit((1.0, 1), (1.0, 3))
    longer = asked.kit[1].job.power.model_copy(update={"lead_length": 4.0})
    second = asked.kit[1].model_copy(update={"job": asked.kit[1].job.model_copy(update={"power": longer})})
    asked = asked.model_copy(update={"kit": (asked.kit[0], second)})
    assert together_of(PARTS.offers, asked) == Together(PARTS.offers, 4, frozenset({1.0, 4.0}))


def tight(every: list[list[Evaluation]], slack: float = 0.0) -> tuple[dict[str, float], tuple[int, int]]:
    """Return caps on cost and mass that neither the cheapest nor the lightest kit keeps, and the best within them."""
    found = sorted(kits(every), key=lambda kit: kit[:2])
    cheap, light = found[0], min(found, key=lambda kit: (kit[1], kit[0]))
    between = [kit for kit in found if cheap[1] > kit[1] and light[0] > kit[0]]
    assert between
    best = between[0]
    return {**FREE, "cost": best[0] + slack, "mass": float(best[1])}, best[:2]


def test_where_cost_and_mass_are_short_their_sum_bounds_the_lights(
    shop: KitGoods, every: list[list[Evaluation]]
) -> None:
    caps, _ = tight(every, 40.0)
    summed, milligrams = shop._at(2.0)
    assert summed is not None
    lit = evaluate_kit([light.starts["sum"] for light in shop.lights], PARTS, KIT)
    assert milligrams == lit.milligrams
    assert [market.together for market in summed.markets] == [together_of(shop.terms.offers, KIT)] * 2
    shop.sum = summed
    for cents, milligrams, pair in kits(every):
        assert shop._least_sum() <= cents + 2.0 * milligrams / 1e3 + 1e-6
        for build, low in zip(pair, summed.lows, strict=True):
            assert low <= build.cents + 2.0 * build.milligrams / 1e3
    # And by no more than rounding to whole cents, part by part: of diffusers and cables mass is left out.
    by_light = [
        min(build.cents + 2.0 * build.milligrams / 1e3 for build in builds) - low
        for builds, low in zip(every, summed.lows, strict=True)
    ]
    assert all(0.0 < gap < 2.0 * 100.0 + 12.0 for gap in by_light)
    # The columns that are left are those of every pair within the caps, and fewer than without the sum.
    states = shop._states("cost", caps)
    assert states is not None
    shop.sum = None
    wide = shop._states("cost", caps)
    assert wide is not None
    assert size_of(states) < size_of(wide)
    assert shop.kept == size_of(wide)
    for cents, milligrams, pair in kits(every):
        if cents <= caps["cost"] and milligrams <= caps["mass"]:
            for state, build in zip(states, pair, strict=True):
                assert build.choice.emitter in {state.market.parts.emitters[line.emitter].part for line in state.lines}
    assert size_of(None) == 0


def test_the_price_of_a_gram_is_bracketed(every: list[list[Evaluation]], monkeypatch: pytest.MonkeyPatch) -> None:
    """From where lights weigh too much to where they do not: halved until the ends are a fifth of it apart."""
    caps = {**FREE, "cost": 1e6, "mass": 100.0}
    tried: list[float] = []
    turn = 10.0

    def at(self: KitBounds, rate: float) -> tuple[Any, float]:
        tried.append(rate)
        self.lights[0].starts["sum"] = self.lights[1].starts["sum"] = None  # type: ignore[assignment]
        return SimpleNamespace(cents_per_gram=rate), 110.0 if rate < turn else 90.0

    monkeypatch.setattr(KitBounds, "_at", at)
    monkeypatch.setattr(KitBounds, "_offer", lambda *arguments: None)
    bounds = bare()
    offered: list[Any] = []
    monkeypatch.setattr(KitBounds, "_offer", lambda self, choices, caps: offered.append(choices))
    found = bounds._weighed(caps)
    assert offered == [[None, None]] * 8
    # 1, 2, 4, 8 are too low, 16 is not; 12 is not, 10 is not, and 8 to 10 is no more than a fifth... but just not less.
    assert tried == [1.0, 2.0, 4.0, 8.0, 16.0, 12.0, 10.0, 9.0]
    assert found is not None
    assert found.cents_per_gram == bounds.house.cents_per_gram == 9.0
    tried.clear()
    bounds._weighed(caps)
    assert tried == [9.0]
    # Where the first is not too low, the end above is halved.
    monkeypatch.setattr(KitBounds, "_at", lambda self, rate: (tried.append(rate), (None, 0.0))[1])
    tried.clear()
    bounds.house.cents_per_gram = 0.0
    assert bounds._weighed(caps) is None
    assert tried == [1.0]
    assert bounds.house.cents_per_gram == 0.0
    # What was found before a price at which nothing is left stays found.
    monkeypatch.setattr(KitBounds, "_at", lambda self, rate: at(self, rate) if rate < 4.0 else (None, 0.0))
    other = bare()
    kept = other._weighed(caps)
    assert kept is not None
    assert kept.cents_per_gram == other.house.cents_per_gram == 2.0
    # From 7 on light enough: 6 and 7 are less than a fifth apart.
    tried.clear()
    turn = 6.9
    monkeypatch.setattr(KitBounds, "_at", at)
    bare()._weighed(caps)
    assert tried == [1.0, 2.0, 4.0, 8.0, 6.0, 7.0]
    tried.clear()
    monkeypatch.setattr(KitBounds, "_at", at)
    other = bare()
    other._weighed({**caps, "mass": 110.0})
    assert tried == [1.0, 0.5, 0.25, 0.125, 0.0625, 0.03125, 0.015625, 0.0078125]


def test_lights_are_weighed_only_where_cost_and_mass_are_both_short(monkeypatch: pytest.MonkeyPatch) -> None:
    known = {"cheap": kit_like(400, 90), "slim": kit_like(500, 50)}
    monkeypatch.setattr("optimise.model.kit_bounds.evaluate_kit", lambda choices, *_: known[choices[0]])
    bounds = bare()
    for light in bounds.lights:
        light.starts = {"cost": "cheap", "mass": "slim"}  # type: ignore[dict-item]
    # Where one is not limited nothing is evaluated: there need be no build that is the best by it.
    del bounds.lights[0].starts["mass"]
    assert not bounds._heavy({**FREE, "cost": 450.0})
    bounds.lights[0].starts["mass"] = "slim"  # type: ignore[assignment]
    for cost, mass, heavy in (
        (450.0, 60.0, True),
        (500.0, 60.0, False),
        (450.0, 90.0, False),
        (math.inf, 60.0, False),
        (450.0, math.inf, False),
        (499.0, 89.0, True),
    ):
        assert bounds._heavy({**FREE, "cost": cost, "mass": mass}) is heavy


def test_a_light_may_come_to_its_share_and_to_no_more_than_its_own_limits(monkeypatch: pytest.MonkeyPatch) -> None:
    """Lights of 100 and two of 200 cents, of 1 g and two of 2 g, the first of which may weigh 3 g by itself."""
    asked: list[Any] = []

    def lines(self: KitBounds, light: KitLightState, state: Any, mine: Any, caps: Any, scale: str) -> list[Any]:
        asked.append(mine)
        return [SimpleNamespace(kept=SimpleNamespace(size=4))]

    monkeypatch.setattr(KitBounds, "_lines", lines)
    bounds = bare()
    bounds.house.problems = [{}, {}]
    for light, mass in zip(bounds.lights, (0.003, None), strict=True):
        limits = light.entry.job.limits.model_copy(update={"mass": mass})
        job: Any = light.entry.job.model_copy(update={"limits": limits})
        light.plain = light.market = SimpleNamespace(scenario=job, parts=None)  # type: ignore[assignment]
    states = bounds._states("cost", {**FREE, "cost": 600.0, "mass": 9000.0}, [150.0, 1e9])
    assert states is not None
    # Of 600: 200 and 250; of 9 g: 5 g and 4 g; within 150 of the first.
    assert asked[0] == {**FREE, "cost": 150.0, "mass": pytest.approx(3000.0, rel=1e-6)}
    assert asked[1] == {**FREE, "cost": 250.0, "mass": 4000.0}
    assert bounds.kept == 8
    assert [state.order for state in states] == [("cost",)] * 2
    bounds.kept = 9
    bounds._states("cost", FREE)
    assert bounds.kept == 9


def test_a_likely_kit_is_found_quickly_within_caps(house: KitHouse, every: list[list[Evaluation]]) -> None:
    found = opened(house).quickly(limits_of(KIT))
    assert found is not None
    kit = evaluate_kit(found, PARTS, KIT)
    assert kit.passes
    assert kit.cents <= 1.2 * min(kit[0] for kit in kits(every))
    # No light may come to more than all of the kit may.
    heaviest = max(least(every, "mass"))
    assert opened(house).quickly({**FREE, "mass": heaviest}) is None


def test_columns_near_a_bound_are_few(house: KitHouse, shop: KitGoods) -> None:
    # A light may come to so much over its bound, and a unit more for what is nought.
    tight: list[list[float]] = []
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(KitBounds, "_states", lambda self, scale, caps, tight_: tight.append(tight_))
        bare()._near("cost", FREE, 0.5)
    assert tight == [[151.0, 301.0]]
    near, all_of_them = shop._near("cost", FREE, 0.02), shop._near("cost", FREE, 5.0)
    free = shop._states("cost", FREE)
    assert near is not None
    assert all_of_them is not None
    assert free is not None
    assert 0 < size_of(near) < size_of(free)
    assert size_of(all_of_them) <= size_of(free)
    # None where a light has none, by the caps of the kit or of its own.
    assert shop._states("cost", {**FREE, "cost": shop.least("cost") - 1.0}) is None
    assert shop._states("cost", FREE, [1.0, 1e9]) is None
    # What was looked up before is all that there is: here of one emitter alone.
    lines = tuple(tuple(state.lines[:1]) for state in free)
    again = opened(house, lines=lines)
    for light, known in zip(again.lights, shop.lights, strict=True):
        light.lows, light.starts = dict(known.lows), dict(known.starts)
    held = again._states("cost", FREE)
    assert held is not None
    assert size_of(held) < size_of(free)
    assert [len(state.lines) for state in free] == [2, 2]
    assert [len(state.lines) for state in held] == [1, 1]
    assert again.bounded(FREE)
    found = again._least(again.lights[0], again.lights[0].plain, "cost", FREE)
    assert found.choice.emitter == PARTS.emitters[lines[0][0].emitter].part
