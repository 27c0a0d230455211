"""What the search knows as it goes, step by step on made-up figures. Parts are invented."""

import math
import time
from dataclasses import dataclass, replace
from types import SimpleNamespace
from typing import Any

import pytest
from plain_parts import EMITTER, SCENARIO, catalogue, choice

from optimise.model import state
from optimise.model.cells import Cell
from optimise.model.choice import ChannelChoice, Evaluation
from optimise.model.exact import evaluate
from optimise.model.solver import Outcome, SolverError, Status
from optimise.model.state import State, TimeUpError, better, canonical, hair, keeps, preferred, proven_by, seconds_until

PLAIN = evaluate(choice("p", "film"), catalogue(EMITTER), SCENARIO)


def build(cents: int = 1000, milligrams: int = 2000, watts: float = 10.0) -> Evaluation:
    return replace(PLAIN, cents=cents, milligrams=milligrams, watts=watts)


def search(**known: Any) -> State:
    """Return a search that looks at nothing."""
    return State(SimpleNamespace(), "cost", 1, None, lambda text: None, **known)  # type: ignore[arg-type]


def test_whole_cents_and_milligrams_are_told_apart_and_a_blur_is_not() -> None:
    # A variable may be 1e-8 off, and rows with it: far below a quarter of a cent. Of watts 1e-7 is a blur.
    for scale in ("cost", "mass"):
        assert hair(scale, 12345.0) < 0.5 < state.step(scale, 12345.0) < 1.0
    assert hair("power", 50.0) == pytest.approx(5e-6)
    assert state.step("power", 50.0) == pytest.approx(1e-5)


def test_a_cap_is_kept_within_the_blur() -> None:
    found = build(1000, 2000, 10.0)
    assert keeps(found, {})
    assert keeps(found, {"cost": 1000.0, "mass": 2000.0, "power": 10.0})
    assert keeps(found, {"cost": 999.9})
    assert keeps(found, {"cost": 999.75})
    assert not keeps(found, {"cost": 999.0})
    assert not keeps(found, {"cost": 1000.0, "mass": 1999.0})
    assert keeps(found, {"power": 10.0 - 5e-7})
    assert not keeps(found, {"power": 10.0 - 2e-6})
    # A bound that lies below nothing is missed by any build, and by as much of a blur as one above it.
    assert not keeps(build(watts=0.0), {"power": -1.0})
    assert keeps(build(watts=-1.0), {"power": -1.0})


def test_builds_are_compared_figure_by_figure() -> None:
    order = ("cost", "mass")
    cheap, dear, light = build(900, 3000), build(1000, 2000), build(900, 2500)
    assert preferred(cheap, dear, order) == -1
    assert preferred(dear, cheap, order) == 1
    assert preferred(light, cheap, order) == -1
    assert preferred(cheap, light, order) == 1
    assert preferred(cheap, light, ("cost",)) == 0
    assert preferred(cheap, cheap, order) == 0
    # Powers that differ by a blur are the same, so that the next figure decides.
    blurred = build(900, 2000, 10.0 * (1 - 5e-8)), build(900, 1000, 10.0)
    assert preferred(*blurred, ("power", "mass")) == 1
    assert preferred(*blurred, ("power",)) == 0
    assert preferred(build(watts=10.0 * (1 - 2e-7)), build(watts=10.0), ("power",)) == -1


@pytest.mark.parametrize(("scale", "value"), [("cost", 1000.0), ("mass", 2000.0), ("power", 10.0)])
def test_a_better_build_is_better_by_more_than_a_blur(scale: str, value: float) -> None:
    most = better(build(), scale)
    assert most < value - hair(scale, value)
    if scale == "power":
        assert most == pytest.approx(value, rel=1e-6)
    else:
        assert value - 1.0 < most  # the next whole figure is still looked for


def outcome(objective: float, status: Status = Status.OPTIMAL) -> Outcome:
    return Outcome(status, objective, objective, {})


def test_a_proof_leaves_no_room_for_the_next_whole_figure() -> None:
    best = build(1000)
    # The solver's figure is at most the gap above its bound: with 0.99 of a cent, 999 are ruled out from 999.01 on.
    assert proven_by(best, "cost", outcome(999.01), 0.99)
    assert proven_by(best, "cost", outcome(1000.0), 0.99)
    assert proven_by(best, "cost", outcome(1200.0), 0.99)
    assert not proven_by(best, "cost", outcome(998.5), 0.99)
    # A build of 999 that the exact check refuses leaves room for another one of 999.
    assert not proven_by(best, "cost", outcome(999.0), 0.99)
    assert not proven_by(build(milligrams=2000), "mass", outcome(1999.0), 0.99)
    # Where any build will do the gap is endless.
    assert proven_by(best, "cost", outcome(5.0), math.inf)
    assert proven_by(best, "power", outcome(10.0 - 9e-7), 1e-6)
    assert not proven_by(best, "power", outcome(10.0 - 4e-6), 1e-6)
    # Of little power even the blur of the figures is below the gap, of much it is not.
    assert proven_by(build(watts=100.0), "power", outcome(100.0 - 2.5e-5), 1e-6)
    assert not proven_by(build(watts=100.0), "power", outcome(100.0 - 3.5e-5), 1e-6)


