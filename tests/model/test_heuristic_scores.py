"""Quick builds of one kind of channel: each head's best, looked for pair by pair, and what a choice is made of."""

import math
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from random import Random

import numpy as np
import pytest
from random_catalogues import random_case
from two_whites import two_whites

from optimise.columns.supplies import MAINS
from optimise.model import heuristic
from optimise.model.choice import Choice, Evaluation
from optimise.model.even import uneven
from optimise.model.exact import evaluate
from optimise.model.heuristic import choice_of, lesser, quick_build, value_of
from optimise.model.kept import Kept, everything, least_load, warm_up
from optimise.model.light import crowded
from optimise.model.market import build_market
from optimise.model.pairs import problem_of_line
from optimise.model.problem import Problem, build_problem
from optimise.model.screening import fits

SCALES = ("cost", "mass", "power")
CASES = [
    ("battery", 1),
    ("battery", 20),
    ("battery", 9),
    ("mains", 2),
    ("mains", 12),
    ("any", 0),
    ("any", 10),
    ("any+dots", 1),
    ("any+even", 5),
]


@cache
def kept_of(source: str, number: int) -> tuple[Problem, Kept]:
    case = random_case(number, source)
    problem = build_problem(case.catalogue, case.scenario)
    kept = warm_up(problem, fits(problem, everything(problem)))
    fed = np.isin(problem.heads.emitter[kept.heads], problem.channels.emitter[kept.channels])
    kept = kept.take(heads=fed)
    assert kept.possible
    return problem, kept


def limited(problem: Problem, **limits: float | None) -> Problem:
    """Return a problem with other limits on money, mass or power."""
    scenario = problem.scenario
    scenario = scenario.model_copy(update={"limits": scenario.limits.model_copy(update=limits)})
    return replace(problem, market=replace(problem.market, scenario=scenario))


def ways(
    problem: Problem, kept: Kept, scale: str, margin: float, head: int
) -> Iterator[tuple[dict[str, float], int, int, int, int | None]]:
    """Yield (totals, channel, number, supply, mount) of each channel on a head, with the lightest supply and mount."""
    c, market, supplies = problem.channels, problem.market, problem.supplies
    place = kept.heads.tolist().index(head)
    loss = supplies.loss(least_load(problem, kept))
    supply_weight = {"cost": supplies.cost, "mass": supplies.mass, "power": loss}
    mount_weight = {"cost": market.mount_cost, "mass": market.mount_mass, "power": np.zeros(len(market.mounts))}
    for channel, flux in zip(kept.channels.tolist(), kept.flux.tolist(), strict=True):
        if c.emitter[channel] != problem.heads.emitter[head]:
            continue
        count, driver = int(c.count[channel]), int(c.driver[channel])
        number = max(math.ceil(margin * float(kept.need[place]) / flux - 1e-9), 1)
        if crowded(problem, np.array([head]))[0]:
            while number * count <= problem.capacity[head] and uneven(problem, head, number * count):
                number += 1
        pieces, heat = number * count, number * float(c.heat[channel])
        if pieces > problem.capacity[head] or heat > problem.heads.heat_max[head]:
            continue
        if problem.density[channel] > problem.bears[head]:
            continue
        fed = [
            s
            for s in kept.supplies.tolist()
            if market.feeds(np.array([driver]), np.array([s]))[0, 0]
            and number * c.apparent[channel] <= supplies.deliverable[s]
            and (market.earthed[s] or not problem.head_metal[head])
        ]
        if not fed:
            continue
        # Of those that tie the strongest, which leaves most room.
        supply = min(fed, key=lambda s: (float(supply_weight[scale][s]), -supplies.deliverable[s], -s))
        hung = number * float(problem.channel_mass[channel]) + float(problem.head_mass[head])
        mount: int | None = None
        if problem.scenario.limits.mount:
            carry = [m for m in range(len(market.mounts)) if hung + market.mount_mass[m] <= market.mount_load[m]]
            if not carry:
                continue
            mount = min(carry, key=lambda m: float(mount_weight[scale][m]))
        emitter = int(c.emitter[channel])
        paid = problem.emitter_buying[emitter].prices(pieces)[pieces]
        paid += problem.driver_buying[driver].prices(number)[number]
        totals = {
            "cost": paid + problem.head_cost[head] + supplies.cost[supply],
            "mass": hung + supplies.mass[supply],
            "power": number * c.power[channel] + loss[supply],
        }
        if mount is not None:
            totals["cost"] += market.mount_cost[mount]
            totals["mass"] += market.mount_mass[mount]
        limits = problem.scenario.limits
        caps = {"cost": limits.budget, "mass": limits.mass and limits.mass * 1e6, "power": limits.power}
        if all(cap is None or totals[name] <= cap * (1.0 + 1e-9) for name, cap in caps.items()):
            yield {name: float(total) for name, total in totals.items()}, channel, number, supply, mount


