"""The one place that knows PuLP's versions and HiGHS: building rows, solving, and saying what came of it.

PuLP 3.3 (Python 3.11) and 4.x (3.12 and newer) differ in how expressions are made and what `solve` returns;
status, bound and values are read from HiGHS itself, whose own words are mapped to `Status` one by one.
"""

import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from enum import Enum
from pathlib import Path
from typing import Any

import highspy
import pulp


class Status(Enum):
    """What a solve came to."""

    OPTIMAL = "optimal"
    FEASIBLE = "feasible, not proven"
    IMPOSSIBLE = "impossible"
    NOTHING = "stopped with no answer"
    FAILED = "failed"


_M = highspy.HighsModelStatus
STATUSES: dict[Any, Status] = {
    _M.kNotset: Status.FAILED,
    _M.kLoadError: Status.FAILED,
    _M.kModelError: Status.FAILED,
    _M.kPresolveError: Status.FAILED,
    _M.kSolveError: Status.FAILED,
    _M.kPostsolveError: Status.FAILED,
    _M.kModelEmpty: Status.FAILED,
    _M.kOptimal: Status.OPTIMAL,
    _M.kInfeasible: Status.IMPOSSIBLE,
    # Every variable of this model has finite bounds, so an unbounded one is a fault of ours.
    _M.kUnboundedOrInfeasible: Status.IMPOSSIBLE,
    _M.kUnbounded: Status.FAILED,
    _M.kObjectiveBound: Status.NOTHING,
    _M.kObjectiveTarget: Status.FEASIBLE,
    _M.kTimeLimit: Status.NOTHING,
    _M.kIterationLimit: Status.NOTHING,
    _M.kSolutionLimit: Status.FEASIBLE,
    _M.kInterrupt: Status.NOTHING,
    _M.kMemoryLimit: Status.NOTHING,
    _M.kUnknown: Status.NOTHING,
}
if hasattr(_M, "kHighsInterrupt"):
    STATUSES[_M.kHighsInterrupt] = Status.NOTHING


@dataclass(frozen=True)
class Outcome:
    """Status, bound and, where there is a point at all, the values of the variables by name."""

    status: Status
    objective: float
    bound: float
    values: Mapping[str, float]


class SolverError(RuntimeError):
    """The solver did not do its work; the text says what it said."""


