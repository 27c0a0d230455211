"""What columns of a mixture weigh, one at a time."""

from dataclasses import replace

import numpy as np
import pytest
from random_catalogues import random_case
from two_whites import two_whites

from optimise.columns.heads import NO_DIFFUSER
from optimise.model.market import build_market
from optimise.model.mix import Mix, head_mass, per_channel
from optimise.model.pairs import problem_of_line
from optimise.model.problem import Problem, build_problem
from optimise.model.stacks import layers_of, stack_of


def test_channels_are_their_emitters_and_one_driver() -> None:
    case = two_whites(20, "battery")
    market = build_market(case.catalogue, case.scenario)
    problem = problem_of_line(market, len(market.parts.emitters))
    assert problem.mix is not None
    kinds, drivers = [7.0, 11.0], [100.0 + i for i in range(len(problem.parts.drivers))]
    found = per_channel(problem.channels, problem.mix.kind, kinds, drivers)
    c = problem.channels
    by_hand = [
        int(n) * kinds[int(k)] + drivers[int(d)] for n, k, d in zip(c.count, problem.mix.kind, c.driver, strict=True)
    ]
    assert found.tolist() == by_hand
    assert {int(k) for k in problem.mix.kind} == {0, 1}
    none = np.zeros(0, dtype=np.int64)
    empty = replace(problem.channels, **{name: getattr(c, name)[:0] for name in vars(c)})
    assert per_channel(empty, none, [], []).tolist() == []
    assert problem.mix.shares == ((problem.mix.low, problem.mix.high),)


def test_shares_go_from_the_least_of_all_ranges_to_the_greatest() -> None:
    mix = Mix(np.array([0, 1]), ((0.1, 0.2), (0.4, 0.5), (0.7, 0.9)))
    assert (mix.low, mix.high) == (0.1, 0.9)


@pytest.mark.parametrize(("source", "number"), [("any+stacked", 5), ("battery", 20)])
def test_heads_weigh_panel_and_every_sheet_to_the_milligram(source: str, number: int) -> None:
    case = random_case(number, source)
    problem = build_problem(case.catalogue, case.scenario)
    h = problem.heads
    assert head_mass(problem.parts, h).tolist() == problem.head_mass.tolist()
    heavy = tuple(
        stack_of(*(layer.model_copy(update={"mass_per_area": 300.0 * layer.mass_per_area}) for layer in layers))
        if len(layers := layers_of(sheet)) > 1
        else sheet.model_copy(update={"mass_per_area": 300.0 * sheet.mass_per_area})
        for sheet in problem.parts.diffusers
    )
    for sheets in (problem.parts.diffusers, heavy):
        by_hand(replace(problem, parts=replace(problem.parts, diffusers=sheets)), stacked="stacked" in source)


def by_hand(problem: Problem, *, stacked: bool) -> None:
    h, found = problem.heads, head_mass(problem.parts, problem.heads)
    layered = set()
    for place in range(len(h)):
        panel = problem.parts.panels[h.panel[place]]
        sheet = None if h.diffuser[place] == NO_DIFFUSER else problem.parts.diffusers[h.diffuser[place]]
        layers = layers_of(sheet)
        weight = panel.milligrams + sum(
            round(layer.mass_per_area * panel.width * panel.height * 1e6) for layer in layers
        )
        assert found[place] == pytest.approx(weight, abs=1e-6)
        layered.add(len(layers))
    assert layered >= {0, 1}
    assert (2 in layered) == stacked
    assert head_mass(problem.parts, h.take(np.zeros(0, dtype=np.int64))).tolist() == []