@pytest.mark.parametrize(("source", "number"), CASES)
def test_each_head_has_the_best_of_its_channels(source: str, number: int) -> None:
    plain, kept = kept_of(source, number)
    everywhere = 0
    for scale, margin in zip(SCALES, (1.0, 1.03, 1.08), strict=True):
        first = [w[0] for head in kept.heads.tolist() for w in ways(plain, kept, scale, margin, head)]
        jobs = [plain]
        if first:
            cap = {name: sorted(total[name] for total in first)[len(first) // 2] for name in SCALES}
            jobs += [limited(plain, budget=round(cap["cost"])), limited(plain, mass=cap["mass"] / 1e6)]
            jobs += [limited(plain, power=cap["power"])]
        for problem in jobs:
            scores, heads, channels, numbers, supplies, mounts = heuristic._scored(problem, kept, scale, margin)
            assert sorted(heads.tolist()) == sorted(kept.heads.tolist())
            for at, head in enumerate(heads.tolist()):
                found = list(ways(problem, kept, scale, margin, head))
                best = min((totals[scale] for totals, *_ in found), default=math.inf)
                assert scores[at] == pytest.approx(best, rel=1e-12)
                if found:
                    everywhere += 1
                    mine = [w for w in found if (w[1], w[2]) == (channels[at], numbers[at])]
                    assert mine[0][0][scale] == pytest.approx(best, rel=1e-12)
                    if problem.scenario.limits.mount:
                        assert problem.market.mount_mass[mounts[at]] <= problem.market.mount_load[mounts[at]]
                    weight = {"cost": problem.supplies.cost, "mass": problem.supplies.mass}.get(scale)
                    if weight is not None:
                        assert weight[supplies[at]] == weight[mine[0][3]]
    assert everywhere > 0


@pytest.mark.parametrize(("source", "number"), [("battery", 20), ("mains", 12), ("any", 10)])
def test_likely_builds_are_the_least_of_each_head_lightest_first(source: str, number: int) -> None:
    problem, kept = kept_of(source, number)
    for scale in ("cost", "mass"):
        by_head = {
            h: min((w[0][scale] for w in ways(problem, kept, scale, 1.0, h)), default=math.inf)
            for h in kept.heads.tolist()
        }
        found = list(heuristic._likely(problem, kept, scale, 1.0))
        assert len(found) == sum(value < math.inf for value in by_head.values())
        figures = [value_of(evaluate(choice, problem.catalogue, problem.scenario), scale) for choice in found]
        # What nobody charges delivery for costs and weighs what its columns say.
        assert figures == pytest.approx(sorted(v for v in by_head.values() if v < math.inf), abs=1.0)
        for choice in found:
            assert (choice.mount is not None) == problem.scenario.limits.mount


@pytest.mark.parametrize(("source", "number"), [("battery", 20), ("any", 10), ("any+stacked", 5), ("mixed any", 10)])
def test_a_choice_is_what_its_columns_are(source: str, number: int) -> None:
    if source == "mixed any":
        case = two_whites(number, "any")
        # The code that comes first is not that of the first row.
        turned = replace(case.catalogue, emitters=case.catalogue.emitters[::-1])
        case = replace(case, catalogue=turned)
        market = build_market(case.catalogue, case.scenario)
        problem = problem_of_line(market, len(market.parts.emitters))
    else:
        case = random_case(number, source)
        problem = build_problem(case.catalogue, case.scenario)
    parts, h, c, s = problem.parts, problem.heads, problem.channels, problem.supplies
    rng = Random(1)
    seen: set[object] = set()
    for _ in range(14):
        head, supply = rng.randrange(len(h)), rng.randrange(len(s))
        mine = np.flatnonzero(c.emitter == h.emitter[head]).tolist()
        numbers = [(i, rng.randint(1, 3)) for i in rng.sample(mine, min(2, len(mine)))]
        mount = rng.randrange(len(problem.market.mounts)) if problem.market.mounts else None
        if rng.random() < 0.2:
            mount = None
        choice = choice_of(problem, head, supply, mount, numbers)
        assert (choice.mount is None) == (mount is None)
        if problem.mix is not None and len({int(problem.kinds[i]) for i, _ in numbers}) < 2:
            continue
        found = evaluate(choice, case.catalogue, case.scenario)
        weighs = problem.head_mass[head] + s.mass[supply] + sum(n * problem.channel_mass[i] for i, n in numbers)
        weighs += 0.0 if mount is None else problem.market.mount_mass[mount]
        assert found.milligrams == round(float(weighs))
        assert choice.emitters == sum(n * int(c.count[i]) for i, n in numbers)
        assert found.heat == pytest.approx(sum(n * c.heat[i] for i, n in numbers), rel=1e-9)
        assert found.apparent == pytest.approx(sum(n * c.apparent[i] for i, n in numbers), rel=1e-9)
        assert (choice.battery is None) == (s.battery[supply] == MAINS)
        assert choice.battery in {None, *(b.part for b in parts.batteries)}
        assert choice.channels == tuple(sorted(choice.channels))
        sheet = "" if h.diffuser[head] < 0 else parts.diffusers[h.diffuser[head]].part
        assert " + ".join(choice.sheets) == sheet
        seen.add(len(choice.sheets))
        codes = {parts.emitters[int(problem.kinds[i])].part for i, _ in numbers}
        assert set(choice.kinds) == codes
        assert choice.emitter == min(codes)
        for i, n in numbers:
            like = [
                ch
                for ch in choice.channels
                if (ch.driver, ch.series, ch.parallel, ch.current, ch.number, ch.emitter or choice.emitter)
                == (
                    parts.drivers[c.driver[i]].part,
                    c.series[i],
                    c.parallel[i],
                    c.current[i],
                    n,
                    parts.emitters[int(problem.kinds[i])].part,
                )
            ]
            assert like
            assert like[0].emitter in {"", *codes} - {choice.emitter}
    if "stacked" in source:
        assert 2 in seen


def failing(evaluation: Evaluation) -> Evaluation:
    return replace(evaluation, missing=("anything",))


@pytest.fixture(scope="module")
def passing() -> Evaluation:
    problem, kept = kept_of("battery", 20)
    found = quick_build(problem, kept, "cost")
    assert found is not None
    return found


def test_a_quick_build_passes_and_is_the_least_by_what_is_asked(passing: Evaluation) -> None:
    assert passing.passes
    problem, kept = kept_of("battery", 20)
    for scale in SCALES:
        found = quick_build(problem, kept, scale)
        assert found is not None
        assert found.passes
    assert quick_build(problem, kept.take(heads=np.zeros(0, dtype=np.int64)), "cost") is None
    # By money no more than by mass, and the other way about.
    light = quick_build(problem, kept, "mass")
    assert light is not None
    assert light.milligrams <= passing.milligrams
    assert passing.cents <= light.cents


def test_where_what_is_asked_leads_nowhere_other_scales_are_tried(
    passing: Evaluation, monkeypatch: pytest.MonkeyPatch
) -> None:
    problem, kept = kept_of("battery", 20)
    tried: list[str] = []
    heavy = replace(passing, milligrams=passing.milligrams + 1)

    def trying(found: dict[str, Evaluation | None]) -> None:
        tried.clear()
        monkeypatch.setattr(heuristic, "_try", lambda p, k, scale: tried.append(scale) or found[scale])

    trying({"power": None, "cost": heavy, "mass": passing})
    assert quick_build(problem, kept, "power") is heavy  # it draws no more: the first of what ties
    assert tried == ["power", "cost", "mass"]
    trying({"mass": None, "cost": heavy})
    assert quick_build(problem, kept, "mass") is heavy
    assert tried == ["mass", "cost"]
    trying({"mass": passing, "cost": heavy})
    assert quick_build(problem, kept, "mass") is passing
    assert tried == ["mass"]
    trying({"power": None, "cost": None, "mass": None})
    assert quick_build(problem, kept, "power") is None


def test_the_better_of_two_builds_and_the_first_of_what_ties(passing: Evaluation) -> None:
    for scale, change in (("cost", {"cents": 1}), ("mass", {"milligrams": 1}), ("power", {"watts": 0.5})):
        name, more = next(iter(change.items()))
        worse = replace(passing, **{name: getattr(passing, name) + more})
        assert value_of(worse, scale) == value_of(passing, scale) + more
        assert lesser(passing, worse, scale) is passing
        assert lesser(worse, passing, scale) is passing
        same = replace(passing)
        assert lesser(same, passing, scale) is same
    assert lesser(None, passing, "cost") is passing
    assert lesser(passing, None, "cost") is passing
    assert lesser(None, None, "cost") is None


def test_each_margin_has_its_share_of_the_trials(passing: Evaluation, monkeypatch: pytest.MonkeyPatch) -> None:
    problem, kept = kept_of("battery", 20)
    tried: list[float] = []

    def likely(problem: Problem, kept: Kept, scale: str, margin: float) -> Iterator[Choice]:
        for _ in range(1000):
            tried.append(margin)
            yield passing.choice

    monkeypatch.setattr(heuristic, "_likely", likely)
    monkeypatch.setattr(heuristic, "evaluate", lambda *args: failing(passing))
    assert heuristic._try(problem, kept, "cost") is None
    assert tried == [margin for margin in heuristic.MARGINS for _ in range(heuristic.TRIALS // 4)]
    # The first that passes is taken.
    tried.clear()
    monkeypatch.setattr(heuristic, "evaluate", lambda *args: passing if len(tried) == 17 else failing(passing))
    assert heuristic._try(problem, kept, "cost") is passing
    assert len(tried) == 17


@pytest.mark.parametrize(
    ("scale", "source", "number"), [*((s, "any", 5) for s in SCALES), ("mass", "mains", 19), ("cost", "mains", 19)]
)
def test_of_very_many_pairs_promising_ones_are_left(
    scale: str, source: str, number: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    problem, kept = kept_of(source, number)
    weighing = heuristic.weigh(problem, scale, least_load(problem, kept))
    monkeypatch.setattr(heuristic, "MANY", len(kept.heads) * len(kept.channels))
    assert heuristic._promising(problem, kept, scale, weighing) is kept
    monkeypatch.setattr(heuristic, "MANY", 40)
    monkeypatch.setattr(heuristic, "HEADS", 3)
    found = heuristic._promising(problem, kept, scale, weighing)
    assert len(found.heads) == 3
    assert len(found.supplies) == len(kept.supplies)
    by_channel = {
        "cost": problem.channel_cost,
        "mass": problem.channel_mass,
        "power": problem.channels.power,
    }[scale][kept.channels]
    by_head = {"cost": problem.head_cost, "mass": problem.head_mass, "power": 0.0 * problem.head_mass}[scale]
    rate = min(float(w / f) for w, f in zip(by_channel, kept.flux, strict=True))
    total = {int(h): float(by_head[h] + need * rate) for h, need in zip(kept.heads, kept.need, strict=True)}
    left = sorted(total.values())[:3]
    assert sorted(total[h] for h in found.heads.tolist()) == pytest.approx(left)
    # For each price of load as many channels as there is room for: those lightest for the lumens of a good head.
    weight = {"cost": problem.supplies.cost, "mass": problem.supplies.mass, "power": weighing.supply}[scale]
    prices = heuristic.load_prices_of(problem.supplies.deliverable[kept.supplies], weight[kept.supplies], 3)
    share = 40 // 3 // len(prices)
    assert share >= 2
    need = float(kept.need[kept.heads.tolist().index(int(found.heads[0]))])
    chosen: set[int] = set()
    for price in prices.tolist():
        score = [
            (math.ceil(need / flux) * (own + price * float(problem.channels.apparent[c])), place)
            for place, (c, flux, own) in enumerate(zip(kept.channels, kept.flux, by_channel, strict=True))
        ]
        chosen |= {int(kept.channels[place]) for _, place in sorted(score)[:share]}
    assert set(found.channels.tolist()) == chosen
    assert len(chosen) < len(kept.channels) or source == "mains"


def test_the_supply_for_a_load_is_the_lightest_and_of_many_that_tie_the_strongest() -> None:
    rng = Random(8)
    deliverable = np.array([float(rng.randint(1, 4)) for _ in range(90)])
    weight = np.array([float(rng.randint(1, 3)) for _ in range(90)])
    feed = heuristic._Feed(np.arange(100, 190), deliverable, weight)
    for load in (0.0, 0.5, 1.0, 1.5, 2.0, 3.0, 3.999, 4.0):
        able = [i for i in range(90) if deliverable[i] >= load]
        assert feed.at(np.array([load])).tolist() == [100 + min(able, key=lambda i: (weight[i], -deliverable[i], -i))]
    assert feed.at(np.array([4.001, 1e9])).tolist() == [-1, -1]
    none = heuristic._Feed(np.zeros(0, dtype=np.int64), np.zeros(0), np.zeros(0))
    assert none.at(np.array([0.0, 5.0])).tolist() == [-1, -1]


def best_of(problem: Problem, kept: Kept) -> tuple[float, int, int, int, int]:
    """Return score, head, channel, number and mount of the best by mass."""
    scores, heads, channels, numbers, _, mounts = heuristic._scored(problem, kept, "mass", 1.0)
    at = int(np.argmin(scores))
    return float(scores[at]), int(heads[at]), int(channels[at]), int(numbers[at]), int(mounts[at])


def test_what_just_keeps_a_limit_keeps_it() -> None:
    problem, kept = kept_of("battery", 20)
    score, head, channel, number, mount = best_of(problem, kept)
    hung = number * problem.channel_mass[channel] + problem.head_mass[head]
    for slack, same in ((0.0, True), (1e-6, False)):
        heat_max = problem.heads.heat_max.copy()
        heat_max[head] = number * problem.channels.heat[channel] * (1.0 - slack)
        found = best_of(replace(problem, heads=replace(problem.heads, heat_max=heat_max)), kept)
        assert (found[:4] == (score, head, channel, number)) == same
        bears = problem.market.mount_load.copy()
        bears[:] = 0.0
        bears[mount] = hung + problem.market.mount_mass[mount] - slack
        found = best_of(replace(problem, market=replace(problem.market, mount_load=bears)), kept)
        assert (found == (score, head, channel, number, mount)) == same


def test_without_a_mount_or_a_supply_that_feeds_it_no_head_has_any_build() -> None:
    problem, kept = kept_of("battery", 20)
    none = np.zeros(0)
    market = replace(problem.market, mounts=(), mount_cost=none, mount_mass=none, mount_load=none)
    assert np.isinf(heuristic._scored(replace(problem, market=market), kept, "mass", 1.0)[0]).all()
    problem, kept = kept_of("any", 10)
    for place in range(len(kept.supplies)):
        one = kept.take(supplies=np.array([place]))
        scores, heads, *_ = heuristic._scored(problem, one, "mass", 1.0)
        for score, head in zip(scores.tolist(), heads.tolist(), strict=True):
            wanted = min((w[0]["mass"] for w in ways(problem, one, "mass", 1.0, head)), default=math.inf)
            assert score == pytest.approx(wanted, rel=1e-12)


def test_margins_rise_from_just_enough_by_less_than_a_tenth() -> None:
    margins = list(heuristic.MARGINS)
    assert margins[0] == 1.0
    assert margins == sorted(set(margins))
    assert margins[-1] < 1.1
