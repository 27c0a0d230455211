"""Quick builds of several kinds of channel: plans, exchanges and completions against looking at every one."""

import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from itertools import product
from random import Random

import numpy as np
import pytest
from two_whites import columns_of

from optimise.model import mixing
from optimise.model.even import uneven
from optimise.model.exact import evaluate
from optimise.model.heuristic import quick_build, value_of
from optimise.model.kept import Kept, least_load, least_pieces
from optimise.model.mixing import MARGINS, STEPS, SWAPS, mixed_build
from optimise.model.problem import Problem

SCALES = ("cost", "mass", "power")


@cache
def kept_of(source: str, number: int) -> tuple[Problem, Kept]:
    """Return the columns of a random case with one kind of emitter, or of the last pair of one in two whites."""
    problem, kept = columns_of(source, number)
    first = int(problem.channels.emitter[kept.channels[0]])
    kept = kept.take(
        channels=problem.channels.emitter[kept.channels] == first, heads=problem.heads.emitter[kept.heads] == first
    )
    assert kept.possible
    return problem, kept


@cache
def bench_of(source: str, number: int, scale: str) -> mixing._Bench:
    return mixing._Bench(*kept_of(source, number), scale)


CASES = [("battery", 1), ("battery", 20), ("mains", 2), ("any", 5), ("mixed mains", 12)]


@pytest.mark.parametrize(("source", "number"), CASES)
def test_channels_weigh_what_one_of_them_costs_or_weighs(source: str, number: int) -> None:
    problem, kept = kept_of(source, number)
    least = int(min(least_pieces(problem, kept)))
    for scale in SCALES:
        bench = bench_of(source, number, scale)
        for place, channel in enumerate(kept.channels.tolist()):
            buying = problem.emitter_buying[int(problem.kinds[channel])]
            pieces = min(max(least, 1), buying.most)
            driver = problem.driver_buying[int(problem.channels.driver[channel])]
            cost = driver.prices(1)[1] + problem.channels.count[channel] * buying.prices(pieces)[pieces] / pieces
            mass, power = problem.channel_mass[channel], problem.channels.power[channel]
            wanted = {"cost": cost, "mass": mass, "power": power}[scale]
            assert bench.weight[place] == pytest.approx(wanted, rel=1e-12)
        # The front: supplies that none as strong is lighter than, light first.
        pairs = list(zip(bench.supply.tolist(), bench.deliverable.tolist(), strict=True))
        best = {
            (w, most) for w, most in pairs if not any((v < w and m >= most) or (v == w and m > most) for v, m in pairs)
        }
        assert [pairs[i] for i in bench.front.tolist()] == sorted(best)


def test_no_more_supplies_are_fitted_than_are_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = bench_of("battery", 1, "cost").front.tolist()
    assert len(whole) > 2
    monkeypatch.setattr(mixing, "FRONT", 2)
    assert mixing._Bench(*kept_of("battery", 1), "cost").front.tolist() == whole[:2]


