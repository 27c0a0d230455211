"""Likely builds of two kinds of emitter against trying every pair of channels in every number."""

import math
from collections import Counter
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from two_whites import two_whites

from optimise.columns.expand import Floats
from optimise.model import blending
from optimise.model.blending import INSIDE, NUMBERS, Blend, blends
from optimise.model.bounds import load_prices_of
from optimise.model.kept import Kept, everything, least_load, warm_up
from optimise.model.light import flux_of
from optimise.model.market import build_market
from optimise.model.pairs import problem_of_line
from optimise.model.problem import Problem
from optimise.model.screening import fits
from optimise.model.weights import weigh

CASES = [("battery", 9), ("mains", 12), ("any", 9), ("any", 12), ("mains", 19)]


@cache
def kept_of(source: str, number: int) -> tuple[Problem, Kept]:
    case = two_whites(number, source)
    market = build_market(case.catalogue, case.scenario)
    problem = problem_of_line(market, len(market.parts.emitters))
    kept = warm_up(problem, fits(problem, everything(problem)))
    assert kept.possible
    return problem, kept


def found_in(problem: Problem, kept: Kept, margin: float) -> tuple[list[Blend], np.ndarray, np.ndarray]:
    """Return the blends by mass, and the weights of heads and channels."""
    weighing = weigh(problem, "mass", least_load(problem, kept))
    head, weight = weighing.head[kept.heads], weighing.channel[kept.channels]
    prices = load_prices_of(problem.supplies.deliverable[kept.supplies], weighing.supply[kept.supplies], 4)
    return list(blends(problem, kept, head, weight, prices, margin)), head, weight


def every_way(
    problem: Problem, kept: Kept, place: int, margin: float, weight: np.ndarray
) -> list[tuple[float, Counter[int]]]:
    """Return all blends on a head: so many of one channel, and the fewest of one of the other kind that will do."""
    assert problem.mix is not None
    c, head = problem.channels, int(kept.heads[place])
    middle = (min(kept.board.tolist()) + max(kept.top.tolist())) / 2.0
    hot = flux_of(problem, kept.channels, np.full(2, middle)).tolist()
    need = float(kept.need[place]) * margin
    kinds = problem.mix.kind[kept.channels].tolist()
    found = []
    for low, high in problem.mix.shares:
        low, high = low + INSIDE * (high - low), high - INSIDE * (high - low)
        for i, j in ((i, j) for i in range(len(kinds)) for j in range(len(kinds)) if (kinds[i], kinds[j]) == (0, 1)):
            for n in range(1, NUMBERS + 1):
                room = (int(problem.capacity[head]) - n * int(c.count[kept.channels[i]])) // int(
                    c.count[kept.channels[j]]
                )
                for m in range(1, room + 1):
                    lumens = n * hot[i] + m * hot[j]
                    share = m * hot[j] / lumens
                    heat = n * float(c.heat[kept.channels[i]]) + m * float(c.heat[kept.channels[j]])
                    if lumens >= need * (1.0 - 1e-12) and share >= low - 1e-12:
                        if share <= high and heat <= problem.heads.heat_max[head]:
                            found.append((n * float(weight[i]) + m * float(weight[j]), Counter({i: n, j: m})))
                        break
    return sorted(found, key=lambda item: item[0])