def test_seconds_run_out(monkeypatch: pytest.MonkeyPatch) -> None:
    assert seconds_until(None) is None
    monkeypatch.setattr(time, "monotonic", lambda: 100.0)
    assert seconds_until(107.5) == 7.5
    assert seconds_until(100.5) == 0.5
    for deadline in (100.0, 99.0):
        with pytest.raises(TimeUpError):
            seconds_until(deadline)
    late = search()
    assert late.seconds_left() is None
    late.deadline = 99.0
    with pytest.raises(TimeUpError):
        late.seconds_left()


def test_the_usual_order_stands_where_none_is_given() -> None:
    assert search().order == ("cost", "mass")
    assert search(order=("mass",)).order == ("mass",)
    assert state.ORDERS["power"] == ("power", "cost", "mass")


def test_the_better_build_is_kept_if_it_is_within_the_caps() -> None:
    told: list[Evaluation] = []
    looking = search(seen=told.append, within={"mass": 2500.0})
    looking.take(None)
    assert looking.best is None
    heavy, first, dear, cheap = build(500, 2600), build(1000), build(1100), build(900)
    for found, best in ((heavy, None), (first, first), (dear, first), (None, first), (cheap, cheap)):
        looking.take(found)
        assert looking.best is best
    # All that pass are told of, whatever becomes of them.
    assert told == [heavy, first, dear, cheap]


def test_the_floor_is_reached_or_not() -> None:
    assert not search(floor=math.inf).at_floor()
    looking = search(best=build(1000), order=("cost",))
    for floor, there in ((-math.inf, False), (999.0, False), (1000.0, True), (1001.0, True)):
        looking.floor = floor
        assert looking.at_floor() is there
    assert search(best=build(1000, 5), order=("mass", "cost"), floor=5.0).at_floor()


def test_a_gap_holds_no_whole_cent_or_milligram_and_no_watt_that_is_seen() -> None:
    for scale, near, far in (("cost", 999.9, 999.0), ("mass", 1999.9, 1999.0), ("power", 10.0 - 1e-7, 9.9)):
        assert proven_by(build(1000, 2000, 10.0), scale, outcome(near), state.GAPS[scale])
        assert not proven_by(build(1000, 2000, 10.0), scale, outcome(far), state.GAPS[scale])


def test_a_fresh_search_has_done_nothing_and_asks_for_the_best() -> None:
    fresh = search()
    assert (fresh.rounds, fresh.columns, fresh.kept_columns, fresh.settled) == (0, 0, 0, 0)
    assert (fresh.best, fresh.lows, fresh.lines, fresh.tangents) == (None, {}, [], [])
    assert (fresh.any_will_do, fresh.wide, fresh.ties, fresh.low) == (False, False, True, 0.0)
    fresh.best = build(cents=0)
    assert not fresh.at_floor()


@dataclass
class Told:
    """A program that only tells what it was asked."""

    status: Status
    asked: tuple[Any, ...] = ()

    def solve(self, *asked: Any) -> Outcome:
        self.asked = asked
        return outcome(1.0, self.status)


def test_solves_are_counted_and_a_failure_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(time, "monotonic", lambda: 100.0)
    looking = search(solver="another")
    looking.deadline, looking.threads = 103.0, 2
    program = Told(Status.IMPOSSIBLE)
    assert looking.rounds == 0
    assert looking.solve(SimpleNamespace(program=program), 0.5).status is Status.IMPOSSIBLE  # type: ignore[arg-type]
    assert program.asked == (0.5, 3.0, 2, "another")
    with pytest.raises(SolverError):
        looking.solve(SimpleNamespace(program=Told(Status.FAILED)), 0.5)  # type: ignore[arg-type]
    assert looking.rounds == 2


def spread(*channels: ChannelChoice, output: str = "constant voltage") -> list[tuple[str, int, int, int]]:
    """Return (driver, series, parallel, number) of the channels of a choice, put the canonical way."""
    parts = catalogue(EMITTER)
    drivers = tuple(parts.drivers[0].model_copy(update={"part": code, "output": output}) for code in ("d", "g"))
    found = canonical(replace(choice("p", "film"), channels=channels), replace(parts, drivers=drivers))
    assert found.emitters == sum(channel.emitters for channel in channels)
    return [(c.driver, c.series, c.parallel, c.number) for c in found.channels]


