"""The search of a small world against all of its builds: the best one, whether it is alone, and who wins a tie.

Builds are those of `small_world`, each looked at by the exact check.
"""

import math
from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest
from small_world import PRICES, SCENARIO, all_builds, priced, world

from optimise.model import goods
from optimise.model.alone import HEAD, SUPPLY, alone
from optimise.model.choice import Choice, Evaluation
from optimise.model.exact import evaluate
from optimise.model.heuristic import value_of
from optimise.model.market import Market, build_market
from optimise.model.must import Must
from optimise.model.state import State, TimeUpError
from optimise.model.ties import smaller_fuses, with_smallest_fuse
from optimise.model.weights import SCALES
from optimise.parts import Catalogue, Driver, Fuse, Mount

FREE = dict.fromkeys(SCALES, math.inf)
JOBS = {
    aim: SCENARIO.model_copy(update={"search": SCENARIO.search.model_copy(update={"objective": aim})}) for aim in SCALES
}


@cache
def market_of(aim: str) -> Market:
    return build_market(world(), JOBS[aim])


def search(aim: str = "cost", market: Market | None = None, **more: Any) -> State:
    return State(market or market_of(aim), aim, 1, None, lambda text: None, **more)  # type: ignore[arg-type]


def figures(build: Evaluation) -> tuple[int, int, float]:
    return build.cents, build.milligrams, round(build.watts, 6)


def key(build: Evaluation, order: tuple[str, ...]) -> tuple[Any, ...]:
    return tuple(round(value_of(build, scale), 6) for scale in order)


def best_of(order: tuple[str, ...], caps: Mapping[str, float] = FREE) -> list[Evaluation]:
    """Return the builds of the world that are best by an order, all that tie in it."""
    within = [build for build in all_builds() if all(value_of(build, scale) <= cap for scale, cap in caps.items())]
    least = min((key(build, order) for build in within), default=None)
    return [build for build in within if key(build, order) == least]


def long(*values: Any) -> Any:
    """Return a case that is looked at with all the long ones."""
    return pytest.param(*values, marks=pytest.mark.long)


@pytest.mark.parametrize("aim", ["cost", long("mass"), long("power")])
def test_the_best_build_is_that_of_all_and_the_first_by_its_codes(aim: str) -> None:
    looking = search(aim)
    goods.run(looking, FREE)
    found = looking.best
    assert found is not None
    tied = best_of(looking.order)
    assert figures(found) in {figures(build) for build in tied}
    # Two fuses tie in all figures: the smaller one is taken, 5 A. All else is settled by the figures or comes first.
    assert found.choice.fuse == "f5"
    assert found.choice in {build.choice for build in tied}
    assert looking.settled == len(looking.order)
    assert looking.columns >= looking.kept_columns > 0
    assert looking.lows == {}


@pytest.mark.parametrize("order", [("mass",), long(("cost",)), long(("cost", "power")), long(("mass", "power"))])
def test_any_order_is_kept_and_scales_outside_of_it_only_cap(order: tuple[str, ...]) -> None:
    heavy = best_of(("cost", "mass"))[0].milligrams
    caps = (
        FREE | {"mass": heavy - 1.0} if order[0] == "cost" else FREE | {"cost": best_of(("mass", "cost"))[0].cents - 1}
    )
    looking = search(order[0], order=order, ties=False)
    goods.run(looking, caps)
    assert looking.best is not None
    assert key(looking.best, order) == pytest.approx(key(best_of(order, caps)[0], order), rel=1e-6)
    assert all(value_of(looking.best, scale) <= cap for scale, cap in caps.items())


@pytest.mark.long
def test_nothing_is_found_below_the_least() -> None:
    least = best_of(("cost",))[0].cents
    for cap, there in ((float(least), True), (least - 1.0, False)):
        looking = search()
        goods.run(looking, FREE | {"cost": cap})
        assert (looking.best is not None) is there
        assert looking.settled == (2 if there else 0)


