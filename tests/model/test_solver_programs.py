"""Small programs against looking at every point, what is told of each end of a solve, and what becomes of a failure."""

import math
import threading
from collections.abc import Callable, Mapping
from itertools import product
from pathlib import Path
from random import Random
from types import SimpleNamespace
from typing import Any

import highspy
import numpy as np
import pulp
import pytest

from optimise.model import solver
from optimise.model.solver import Program, SolverError, Status

Row = tuple[str, dict[int, float], float]
HIGHS = highspy.HighsModelStatus


def random_program(number: int) -> tuple[Program, list[range], list[Row], dict[int, float]]:
    """Return a program of whole numbers with its ranges, rows and objective."""
    rng = Random(number)
    program = Program()
    ranges = [range(rng.choice([0, 1]), rng.randint(2, 4)) for _ in range(4)]
    for values in ranges:
        program.variable(values[0], values[-1], whole=True)
    rows: list[Row] = []
    for kind in rng.choices(["at_most", "at_least", "exactly"], [3, 3, 1], k=3):
        terms = {i: float(rng.choice([0, 1, 2, 3, -1])) for i in rng.sample(range(4), 3)}
        limit = float(rng.randint(0, 8))
        getattr(program, kind)(terms, limit)
        rows.append((kind, terms, limit))
    objective = {i: rng.choice([-2.0, 0.5, 1.0, 3.0]) for i in range(4)}
    program.minimise(objective)
    return program, ranges, rows, objective


def total(terms: Mapping[int, float], point: tuple[int, ...]) -> float:
    return sum(weight * point[i] for i, weight in terms.items())


def points(ranges: list[range], rows: list[Row]) -> list[tuple[int, ...]]:
    keeps: dict[str, Callable[[float, float], bool]] = {
        "at_most": lambda value, limit: value <= limit,
        "at_least": lambda value, limit: value >= limit,
        "exactly": lambda value, limit: value == limit,
    }
    return [p for p in product(*ranges) if all(keeps[kind](total(terms, p), limit) for kind, terms, limit in rows)]


@pytest.mark.parametrize("number", range(12))
def test_the_optimum_is_that_of_all_points(number: int) -> None:
    program, ranges, rows, objective = random_program(number)
    assert program.rows == len(rows)
    assert program.highs == [values[-1] for values in ranges]
    there = points(ranges, rows)
    outcome = program.solve(1e-6, None, 1)
    if not there:
        assert outcome.status is Status.IMPOSSIBLE
        return
    assert outcome.status is Status.OPTIMAL
    least = min(total(objective, point) for point in there)
    found = tuple(round(program.value(outcome, i)) for i in range(4))
    assert found in there
    assert outcome.objective == pytest.approx(least)
    assert outcome.bound == pytest.approx(least)
    assert total(objective, found) == pytest.approx(least)


@pytest.mark.parametrize("number", range(12))
def test_only_what_no_good_point_has_is_dropped(number: int) -> None:
    program, ranges, rows, terms = random_program(number)
    there = points(ranges, rows)
    for most in {total(terms, point) for point in there} or {5.0}:
        program, _, _, _ = random_program(number)
        good = [point for point in there if total(terms, point) <= most]
        possible = program.drop_dear(terms, most, None, 1)
        assert possible or not good
        for point in good:
            assert all(value <= high for value, high in zip(point, program.highs, strict=True))
        assert not program.drop_dear(terms, -1e3, None, 1)


def dear_and_cheap(dear: float) -> tuple[Program, dict[int, float]]:
    """Return a program that takes two of three: at 1, at 2, and dear."""
    program = Program()
    three = [program.variable(0, 5, whole=True) for _ in range(3)]
    program.at_least(dict.fromkeys(three, 1.0), 2.0)
    return program, dict(zip(three, (1.0, 2.0, dear), strict=True))


