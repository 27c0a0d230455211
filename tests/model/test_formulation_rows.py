"""The rows of a program let through the builds that keep every rule, each looked at by itself, and no others."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from itertools import product
from random import Random

import numpy as np
import pytest
from two_whites import columns_of

from optimise.columns.heads import NO_DIFFUSER
from optimise.model import formulation
from optimise.model.cells import Cell, Formulation, Tangent, first_cells
from optimise.model.formulation import (
    FEW_CELLS,
    add_block,
    formulate,
    lead_loss,
    mass_terms,
    power_terms,
    rank_terms,
    tangent_of,
)
from optimise.model.kept import Kept, least_load
from optimise.model.light import (
    boards,
    ceiling_of,
    crowded,
    dimmest_of,
    flux_of,
    hardest,
    least_share,
    need_of,
)
from optimise.model.problem import Problem
from optimise.model.solver import Program, Status

FREE = dict.fromkeys(("cost", "mass", "power"), math.inf)


class Recorded(Program):
    """A program that remembers its rows."""

    def __init__(self) -> None:
        super().__init__()
        self.lows: list[float] = []
        self.whole: list[bool] = []
        self.written: list[tuple[dict[int, float], float, bool]] = []
        """Terms, limit, and whether they are to be equal rather than at most."""

    def variable(self, low: float, high: float, *, whole: bool) -> int:
        self.lows.append(low)
        self.whole.append(whole)
        return super().variable(low, high, whole=whole)

    def at_most(self, terms: Mapping[int, float], limit: float, scale: float = 0.0) -> None:
        self.written.append((dict(terms), limit, False))
        super().at_most(terms, limit, scale)

    def exactly(self, terms: Mapping[int, float], value: float) -> None:
        self.written.append((dict(terms), value, True))
        super().exactly(terms, value)

    def holds(self, point: dict[int, float]) -> bool:
        """Whether a point keeps all rows, where what is not in it follows from rows that are equalities."""
        whole = dict(point)
        for terms, value, equal in self.written:
            left = [v for v in terms if v not in whole]
            if equal and len(left) == 1:
                whole[left[0]] = (value - sum(w * whole[v] for v, w in terms.items() if v in whole)) / terms[left[0]]
        if any(not self.lows[v] <= value <= self.highs[v] for v, value in whole.items()):
            return False
        for terms, limit, equal in self.written:
            size = max([abs(limit), *(abs(w) for w in terms.values())])
            over = sum(w * whole[v] for v, w in terms.items()) - limit
            if over > 1e-9 * size or (equal and over < -1e-9 * size):
                return False
        return True


@dataclass(frozen=True)
class Point:
    """A build by places: cell, supply, mount, and how many of which channels kept."""

    cell: int
    supply: int
    mount: int | None
    numbers: dict[int, int] = field(hash=False)


def point_of(f: Formulation, point: Point) -> dict[int, float]:
    """Return the values of the variables of a build."""
    values = dict.fromkeys([*f.cell_vars, *f.channel_vars, *f.supply_vars, *f.mount_vars], 0.0)
    values[f.cell_vars[point.cell]] = values[f.supply_vars[point.supply]] = 1.0
    if point.mount is not None:
        values[f.mount_vars[point.mount]] = 1.0
    for place, number in point.numbers.items():
        values[f.channel_vars[place]] = float(number)
    return values


kept_of = cache(columns_of)


def narrow_cells(problem: Problem, kept: Kept, rng: Random) -> list[Cell]:
    """Return heads cut by numbers, heat and shares, each on boards of some temperature and with figures of its own."""
    cells: list[Cell] = []
    for cell in first_cells(problem, kept):
        middle = (cell.count_low + cell.count_high) // 2
        share = (cell.share_low + cell.share_high) / 2.0
        shares = [(cell.share_low, cell.share_high)]
        if problem.mix is not None:
            shares = rng.choice([[(0.0, 1.0)], [(cell.share_low, share), (share, cell.share_high)]])
        for low, high in ((cell.count_low, cell.count_high), (cell.count_low, middle), (middle + 1, cell.count_high)):
            cold, hot = rng.choice([(0.0, 1.0), (0.0, 0.5), (0.3, 1.0)])
            for share_low, share_high in shares if low <= high else ():
                board = rng.uniform(cell.board, float(problem.heads.limit[cell.head]))
                cells.append(
                    replace(
                        cell,
                        board=board,
                        top=board,
                        lux_per_lumen=cell.lux_per_lumen * rng.choice([1.0, 1.25]),
                        heat_low=cold * cell.heat_high,
                        heat_high=hot * cell.heat_high,
                        count_low=low,
                        count_high=high,
                        own=rng.random() < 0.5,
                        tighten=rng.choice([0.0, 0.0, 0.3]),
                        most=cell.most * rng.uniform(0.4, 1.0),
                        share_low=share_low,
                        share_high=share_high,
                    )
                )
    return cells


FLUXES: dict[tuple[int, bytes, float], list[float]] = {}
"""Of the channels kept, on boards looked at before."""


def flux_on(problem: Problem, kept: Kept, place: int, board: float) -> float:
    key = id(problem), kept.channels.tobytes(), board
    if key not in FLUXES:
        FLUXES[key] = flux_of(problem, kept.channels, np.full(len(problem.parts.emitters), board)).tolist()
    return FLUXES[key][place]


def rules(problem: Problem, kept: Kept, cells: Sequence[Cell], point: Point, few: int = 30) -> Iterator[float]:
    """Yield what is left on each rule that a build of a cell must keep, as a share; below 0 where it is missed.

    A cell has its own board where it has a row of its own; else its light counts as on the coldest board of all kept.
    """
    c, cell = problem.channels, cells[point.cell]
    emitter = problem.heads.emitter[cell.head]
    beside = [each for each in cells if problem.heads.emitter[each.head] == emitter]
    alone = cell.own or len(beside) <= few
    numbers = {int(kept.channels[place]): n for place, n in point.numbers.items() if n}
    pieces = sum(n * int(c.count[i]) for i, n in numbers.items())
    heat = sum(n * float(c.heat[i]) for i, n in numbers.items())
    head = np.array([cell.head])
    yield pieces - cell.count_low
    yield cell.count_high - pieces
    yield (heat - cell.heat_low) / max(cell.heat_low, 1e-9)
    yield (cell.heat_high - heat) / max(cell.heat_high, 1e-9)
    if any(c.emitter[i] != emitter for i in numbers):
        yield -1.0

    def given(place: int, *, alone: bool) -> float:
        """Return the lumens of a channel, on the board of the cell or at their most."""
        return flux_on(problem, kept, place, cell.board) if alone else float(kept.flux[place])

    lumens = sum(n * given(place, alone=alone) for place, n in point.numbers.items())
    need = float(need_of(problem, head, np.array([cell.board]))[0]) * (1.0 + cell.tighten)
    need *= float(hardest(problem, head)[0]) / cell.lux_per_lumen
    yield lumens / need - 1.0
    if problem.market.light_is_limited:
        top = cell.top if alone else max(each.top for each in beside)
        at = np.full(len(problem.parts.emitters), top)
        dim = sum(n * float(dimmest_of(problem, np.array([i]), at)[0]) for i, n in numbers.items())
        most = float(ceiling_of(problem, head, np.array([cell.most]), np.array([cell.top]))[0]) * (1.0 - cell.tighten)
        yield 1.0 - dim / most if math.isfinite(most) else 1.0
    supply = int(kept.supplies[point.supply])
    load = sum(n * float(c.apparent[i]) for i, n in numbers.items())
    yield 1.0 - load / float(problem.supplies.deliverable[supply])
    if not problem.market.feeds(c.driver[list(numbers)], np.array([supply])).all():
        yield -1.0
    if problem.head_metal[cell.head] and not problem.market.earthed[supply]:
        yield -1.0
    if any(problem.density[i] > problem.bears[cell.head] for i in numbers):
        yield -1.0
    if point.mount is not None:
        hung = float(problem.head_mass[cell.head]) + sum(n * float(problem.channel_mass[i]) for i, n in numbers.items())
        hung += float(problem.market.mount_mass[point.mount])
        yield 1.0 - hung / float(problem.market.mount_load[point.mount])
    if kept.forced is not None:
        yield sum(n for i, n in numbers.items() if i in kept.forced.tolist()) - kept.forced_least
    if problem.mix is not None:
        yield from _shares(problem, kept, cells, point)


def _shares(problem: Problem, kept: Kept, cells: Sequence[Cell], point: Point) -> Iterator[float]:
    """Yield what is left on the shares of both kinds: what helps counts on a cold board, what harms on a hot one.

    A cell at the end of all shares has a row of its own only where it asks for one.
    """
    cell = cells[point.cell]
    kinds = [[p for p, n in point.numbers.items() if n and problem.kinds[kept.channels[p]] == k] for k in (0, 1)]
    yield min(map(len, kinds)) - 1

    def lumens(kind: int, *, hot: bool, own: bool) -> float:
        known = {(True, True): cell.top, (True, False): max(kept.top.tolist()), (False, True): cell.board}
        board = known.get((hot, own))
        each = [float(kept.flux[p]) if board is None else flux_on(problem, kept, p, board) for p in kinds[kind]]
        return sum(point.numbers[p] * one for p, one in zip(kinds[kind], each, strict=True))

    whole = max(lumens(0, hot=False, own=True) + lumens(1, hot=False, own=True), 1e-9)
    for share, helps, end in (
        (cell.share_low, 1, min(each.share_low for each in cells)),
        (cell.share_high, 0, max(each.share_high for each in cells)),
    ):
        own = cell.own or share != end
        part = share if helps else 1.0 - share
        good, bad = lumens(helps, hot=False, own=own), lumens(1 - helps, hot=True, own=own)
        yield ((1.0 - part) * good - part * bad) / whole


def points(f: Formulation, problem: Problem, kept: Kept, rng: Random, most: int) -> Iterator[Point]:
    """Yield builds about as bright as is asked, of one or two kinds of channel, on any supply and mount."""
    places = list(range(len(kept.channels)))
    for _ in range(most):
        at = rng.randrange(len(f.cells))
        cell = f.cells[at]
        mine = [p for p in places if problem.channels.emitter[kept.channels[p]] == problem.heads.emitter[cell.head]]
        mine = mine if mine and rng.random() < 0.95 else places
        need = float(need_of(problem, np.array([cell.head]), np.array([cell.board]))[0])
        numbers: dict[int, int] = {}
        kinds = 2 if problem.mix is not None or rng.random() < 0.3 else 1
        for place in rng.sample(mine, min(kinds, len(mine))):
            flux = max(flux_on(problem, kept, place, cell.board), 1e-9)
            high = int(f.program.highs[f.channel_vars[place]])
            numbers[place] = min(math.ceil(need / flux / kinds) + rng.choice([-1, 0, 0, 0, 1, 2]), high)
        numbers = {place: n for place, n in numbers.items() if n > 0}
        if numbers:
            mount = rng.randrange(len(f.mount_vars)) if f.mount_vars else None
            yield Point(at, rng.randrange(len(kept.supplies)), mount, numbers)


def built(problem: Problem, kept: Kept, cells: Sequence[Cell]) -> tuple[Formulation, Recorded]:
    program = Recorded()
    f = Formulation(problem, kept, cells, program)
    add_block(f)
    return f, program


CASES = [
    ("battery", 1, 30),
    ("battery", 4, 30),
    ("mains", 2, 0),
    ("mains", 12, 30),
    ("any", 0, 30),
    ("any", 5, 0),
    ("mains+points", 11, 30),
    ("any+points", 16, 0),
    ("mains+points", 32, 30),
    ("mixed battery", 1, 30),
    ("mixed any", 12, 30),
    ("mixed mains", 12, 0),
]


@pytest.mark.parametrize(("source", "number", "few"), CASES)
def test_rows_let_through_what_keeps_every_rule(
    source: str, number: int, few: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    problem, kept = kept_of(source, number)
    rng = Random(number + few)
    monkeypatch.setattr(formulation, "FEW_CELLS", few)
    if (source, number) == ("mains", 2):
        kept = replace(kept, forced=kept.channels[::2], forced_least=2)
    if (source, number) == ("any", 5):
        # Boards of which some bear the heat under no emitter, and some only that under cooler ones.
        problem = replace(problem)
        rank = np.argsort(np.argsort(np.arange(len(problem.channels)) * 7919 % 104729))
        vars(problem)["density"] = 1.0 + rank
        vars(problem)["bears"] = np.where(np.arange(len(problem.heads)) % 2, float(np.median(1.0 + rank)), np.inf)
    cells = narrow_cells(problem, kept, rng)
    f, program = built(problem, kept, cells)
    seen = {True: 0, False: 0}
    for point in points(f, problem, kept, rng, 150):
        left = list(rules(problem, kept, cells, point, few))
        if min(abs(each) for each in left if each != 0.0) < 1e-7:
            continue  # within what rows are told apart by
        right = min(left) >= 0.0
        seen[right] += 1
        assert program.holds(point_of(f, point)) == right, (point, left)
    assert seen[False] > 10
    assert seen[True] > 0


def alone(problem: Problem, kept: Kept, cell: Cell, place: int, number: int) -> float:
    """Return what so many of a channel give of what a cell needs, on the hottest board there may be."""
    emitter = problem.heads.emitter[cell.head]
    hottest = max(float(problem.heads.limit[h]) for h in kept.heads.tolist() if problem.heads.emitter[h] == emitter)
    head = np.array([cell.head])
    need = float(need_of(problem, head, np.array([hottest]))[0] / least_share(problem, head)[0])
    return number * flux_on(problem, kept, place, hottest) / need


@pytest.mark.parametrize(("source", "number"), [("battery", 1), ("battery", 4), ("mains", 2), ("any", 5)])
def test_no_channel_is_counted_more_often_than_a_best_build_can_have_it(source: str, number: int) -> None:
    problem, kept = kept_of(source, number)
    cells = first_cells(problem, kept)
    f, program = built(problem, kept, cells)
    reasons = set()
    for place, channel in enumerate(kept.channels.tolist()):
        mine = [c for c in cells if problem.heads.emitter[c.head] == problem.channels.emitter[channel]]
        assert not crowded(problem, np.array([c.head for c in mine])).any()
        pieces = int(problem.channels.count[channel])
        load = float(problem.channels.apparent[channel])
        buying = problem.driver_buying[int(problem.channels.driver[channel])]

        most = {
            "room": max(c.count_high for c in mine) / pieces,
            "load": float(problem.supplies.deliverable[kept.supplies].max()) * (1.0 + 1e-9) / load,
            "stock": buying.most,
        }
        high = int(program.highs[f.channel_vars[place]])
        assert high == program.highs[f.channel_vars[place]]
        assert high <= min(most.values())
        # Of what is left at most one fewer does not light every cell yet; one more is too many for some reason.
        assert high == 0 or any(alone(problem, kept, c, place, high - 1) < 1.0 + 2e-6 for c in mine)
        over = {name for name, number in most.items() if high + 1 > number}
        if all(alone(problem, kept, c, place, high) >= 1.0 for c in mine):
            over.add("light")
        assert over
        reasons |= over
    assert len(reasons) > 1


def test_without_a_cell_of_its_emitter_a_channel_is_never_counted() -> None:
    problem, kept = kept_of("any", 5)
    cells = first_cells(problem, kept)
    emitters = {int(problem.heads.emitter[cell.head]) for cell in cells}
    assert len(emitters) == 2
    left = [cell for cell in cells if problem.heads.emitter[cell.head] == 0]
    f, program = built(problem, kept, left)
    highs = {int(c): program.highs[v] for c, v in zip(kept.channels, f.channel_vars, strict=True)}
    assert all(highs[c] == 0.0 for c in highs if problem.channels.emitter[c] == 1)
    assert any(highs[c] > 0.0 for c in highs if problem.channels.emitter[c] == 0)


@pytest.mark.parametrize(("source", "number"), [("any", 0), ("mains", 12)])
def test_a_block_that_is_not_used_takes_nothing(source: str, number: int) -> None:
    problem, kept = kept_of(source, number)
    program = Recorded()
    used = program.variable(0, 1, whole=True)
    f = Formulation(problem, kept, first_cells(problem, kept), program)
    add_block(f, used)
    nothing = dict.fromkeys([*f.cell_vars, *f.channel_vars, *f.supply_vars, *f.mount_vars], 0.0)
    assert program.holds({**nothing, used: 0.0})
    assert not program.holds({**nothing, used: 1.0})
    for group in filter(None, (f.cell_vars, f.supply_vars, f.mount_vars)):
        assert not program.holds({**nothing, used: 0.0, group[0]: 1.0})
    rng = Random(1)
    through = 0
    for point in points(f, problem, kept, rng, 200):
        values = point_of(f, point)
        through += program.holds({**values, used: 1.0})
        assert not program.holds({**values, used: 0.0})
        # One of each: never two, never none.
        for group in (f.cell_vars, f.supply_vars):
            assert not program.holds({**values, **dict.fromkeys(group, 0.0), used: 1.0})
            assert not program.holds({**values, **dict.fromkeys(group, 1.0), used: 1.0})
    assert through > 0


@pytest.mark.parametrize(("source", "number"), [("battery", 4), ("mains", 2), ("any", 10)])
def test_terms_add_up_to_what_a_build_weighs_and_draws(source: str, number: int) -> None:
    problem, kept = kept_of(source, number)
    cells = first_cells(problem, kept)
    program = Recorded()
    f = Formulation(problem, kept, cells, program)
    add_block(f)
    mass, power = mass_terms(f), power_terms(f, [])
    (lost,) = set(power) - set(f.channel_vars)
    for point in points(f, problem, kept, Random(2), 20):
        values = point_of(f, point)
        channels = {int(kept.channels[place]): n for place, n in point.numbers.items()}
        supply = int(kept.supplies[point.supply])
        weighs = problem.head_mass[cells[point.cell].head] + problem.supplies.mass[supply]
        weighs += sum(n * problem.channel_mass[c] for c, n in channels.items())
        weighs += 0.0 if point.mount is None else problem.market.mount_mass[point.mount]
        assert sum(w * values[v] for v, w in mass.items()) == pytest.approx(weighs)
        drawn = sum(n * problem.channels.power[c] for c, n in channels.items())
        assert sum(w * {**values, lost: 0.25}[v] for v, w in power.items()) == pytest.approx(drawn + 0.25)


@pytest.mark.parametrize(("source", "number"), [("battery", 1), ("battery", 4), ("any", 10)])
def test_the_loss_in_a_lead_is_never_counted_too_high_and_is_exact_where_a_tangent_touches(
    source: str, number: int
) -> None:
    problem, kept = kept_of(source, number)
    supplies = problem.supplies
    program = Recorded()
    f = Formulation(problem, kept, first_cells(problem, kept), program)
    add_block(f)
    before = len(program.written)
    touched = {int(s): 0.7 * float(supplies.deliverable[s]) for s in kept.supplies}
    beside = [s for s in range(len(supplies)) if s not in touched]
    tangents = [Tangent(s, load) for s, load in [*touched.items(), *((s, 1.0) for s in beside[:1])]]
    lost = lead_loss(f, tangents)
    rows = program.written[before:]
    assert len(rows) == 1 + len(touched)
    channel = kept.channels[0]
    share = float(problem.channels.apparent[channel])
    for place, supply in enumerate(kept.supplies.tolist()):
        for part in (0.0, 0.3, 0.7, 0.9, 1.0):
            # As many of one channel as draw the load: parts of one are no matter here.
            load = max(part * float(supplies.deliverable[supply]), least_load(problem, kept))
            values = point_of(f, Point(0, place, None, {}))
            values[f.channel_vars[0]] = load / share
            # Rows are at most a limit, with the loss on the side that is taken away.
            counted = max(
                (sum(w * values[v] for v, w in terms.items() if v != lost) - limit) / -terms[lost]
                for terms, limit, _ in rows
            )
            true = float(supplies.loss(load)[supply])
            assert counted <= true * (1.0 + 1e-9) + 1e-12
            if load == touched[supply]:
                assert counted == pytest.approx(true, rel=1e-9)
            if load == least_load(problem, kept):
                assert counted == pytest.approx(true, rel=1e-9)
            assert true <= program.highs[lost]
    assert program.lows[lost] == 0.0


def test_the_least_of_a_program_is_that_of_all_builds_looked_at_one_by_one() -> None:
    problem, kept = kept_of("battery", 4)
    kept = kept.take(channels=np.arange(0, len(kept.channels), 3), supplies=np.arange(3))
    cells = [
        replace(cell, board=cell.board, top=cell.board, own=True, heat_low=0.0) for cell in first_cells(problem, kept)
    ]
    f, _ = built(problem, kept, cells)
    singles = [
        (place, number) for place, v in enumerate(f.channel_vars) for number in range(1, int(f.program.highs[v]) + 1)
    ]
    pairs = [{p: n} for p, n in singles]
    pairs += [{p: n, q: m} for (p, n), (q, m) in product(singles, repeat=2) if p < q]
    mounts: list[int | None] = [*range(len(f.mount_vars))] or [None]
    terms = mass_terms(f)

    def weighed(terms: dict[int, float]) -> float:
        found = math.inf
        for at, supply, mount, numbers in product(range(len(cells)), range(3), mounts, pairs):
            point = Point(at, supply, mount, numbers)
            if min(rules(problem, kept, cells, point)) >= -1e-9:
                values = point_of(f, point)
                found = min(found, sum(w * values[v] for v, w in terms.items()))
        return found

    lightest = weighed(terms)
    assert lightest < math.inf
    free = formulate(problem, kept, cells, [], FREE, "mass")
    outcome = free.program.solve(0.0, None, 1)
    assert outcome.objective == pytest.approx(lightest, abs=0.5)
    assert free.value_of("mass", outcome) == pytest.approx(lightest, abs=0.5)
    assert set(free.scales) == {"cost", "mass"}
    assert formulate(problem, kept, cells, [], FREE, terms).program.solve(0.0, None, 1).objective == pytest.approx(
        lightest, abs=0.5
    )
    for slack, status in ((1.0 + 1e-9, Status.OPTIMAL), (1.0 - 1e-5, Status.IMPOSSIBLE)):
        capped = formulate(problem, kept, cells, [], FREE | {"mass": lightest * slack}, "cost")
        assert capped.program.solve(0.0, None, 1).status is status
    drawn = formulate(problem, kept, cells, [], FREE | {"power": 1e6}, "cost")
    assert set(drawn.scales) == {"cost", "mass", "power"}
    assert drawn.program.rows > formulate(problem, kept, cells, [], FREE, "power").program.rows


def test_ranks_go_by_codes_and_tell_all_channels_apart() -> None:
    problem, kept = kept_of("any", 5)
    cells = [*first_cells(problem, kept), *first_cells(problem, kept)[::-1]]
    f, _ = built(problem, kept, cells)
    by_cell = rank_terms(f, "cells")
    heads = sorted({cell.head for cell in cells})
    assert [by_cell[v] for v in f.cell_vars] == [float(heads.index(cell.head)) for cell in cells]
    for what, variables in (("supplies", f.supply_vars), ("mounts", f.mount_vars)):
        assert rank_terms(f, what) == {v: float(i) for i, v in enumerate(variables)}
    terms = rank_terms(f, "channels")
    ranks = [terms[v] for v in f.channel_vars]
    # Whole ranks from 1 on, each with a share of its own of at most a hundredth, by figures of the channel alone.
    assert [math.floor(rank) for rank in ranks] == list(range(1, len(ranks) + 1))
    shares = [rank - math.floor(rank) for rank in ranks]
    assert all(0.0 <= share <= 0.01 for share in shares)
    assert len({round(share, 8) for share in shares}) == len(shares)
    assert max(shares) > 0.005
    fewer = kept.take(channels=np.arange(1, len(kept.channels)))
    g, _ = built(problem, fewer, cells)
    assert [rank_terms(g, "channels")[v] % 1.0 for v in g.channel_vars] == pytest.approx(shares[1:], abs=1e-9)


def with_supplies(problem: Problem, kept: Kept, most: float) -> Problem:
    """Return a problem whose supplies deliver at most so many VA, the first kept just that."""
    deliverable = np.minimum(problem.supplies.deliverable, most)
    deliverable[kept.supplies[0]] = most
    return replace(problem, market=replace(problem.market, supplies=replace(problem.supplies, deliverable=deliverable)))


def test_as_many_channels_are_counted_as_the_strongest_supply_feeds() -> None:
    problem, kept = kept_of("mains", 2)
    f, _ = built(problem, kept, first_cells(problem, kept))
    highs = [f.program.highs[v] for v in f.channel_vars]
    place = max(range(len(highs)), key=highs.__getitem__)
    assert highs[place] >= 4.0
    load = float(problem.channels.apparent[kept.channels[place]])
    for number in (1, 2, 3):
        tight = with_supplies(problem, kept, number * load)
        g, _ = built(tight, kept, first_cells(tight, kept))
        assert g.program.highs[g.channel_vars[place]] == number


def test_half_a_volt_ampere_a_milligram_or_a_lumen_too_much_is_too_much() -> None:
    problem, kept = kept_of("battery", 4)
    kept = kept.take(
        channels=np.flatnonzero(problem.channels.emitter[kept.channels] == problem.channels.emitter[kept.channels[0]])
    )
    cells = [replace(c, top=c.board, own=True) for c in first_cells(problem, kept)]
    f, _ = built(problem, kept, cells)
    point = next(p for p in points(f, problem, kept, Random(1), 400) if min(rules(problem, kept, cells, p)) >= 0.0)
    c, numbers = problem.channels, {int(kept.channels[p]): n for p, n in point.numbers.items()}
    load = sum(n * float(c.apparent[i]) for i, n in numbers.items())
    hung = float(problem.head_mass[cells[point.cell].head]) + sum(
        n * float(problem.channel_mass[i]) for i, n in numbers.items()
    )
    assert point.mount is not None
    hung += float(problem.market.mount_mass[point.mount])
    cell = cells[point.cell]
    lumens = sum(n * flux_on(problem, kept, p, cell.board) for p, n in point.numbers.items())
    need = float(need_of(problem, np.array([cell.head]), np.array([cell.board]))[0])
    for slack, through in ((0.0, True), (0.5, False)):
        supply = int(kept.supplies[point.supply])
        deliverable = problem.supplies.deliverable.copy()
        deliverable[supply] = load - slack
        market = replace(problem.market, supplies=replace(problem.supplies, deliverable=deliverable))
        less = replace(problem, market=market)
        g, program = built(less, kept, cells)
        for v in program.highs:
            assert v >= 0.0
        program.highs[:] = [max(high, 9.0) for high in program.highs]
        assert program.holds(point_of(g, point)) == through
        bearing = problem.market.mount_load.copy()
        bearing[point.mount] = hung - slack
        weak = replace(problem, market=replace(problem.market, mount_load=bearing))
        g, program = built(weak, kept, cells)
        assert program.holds(point_of(g, point)) == through
        dim = [replace(each, tighten=(lumens + slack) / need - 1.0) for each in cells]
        g, program = built(problem, kept, dim)
        assert program.holds(point_of(g, point)) == through


def test_a_light_that_may_be_too_bright_is_bounded_to_the_lumen() -> None:
    problem, kept = kept_of("mains+points", 11)
    cells = [replace(c, top=c.board, own=True) for c in first_cells(problem, kept)]
    f, _ = built(problem, kept, cells)
    point = next(p for p in points(f, problem, kept, Random(1), 900) if min(rules(problem, kept, cells, p)) >= 0.0)
    cell = cells[point.cell]
    at = np.full(len(problem.parts.emitters), cell.top)
    dim = sum(n * float(dimmest_of(problem, kept.channels[[place]], at)[0]) for place, n in point.numbers.items())
    each = float(ceiling_of(problem, np.array([cell.head]), np.array([1.0]), np.array([cell.top]))[0])
    for slack, through in ((0.0, True), (0.5, False)):
        tight = [replace(c, most=(dim - slack) / each) for c in cells]
        g, program = built(problem, kept, tight)
        assert program.holds(point_of(g, point)) == through


@pytest.mark.parametrize(("source", "number"), [("mains+points", 11), ("any+points", 16), ("mains+points", 32)])
def test_no_more_channels_are_counted_than_the_brightest_cell_bears(source: str, number: int) -> None:
    problem, kept = kept_of(source, number)
    cells = first_cells(problem, kept)
    rng = Random(2)
    cells = [replace(cell, most=cell.most * rng.uniform(0.2, 1.0)) for cell in cells]
    f, program = built(problem, kept, cells)
    bounded = 0
    for place, channel in enumerate(kept.channels.tolist()):
        emitter = int(problem.channels.emitter[channel])
        mine = [cell for cell in cells if problem.heads.emitter[cell.head] == emitter]
        if not mine:
            continue
        hottest = max(float(problem.heads.limit[cell.head]) for cell in mine)
        dim = float(dimmest_of(problem, np.array([channel]), np.full(len(problem.parts.emitters), hottest))[0])
        most = [
            float(ceiling_of(problem, np.array([c.head]), np.array([c.most]), np.array([c.top]))[0]) / dim for c in mine
        ]
        others = [
            max(c.count_high for c in mine) // int(problem.channels.count[channel]),
            float(problem.supplies.deliverable[kept.supplies].max()) / float(problem.channels.apparent[channel]),
            problem.driver_buying[int(problem.channels.driver[channel])].most,
        ]
        high = program.highs[f.channel_vars[place]]
        assert high == math.floor(min(*others, max(most) * (1.0 + 1e-6)) + 1e-9)
        bounded += max(most) < min(others) - 1.0
    assert bounded > 0 or (source, number) != ("mains+points", 11)


def test_the_light_bounds_no_channel_of_a_mixture_nor_of_a_head_whose_light_is_not_worked_out() -> None:
    problem, kept = kept_of("mixed mains", 12)
    f, program = built(problem, kept, first_cells(problem, kept))
    for place, channel in enumerate(kept.channels.tolist()):
        most = [
            max(int(problem.capacity[h]) for h in kept.heads) // int(problem.channels.count[channel]),
            float(problem.supplies.deliverable[kept.supplies].max()) / float(problem.channels.apparent[channel]),
            problem.driver_buying[int(problem.channels.driver[channel])].most,
        ]
        assert program.highs[f.channel_vars[place]] == math.floor(min(most))
    problem, kept = kept_of("any", 5)
    rough = replace(problem, heads=replace(problem.heads, rough=np.ones(len(problem.heads), dtype=bool)))
    cells = first_cells(problem, kept)
    known, plain = built(problem, kept, cells)
    unknown, program = built(rough, kept, cells)
    bare = {int(problem.heads.emitter[c.head]) for c in cells if problem.heads.diffuser[c.head] != NO_DIFFUSER}
    for v, w, channel in zip(known.channel_vars, unknown.channel_vars, kept.channels.tolist(), strict=True):
        assert program.highs[w] >= plain.highs[v]
        if problem.channels.emitter[channel] in bare:
            assert program.highs[w] > 0.0


def test_all_but_the_loss_is_whole_and_of_what_there_is_one_there_is_one_at_most() -> None:
    for source, number in (("any", 5), ("mains", 2)):
        problem, kept = kept_of(source, number)
        program = Recorded()
        f = Formulation(problem, kept, first_cells(problem, kept), program)
        add_block(f)
        assert all(program.whole)
        once = set(range(len(program.highs))) - set(f.channel_vars)
        assert {program.highs[v] for v in once} == {1}
        assert set(program.lows) == {0}
        lost = lead_loss(f, [])
        assert not program.whole[lost]


def test_rows_are_added_where_they_say_something(monkeypatch: pytest.MonkeyPatch) -> None:
    problem, kept = kept_of("battery", 1)
    (cell,) = first_cells(problem, kept)
    plain = built(problem, kept, [cell])[1].rows
    assert cell.count_low == 1
    assert cell.heat_low == 0.0
    assert built(problem, kept, [replace(cell, count_low=2)])[1].rows == plain + 1
    assert built(problem, kept, [replace(cell, heat_low=0.5)])[1].rows == plain + 1
    # Rows of single cells are for a few cells, and for those that ask for one.
    few = built(problem, kept, [cell] * FEW_CELLS)
    many = built(problem, kept, [cell] * (FEW_CELLS + 1))

    def of_one(f: Formulation, program: Recorded) -> int:
        cells = set(f.cell_vars)
        return sum(len(cells & set(terms)) == 1 for terms, _, equal in program.written if not equal)

    assert of_one(*few) == FEW_CELLS == 30
    assert of_one(*many) == 0
    own = built(problem, kept, [replace(cell, own=True)] * (FEW_CELLS + 1))
    assert of_one(*own) == FEW_CELLS + 1
    monkeypatch.setattr(formulation, "_not_too_bright", lambda *args: pytest.fail("there is no light too bright"))
    built(problem, kept, [cell])


def test_rows_against_too_much_light_are_for_a_few_cells_too() -> None:
    problem, kept = kept_of("mains+points", 11)
    cell = first_cells(problem, kept)[0]
    rows = [built(problem, kept, [cell] * (FEW_CELLS + more))[1].rows for more in (0, 1)]
    # Two rows fewer for each cell, for too little and too much; a cell more adds none of its own.
    assert rows[0] - rows[1] == 2 * FEW_CELLS


@pytest.mark.parametrize(("source", "number"), [("battery", 1), ("any", 5), ("battery", 20)])
def test_a_line_under_the_need_lets_through_every_build_that_is_bright_on_its_own_board(
    source: str, number: int
) -> None:
    """And none that is a twentieth too dark there, though it would do on the coldest board of its cell."""
    problem, kept = kept_of(source, number)
    cells = first_cells(problem, kept)
    f, program = built(problem, kept, cells)
    seen = {True: 0, False: 0}
    for point in points(f, problem, kept, Random(4), 120):
        cell = cells[point.cell]
        heat = sum(n * float(problem.channels.heat[kept.channels[p]]) for p, n in point.numbers.items())
        if heat > cell.heat_high:
            continue
        board = max(float(boards(problem, np.array([cell.head]), np.array([heat]))[0]), cell.board)
        true = replace(cell, board=board)
        left = list(rules(problem, kept, [*cells[: point.cell], true, *cells[point.cell + 1 :]], point))
        if min(left) >= 1e-7:
            seen[True] += 1
            assert program.holds(point_of(f, point))
        light = left[4]
        if light < -0.05:
            seen[False] += 1
            assert not program.holds(point_of(f, point))
    assert seen[True] > 0
    assert seen[False] > 0


def test_a_tangent_has_the_slope_of_the_loss() -> None:
    problem, _ = kept_of("battery", 1)
    supplies = problem.supplies
    for supply in range(len(supplies)):
        load = 0.9 * float(supplies.deliverable[supply])
        step = 1e-4 * load
        slope = float(supplies.loss(load + step)[supply] - supplies.loss(load - step)[supply]) / (2.0 * step)
        level, found = tangent_of(problem, Tangent(supply, load))
        assert found == pytest.approx(slope, rel=1e-6)
        assert level + found * load == pytest.approx(float(supplies.loss(load)[supply]), rel=1e-9)


def test_no_channel_is_on_a_board_that_does_not_bear_the_heat_under_one_emitter() -> None:
    plain, kept = kept_of("battery", 20)
    problem = replace(plain)
    vars(problem)["density"] = np.linspace(1.0, 2.0, len(plain.channels))
    vars(problem)["bears"] = np.linspace(0.9, 2.1, len(plain.heads))
    cells = first_cells(problem, kept)
    f, program = built(problem, kept, cells)
    seen = set()
    for place, at in product(range(len(kept.channels)), range(len(cells))):
        channel, cell = f.channel_vars[place], f.cell_vars[at]
        alone = [
            (terms, limit)
            for terms, limit, _ in program.written
            if channel in terms and not set(terms) - {channel, *f.cell_vars}
        ]
        values = {channel: 1.0, cell: 1.0}
        barred = any(sum(w * values.get(v, 0.0) for v, w in terms.items()) > limit + 1e-9 for terms, limit in alone)
        borne = problem.density[kept.channels[place]] <= problem.bears[cells[at].head]
        assert barred == (not borne)
        if alone and borne:
            most = {channel: program.highs[channel], cell: 1.0}
            assert all(sum(w * most.get(v, 0.0) for v, w in terms.items()) <= limit + 1e-9 for terms, limit in alone)
        seen.add(bool(borne))
    assert seen == {True, False}