def test_a_mount_that_cannot_be_bought_is_no_build() -> None:
    job = SCENARIO.model_copy(update={"limits": SCENARIO.limits.model_copy(update={"mount": True})})
    market = build_market(world(), job)
    looking = search(market=market)
    goods.run(looking, FREE)
    assert looking.best is None
    assert goods.lines_within(search(market=market), FREE) == ()
    assert goods.find_any(search(market=market, any_will_do=True), FREE) is None
    assert goods.find_likely(search(market=market), FREE) is None
    stand = replace(priced(world(), PRICES | {"m": 600}), mounts=(Mount(part="m", load=5.0, mass=0.2),))
    looking = search(market=build_market(stand, job))
    goods.run(looking, FREE)
    assert looking.best is not None
    assert looking.best.cents == best_of(("cost",))[0].cents + 600


def test_lines_within_caps_hold_all_builds_within_them() -> None:
    for cap in (9200.0, 9600.0):
        looking = search()
        lines = goods.lines_within(looking, FREE | {"cost": cap})
        assert looking.best is None  # they are looked up for their own sake
        held = {}
        for line in lines:
            channels, parts = line.problem.channels, line.problem.parts
            held[parts.emitters[0].part] = {
                (parts.drivers[channels.driver[c]].part, int(channels.series[c])) for c in line.kept.channels
            }
        for build in all_builds():
            if build.cents <= cap:
                assert {(c.driver, c.series) for c in build.choice.channels} <= held[build.choice.emitter]
    assert goods.lines_within(search(), FREE | {"cost": 100.0}) == ()


@pytest.mark.parametrize(
    ("likely", "cap"),
    [
        (True, "least"),
        (False, "less"),
        long(True, "less"),
        long(False, "least"),
        long(True, "none"),
        long(False, "none"),
    ],
)
def test_any_and_a_likely_build_are_within_the_caps(likely: bool, cap: str) -> None:
    least = best_of(("cost",))[0].cents
    caps = FREE | {"none": {}, "least": {"cost": float(least)}, "less": {"cost": least - 1.0}}[cap]
    looking = search(any_will_do=not likely)
    found = (goods.find_likely if likely else goods.find_any)(looking, caps)
    assert (found is None) == (cap == "less")
    if found is not None:
        assert found.passes
        assert found.cents <= caps["cost"]
        assert found.choice in {build.choice for build in all_builds()}


def test_a_likely_build_of_lines_given_keeps_the_caps_or_there_is_none() -> None:
    lines = goods.lines_within(search(), FREE)
    least = best_of(("cost",))[0].cents
    for cap, there in ((float(least), True), (least - 1.0, False), (math.inf, True)):
        looking = search(given=[replace(line) for line in lines])
        found = goods.find_likely(looking, FREE | {"cost": cap})
        assert (found is not None) is there
        assert found is None or found.cents <= cap
    # The same lines serve a whole search.
    looking = search(given=[replace(line) for line in lines])
    goods.run(looking, FREE)
    assert looking.best is not None
    assert figures(looking.best) in {figures(build) for build in best_of(("cost", "mass"))}


def test_columns_are_kept_for_other_searches_and_floors_bar_what_is_too_dear() -> None:
    problems: dict[int, Any] = {}
    first = search(problems=problems)
    goods.run(first, FREE)
    assert problems
    assert all(line.problem.heads is not None for line in first.lines)
    least = best_of(("cost",))[0].cents
    floors: dict[tuple[str, int], float] = {}
    below = search(problems=problems, floors=floors)
    goods.run(below, FREE | {"cost": least - 1.0})
    assert below.best is None
    # What is remembered is never above what the cheapest build of that emitter comes to.
    codes = [emitter.part for emitter in below.market.parts.emitters]
    assert floors
    for (scale, emitter), floor in floors.items():
        assert scale == "cost"
        mine = [build.cents for build in all_builds() if build.choice.emitter == codes[emitter]]
        assert floor <= min(mine)
    # An emitter whose floor is above the cap is not looked at; one at the cap is.
    for floor, there in ((least + 1.0, False), (float(least), True)):
        looking = search(floors={("cost", place): floor for place in range(len(codes))})
        goods.run(looking, FREE | {"cost": float(least)})
        assert (looking.best is not None) is there


