"""The solver's words are mapped one by one, and its values are read only where there are any."""

import highspy
import pytest

from optimise.model import solver
from optimise.model.solver import STATUSES, Program, Status


def small(limit: float) -> tuple[Program, int, int]:
    program = Program()
    x, y = program.variable(0, 10, whole=True), program.variable(0, 1, whole=True)
    program.at_least({x: 2.0, y: 5.0}, limit)
    program.minimise({x: 3.0, y: 20.0})
    return program, x, y


def test_every_word_of_the_solver_is_mapped() -> None:
    words = {getattr(highspy.HighsModelStatus, name) for name in dir(highspy.HighsModelStatus) if name[0] == "k"}
    words = {word for word in words if isinstance(word, highspy.HighsModelStatus)}
    assert len(words) > 15
    assert words <= set(STATUSES)


@pytest.mark.parametrize("threads", [1, 2])
def test_an_optimum_is_told_with_bound_and_values(threads: int) -> None:
    program, x, y = small(7.0)
    outcome = program.solve(0.5, None, threads)
    assert outcome.status is Status.OPTIMAL
    assert (program.value(outcome, x), program.value(outcome, y)) == (4.0, 0.0)
    assert outcome.objective == pytest.approx(12.0)
    assert outcome.bound == pytest.approx(12.0)


def test_threads_may_change_within_a_process() -> None:
    for threads in (2, 1, 2):
        program, _, _ = small(7.0)
        assert program.solve(0.5, None, threads).status is Status.OPTIMAL


def test_impossible_has_no_values() -> None:
    program, _, _ = small(100.0)
    outcome = program.solve(0.5, None, 1)
    assert outcome.status is Status.IMPOSSIBLE
    assert outcome.values == {}


def test_no_time_is_no_answer_and_not_a_row_of_zeros() -> None:
    program = Program()
    variables = [program.variable(0, 40, whole=True) for _ in range(60)]
    for row in range(40):
        program.at_least({v: (7919 * (row + 3) * (i + 5)) % 97 + 1.0 for i, v in enumerate(variables)}, 2500.5 + row)
    program.minimise({v: (31 * i) % 17 + 1.5 for i, v in enumerate(variables)})
    outcome = program.solve(1e-9, 1e-9, 1)
    assert outcome.status in {Status.NOTHING, Status.FEASIBLE}
    assert (outcome.status is Status.FEASIBLE) == bool(outcome.values)


def test_nothing_is_printed(capfd: pytest.CaptureFixture[str]) -> None:
    program, _, _ = small(7.0)
    program.solve(0.5, None, 1)
    assert capfd.readouterr().out == ""


def test_a_misspelt_option_is_refused() -> None:
    program, _, _ = small(7.0)
    with pytest.raises(ValueError, match="no_such_option"):
        program.problem.solve(solver._Solver({"no_such_option": 1}, whole=True))


def test_rows_are_scaled() -> None:
    # Unscaled, the solver's tolerance of 1e-6 would let a row of microamperes pass two and a half times over.
    program = Program()
    x = program.variable(0, 5, whole=True)
    program.at_most({x: 5e-7}, 2e-7)
    program.minimise({x: -1.0})
    outcome = program.solve(0.5, None, 1)
    assert program.value(outcome, x) == 0.0
