"""Many searches of the same parts, step by step: bounds, what is remembered, and how a figure is raised to its best.

The bench is that of a world whose builds are all looked at (`small_world`).
"""

import math
import time
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from small_world import SCENARIO, all_builds, scenario, world

from optimise.model import bench as benches
from optimise.model.axes import AXES
from optimise.model.bench import Bench, asking, narrowed
from optimise.model.choice import Evaluation
from optimise.model.problem import problem_of
from optimise.model.state import State, TimeUpError
from optimise.parts import Supplier
from optimise.scenario import Scenario
from optimise.scenario.points import Point

MAINS = SCENARIO.model_copy(
    update={"power": SCENARIO.power.model_copy(update={"source": "any", "mains_voltage": 230.0})}
)


def changed(job: Scenario, **sections: dict[str, Any]) -> Scenario:
    return job.model_copy(update={name: getattr(job, name).model_copy(update=keys) for name, keys in sections.items()})


def test_one_bound_is_changed_and_the_others_stay() -> None:
    assert asking((), "mass", 3.0) == (("mass", 3.0),)
    assert asking((("cost", 1.0), ("mass", 2.0)), "mass", 3.0) == (("cost", 1.0), ("mass", 3.0))
    assert asking((("mass", 2.0),), "cost", 3.0) == (("cost", 3.0), ("mass", 2.0))


# How a scenario is narrowed ----------------------------------------------------------------------------


def test_a_scenario_is_narrowed_and_never_widened() -> None:
    tight = changed(SCENARIO, limits={"budget": 9500, "mass": 2.5, "power": 40.0, "width": 0.9, "height": 0.3})
    found = narrowed(tight, {"cost": 9400.9, "mass": 2.4e6, "power": 30.0, "panel_size": 0.8}).limits
    assert (found.budget, found.mass, found.power, found.width, found.height) == (9400, 2.4, 30.0, 0.8, 0.3)
    found = narrowed(tight, {"cost": 9900.0, "mass": 2.6e6, "power": 50.0, "panel_size": 1.0}).limits
    assert (found.budget, found.mass, found.power, found.width, found.height) == (9500, 2.5, 40.0, 0.9, 0.3)
    free = narrowed(SCENARIO, {"cost": 9400.9, "mass": 2.4e6, "power": 30.0, "panel_size": 0.8}).limits
    assert (free.budget, free.mass, free.power, free.width, free.height) == (9400, 2.4, 30.0, 0.8, 0.8)
    # What is not bounded stays as it is, blank or not.
    assert narrowed(tight, {}).limits == tight.limits
    assert narrowed(SCENARIO, {"mass": 2.4e6}).limits == SCENARIO.limits.model_copy(update={"mass": 2.4})
    assert narrowed(SCENARIO, {"power": 3.0}).limits == SCENARIO.limits.model_copy(update={"power": 3.0})


def test_more_light_and_a_longer_runtime_are_asked_for_never_less() -> None:
    assert narrowed(SCENARIO, {"illuminance": 800.0}).light.illuminance == 800.0
    assert narrowed(SCENARIO, {"illuminance": 300.0}).light.illuminance == 500.0
    assert narrowed(SCENARIO, {}).light == SCENARIO.light
    little = changed(SCENARIO, light={"illuminance": 0.5}, power={"runtime": 0.5})
    assert (narrowed(little, {}).light, narrowed(little, {}).power) == (little.light, little.power)
    assert narrowed(SCENARIO, {"runtime": 7200.0}).power.runtime == 7200.0
    assert narrowed(SCENARIO, {"runtime": 60.0}).power.runtime == 3600.0
    assert narrowed(SCENARIO, {}).power == SCENARIO.power
    assert narrowed(MAINS, {"runtime": math.inf}).power.source == "mains"
    assert narrowed(MAINS, {"runtime": 7200.0}).power.source == "any"
    fed = changed(MAINS, power={"source": "mains", "runtime": None})
    assert narrowed(fed, {"runtime": 7200.0}).power == fed.power