@pytest.mark.parametrize(("source", "number"), CASES)
def test_blends_are_the_lightest_of_all_pairs_of_channels(
    source: str, number: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(blending, "CHANNELS", 200)
    problem, kept = kept_of(source, number)
    for margin in (1.0, 1.04):
        found, head, weight = found_in(problem, kept, margin)
        assert problem.mix is not None
        assert len(problem.mix.shares) == 1
        for place in range(len(kept.heads)):
            mine = [(total, numbers) for total, at, numbers in found if at == place]
            best = every_way(problem, kept, place, margin, weight)[:12]
            assert [total for total, _ in mine] == pytest.approx([float(head[place]) + w for w, _ in best])
            for total, numbers in mine:
                weighs = sum(n * float(weight[p]) for p, n in numbers.items())
                assert total == pytest.approx(weighs + float(head[place]))
                if len({round(w, 6) for w, _ in best}) == len(best):
                    assert numbers in [n for _, n in best]
    assert found


def test_the_best_head_comes_first_and_no_more_than_are_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    problem, kept = kept_of("mains", 19)
    found, head, weight = found_in(problem, kept, 1.0)
    rate = min(float(w / f) for w, f in zip(weight, kept.flux, strict=True))
    score = [float(h) + rate * float(need) for h, need in zip(head, kept.need, strict=True)]
    order = sorted(range(len(score)), key=score.__getitem__)
    assert len(order) > 1
    places = list(dict.fromkeys(place for _, place, _ in found))
    assert places == [place for place in order if place in places]
    monkeypatch.setattr(blending, "HEADS", 1)
    assert {place for _, place, _ in found_in(problem, kept, 1.0)[0]} <= {order[0]}


def paired(mine: list[int], flux: Floats, weight: Floats, load: Floats, prices: list[float]) -> list[int]:
    """Return at each price of load the ten that weigh least for a lumen, and the two that weigh least."""
    wanted: list[int] = []
    for price in prices:
        total = {i: float(weight[i] + price * load[i]) for i in mine}
        wanted += sorted(mine, key=lambda i, total=total: (total[i] / float(flux[i]), i))[:10]
        wanted += sorted(mine, key=lambda i, total=total: (total[i], i))[:2]
    return list(dict.fromkeys(wanted))


def test_the_channels_that_are_paired_are_the_lightest_for_a_lumen_and_a_few_small_ones() -> None:
    # Two small ones give little for what they weigh; which of three is smallest hangs on the price of load.
    flux = np.array([100.0, 250.0, 40.0, 400.0, 20.0, 2.0] + [300.0] * 30)
    weight = np.array([10.0, 20.0, 10.0, 44.0, 3.0, 1.0] + [33.0 + i for i in range(30)])
    load = np.array([1.0, 2.5, 0.5, 9.0, 1.0, 0.2] + [2.0] * 30)
    mine = [i for i in range(36) if i != 1]
    for prices in ([0.0], [90.0], [0.0, 5.0, 90.0]):
        found = blending._chosen(np.array(mine), flux, weight, load, np.array(prices))
        assert found.tolist() == paired(mine, flux, weight, load, prices)
        assert 5 in found.tolist()
    # What weighs little for a lumen loads much.
    flux, trade = np.random.default_rng(1).uniform([[1.0], [0.2]], [[9.0], [5.0]], (2, 300))
    weight, load = flux * trade, flux / trade
    prices = np.geomspace(0.05, 20.0, 20).tolist()
    wanted = paired(list(range(300)), flux, weight, load, prices)
    assert len(wanted) > 40
    assert blending._chosen(np.arange(300), flux, weight, load, np.array(prices)).tolist() == wanted[:40]


def test_a_channel_without_light_is_chosen_last() -> None:
    flux, weight, load = np.array([0.0, *[50.0] * 12]), np.array([1.0, *[100.0] * 12]), np.ones(13)
    found = blending._chosen(np.arange(13), flux, weight, load, np.array([0.0]))
    assert found.tolist() == [*range(1, 11), 0]


def test_without_channels_of_both_kinds_there_is_no_blend() -> None:
    problem, kept = kept_of("mains", 12)
    assert problem.mix is not None
    for kind in (0, 1):
        assert found_in(problem, kept.take(channels=problem.mix.kind[kept.channels] == kind), 1.0)[0] == []


def test_shares_up_to_the_whole_light_of_one_kind() -> None:
    problem, kept = kept_of("mains", 12)
    assert problem.mix is not None
    edge = 1.0 / (1.0 - 2.0 * INSIDE)
    # So wide a range that its inner part goes from nothing to everything.
    wide = replace(problem, mix=replace(problem.mix, shares=((0.5 - edge / 2.0, 0.5 + edge / 2.0),)))
    found, head, weight = found_in(wide, kept, 1.0)
    assert found
    for total, place, numbers in found:
        assert len(numbers) == 2
        assert math.isfinite(total)
        flux = sum(n * float(kept.flux[p]) for p, n in numbers.items())
        assert flux >= kept.need[place] * (1.0 - 1e-9)
        assert total == pytest.approx(float(head[place]) + sum(n * float(weight[p]) for p, n in numbers.items()))


@pytest.mark.parametrize(("source", "number"), [("battery", 9), ("mains", 12)])
def test_blends_keep_room_and_heat_to_the_last_piece(source: str, number: int) -> None:
    plain, kept = kept_of(source, number)
    weight = found_in(plain, kept, 1.0)[2]
    c, place = plain.channels, 0
    limited = 0
    for _, numbers in every_way(plain, kept, place, 1.0, weight)[:8]:
        index = {int(kept.channels[p]): n for p, n in numbers.items()}
        for what in ("room", "heat"):
            problem = replace(plain)
            if what == "room":
                vars(problem)["capacity"] = np.full(
                    len(plain.heads), sum(n * int(c.count[i]) for i, n in index.items())
                )
            else:
                heat = sum(n * float(c.heat[i]) for i, n in index.items())
                problem = replace(plain, heads=replace(plain.heads, heat_max=np.full(len(plain.heads), heat)))
            found, head, _ = found_in(problem, kept, 1.0)
            best = every_way(problem, kept, place, 1.0, weight)
            limited += len(best) < len(every_way(plain, kept, place, 1.0, weight))
            mine = [total for total, at, _ in found if at == place]
            assert mine == pytest.approx([float(head[place]) + w for w, _ in best[:12]])
            assert any(each == numbers for _, each in best)
    assert limited > 0


def test_what_is_too_hot_to_give_light_is_in_no_blend() -> None:
    problem, kept = kept_of("mains", 12)
    _, head, weight = found_in(problem, kept, 1.0)
    assert problem.mix is not None
    kinds = problem.mix.kind[kept.channels]
    chosen = [np.flatnonzero(kinds == kind) for kind in (0, 1)]
    hot = kept.flux.copy()
    dark = int(chosen[1][0])
    hot[dark] = 0.0
    number = np.arange(1, NUMBERS + 1)
    need, own = float(kept.need[0]), float(head[0])
    found = list(blending._of_head(problem, kept, 0, chosen, hot, weight, number, need, (0.4, 0.7), own))
    assert found
    assert all(dark not in numbers for _, _, numbers in found)


def test_no_more_of_the_first_kind_are_tried_than_are_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    tried = {}
    for case in CASES:
        problem, kept = kept_of(*case)
        assert problem.mix is not None
        kinds = problem.mix.kind[kept.channels]
        for most in (24, 1):
            monkeypatch.setattr(blending, "NUMBERS", most)
            found = found_in(problem, kept, 1.0)[0]
            tried[case, most] = {n for _, _, each in found for p, n in each.items() if kinds[p] == 0}
    assert set().union(*(numbers for (_, most), numbers in tried.items() if most == 1)) == {1}
    assert max(max(numbers) for (_, most), numbers in tried.items() if most == 24) > 1
