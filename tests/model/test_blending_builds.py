"""Likely builds of two kinds of emitter against trying every pair of channels in every number."""

import math
from collections import Counter
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from two_whites import two_whites

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

CASES = [("battery", 9), ("mains", 12), ("any", 9), ("any", 12)]


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
    problem, kept = kept_of("any", 12)
    found, head, weight = found_in(problem, kept, 1.0)
    rate = min(float(w / f) for w, f in zip(weight, kept.flux, strict=True))
    score = [float(h) + rate * float(need) for h, need in zip(head, kept.need, strict=True)]
    order = sorted(range(len(score)), key=score.__getitem__)
    assert len(order) > 1
    places = list(dict.fromkeys(place for _, place, _ in found))
    assert places == [place for place in order if place in places]
    monkeypatch.setattr(blending, "HEADS", 1)
    assert {place for _, place, _ in found_in(problem, kept, 1.0)[0]} <= {order[0]}


def test_the_channels_that_are_paired_are_the_lightest_for_a_lumen_and_a_few_small_ones() -> None:
    flux = np.array([100.0, 250.0, 90.0, 400.0, 60.0, 10.0] + [300.0] * 30)
    weight = np.array([10.0, 20.0, 10.0, 44.0, 3.0, 1.0] + [33.0 + i for i in range(30)])
    load = np.array([1.0, 2.5, 0.5, 9.0, 1.0, 0.2] + [2.0] * 30)
    mine = np.array([i for i in range(36) if i != 1])
    for prices in ([0.0], [0.0, 5.0, 90.0]):
        wanted: list[int] = []
        for price in prices:
            total = {i: float(weight[i] + price * load[i]) for i in mine.tolist()}
            wanted += sorted(total, key=lambda i, total=total: (total[i] / float(flux[i]), i))[:10]
            wanted += sorted(total, key=lambda i, total=total: (total[i], i))[:2]
        found = blending._chosen(mine, flux, weight, load, np.array(prices))
        assert found.tolist() == list(dict.fromkeys(wanted))[:40]
    many = blending._chosen(mine, flux, weight, load, np.arange(0.0, 4000.0, 40.0))
    assert len(many) <= 40


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