def test_an_exposure_that_is_asked_for_stays_one_where_no_more_light_is() -> None:
    # 250 × 2² / (0.02 × 800) = 62.5 lx.
    light = {"illuminance": None, "iso": 800.0, "f_number": 2.0, "shutter": 0.02}
    exposed = changed(SCENARIO, light=light)
    assert narrowed(exposed, {"illuminance": 62.5}).light == exposed.light
    assert narrowed(exposed, {"illuminance": 130.0}).light.illuminance == 130.0


def test_the_lit_face_is_as_large_as_either_asks() -> None:
    assert narrowed(SCENARIO, {"source_size": 0.2}).look.source_size_min == 0.2
    asked = changed(SCENARIO, look={"source_size_min": 0.3})
    assert narrowed(asked, {"source_size": 0.2}).look.source_size_min == 0.3
    assert narrowed(asked, {"source_size": 0.4}).look.source_size_min == 0.4
    assert narrowed(asked, {}).look == asked.look


def test_points_keep_what_they_ask_where_more_light_is_asked_ahead() -> None:
    point = Point(name="sofa", across=0.1, stops=-1.0)
    found = narrowed(SCENARIO.model_copy(update={"points": (point,)}), {"illuminance": 2000.0})
    assert found.targets(2000.0)[0].least == pytest.approx(250.0)


# How a figure is raised --------------------------------------------------------------------------------


class Imagined(Bench):
    """A bench whose builds are imagined: `any` finds the worst of those that keep a bound."""

    def __init__(self, axis: str, values: list[float], scenario: Scenario = SCENARIO, **more: Any) -> None:
        super().__init__(world(), scenario, (axis,), **more)
        self.axis, self.values, self.asked = axis, sorted(values), list[float]()

    def any(self, ask: tuple[tuple[str, float], ...] = ()) -> Evaluation | None:
        bound = dict(ask)[self.axis]
        self.asked.append(bound)
        counts = bound <= self.enough.get(self.axis, math.inf)
        kept = [value for value in self.values if value >= bound and counts]
        return replace(all_builds()[0], lux=kept[0]) if kept else None


@pytest.mark.parametrize(
    ("values", "most"),
    [
        # What is not there by leaps of 1.2, 1.44, 2.07 and so on is halved on a scale of ratios: few searches.
        ([100.0], 6),
        ([100.0, 150.0], 9),
        ([100.0 * 1.01**n for n in range(200)], 16),
        ([100.0, 1e5], 20),
        ([100.0, 100.001], 10),
        ([100.0 + n for n in range(60)], 14),
    ],
)
def test_a_figure_is_raised_to_its_best_in_few_searches(values: list[float], most: int) -> None:
    bench = Imagined("illuminance", values)
    assert bench._climbed("illuminance", (), 100.0) == max(values)
    assert len(bench.asked) <= most
    # The proof: a hair above the best one nothing was found.
    assert bench.asked[-1] == pytest.approx(max(values), rel=2e-6)
    assert bench.asked[-1] > max(values)


def test_a_figure_is_raised_as_far_as_it_counts() -> None:
    bench = Imagined("illuminance", [100.0, 200.0, 900.0], enough={"illuminance": 300.0})
    assert bench._climbed("illuminance", (), 100.0) == 300.0
    # Beyond that nothing is wanted: the last search is that of a hair more.
    assert max(bench.asked) <= 300.0 * (1.0 + 2e-6)
    assert bench._climbed("illuminance", (), math.inf) == math.inf


def test_a_first_leap_is_by_a_fifth_and_the_next_are_wider() -> None:
    bench = Imagined("illuminance", [100.0 * 1.001**n for n in range(5000)])
    bench._climbed("illuminance", (), 100.0)
    first, second, third = bench.asked[:3]
    assert first == pytest.approx(120.0)
    assert second / first == pytest.approx(1.44, rel=2e-3)
    assert third / second == pytest.approx(1.44**2, rel=2e-3)
    assert len(bench.asked) <= 22