def test_what_adds_too_much_is_dropped() -> None:
    # Two of the cheap one come to 2. One of the second instead adds 1, one of the dear one adds 8.
    for most, highs in ((9.0, [5, 0, 0]), (11.0, [5, 5, 5])):
        program, terms = dear_and_cheap(9.0)
        assert program.drop_dear(terms, 2.5 if most == 9.0 else most, None, 1)
        assert program.highs == highs
    program, terms = dear_and_cheap(9.0)
    assert program.drop_dear(terms, 9.0, None, 1)
    assert program.highs == [5, 5, 0]
    program.minimise({2: -1.0})
    # What was dropped is nought in what is solved next.
    assert program.value(program.solve(0.5, None, 1), 2) == 0.0
    # Just what the least comes to is enough, and a little less is not, but for rounding.
    for most, possible in ((2.0, True), (2.0 - 1e-7, True), (2.0 - 1e-4, False), (-5.0, False)):
        program, terms = dear_and_cheap(9.0)
        assert program.drop_dear(terms, most, None, 1) is possible
    # Of large sums a millionth is more: that of 2 000 000 is 2.
    program, terms = dear_and_cheap(9e6)
    large = {i: 1e6 * weight for i, weight in ((0, 1.0), (1, 2.0), (2, 9.0))}
    assert program.drop_dear(large, 2e6 - 1.0, None, 1)
    assert program.highs == [5, 0, 0]
    program, _ = dear_and_cheap(9.0)
    assert not program.drop_dear(large, 2e6 - 4.0, None, 1)


def test_nothing_is_dropped_of_what_is_not_solved() -> None:
    program, terms = dear_and_cheap(9.0)
    program.at_most(dict.fromkeys(terms, 1.0), 1.0)
    assert not program.drop_dear(terms, 100.0, None, 1)  # no point at all


def test_relaxed_numbers_may_be_halves() -> None:
    # 2 x ≥ 3 with x whole is 2; without whole numbers 1.5 is a bound that holds for any of them.
    program = Program()
    x = program.variable(0, 5, whole=True)
    program.at_least({x: 2.0}, 3.0)
    assert program.drop_dear({x: 1.0}, 1.5, None, 1)
    program.minimise({x: 1.0})
    assert program.solve(0.5, None, 1).objective == pytest.approx(2.0)


def written(program: Program, file: Path) -> Any:
    """Return the program that a file holds, as HiGHS reads it."""
    program.write(file)
    model = highspy.Highs()
    model.setOptionValue("output_flag", False)
    model.readModel(str(file))
    return model.getLp()


def test_rows_are_written_scaled_by_their_largest_figure(tmp_path: Path) -> None:
    program = Program()
    x, y, z = (program.variable(0, 7, whole=whole) for whole in (True, False, True))
    program.at_most({x: 2.0, y: -8.0, z: 0.0}, 4.0)  # by 8
    program.at_most({x: 2.0, y: 1.0}, 50.0)  # by the limit
    program.at_most({x: 2.0, y: 1.0}, 4.0, scale=20.0)
    program.at_least({x: 0.5, y: 0.25}, 0.125)
    program.exactly({x: 1.0, z: 1.0}, 3.0)  # as it is
    program.at_most({x: 0.0}, 0.0)  # nothing to scale by
    program.minimise({x: 1.0, z: 2.5})
    assert program.rows == 6
    lp = written(program, tmp_path / "p.mps")
    matrix = np.zeros((lp.num_row_, lp.num_col_))
    starts = list(lp.a_matrix_.start_)
    for column in range(lp.num_col_):
        for place in range(starts[column], starts[column + 1]):
            matrix[lp.a_matrix_.index_[place], column] = lp.a_matrix_.value_[place]
    assert matrix[:5].tolist() == [
        [2500.0, -1e4, 0.0],
        [400.0, 200.0, 0.0],
        [1000.0, 500.0, 0.0],
        [-1e4, -5e3, 0.0],
        [1.0, 0.0, 1.0],
    ]
    assert list(lp.row_upper_)[:5] == [5000.0, 1e4, 2000.0, -2500.0, 3.0]
    assert list(lp.row_lower_)[4] == 3.0
    assert list(lp.row_lower_)[:1] == [-math.inf]
    assert list(lp.col_cost_) == [1.0, 0.0, 2.5]
    assert list(lp.col_upper_) == [7.0, 7.0, 7.0]
    whole = [kind == highspy.HighsVarType.kInteger for kind in lp.integrality_]
    assert whole == [True, False, True]


# What is told of each end ------------------------------------------------------------------------------


class Ended:
    """A solver's model that ended in some way, with a point or without one."""

    def __init__(self, status: Any, valid: bool, primal: int) -> None:
        self.status, self.valid, self.primal = status, valid, primal

    def getInfo(self) -> Any:  # noqa: N802 - the library's name
        return SimpleNamespace(primal_solution_status=self.primal, objective_function_value=7.0, mip_dual_bound=6.5)

    def getModelStatus(self) -> Any:  # noqa: N802 - the library's name
        return self.status

    def getSolution(self) -> Any:  # noqa: N802 - the library's name
        return SimpleNamespace(value_valid=self.valid, col_value=[3.0], col_dual=[100.0])


