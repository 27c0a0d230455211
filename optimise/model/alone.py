"""Whether a build is the only one of its figures: then no ties have to be broken."""

import math
from collections.abc import Mapping
from dataclasses import fields, replace

from optimise.model.cells import Formulation
from optimise.model.choice import Choice
from optimise.model.formulation import formulate
from optimise.model.heuristic import choice_of, value_of
from optimise.model.screening import sifted
from optimise.model.solver import Status
from optimise.model.state import Line, State, TimeUpError, cells_of, hair, judge, refine_line

SUPPLY = ("battery", "battery_series", "battery_parallel", "cable", "fuse", "connector")
HEAD = tuple(field.name for field in fields(Choice) if field.name not in {*SUPPLY, "mount", "channels"})


def alone(search: State, settled: Mapping[str, float]) -> bool:
    """Whether no other build is within what is settled, the first of the search's order, and as good by the next.

    No more may be asked of another: what is better by the second figure wins, whatever it comes to by the third. False
    where one is found, or the best one is put together in a way that the program cannot leave out.
    """
    best = search.best
    assert best is not None
    caps = dict(settled)
    for scale in search.order[:2]:
        value = value_of(best, scale)
        caps[scale] = min(caps[scale], value + hair(scale, value))
    return not any(_another(search, line, caps, best.choice) for line in search.lines)


def _another(search: State, line: Line, caps: Mapping[str, float], choice: Choice) -> bool:
    """Whether a line may hold a build within caps that is another choice."""
    problem, kept = sifted(line.problem, line.kept, caps, search.order[0])
    if not kept.possible:
        return False
    line = Line(line.emitter, problem, kept, cells_of(line.cells, problem, kept))
    while True:
        f = formulate(problem, kept, line.cells, search.tangents, caps, {})
        _leave_out(f, choice)
        outcome = search.solve(f, math.inf)
        if outcome.status is Status.IMPOSSIBLE:
            return False
        if outcome.status is Status.NOTHING:
            raise TimeUpError
        candidate, accepted = judge(f, outcome, caps)
        if accepted:
            return True
        refine_line(search, line, f, outcome, candidate)


def _leave_out(f: Formulation, choice: Choice) -> None:
    """Bar a choice, and it with more channels, which is never preferred to it.

    Where one of its columns is not in the program, nothing has to be barred.
    """
    problem, kept, p = f.problem, f.kept, f.program
    head, supply = f.cells[0].head, int(kept.supplies[0])

    def part(head: int = head, supply: int = supply, mount: int | None = None) -> Choice:
        return choice_of(problem, head, supply, mount, [])

    kinds = [
        [v for v, cell in zip(f.cell_vars, f.cells, strict=True) if _same(part(head=cell.head), choice, HEAD)],
        [v for v, s in zip(f.supply_vars, kept.supplies, strict=True) if _same(part(supply=int(s)), choice, SUPPLY)],
        [v for m, v in enumerate(f.mount_vars) if _same(part(mount=m), choice, ("mount",))],
    ]
    if not f.mount_vars:
        kinds.pop()
    left = {replace(channel, number=1): channel.number for channel in choice.channels}
    all_there: list[int] = []
    for v, c in zip(f.channel_vars, kept.channels, strict=True):
        (mine,) = choice_of(problem, head, supply, None, [(int(c), 1)]).channels
        number = left.pop(mine, 0)
        if number:
            there = p.variable(0, 1, whole=True)
            # 1 where there are as many of it as the choice has.
            p.at_most({v: 1.0, there: -max(p.highs[v] - number + 1.0, 0.0)}, number - 1.0)
            all_there.append(there)
    if left or not all(kinds):
        return
    terms = dict.fromkeys([*(v for variables in kinds for v in variables), *all_there], 1.0)
    p.at_most(terms, len(kinds) + len(all_there) - 1.0)


def _same(one: Choice, other: Choice, names: tuple[str, ...]) -> bool:
    return all(getattr(one, name) == getattr(other, name) for name in names)