class Boards(Bench):
    """A bench of boards of which some can be had: `any` finds the worst of those that keep a bound."""

    def __init__(self, sides: list[float], there: list[float]) -> None:
        parts = world()
        board = parts.panels[0]
        panels = tuple(board.model_copy(update={"part": f"p{side}", "width": side, "height": side}) for side in sides)
        super().__init__(
            replace(parts, panels=panels, offers={**parts.offers, **{p.part: parts.offers["p"] for p in panels}}),
            SCENARIO,
            ("panel_size",),
        )
        self.there, self.asked = sorted(there), list[float]()

    def build(self, side: float) -> Evaluation:
        found = all_builds()[0]
        return replace(found, choice=replace(found.choice, panel=f"p{side}"))

    def any(self, ask: tuple[tuple[str, float], ...] = ()) -> Evaluation | None:
        bound = dict(ask)["panel_size"]
        self.asked.append(bound)
        kept = [side for side in self.there if side <= bound]
        return self.build(kept[-1]) if kept else None


SIDES = [0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9]


@pytest.mark.parametrize("there", [[0.9], [0.3, 0.9], [0.3, 0.5, 0.9], [0.6, 0.7, 0.8, 0.9], [0.7, 0.8, 0.9], SIDES])
def test_the_least_of_a_list_is_found_by_halves(there: list[float]) -> None:
    bench = Boards(SIDES, there)
    assert {panel.width for panel in bench.market.parts.panels} == set(SIDES)
    assert bench._least_listed("panel_size", (), bench.build(0.9)) == min(there)
    # Six are better than what is known: three halvings.
    assert len(bench.asked) <= 3
    assert set(bench.asked) <= set(SIDES) - {0.9}


def test_the_greatest_of_a_list_is_found_by_halves() -> None:
    class Wide(Boards):
        def any(self, ask: tuple[tuple[str, float], ...] = ()) -> Evaluation | None:
            bound = dict(ask)["source_size"]
            self.asked.append(bound)
            kept = [side for side in self.there if side >= bound]
            return self.build(kept[0]) if kept else None

    for there in ([0.3], [0.3, 0.8], [0.3, 0.4, 0.5], SIDES):
        bench = Wide(SIDES, there)
        assert bench._least_listed("source_size", (), bench.build(0.3)) == max(there)
        assert len(bench.asked) <= 3


# Which searches there are ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("bounds", "possible"),
    [
        ({}, True),
        ({"illuminance": 600.0, "cost": 9000.0}, True),
        ({"illuminance": 1000.0}, True),
        ({"illuminance": 1001.0}, False),  # more than what counts
        ({"illuminance": math.inf}, False),
        ({"runtime": math.inf}, False),  # there are no mains
        ({"runtime": 7200.0}, True),
        ({"cost": -1.0}, False),
        ({"mass": 5.0, "power": -0.5}, False),
        ({"cost": 0.0}, True),
        ({"mass": 0.0, "power": 0.5}, True),
    ],
)
def test_bounds_that_nothing_meets_are_not_searched(bounds: dict[str, float], possible: bool) -> None:
    bench = Bench(world(), SCENARIO, ("cost", "illuminance"), {"illuminance": 1000.0})
    state = bench._state(("cost",), tuple(sorted(bounds.items())))
    assert (state is not None) is possible
    assert bench.solves == int(possible)
    if state is not None:
        assert (state.order, state.threads) == (("cost",), 1)
        # What one search builds and finds serves the next.
        assert state.problems is bench._problems
        state.seen(all_builds()[0])
        assert list(bench._seen) == [all_builds()[0].choice]


def test_what_is_not_bounded_is_never_more_than_enough() -> None:
    assert Bench(world(), SCENARIO, ("source_size",), {"source_size": 0.5})._state(("cost",), ()) is not None


def test_endless_runtime_is_that_of_mains() -> None:
    bench = Bench(world(), MAINS, ("cost", "runtime"))
    state = bench._state(("mass", "cost"), (("runtime", math.inf),))
    assert state is not None
    assert state.market.scenario.power.source == "mains"
    assert (state.objective, state.order) == ("mass", ("mass", "cost"))


def test_power_counts_as_soon_as_it_is_an_axis() -> None:
    assert Bench(world(), SCENARIO, ("cost", "power")).market.scenario.search.objective == "power"
    assert Bench(world(), SCENARIO, ("cost", "mass")).market.scenario.search.objective == "cost"
    lightest = changed(SCENARIO, search={"objective": "mass"})
    assert Bench(world(), lightest, ("cost",)).market.scenario.search.objective == "mass"