@pytest.mark.parametrize(
    ("status", "valid", "primal", "told"),
    [
        (HIGHS.kOptimal, True, 2, Status.OPTIMAL),
        # A point that is none, or is not feasible, is no answer whatever the status says.
        (HIGHS.kOptimal, True, 1, Status.FAILED),
        (HIGHS.kOptimal, False, 2, Status.FAILED),
        (HIGHS.kOptimal, False, 0, Status.FAILED),
        (HIGHS.kSolutionLimit, True, 2, Status.FEASIBLE),
        (HIGHS.kSolutionLimit, True, 1, Status.FAILED),
        (HIGHS.kTimeLimit, True, 2, Status.FEASIBLE),
        (HIGHS.kTimeLimit, True, 1, Status.NOTHING),
        (HIGHS.kTimeLimit, False, 2, Status.NOTHING),
        (HIGHS.kInfeasible, False, 0, Status.IMPOSSIBLE),
        (HIGHS.kInfeasible, True, 2, Status.IMPOSSIBLE),
        (HIGHS.kUnbounded, True, 2, Status.FAILED),
        ("a word that is not known", True, 2, Status.FAILED),
    ],
)
def test_a_status_needs_its_point(
    monkeypatch: pytest.MonkeyPatch, status: Any, valid: bool, primal: int, told: Status
) -> None:
    def solve(problem: Any, *asked: Any, **named: Any) -> None:
        problem.solverModel = Ended(status, valid, primal)

    monkeypatch.setattr(solver, "_solve", solve)
    program = Program()
    x = program.variable(0, 5, whole=True)
    program.minimise({x: 1.0})
    outcome = program.solve(0.5, None, 1)
    assert (outcome.status, outcome.objective, outcome.bound) == (told, 7.0, 6.5)
    assert list(outcome.values.values()) == ([3.0] if valid and primal == 2 else [])


@pytest.mark.parametrize(("status", "possible"), [(HIGHS.kTimeLimit, True), (HIGHS.kInfeasible, False)])
def test_a_bound_that_is_not_known_drops_nothing(monkeypatch: pytest.MonkeyPatch, status: Any, possible: bool) -> None:
    def solve(problem: Any, *asked: Any, **named: Any) -> None:
        assert asked == (0.0, 2.5, 2)
        problem.solverModel = Ended(status, True, 2)

    monkeypatch.setattr(solver, "_solve", solve)
    program = Program()
    x = program.variable(0, 5, whole=True)
    assert program.drop_dear({x: 1.0}, 0.0, 2.5, 2) is possible
    assert program.highs == [5]


def test_what_is_in_use_is_not_dropped(monkeypatch: pytest.MonkeyPatch) -> None:
    # The point has 3 of it: what it adds by itself says nothing then.
    def solve(problem: Any, *asked: Any, **named: Any) -> None:
        problem.solverModel = Ended(HIGHS.kOptimal, True, 2)

    monkeypatch.setattr(solver, "_solve", solve)
    program = Program()
    x = program.variable(0, 5, whole=True)
    assert program.drop_dear({x: 1.0}, 8.0, None, 1)
    assert program.highs == [5]


def test_a_proof_is_absolute_and_whole_to_a_hundred_millionth(monkeypatch: pytest.MonkeyPatch) -> None:
    made: list[tuple[dict[str, Any], bool]] = []
    real = solver._Solver

    def making(settings: Mapping[str, Any], *, whole: bool) -> Any:
        made.append((dict(settings), whole))
        return real(settings, whole=whole)

    monkeypatch.setattr(solver, "_Solver", making)
    program, terms = dear_and_cheap(9.0)
    program.minimise(terms)
    program.solve(0.25, 60.0, 1)
    program.drop_dear(terms, 100.0, None, 1)
    (first, whole), (second, relaxed) = made
    assert (first["mip_rel_gap"], first["mip_abs_gap"], first["time_limit"], first["threads"]) == (0.0, 0.25, 60.0, 1)
    assert first["mip_feasibility_tolerance"] <= 1e-8
    assert whole
    assert not relaxed
    assert "time_limit" not in second


# Another solver, and failures --------------------------------------------------------------------------


class Told(pulp.LpSolver):  # type: ignore[misc]
    """A solver that tells what it was given to tell, as PuLP's releases ask for it."""

    def __init__(self, status: int, *values: float | None) -> None:
        super().__init__(msg=False)
        self.status, self.values = status, values

    def available(self) -> bool:
        return True

    def actualSolve(self, lp: Any, **_: Any) -> int:  # noqa: N802 - the library's name
        for variable, value in zip(lp.variables(), self.values, strict=False):
            variable.varValue = value
        return self.status