@pytest.mark.long
def test_floors_are_not_kept_where_other_limits_bind() -> None:
    floors: dict[tuple[str, int], float] = {}
    looking = search(floors=floors)
    goods.run(looking, FREE | {"mass": 1000.0})
    assert looking.best is None
    assert floors == {}
    must = search(floors=floors, must=Must(Driver, frozenset(["g"])))
    goods.run(must, FREE | {"cost": 100.0})
    admitted = search(floors=floors, admits=lambda problem: np.ones(len(problem.heads), dtype=bool))
    goods.run(admitted, FREE | {"cost": 100.0})
    assert floors == {}


def test_heads_that_are_not_admitted_are_not_used() -> None:
    def cloth(problem: Any) -> np.ndarray:
        return np.array([problem.parts.diffusers[d].part == "cloth" for d in problem.heads.diffuser], dtype=bool)

    looking = search(admits=cloth)
    goods.run(looking, FREE)
    mine = [build.cents for build in all_builds() if build.choice.diffuser == "cloth"]
    assert looking.best is not None
    assert looking.best.cents == min(mine)


def test_time_that_is_up_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    late = search()
    late.deadline = -1.0
    with pytest.raises(TimeUpError):
        goods.run(late, FREE)


def test_what_is_kept_where_others_are_as_good_stays() -> None:
    tied = best_of(("cost", "mass"))
    assert len(tied) > 1
    for stays in tied[:1]:
        looking = search(stays=stays.choice, best=stays)
        goods.run(looking, FREE)
        assert looking.best is stays
    dearer = best_of(("mass", "cost"))[0]
    looking = search(stays=dearer.choice, best=dearer)
    goods.run(looking, FREE)
    assert looking.best is not None
    assert looking.best.cents == tied[0].cents


# Whether a build is alone ------------------------------------------------------------------------------


def different(one: Choice, other: Choice) -> bool:
    """Whether a choice is another one but for its fuse (settled last of all), and not the same with more channels."""
    names = {*HEAD, *SUPPLY, "mount"} - {"fuse"}
    head = any(getattr(one, name) != getattr(other, name) for name in names)
    mine = {(c.driver, c.series): c.number for c in one.channels}
    theirs = {(c.driver, c.series): c.number for c in other.channels}
    return head or any(theirs.get(channel, 0) < number for channel, number in mine.items())


CHEAPER = PRICES | {"f10": 90}  # no two fuses of one price


@pytest.mark.parametrize(
    ("prices", "order"),
    [
        (PRICES, ("cost", "mass")),
        (CHEAPER | {"d": 700, "g": 700}, ("cost",)),
        *(long(PRICES, order) for order in (("mass", "cost"), ("cost",))),
        *(long(CHEAPER | {"d": 700, "g": 700}, order) for order in (("cost", "mass"), ("mass", "cost"))),
        *(
            long(prices, order)
            for prices in (CHEAPER, PRICES | {"f5": 101})
            for order in (("cost", "mass"), ("mass", "cost"), ("cost",))
        ),
    ],
)
def test_a_build_is_alone_where_no_other_is_as_good(prices: dict[str, int], order: tuple[str, ...]) -> None:
    parts = priced(world(), prices)
    # Prices are all that differs from the builds that were looked at.
    builds = [evaluate(build.choice, parts, SCENARIO) for build in all_builds()]
    best = min(builds, key=lambda build: (*key(build, order), -build.milligrams))
    as_good = [b for b in builds if key(b, order[:2]) <= key(best, order[:2]) and different(best.choice, b.choice)]
    looking = search(order[0], build_market(parts, JOBS[order[0]]), order=order)
    looking.lines = list(goods.lines_within(looking, FREE | {order[0]: value_of(best, order[0])}))
    looking.best = best
    assert alone(looking, FREE) is not bool(as_good)


@pytest.mark.long
def test_a_build_that_is_not_the_best_is_never_alone_and_a_tight_cap_leaves_it_so() -> None:
    builds = sorted(all_builds(), key=lambda build: key(build, ("cost", "mass")))
    looking = search()
    looking.lines = list(goods.lines_within(looking, FREE | {"cost": 9600.0}))
    looking.best = next(build for build in builds if build.cents > builds[0].cents)
    assert not alone(looking, FREE)
    # No other draws so little.
    frugal = min(all_builds(), key=lambda build: build.watts)
    looking = search("power")
    looking.lines = list(goods.lines_within(looking, FREE))
    looking.best = frugal
    same = [b for b in all_builds() if b.watts <= frugal.watts * (1 + 1e-9) and different(frugal.choice, b.choice)]
    assert alone(looking, FREE) is not bool([b for b in same if b.cents <= frugal.cents])