@pytest.mark.parametrize(("source", "number"), CASES)
@pytest.mark.parametrize("scale", ["cost", "mass"])
def test_a_plan_is_the_lightest_of_all_sets_of_channels(
    source: str, number: int, scale: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    bench = bench_of(source, number, scale)
    monkeypatch.setattr(mixing, "STEPS", 50)
    prices = np.array([0.0, 3.0, 40.0])
    plans, step = bench._plans(prices)
    assert step == pytest.approx(float(max(bench.kept.need)) * 1.04 / 50)
    for plan, price in zip(plans, prices.tolist(), strict=True):
        steps = [min(math.floor(flux / step), 50) for flux in bench.kept.flux.tolist()]
        assert plan.steps.tolist() == steps
        least = [0.0] + [math.inf] * 50
        for k in range(1, 51):
            for place, given in enumerate(steps):
                if given:
                    own = float(bench.weight[place]) + price * float(bench.load[place])
                    least[k] = min(least[k], own + least[max(k - given, 0)])
        assert plan.least.tolist() == pytest.approx(least, rel=1e-9)
        for k in (1, 2, 17, 48, 50):
            if least[k] < math.inf:
                chosen = plan.channels(k)
                assert sum(n * steps[p] for p, n in chosen.items()) >= k
                weighs = sum(n * (bench.weight[p] + price * bench.load[p]) for p, n in chosen.items())
                assert weighs == pytest.approx(least[k], rel=1e-9)
        assert plan.channels(0) == Counter()
        assert plan.least[0] == 0.0


@pytest.mark.parametrize(("source", "number"), CASES[:4])
def test_likely_sets_give_the_light_of_their_head_and_the_lightest_come_first(source: str, number: int) -> None:
    bench = bench_of(source, number, "mass")
    found = list(bench.likely())
    assert found
    keys = [(place, frozenset(numbers.items())) for place, _, numbers in found]
    assert len(set(keys)) == len(keys)
    for place, margin, numbers in found:
        flux = sum(n * float(bench.kept.flux[p]) for p, n in numbers.items())
        assert flux >= bench.kept.need[place] * margin * (1.0 - 1e-9)
        assert margin in MARGINS
    plans, step = bench._plans(np.array([0.0]))
    needed = [math.ceil(need / step - 1e-9) for need in bench.kept.need.tolist()]
    total = [
        float(head) + (float(plans[0].least[k]) if k <= STEPS else math.inf)
        for head, k in zip(bench.head, needed, strict=True)
    ]
    first = [place for place, margin, _ in found if margin == MARGINS[0]][: min(len(total), mixing.HEADS)]
    assert total[first[0]] == min(total)
    assert found[0][1] == MARGINS[0]
    # Every head of a few has its turn.
    if len(total) <= mixing.HEADS:
        assert {place for place, _, _ in found} == {i for i, w in enumerate(total) if w < math.inf}


def test_no_more_heads_are_tried_than_are_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    bench = bench_of("any", 5, "mass")
    assert len({place for place, _, _ in bench.likely()}) > 2
    monkeypatch.setattr(mixing, "HEADS", 1)
    monkeypatch.setattr(mixing, "_load_prices", lambda deliverable, weight: np.array([0.0]))
    # Without a price of load there is one plan, and so one set for each margin at the most.
    assert 1 <= len(list(bench.likely())) <= len(MARGINS)


def exchanges(
    bench: mixing._Bench, head: int, margin: float, numbers: Counter[int]
) -> Iterator[tuple[float, Counter[int]]]:
    """Yield what the channels weigh with the lightest supply of the front, as they are and after every exchange."""
    for out, into in [(None, None), *product(list(numbers), range(len(bench.kept.channels)))]:
        changed = numbers.copy()
        if out is not None and into is not None:
            changed[out] -= 1
            changed[into] += 1
            changed = +changed
        lit = sum(n * float(bench.kept.flux[p]) for p, n in changed.items())
        pieces = sum(n * int(bench.count[p]) for p, n in changed.items())
        load = sum(n * float(bench.load[p]) for p, n in changed.items())
        if lit < float(bench.kept.need[head]) * margin * (1.0 - 1e-12):
            continue
        if out is not None and pieces > bench.problem.capacity[bench.kept.heads[head]]:
            continue
        for place in bench.front.tolist():
            feeds = all(bench.feeds[bench.driver[p], place] for p in changed)
            if feeds and load <= float(bench.deliverable[place]) * (1.0 + 1e-12):
                weight = sum(n * float(bench.weight[p]) for p, n in changed.items())
                yield weight + float(bench.supply[place]), changed


def tangled(bench: mixing._Bench, rng: Random) -> mixing._Bench:
    """Return a bench of few channels, whose drivers hang at random on supplies about as strong as they draw."""
    few = sorted(rng.sample(range(len(bench.kept.channels)), min(4, len(bench.kept.channels))))
    small = mixing._Bench(bench.problem, bench.kept.take(channels=np.array(few)), bench.objective)
    small.feeds = np.array([[rng.random() < 0.7 for _ in small.feeds[0]] for _ in small.feeds])
    draw = float(np.median(small.load))
    small.deliverable = np.array([draw * rng.uniform(1.0, 5.0) for _ in small.deliverable])
    return small


def best_exchange(bench: mixing._Bench, head: int, margin: float, numbers: Counter[int]) -> bool:
    """Hold an exchange against all that there are; return whether there was any."""
    found = bench.swapped(head, margin, numbers)
    ways = list(exchanges(bench, head, margin, numbers))
    now = min((w for w, each in ways if each == numbers), default=math.inf)
    best = min((w for w, _ in ways), default=math.inf)
    if best >= now * (1.0 - 1e-9):
        assert found is None
        return False
    assert found is not None
    assert sum(found.values()) == sum(numbers.values())
    assert min(w for w, each in ways if each == found) == pytest.approx(best, rel=1e-12)
    assert all(n > 0 for n in found.values())
    return True


@pytest.mark.parametrize(("source", "number"), CASES[:4])
@pytest.mark.parametrize("scale", ["cost", "mass"])
def test_an_exchange_is_the_best_of_all(source: str, number: int, scale: str) -> None:
    bench, rng = bench_of(source, number, scale), Random(5)
    c = bench.problem.channels
    for place, channel in enumerate(bench.kept.channels.tolist()):
        fed = bench.problem.market.feeds(c.driver[[channel]], bench.kept.supplies)[0]
        assert bench.feeds[bench.driver[place]].tolist() == fed.tolist()
    changed = 0
    for numbers in [numbers for _, _, numbers in bench.likely()][:3]:
        changed += best_exchange(bench, 0, 1.0, numbers)
    for _ in range(5):
        numbers = Counter(rng.choices(range(len(bench.kept.channels)), k=rng.randint(1, 3)))
        changed += best_exchange(bench, rng.randrange(len(bench.kept.heads)), rng.choice(MARGINS), numbers)
    for _ in range(12):
        small = tangled(bench, rng)
        small.kept = replace(small.kept, need=small.kept.need * rng.uniform(0.1, 1.0))
        numbers = Counter(rng.choices(range(len(small.kept.channels)), k=rng.randint(1, 4)))
        changed += best_exchange(small, rng.randrange(len(small.kept.heads)), 1.0, numbers)
    assert changed > 0 or (source, scale) == ("any", "cost")


@pytest.mark.parametrize(("source", "number"), [*CASES, ("any", 10), ("any+dots", 1)])
@pytest.mark.parametrize("scale", SCALES)
def test_what_is_completed_has_the_lightest_supply_and_mount(source: str, number: int, scale: str) -> None:
    problem, kept = kept_of(source, number)
    bench = bench_of(source, number, scale)
    market, c, s = problem.market, problem.channels, problem.supplies
    weight = {"cost": s.cost, "mass": s.mass, "power": s.loss(least_load(problem, kept))}[scale]
    rng, done, exact = Random(3), 0, 0
    for draw in range(24):
        if draw == 12:
            bench = tangled(bench, rng)
            kept = bench.kept
        place = rng.randrange(len(kept.heads))
        head = int(kept.heads[place])
        numbers = Counter(rng.choices(range(len(kept.channels)), k=rng.randint(1, 4)))
        index = {int(kept.channels[p]): n for p, n in numbers.items()}
        made = bench.completed(place, numbers)
        pieces = sum(n * int(c.count[i]) for i, n in index.items())
        heat = sum(n * float(c.heat[i]) for i, n in index.items())
        load = sum(n * float(c.apparent[i]) for i, n in index.items())
        fed = [
            each
            for each in kept.supplies.tolist()
            if all(bench.feeds[bench.driver[p], kept.supplies.tolist().index(each)] for p in numbers)
            and load <= bench.deliverable[kept.supplies.tolist().index(each)]
            and (market.earthed[each] or not problem.head_metal[head])
        ]
        hung = float(problem.head_mass[head]) + sum(n * float(problem.channel_mass[i]) for i, n in index.items())
        mounts = [m for m in range(len(market.mounts)) if hung + market.mount_mass[m] <= market.mount_load[m]]
        fit = pieces <= problem.capacity[head] and heat <= problem.heads.heat_max[head]
        if not (fit and fed and (mounts or not problem.scenario.limits.mount)) or uneven(problem, head, pieces):
            assert made is None
            continue
        lightest = min(float(weight[each]) for each in fed)
        totals = {
            "mass": hung,
            "power": sum(n * float(c.power[i]) for i, n in index.items()),
            "cost": float(problem.head_cost[head]),
        }
        of_kind = Counter(dict.fromkeys((0, 1), 0))
        of_driver: Counter[int] = Counter()
        for i, n in index.items():
            of_kind[int(problem.kinds[i])] += n * int(c.count[i])
            of_driver[int(c.driver[i])] += n
        totals["cost"] += sum(problem.emitter_buying[kind].prices(n)[n] for kind, n in of_kind.items() if n)
        totals["cost"] += sum(problem.driver_buying[d].prices(n)[n] for d, n in of_driver.items())
        if not math.isfinite(totals["cost"]):
            # More than can be had: no cap lets that through, and without one it weighs endlessly much.
            assert made is None or made[0] == math.inf or scale != "cost"
            continue
        if problem.scenario.limits.mount:
            by = market.mount_mass if scale == "mass" else market.mount_cost
            mount = min(mounts, key=lambda m, by=by: (float(by[m]), m))
            totals["cost"] += float(market.mount_cost[mount])
            totals["mass"] += float(market.mount_mass[mount])
        chosen = next(each for each in fed if float(weight[each]) == lightest)
        totals["cost"] += float(s.cost[chosen])
        totals["mass"] += float(s.mass[chosen])
        if any(totals[name] > cap for name, cap in bench.caps.items()):
            assert made is None
            continue
        assert made is not None
        done += 1
        assert made[0] == pytest.approx(totals[scale], rel=1e-12)
        # What the choice is made of is counted by the exact check itself.
        if exact < 2:
            exact += 1
            found = evaluate(made[1], problem.catalogue, problem.scenario)
            assert found.milligrams == round(totals["mass"])
            assert found.missing or found.cents == round(totals["cost"])
            assert found.watts >= totals["power"]
    assert done > 0


def test_caps_hold_for_what_is_completed() -> None:
    problem, kept = kept_of("battery", 20)
    plain = bench_of("battery", 20, "cost")
    place, _, numbers = next(item for item in plain.likely() if plain.completed(item[0], item[2]))
    made = plain.completed(place, numbers)
    assert made is not None
    found = evaluate(made[1], problem.catalogue, problem.scenario)
    load = sum(n * float(problem.channels.power[kept.channels[p]]) for p, n in numbers.items())
    for limits, keeps in (
        ({"budget": found.cents}, True),
        ({"budget": found.cents - 1}, False),
        ({"mass": found.milligrams / 1e6}, True),
        ({"mass": (found.milligrams - 1) / 1e6}, False),
        ({"power": load}, True),
        ({"power": load * 0.999}, False),
    ):
        scenario = problem.scenario.model_copy(
            update={
                "limits": problem.scenario.limits.model_copy(
                    update={**dict.fromkeys(["budget", "mass", "power"]), **limits}
                )
            }
        )
        capped = replace(problem, market=replace(problem.market, scenario=scenario))
        assert (mixing._Bench(capped, kept, "cost").completed(place, numbers) is not None) == keeps


@pytest.mark.parametrize(
    ("source", "number"), [("battery", 20), ("mains", 2), ("any", 5), ("mixed mains", 12), ("mixed any", 9)]
)
def test_what_is_found_passes_and_is_no_worse_than_one_kind_of_channel(source: str, number: int) -> None:
    problem, kept = kept_of(source, number)
    for scale in ("cost", "mass"):
        found = mixed_build(problem, kept, scale)
        assert found is not None
        assert found.passes
        if problem.mix is not None:
            assert len(found.choice.kinds) == 2
        else:
            quick = quick_build(problem, kept, scale)
            assert quick is not None
            assert value_of(found, scale) <= value_of(quick, scale)


def test_without_any_column_nothing_is_found() -> None:
    problem, kept = kept_of("battery", 20)
    none = np.zeros(0, dtype=np.int64)
    assert mixed_build(problem, kept.take(heads=none), "cost") is None
    assert mixed_build(problem, kept.take(channels=none), "cost") is None
    assert mixing._mixed_build(problem, kept.take(supplies=none), "cost") is None


def test_no_more_choices_are_checked_and_exchanged_than_are_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    problem, kept = kept_of("battery", 20)
    checked: list[float] = []
    swaps: list[int] = []

    def judged(choice: object, catalogue: object, scenario: object) -> object:
        found = evaluate(choice, catalogue, scenario)  # type: ignore[arg-type]
        checked.append(value_of(found, "mass"))
        return replace(found, missing=("anything",))

    plain = mixing._Bench.swapped

    def counted(self: mixing._Bench, head: int, margin: float, numbers: Counter[int]) -> Counter[int] | None:
        swaps.append(1)
        return plain(self, head, margin, numbers)

    monkeypatch.setattr(mixing, "evaluate", judged)
    monkeypatch.setattr(mixing._Bench, "swapped", counted)
    monkeypatch.setattr(mixing, "TRIALS", 3)
    assert mixing._mixed_build(problem, kept, "mass") is None
    # The lightest first, and no choice twice.
    assert len(checked) == 3
    assert checked == sorted(checked)
    likely = len(list(mixing._Bench(problem, kept, "mass").likely()))
    assert likely < len(swaps) <= (SWAPS + 1) * likely


def test_a_piece_costs_what_so_many_of_it_cost_each() -> None:
    buying = next(b for b in kept_of("any", 5)[0].driver_buying if b.most > 0)
    assert mixing._unit(buying, 0) == buying.prices(1)[1]
    for number in (1, 2, 3):
        if number <= buying.most:
            assert mixing._unit(buying, number) == pytest.approx(buying.prices(number)[number] / number)
    few = replace(buying, most=2, _known=[np.array([0.0, 50.0, 80.0, math.inf])])
    assert mixing._unit(few, 9) == 40.0
    assert mixing._unit(few, 1) == 50.0
    none = replace(buying, most=0, _known=[np.array([0.0, math.inf])])
    assert mixing._unit(none, 3) == math.inf


def test_prices_of_load_go_from_nothing_to_beyond_all_that_supplies_ask() -> None:
    # Three supplies of 10, 20 and 30 VA for 1, 3 and 9: a volt-ampere more costs 0.2 and 0.6, in the middle 0.4.
    found = mixing._load_prices(np.array([10.0, 20.0, 30.0]), np.array([1.0, 3.0, 9.0]))
    assert found[0] == 0.0
    assert found[1:] == pytest.approx([0.4 * 2.0 ** (k / 2.0) for k in range(-6, 7)])
    # One supply asks nothing for more: about one a volt-ampere, for want of any figure.
    assert mixing._load_prices(np.array([10.0]), np.array([1.0]))[7] == 1.0


def test_heads_are_looked_at_with_the_channels_that_their_boards_bear(monkeypatch: pytest.MonkeyPatch) -> None:
    plain, kept = kept_of("any", 5)
    problem = replace(plain)
    vars(problem)["density"] = np.linspace(1.0, 2.0, len(plain.channels))
    middle = float(np.median(problem.density[kept.channels]))
    vars(problem)["bears"] = np.where(np.arange(len(plain.heads)) % 2, middle, np.inf)
    seen: list[Kept] = []
    monkeypatch.setattr(mixing, "_mixed_build", lambda problem, kept, objective: seen.append(kept))
    assert mixed_build(problem, kept, "mass") is None
    assert sorted(h for each in seen for h in each.heads.tolist()) == sorted(kept.heads.tolist())
    assert len(seen) == 2
    for each in seen:
        for head in each.heads.tolist():
            borne = [c for c in kept.channels.tolist() if problem.density[c] <= problem.bears[head]]
            assert each.channels.tolist() == borne


@pytest.mark.parametrize(("source", "number"), [("mixed mains", 12), ("mixed any", 9)])
def test_of_a_mixture_the_best_blend_is_taken_that_passes(
    source: str, number: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    problem, kept = kept_of(source, number)
    monkeypatch.setattr(mixing._Bench, "likely", lambda self: pytest.fail("one kind of emitter is no mixture"))
    monkeypatch.setattr(mixing, "TRIALS", 8)
    bench = bench_of(source, number, "mass")
    made = [bench.completed(place, numbers) for place, numbers in bench.blended()]
    found = sorted(
        {(each[0], str(each[1])): each[1] for each in made if each is not None}.items(), key=lambda item: item[0]
    )
    judged = [evaluate(choice, problem.catalogue, problem.scenario) for _, choice in found[: mixing.TRIALS]]
    best = mixed_build(problem, kept, "mass")
    assert best is not None
    assert best.milligrams == min(each.milligrams for each in judged if each.passes)


def test_margins_rise_from_just_enough_by_less_than_a_tenth() -> None:
    assert MARGINS[0] == 1.0
    assert list(MARGINS) == sorted(set(MARGINS))
    assert MARGINS[-1] < 1.1


def test_what_just_fits_and_is_just_carried_and_fed_is_completed() -> None:
    problem, kept = kept_of("battery", 20)
    plain = bench_of("battery", 20, "mass")
    place, _, numbers = next(item for item in plain.likely() if plain.completed(item[0], item[2]))
    head, index = int(kept.heads[place]), {int(kept.channels[p]): n for p, n in numbers.items()}
    heat = float(np.array(list(index.values())) @ problem.channels.heat[list(index)])
    hung = float(np.array(list(index.values())) @ problem.channel_mass[list(index)]) + float(problem.head_mass[head])
    load = float(np.array(list(index.values())) @ problem.channels.apparent[list(index)])
    for slack, done in ((0.0, True), (1e-6, False)):
        heads = replace(problem.heads, heat_max=np.full(len(problem.heads), heat * (1.0 - slack)))
        assert (
            mixing._Bench(replace(problem, heads=heads), kept, "mass").completed(place, numbers) is not None
        ) == done
        market = replace(problem.market, mount_load=hung + problem.market.mount_mass - slack)
        carried = mixing._Bench(replace(problem, market=market), kept, "mass").completed(place, numbers)
        assert (carried is not None) == done
        bench = mixing._Bench(problem, kept, "mass")
        bench.deliverable = np.full(len(bench.deliverable), load * (1.0 - slack))
        assert (bench.completed(place, numbers) is not None) == done


def test_a_need_beyond_all_channels_has_no_plan() -> None:
    problem, kept = kept_of("battery", 20)
    bench = mixing._Bench(problem, replace(kept, need=kept.need * 1e9), "mass")
    (plan,), _ = bench._plans(np.array([0.0]))
    assert plan.least.tolist() == [0.0] + [math.inf] * STEPS
    assert list(bench.likely()) == []
