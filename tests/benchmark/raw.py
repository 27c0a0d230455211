"""The same problem with every column, as one mixed-integer program in a file that any solver reads."""

from pathlib import Path

from optimise.model.cells import first_cells
from optimise.model.formulation import formulate
from optimise.model.kept import everything
from optimise.model.problem import build_problem
from optimise.model.weights import limits_of
from optimise.parts import Catalogue
from optimise.scenario import Scenario


def write_raw(catalogue: Catalogue, scenario: Scenario, file: Path) -> tuple[int, int]:
    """Write the program, unscreened; return its numbers of variables and rows.

    It is the whole problem where no emitter loses light with heat and every head is diffused: then no
    coefficient is optimistic, and its optimum is that of the search.
    """
    problem = build_problem(catalogue, scenario)
    kept = everything(problem)
    cells = first_cells(problem, kept)
    program = formulate(problem, kept, cells, [], limits_of(scenario), scenario.search.objective).program
    program.write(file)
    return len(program.highs), program.rows