def told(program: Program, status: int, *values: float | None) -> solver.Outcome:
    """Return what comes of a solver that says so: a number by PuLP 3, an object that has it by PuLP 4."""
    with pytest.MonkeyPatch.context() as patch:
        for answer in (status, SimpleNamespace(status=status)):

            def solve(other: Any, answer: Any = answer) -> Any:
                other.actualSolve(program.problem)
                return answer

            patch.setattr(program.problem, "solve", solve)
            outcome = program.solve(0.5, None, 1, Told(status, *values))
    return outcome


def test_another_solver_is_told_by_its_status_and_values() -> None:
    program, terms = dear_and_cheap(9.0)
    program.minimise(terms)
    outcome = told(program, 1, None, 2.0, 1.0)
    assert outcome.status is Status.OPTIMAL
    assert [program.value(outcome, i) for i in range(3)] == [0.0, 2.0, 1.0]
    # 0 × 1 + 2 × 2 + 1 × 9
    assert (outcome.objective, outcome.bound) == (13.0, 13.0)
    for status, wanted in ((-1, Status.IMPOSSIBLE), (0, Status.FAILED), (-2, Status.FAILED), (-3, Status.FAILED)):
        outcome = told(program, status, 1.0, 1.0, 1.0)
        assert (outcome.status, dict(outcome.values)) == (wanted, {})
        assert math.isnan(outcome.objective)


@pytest.mark.parametrize(
    ("raised", "told"),
    [
        (ValueError("bad"), SolverError),
        (MemoryError(), MemoryError),
        (RuntimeError("can't start new thread"), MemoryError),
    ],
)
def test_what_a_solver_raises_is_told_as_its_failure_or_as_want_of_memory(
    raised: Exception, told: type[BaseException]
) -> None:
    class Raising(Told):
        def actualSolve(self, lp: Any, **_: Any) -> int:  # noqa: N802 - the library's name
            raise raised

    program, terms = dear_and_cheap(9.0)
    program.minimise(terms)
    with pytest.raises(told) as caught:
        program.solve(0.5, None, 1, Raising(1))
    assert type(caught.value) is told


class Running:
    """A model that is solved in a thread of its own, and waited for."""

    def __init__(self, waits: list[Any], raises: Exception | None = None) -> None:
        self.waits, self.raises, self.cancelled = list(waits), raises, 0

    def startSolve(self) -> threading.Thread:  # noqa: N802 - the library's name
        def work() -> None:
            if self.raises is not None:
                raise self.raises

        thread = threading.Thread(target=work)
        thread.start()
        return thread

    def wait(self, seconds: float) -> tuple[bool, bool]:
        assert 0.0 < seconds < 1.0  # Ctrl-C is heard in a moment
        answer = self.waits.pop(0)
        if answer is KeyboardInterrupt:
            raise KeyboardInterrupt
        return answer, not answer

    def cancelSolve(self) -> None:  # noqa: N802 - the library's name
        self.cancelled += 1


def test_an_interrupt_ends_the_solve_and_the_answer_is_waited_for() -> None:
    model = Running([False, KeyboardInterrupt, False, True])
    usual = threading.excepthook
    solver._Solver({}, whole=True).callSolver(SimpleNamespace(solverModel=model))
    assert (model.cancelled, model.waits) == (1, [])
    assert threading.excepthook is usual


def test_what_is_raised_in_the_solvers_own_thread_is_heard() -> None:
    usual = threading.excepthook
    with pytest.raises(ValueError, match="from within"):
        solver._Solver({}, whole=True).callSolver(
            SimpleNamespace(solverModel=Running([True], ValueError("from within")))
        )
    assert threading.excepthook is usual


def test_what_stands_in_no_row_is_at_its_least() -> None:
    program = Program()
    used, idle, last = (program.variable(low, 9.0, whole=True) for low in (0.0, 2.0, 1.0))
    program.at_least({used: 1.0, last: 1.0}, 5.0)
    program.minimise({used: 1.0, last: 3.0})
    outcome = program.solve(1e-6, None, 1)
    assert outcome.status is Status.OPTIMAL
    assert [round(program.value(outcome, v), 6) for v in (used, idle, last)] == [4.0, 2.0, 1.0]
    # 4 and 1 come to 7; one more of the last would be 9.
    assert program.drop_dear({used: 1.0, last: 3.0}, 7.5, None, 1)
    outcome = program.solve(1e-6, None, 1)
    assert [round(program.value(outcome, v), 6) for v in (used, idle, last)] == [4.0, 2.0, 1.0]