# Who wins a tie ----------------------------------------------------------------------------------------


def fused(*fuses: tuple[str, float, int], **more: Any) -> Catalogue:
    """Return the world with other fuses: code, rating in A, and price."""
    parts = world()
    pattern = parts.fuses[0]
    made = tuple(
        pattern.model_copy(update={"part": code, "rating": rating, **more.get(code, {})}) for code, rating, _ in fuses
    )
    return priced(replace(parts, fuses=made), PRICES | {code: price for code, _, price in fuses})


def test_the_smallest_fuse_that_carries_the_load_is_taken_where_nothing_is_lost() -> None:
    build = best_of(("cost", "mass"))[0].choice
    # About 30 W at 10 V or above: 3 A, and a quarter more.
    fuses = (("f3", 3.0, 100), ("f4a", 4.0, 101), ("f4b", 4.0, 100), ("f5", 5.0, 100), ("f10", 10.0, 100))
    parts = fused(*fuses)
    market = build_market(parts, SCENARIO)
    best = evaluate(replace(build, fuse="f10"), parts, SCENARIO)
    assert best.passes
    carried = [fuse.part for fuse in smaller_fuses(best, market)]
    load = next(m.required for m in best.margins if m.name == "fuse carries the load")
    assert 3.0 < load <= 4.0
    assert carried == ["f4a", "f4b", "f5"]
    # The one of 4 A that costs a cent more is not worth it.
    assert with_smallest_fuse(best, market).choice.fuse == "f4b"
    smallest = evaluate(replace(build, fuse="f4b"), parts, SCENARIO)
    assert smaller_fuses(smallest, market) == [parts.find(Fuse, "f4a")] * 0
    assert with_smallest_fuse(smallest, market) is smallest


@pytest.mark.parametrize(
    "worse", [{"mass": 0.01}, {"voltage_max": 12.0}, {"supply": "ac"}], ids=["heavier", "weaker", "for mains"]
)
def test_a_smaller_fuse_that_is_worse_is_left(worse: dict[str, Any]) -> None:
    build = best_of(("cost", "mass"))[0].choice
    parts = fused(("f5", 5.0, 100), ("f10", 10.0, 100), f5=worse)
    best = evaluate(replace(build, fuse="f10"), parts, SCENARIO)
    assert with_smallest_fuse(best, build_market(parts, SCENARIO)) is best


def test_of_all_that_tie_the_first_codes_win() -> None:
    # Twins of every kind, alike in all but the code; the one whose code comes first has a place later in the world.
    parts = world()
    offers = dict(parts.offers)
    twins: dict[str, Any] = {}
    for kind, code, twin in (
        ("diffusers", "film", "a-film"),
        ("panels", "p", "a-p"),
        ("cables", "c", "a-c"),
        ("connectors", "k", "a-k"),
        ("drivers", "g", "a-g"),
    ):
        rows = getattr(parts, kind)
        part = next(row for row in rows if row.part == code)
        twins[kind] = tuple(sorted((*rows, part.model_copy(update={"part": twin})), key=lambda row: row.part))
        offers[twin] = tuple(offer.model_copy(update={"part": twin}) for offer in offers[code])
    doubled = replace(parts, **twins, offers=dict(sorted(offers.items())))
    looking = search(market=build_market(doubled, SCENARIO))
    goods.run(looking, FREE)
    assert looking.best is not None
    plain = best_of(("cost", "mass"))[0]
    assert figures(looking.best)[:2] == figures(plain)[:2]
    choice = looking.best.choice
    assert (choice.panel, choice.diffuser, choice.cable, choice.connector, choice.fuse) == (
        "a-p", "a-film", "a-c", "a-k", "f5",
    )  # fmt: skip
    assert {channel.driver for channel in choice.channels} == {"a-g"}
