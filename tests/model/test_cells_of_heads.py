"""The first cells of heads hold every build of them, and an outcome is read as what it says."""

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from random_catalogues import random_case
from two_whites import two_whites

from optimise.columns.heads import NO_DIFFUSER
from optimise.model.aimed import most_by_number, open_factor
from optimise.model.cells import Cell, Formulation, first_cells
from optimise.model.even import uneven
from optimise.model.kept import Kept, everything, warm_up
from optimise.model.light import boards, crowded, hardest
from optimise.model.market import build_market
from optimise.model.pairs import problem_of_line
from optimise.model.problem import Problem, build_problem
from optimise.model.screening import fits
from optimise.model.solver import Outcome, Status


@cache
def kept_of(source: str, number: int) -> tuple[Problem, Kept]:
    if source == "mixed":
        case = two_whites(number, "battery")
        market = build_market(case.catalogue, case.scenario)
        problem = problem_of_line(market, len(market.parts.emitters))
    else:
        case = random_case(number, source)
        problem = build_problem(case.catalogue, case.scenario)
    return problem, warm_up(problem, fits(problem, everything(problem)))


CASES = [("battery", 20), ("any", 5), ("any+even", 5), ("any+dots", 1), ("mains+points", 10), ("mixed", 20)]


@pytest.mark.parametrize(("source", "number"), CASES)
def test_first_cells_hold_every_heat_and_number_that_a_head_may_have(source: str, number: int) -> None:
    problem, kept = kept_of(source, number)
    assert kept.possible
    kept = replace(kept, fewest=np.where(np.arange(len(kept.heads)) % 2, 2, 1))
    cells = first_cells(problem, kept)
    assert [c.head for c in cells] == sorted((c.head for c in cells), key=kept.heads.tolist().index)
    for place, head in enumerate(kept.heads.tolist()):
        mine = [cell for cell in cells if cell.head == head]
        one = np.array([head])
        fewest, most = int(kept.fewest[place]), int(problem.capacity[head])
        numbers = [n for c in mine if c.count_high for n in range(c.count_low, c.count_high + 1)]
        looked_at = problem.mix is None and crowded(problem, one)[0]
        wanted = [n for n in range(fewest, most + 1) if not (looked_at and uneven(problem, head, n))]
        shares = ((0.0, 1.0),) if problem.mix is None else problem.mix.shares
        assert numbers == sorted(wanted * len(shares))
        # One that holds none stays where nothing else is left, so that no head is without a cell.
        if not wanted:
            assert [(c.count_low, c.count_high) for c in mine] == [(0, 0)]
        assert [(c.share_low, c.share_high) for c in mine[: len(shares)]] == list(shares)
        for cell in mine:
            assert (cell.board, cell.top) == (kept.board[place], kept.top[place])
            assert (cell.heat_low, cell.own, cell.tighten, cell.exact_share) == (0.0, False, 0.0, False)
            # As much heat as the board bears, or as makes it as hot as a best build may be.
            assert cell.heat_high <= problem.heads.heat_max[head]
            hottest = float(boards(problem, one, np.array([cell.heat_high]))[0])
            assert hottest <= cell.top + 1e-6
            if cell.heat_high < problem.heads.heat_max[head]:
                assert hottest == pytest.approx(cell.top, abs=1e-6)
                assert hottest >= cell.top - 2e-9
            bare = problem.heads.diffuser[head] == NO_DIFFUSER
            held = range(cell.count_low, cell.count_high + 1) if cell.count_high else range(0)
            if bare and problem.market.targets and held:
                true = max(open_factor(problem, head, n) for n in held)
                assert cell.lux_per_lumen == pytest.approx(min(true, float(hardest(problem, one)[0])))
                assert cell.most == pytest.approx(max(most_by_number(problem, head, n) for n in held))
            else:
                assert cell.lux_per_lumen == hardest(problem, one)[0]
            if not problem.market.light_is_limited:
                assert cell.most == math.inf


def test_a_cell_that_is_told_nothing_more_holds_all_shares_and_no_row_of_its_own() -> None:
    cell = Cell(3, 20.0, 60.0, 0.1, 0.0, 30.0, 1, 12)
    assert (cell.own, cell.tighten, cell.most) == (False, 0.0, math.inf)
    assert (cell.share_low, cell.share_high, cell.exact_share) == (0.0, 1.0, False)


def outcome_of(f: Formulation, values: dict[int, float]) -> Outcome:
    whole = {f"x{v:07d}": 0.0 for v in range(len(f.program.highs))}
    return Outcome(Status.OPTIMAL, 0.0, 0.0, whole | {f"x{v:07d}": value for v, value in values.items()})


def test_an_outcome_is_read_by_what_is_nearest_to_one() -> None:
    problem, kept = kept_of("battery", 20)
    f = Formulation(problem, kept, first_cells(problem, kept))
    f.cell_vars = [f.program.variable(0, 1, whole=True) for _ in f.cells]
    f.channel_vars = [f.program.variable(0, 9, whole=True) for _ in kept.channels]
    f.supply_vars = [f.program.variable(0, 1, whole=True) for _ in kept.supplies]
    # A solver is a millionth off whole numbers.
    values = {f.cell_vars[2]: 0.999999, f.cell_vars[0]: 1e-6, f.supply_vars[-1]: 1.0000001}
    values |= {f.channel_vars[1]: 1.999999, f.channel_vars[4]: 1.000001, f.channel_vars[5]: 1e-6}
    found = f.read(outcome_of(f, values))
    channels = [(int(kept.channels[1]), 2), (int(kept.channels[4]), 1)]
    assert found == (2, int(kept.supplies[-1]), None, channels)
    f.mount_vars = [f.program.variable(0, 1, whole=True) for _ in range(3)]
    assert f.read(outcome_of(f, values | {f.mount_vars[1]: 1.0}))[2] == 1
    assert f.value_of("mass", outcome_of(f, values)) is None
    f.scales["mass"] = {f.channel_vars[1]: 10.0, f.cell_vars[0]: 5.0}
    assert f.value_of("mass", outcome_of(f, values)) == pytest.approx(19.99999 + 5e-6)