def test_time_is_up_before_a_search(monkeypatch: pytest.MonkeyPatch) -> None:
    bench = Bench(world(), SCENARIO, ("cost",), deadline=5.0)
    monkeypatch.setattr(time, "monotonic", lambda: 6.0)
    with pytest.raises(TimeUpError):
        bench._state(("cost",), ())
    assert bench.solves == 0


def test_supplies_are_built_once_for_each_runtime() -> None:
    bench = Bench(world(), SCENARIO, ("cost", "runtime"))
    markets = [bench._market(narrowed(bench._base, {"runtime": seconds})) for seconds in (3600.0, 7200.0, 7200.0)]
    assert markets[1].supplies is markets[2].supplies
    assert markets[0].supplies is not markets[1].supplies
    assert [market.scenario.power.runtime for market in markets] == [3600.0, 7200.0, 7200.0]
    assert markets[0].target == 500.0
    assert bench._market(narrowed(bench._base, {"illuminance": 800.0})).target == 800.0
    fed = Bench(world(), MAINS, ("cost", "runtime"))
    fed._market(narrowed(fed._base, {"runtime": math.inf}))
    assert list(fed._markets) == [math.inf]


def test_heads_are_let_in_by_what_their_board_alone_decides() -> None:
    bench = Boards([0.4, 0.6, 0.8], [])
    assert bench._admitting({"cost": 5.0}) is None
    state = bench._state(("cost",), (("panel_size", 0.6),))
    assert state is not None
    problem = problem_of(state.market, np.array([0]))
    assert state.admits is not None
    boards = [problem.parts.panels[i] for i in problem.heads.panel]
    assert {board.width for board in boards} == {0.4, 0.6, 0.8}
    assert [board.width <= 0.6 for board in boards] == state.admits(problem).tolist()
    both = bench._admitting({"panel_size": 0.6, "source_size": 0.5})(problem)
    assert [0.5 <= board.width <= 0.6 for board in boards] == both.tolist()
    # Columns that are left of wider bounds are let in by the same rule.
    (line,) = bench._lines(state, bench.left(()))[:1]
    assert {line.problem.parts.panels[i].width for i in line.problem.heads.panel[line.kept.heads]} <= {0.4, 0.6}


# What is found, against all builds ---------------------------------------------------------------------


def of(axis: str, build: Evaluation) -> float:
    return AXES[axis].of(build, world().panels[0])


def least(axis: str, **bounds: float) -> float | None:
    """Return the best value of an axis that a build of the world has within bounds; None where none keeps them."""
    within = [
        of(axis, build)
        for build in all_builds()
        if all(not AXES[other].better(bound, of(other, build)) for other, bound in bounds.items())
    ]
    return min(within, key=AXES[axis].loss, default=None)


@pytest.mark.parametrize("bounds", [{}, {"cost": 9100.0}, {"cost": 8000.0}])
def test_any_build_is_found_where_there_is_one(bounds: dict[str, float]) -> None:
    bench = Bench(world(), SCENARIO, ("cost", "mass", "power"))
    ask = tuple(sorted(bounds.items()))
    found = bench.any(ask)
    assert (found is None) == (least("cost", **bounds) is None)
    if found is not None:
        assert all(not AXES[axis].better(bound, of(axis, found)) for axis, bound in bounds.items())
        # It is remembered: the next search of wider bounds needs no solver.
        again = bench.any(())
        assert again is not None
        assert bench.solves == 2


def test_the_best_of_what_is_known_is_where_a_search_begins() -> None:
    bench = Bench(world(), SCENARIO, ("cost", "mass"))
    found = sorted(all_builds(), key=lambda build: (build.cents, str(build.choice)))
    for build in (found[9], found[5], found[19]):
        bench._keep(build)
        bench._keep(build)
    assert len(bench._seen) == 3
    known = bench._known("cost", {}, SCENARIO)
    assert known is not None
    assert known.choice == found[5].choice
    light = min((found[9], found[5], found[19]), key=lambda build: build.milligrams)
    best = bench._known("mass", {}, SCENARIO)
    assert best is not None
    assert best.milligrams == light.milligrams
    assert bench._known("cost", {"cost": found[5].cents - 1.0}, SCENARIO) is None
    # What a narrower scenario asks is checked again.
    assert bench._known("cost", {}, scenario(budget=found[5].cents - 1)) is None