class Program:
    """A minimisation whose rows are scaled so that the solver's absolute tolerances mean little."""

    def __init__(self) -> None:
        self.problem: Any = pulp.LpProblem("rushlight", pulp.LpMinimize)
        self._variables: list[Any] = []
        self._names: list[str] = []
        self._lows: list[float] = []
        self.highs: list[float] = []
        """Upper bounds of the variables, by number."""
        self._rows = 0
        self._objective: dict[int, float] = {}

    def variable(self, low: float, high: float, *, whole: bool) -> int:
        """Add a variable and return its number. Both bounds are finite."""
        index = len(self._variables)
        # Names of equal length: PuLP 3 orders columns by name, and names of parts could clash.
        name = f"x{index:07d}"
        self._names.append(name)
        self._lows.append(low)
        self.highs.append(high)
        self._variables.append(self.problem.add_variable(name, low, high, "Integer" if whole else "Continuous"))
        return index

    def _linear(self, terms: Mapping[int, float]) -> Any:
        pairs = {self._variables[i]: value for i, value in terms.items() if value != 0.0}
        if hasattr(pulp.LpAffineExpression, "from_dict"):
            return pulp.LpAffineExpression.from_dict(pairs)
        return pulp.LpAffineExpression(pairs)

    def at_most(self, terms: Mapping[int, float], limit: float, scale: float = 0.0) -> None:
        """Add the row Σ terms ≤ limit, divided so that `scale` (or the largest figure) becomes 10 000.

        The solver's tolerance of 1e-6 is then 1e-10 of that figure.
        """
        largest = scale or max([abs(limit), *(abs(v) for v in terms.values())], default=0.0)
        factor = 1e4 / largest if largest > 0.0 else 1.0
        expression = self._linear({i: v * factor for i, v in terms.items()})
        self._rows += 1
        self.problem += (expression <= limit * factor, f"r{self._rows:07d}")

    def at_least(self, terms: Mapping[int, float], limit: float, scale: float = 0.0) -> None:
        """Add the row Σ terms ≥ limit, scaled as in `at_most`."""
        self.at_most({i: -v for i, v in terms.items()}, -limit, scale)

    def exactly(self, terms: Mapping[int, float], value: float) -> None:
        """Add the row Σ terms = value, unscaled (for choices of one among many)."""
        self._rows += 1
        self.problem += (self._linear(terms) == value, f"r{self._rows:07d}")

    def minimise(self, terms: Mapping[int, float]) -> None:
        """Set the objective."""
        self._objective = dict(terms)

    def solve(self, gap: float, seconds: float | None, threads: int, other: Any = None) -> Outcome:
        """Solve until the objective is proven within `gap` (absolute) or `seconds` have passed.

        other: a solver of PuLP's to use instead of HiGHS, with its own settings for gap, time and threads.
        """
        self.problem.setObjective(self._linear(self._objective))
        if other is not None:
            return self._solve_by(other)
        _solve(self.problem, gap, seconds, threads)
        model = self.problem.solverModel
        info = model.getInfo()
        status = STATUSES.get(model.getModelStatus(), Status.FAILED)
        solution = model.getSolution()
        has_point = bool(solution.value_valid) and int(info.primal_solution_status) == 2
        if status is Status.NOTHING and has_point:
            status = Status.FEASIBLE
        if status in {Status.OPTIMAL, Status.FEASIBLE} and not has_point:
            status = Status.FAILED
        values: dict[str, float] = {}
        if has_point:
            columns = self._handed_over()
            values = dict(zip(self._names, self._lows, strict=True))
            values |= {column.name: value for column, value in zip(columns, list(solution.col_value), strict=True)}
        return Outcome(
            status=status,
            objective=float(info.objective_function_value),
            bound=float(info.mip_dual_bound),
            values=values,
        )

    def drop_dear(self, terms: Mapping[int, float], most: float, seconds: float | None, threads: int) -> bool:
        """Fix at nought what no point with Σ terms ≤ most can have; whether there can be any such point.

        Without whole numbers, the least of the sum is a bound, and what a variable adds to it at the least is known.
        """
        self.problem.setObjective(self._linear(terms))
        _solve(self.problem, 0.0, seconds, threads, whole=False)
        model = self.problem.solverModel
        status = model.getModelStatus()
        if status == _M.kInfeasible:
            return False
        if status != _M.kOptimal:
            return True
        least = float(model.getInfo().objective_function_value)
        slack = most - least + 1e-6 * max(abs(most), 1.0)
        if slack < 0.0:
            return False
        solution = model.getSolution()
        places = {name: index for index, name in enumerate(self._names)}
        columns = self._handed_over()
        for column, value, added in zip(columns, list(solution.col_value), list(solution.col_dual), strict=True):
            if value < 1e-9 and added > slack:
                column.upBound = 0.0
                self.highs[places[column.name]] = 0.0
        return True

    def _handed_over(self) -> list[Any]:
        """Return the variables that HiGHS knows, in its order: PuLP 4 leaves out what stands in no row and no sum."""
        return list(getattr(self.problem, "exported_variables", self.problem.variables)())

    def _solve_by(self, other: Any) -> Outcome:
        """Solve to the optimum by any solver that PuLP knows; what it says of a time limit is not relied upon."""
        with _failing_aloud():
            told = self.problem.solve(other)
        # PuLP 3 returns the number of the status, PuLP 4 an object that has it: 1 optimal, −1 infeasible in both.
        number = int(getattr(told, "status", told))
        status = {1: Status.OPTIMAL, -1: Status.IMPOSSIBLE}.get(number, Status.FAILED)
        values: dict[str, float] = {}
        objective = float("nan")
        if status is Status.OPTIMAL:
            values = {column.name: float(column.varValue or 0.0) for column in self.problem.variables()}
            objective = sum(weight * values[self._names[i]] for i, weight in self._objective.items())
        return Outcome(status=status, objective=objective, bound=objective, values=values)

    @property
    def rows(self) -> int:
        """Number of rows."""
        return self._rows

    def write(self, file: Path) -> None:
        """Write the program as an MPS file."""
        self.problem.setObjective(self._linear(self._objective))
        self.problem.writeMPS(str(file))

    def value(self, outcome: Outcome, variable: int) -> float:
        """Return the value of a variable in an outcome."""
        return outcome.values[self._names[variable]]


