"""Among builds that tie in all figures, the one whose part codes come first."""

from collections.abc import Mapping
from dataclasses import replace

from optimise.model.choice import Evaluation
from optimise.model.exact import bought, build_of, evaluate, margin_of, wants_of
from optimise.model.formulation import formulate, rank_terms
from optimise.model.limits import CARRIES
from optimise.model.market import Market
from optimise.model.screening import screened
from optimise.model.solver import Status
from optimise.model.state import Line, State, cells_of, judge, refine_line
from optimise.parts import Fuse


def break_ties(search: State, settled: Mapping[str, float]) -> None:
    """Among builds that tie in all figures, take the one whose part codes come first."""
    for line in sorted(search.lines, key=lambda line: line.emitter):
        line.problem, line.kept = screened(line.problem, line.kept, settled, search.order)
        if line.kept.possible:
            line.cells = cells_of(line.cells, line.problem, line.kept)
            if _first_by(search, line, "cells", settled):
                for what in ("supplies", "mounts", "channels"):
                    _first_by(search, line, what, settled)
                return


def _first_by(search: State, line: Line, what: str, settled: Mapping[str, float]) -> bool:
    """Keep the first cell, supply, mount or channels that a build of this line can have; False where it has none."""
    while True:
        formulation = formulate(line.problem, line.kept, line.cells, search.tangents, settled, {})
        ranks = rank_terms(formulation, what)
        if what != "cells" and len(set(ranks.values())) <= 1:
            return True
        formulation.program.minimise(ranks)
        outcome = search.solve(formulation, 1e-4)
        if outcome.status is not Status.OPTIMAL:
            return False
        candidate, accepted = judge(formulation, outcome, settled)
        if accepted:
            search.best = candidate
            index, supply, _, _ = formulation.read(outcome)
            _fix(line, what, index, supply)
            return True
        refine_line(search, line, formulation, outcome, candidate)


def _fix(line: Line, what: str, index: int, supply: int) -> None:
    """Keep only the head, or the supply, that came first."""
    if what == "cells":
        head = line.cells[index].head
        line.cells = [cell for cell in line.cells if cell.head == head]
    if what == "supplies":
        line.kept = line.kept.take(supplies=line.kept.supplies == supply)


def with_smallest_fuse(best: Evaluation, market: Market) -> Evaluation:
    """Return a build with the smallest fuse that costs and weighs the same and still carries the load."""
    catalogue, scenario = market.catalogue, market.scenario
    for fuse in smaller_fuses(best, market):
        choice = replace(best.choice, fuse=fuse.part)
        basket = bought(wants_of(build_of(choice, catalogue), scenario), catalogue, scenario)
        if basket.cents == best.cents:
            smaller = evaluate(choice, catalogue, scenario, basket)
            if smaller.passes and smaller.milligrams == best.milligrams:
                return smaller
    return best


def smaller_fuses(build: Evaluation, market: Market) -> list[Fuse]:
    """Return the smaller fuses that carry the load of a build, the smallest first: the load hangs on none of them."""
    chosen = market.catalogue.find(Fuse, build.choice.fuse)
    carried = margin_of(build, CARRIES)
    assert carried is not None
    return [
        fuse
        for fuse in sorted(market.parts.fuses, key=lambda fuse: (fuse.rating, fuse.part))
        if fuse.supply == chosen.supply and fuse.rating < chosen.rating and replace(carried, achieved=fuse.rating).holds
    ]