def test_strings_are_spread_evenly_over_equal_drivers() -> None:
    # 1 × 5 + 2 × 1 strings on three drivers: 3, 2, 2. And 4 on two: 2, 2.
    assert spread(ChannelChoice("d", 1, 5, 0.5, 1), ChannelChoice("d", 1, 1, 0.5, 2)) == [
        ("d", 1, 2, 2),
        ("d", 1, 3, 1),
    ]
    assert spread(ChannelChoice("d", 1, 3, 0.5, 1), ChannelChoice("d", 1, 1, 0.5, 1)) == [("d", 1, 2, 2)]
    # Strings of another length, another driver, another kind of emitter stay by themselves.
    apart = (ChannelChoice("d", 1, 3, 0.5, 1), ChannelChoice("d", 2, 1, 0.5, 1), ChannelChoice("g", 1, 1, 0.5, 1))
    assert spread(*apart) == [("d", 1, 3, 1), ("d", 2, 1, 1), ("g", 1, 1, 1)]
    kinds = ChannelChoice("d", 1, 3, 0.5, 1), ChannelChoice("d", 1, 1, 0.5, 1, "f")
    assert spread(*kinds) == [("d", 1, 1, 1), ("d", 1, 3, 1)]


def test_channels_of_constant_current_stay_what_they_are() -> None:
    uneven = (ChannelChoice("d", 1, 3, 0.5, 1), ChannelChoice("d", 1, 1, 0.5, 1))
    assert spread(*uneven, output="constant current") == [("d", 1, 1, 1), ("d", 1, 3, 1)]


def cell(head: int, board: float, top: float, low: float = 0.0, high: float = 10.0) -> Cell:
    return Cell(head, board, top, 1.0, low, high, 1, 9)


def test_cells_cut_before_are_kept_within_what_is_known_now(monkeypatch: pytest.MonkeyPatch) -> None:
    fresh = [cell(3, 30.0, 50.0), cell(5, 20.0, 60.0), cell(5, 20.0, 60.0, 5.0)]
    monkeypatch.setattr(state, "first_cells", lambda problem, kept: fresh)
    cut = [cell(3, 25.0, 40.0, 0.0, 5.0), cell(3, 40.0, 55.0, 5.0, 10.0), cell(8, 1.0, 2.0)]
    found = state.cells_of(cut, None, None)  # type: ignore[arg-type]
    assert [(c.head, c.board, c.top, c.heat_low) for c in found] == [
        # Never colder, and never hotter, than is known by now; the head that is gone is left out.
        (3, 30.0, 40.0, 0.0),
        (3, 40.0, 50.0, 5.0),
        (5, 20.0, 60.0, 0.0),
        (5, 20.0, 60.0, 5.0),
    ]
    # A range that is ruled out on both sides is one temperature, never less than none.
    found = state.cells_of([cell(3, 60.0, 70.0), cell(5, 5.0, 10.0)], None, None)  # type: ignore[arg-type]
    assert [(c.board, c.top) for c in found] == [(60.0, 60.0), (20.0, 20.0)]


class Read:
    """A formulation that was solved: what it counted of the power, and which columns it took."""

    problem, cells = "problem", ["cells"]

    def __init__(self, counted: float | None) -> None:
        self.counted = counted

    def read(self, outcome: Outcome) -> tuple[int, int, None, list[tuple[int, int]]]:
        return 3, 4, None, [(5, 2)]

    def value_of(self, scale: str, outcome: Outcome) -> float | None:
        assert scale == "power"
        return self.counted


@pytest.mark.parametrize(
    ("counted", "flattered"),
    [(None, False), (10.0, False), (11.0, False), (9.9, True), (10.0 - 5e-7, False), (10.0 - 5e-6, True)],
)
def test_power_is_refined_where_it_was_counted_too_low(
    monkeypatch: pytest.MonkeyPatch, counted: float | None, flattered: bool
) -> None:
    asked: list[Any] = []

    def refine(*things: Any, **named: Any) -> tuple[list[str], list[str]]:
        asked.append((things, named))
        return ["cut"], ["tangent"]

    monkeypatch.setattr(state, "refine", refine)
    looking, found = search(tangents=["known"]), build(watts=10.0)
    line = state.Line(0, None, None)  # type: ignore[arg-type]
    state.refine_line(looking, line, Read(counted), outcome(1.0), found)  # type: ignore[arg-type]
    ((things, named),) = asked
    assert things == ("problem", ["cells"], ["known"], 3, 4, found)
    assert named == {"flattered_power": flattered, "numbers": [(5, 2)]}
    assert (line.cells, looking.tangents) == (["cut"], ["tangent"])


@pytest.mark.parametrize(
    ("missing", "cap", "accepted"),
    [((), 1000.0, True), ((), 999.0, False), (("e",), 1000.0, False), (("e",), 9.0, False)],
)
def test_a_candidate_is_accepted_if_it_passes_within_the_caps(
    monkeypatch: pytest.MonkeyPatch, missing: tuple[str, ...], cap: float, accepted: bool
) -> None:
    found = replace(build(1000), missing=missing, margins=())
    monkeypatch.setattr(state, "choice_of", lambda *columns: choice("p", "film"))
    monkeypatch.setattr(state, "evaluate", lambda *asked: found)
    read = SimpleNamespace(
        read=lambda outcome: (0, 4, None, [(5, 2)]),
        cells=[SimpleNamespace(head=7)],
        problem=SimpleNamespace(catalogue=catalogue(EMITTER), scenario=SCENARIO),
    )
    assert state.judge(read, outcome(1.0), {"cost": cap}) == (found, accepted)  # type: ignore[arg-type]