class _Silent(highspy.Highs):  # type: ignore[misc]  # the library is not typed
    """HiGHS without the banner it prints on being made: standard output belongs to the record."""

    def enableCallbacks(self) -> None:  # noqa: N802 - the library's name
        self.setOptionValue("output_flag", False)
        super().enableCallbacks()


class _Solver(pulp.HiGHS):  # type: ignore[misc]  # typed in some versions only
    """PuLP's HiGHS with checked option names, silence, and Ctrl-C that is heard during a solve."""

    def __init__(self, settings: Mapping[str, Any], *, whole: bool) -> None:
        super().__init__(msg=False, mip=whole)
        self.settings = dict(settings)

    def createAndConfigureSolver(self, lp: Any) -> None:  # noqa: N802 - the library's name
        model = _Silent()
        for name, value in self.settings.items():
            if model.setOptionValue(name, value) != highspy.HighsStatus.kOk:
                raise ValueError(f"HiGHS refused the option {name} = {value}")
        model.HandleKeyboardInterrupt = True
        lp.solverModel = model

    def callSolver(self, lp: Any) -> None:  # noqa: N802 - the library's name
        # The library's own waiting would print to standard output when interrupted.
        raised: list[BaseException | None] = []
        usual, threading.excepthook = threading.excepthook, lambda told: raised.append(told.exc_value)
        try:
            thread = lp.solverModel.startSolve()
            while True:
                try:
                    if lp.solverModel.wait(0.1)[0]:
                        break
                except KeyboardInterrupt:
                    lp.solverModel.cancelSolve()
            thread.join()
        finally:
            threading.excepthook = usual
        if raised and raised[0] is not None:
            # It was raised in the solver's own thread, where no one would hear of it.
            raise raised[0]


def _solve(problem: Any, gap: float, seconds: float | None, threads: int, *, whole: bool = True) -> None:
    settings: dict[str, Any] = {
        "mip_rel_gap": 0.0,
        "mip_abs_gap": gap,
        "random_seed": 0,
        "threads": threads,
        # A good build is known before the solve: looking for others by sub-problems only costs time.
        "mip_heuristic_effort": 0.0,
        "presolve": "off",
        # An unused column a millionth off nought would hide milligrams and microwatts.
        "mip_feasibility_tolerance": 1e-8,
    }
    if seconds is not None:
        settings["time_limit"] = seconds
    # HiGHS keeps the thread count of the first solve of a process and refuses another.
    highspy.Highs.resetGlobalScheduler(True)
    with _failing_aloud():
        problem.solve(_Solver(settings, whole=whole))


@contextmanager
def _failing_aloud() -> Iterator[None]:
    """Have whatever a solver raises be a `SolverError`, but for want of memory, which is no fault of its."""
    try:
        yield
    except MemoryError:
        raise
    except Exception as error:
        if "can't start new thread" in str(error):
            raise MemoryError from error
        raise SolverError(f"the solver failed: {type(error).__name__}: {error}"[:300]) from error