def test_what_is_known_already_is_some_build_and_nothing_is_searched(monkeypatch: pytest.MonkeyPatch) -> None:
    bench = Bench(world(), SCENARIO, ("cost", "mass"))
    asked: list[State] = []
    monkeypatch.setattr(benches, "find_any", lambda state, caps: asked.append(state))
    assert bench.any((("cost", -1.0),)) is None
    assert bench.best(("cost",), (("cost", -1.0),)) is None
    assert asked == []
    assert bench.any(()) is None
    assert [state.any_will_do for state in asked] == [True]
    known = all_builds()[0]
    bench._keep(known)
    found = bench.any(())
    assert found is not None
    assert found.choice == known.choice
    assert len(asked) == 1


def test_a_best_build_is_searched_on_all_columns_above_no_floor_unless_they_are_told(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    asked: list[State] = []
    monkeypatch.setattr(benches, "run", lambda state, caps: asked.append(state))
    bench = Bench(world(), SCENARIO, ("cost",))
    bench.best(("cost",))
    bench.best(("cost",), floor=5.0, left=())
    assert [(state.floor, state.given) for state in asked] == [(-math.inf, None), (5.0, [])]


def test_a_build_that_is_known_is_no_proof() -> None:
    bench = Bench(world(), SCENARIO, ("cost", "mass"))
    bench._keep(max(all_builds(), key=lambda build: build.cents))
    found = bench.best(("cost", "mass"))
    assert found is not None
    assert found.cents == least("cost")
    # Where no columns are left there is nothing, whatever else the parts can do.
    assert Bench(world(), SCENARIO, ("cost", "mass")).best(("cost",), left=()) is None


def test_the_extreme_of_a_scale_asks_for_it_first(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[Any] = []
    monkeypatch.setattr(Bench, "best", lambda self, *things: asked.append(things))
    bench = Bench(world(), SCENARIO, ("cost",))
    bench.extreme("mass", (("cost", 5.0),), ("cost", "mass", "power"), 7.0)
    bench.extreme("mass")
    assert asked == [(("mass", "cost", "power"), (("cost", 5.0),), 7.0), (("mass",), (), -math.inf)]


def test_columns_that_another_replaces_are_left_out_but_where_runtime_or_charges_decide() -> None:
    charging = replace(world(), suppliers=(Supplier(supplier="s", delivery=500),))
    for parts, axes, dropped in (
        (world(), ("cost", "mass"), True),
        (world(), ("cost", "runtime"), False),
        (charging, ("cost", "mass"), False),
    ):
        left = Bench(parts, SCENARIO, axes).left(())
        assert left
        assert all((one.supplies is not None) is dropped for one in left)


@pytest.mark.parametrize(
    "axis", ["illuminance", *(pytest.param(axis, marks=pytest.mark.long) for axis in ("cost", "runtime"))]
)
def test_the_extreme_of_an_axis_is_that_of_all_builds(axis: str) -> None:
    bounds = {"cost": 9500.0} if axis in ("illuminance", "runtime") else {}
    bench = Bench(world(), SCENARIO, (axis,))
    found = bench.extreme(axis, tuple(bounds.items()))
    wanted = least(axis, **bounds)
    assert found is not None
    assert of(axis, found) == pytest.approx(wanted, rel=2e-6)
    assert bench.extreme(axis, asking(tuple(bounds.items()), "mass", 1000.0)) is None


def test_columns_that_are_left_serve_narrower_bounds() -> None:
    bench = Bench(world(), SCENARIO, ("cost", "mass"))
    wide = bench.left((("mass", 2_500_000.0),))
    assert wide
    for mass in (2_450_000.0, 2_420_000.0):
        narrow = bench.left((("mass", mass),), wide)
        assert sum(len(one.channels) for one in narrow) <= sum(len(one.channels) for one in wide)
        best = bench.best(("cost", "mass"), (("mass", mass),), left=narrow)
        assert best is not None
        assert best.cents == least("cost", mass=mass)
    assert bench.left((("mass", 1000.0),)) == ()
    assert bench.left((("mass", -1.0),)) == ()
