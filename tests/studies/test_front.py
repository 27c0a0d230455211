"""Fronts against looking at every build, and against a general library for many objectives."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import moocore
import numpy as np
import pytest
from few_parts import write_few_parts, write_job
from fronts import beats, covers, front_of
from oracle import Oracle, TooManyError
from random_catalogues import random_case

from optimise.model.axes import AXES
from optimise.model.bench import Bench
from optimise.model.search import best_build
from optimise.parts import Catalogue, read_catalogue
from optimise.scenario import read_scenario
from optimise.studies.front import Front, front, knee, scaled, thinned

PAIRS = list(combinations(AXES, 2))
TRIPLES = [("cost", "mass", "runtime"), ("cost", "mass", "power"), ("mass", "illuminance", "panel_size")]
ROOT = Path(__file__).parents[2]


def case_of(number: int, axes: Sequence[str], more: str = "") -> tuple[Bench, Oracle]:
    """Return a small random problem with a build, and all its builds."""
    source = ("battery", "mains", "any")[number % 3] if "runtime" not in axes else ("battery", "any")[number % 2]
    for attempt in range(400):
        case = random_case(1000 + number, source + more, attempt, most_emitters=6)
        try:
            oracle = Oracle(case.catalogue, case.scenario, 1500, every="illuminance" in axes)
        except TooManyError:
            continue
        if oracle.lit and len(oracle.lit) * len(oracle.sources) <= 60_000 and oracle.best("cost").build is not None:
            return Bench(case.catalogue, case.scenario, axes), oracle
    raise AssertionError("no case is small enough")


def losses_of(whole: Front) -> list[tuple[float, ...]]:
    return [tuple(a.loss(v) for a, v in zip(whole.axes, p.values, strict=True)) for p in whole.points]


@pytest.mark.long
@pytest.mark.parametrize("number", range(12))
@pytest.mark.parametrize(
    "axes", [("cost", "illuminance"), ("mass", "illuminance"), ("cost", "mass"), ("cost", "runtime")]
)
def test_the_front_is_that_of_all_builds_with_points(number: int, axes: tuple[str, str]) -> None:
    compare(number, axes, "+points")


def compare(number: int, axes: tuple[str, ...], more: str = "") -> int:
    """Assert that the front is the one of all builds; return how many points it has."""
    bench, oracle = case_of(number, axes, more)
    wanted = front_of(oracle, axes)
    answer = front(bench, axes)
    assert answer.complete
    got = losses_of(answer)
    for point in wanted:
        assert any(covers(mine, point, axes) for mine in got), (number, axes, point, got)
    for mine, point in zip(got, answer.points, strict=True):
        assert point.found.passes
        assert any(covers(theirs, mine, axes) for theirs in wanted), (number, axes, mine, wanted)
        assert not any(beats(theirs, mine, axes) for theirs in wanted)
    _same_volume(got, wanted)
    return len(got)


def _same_volume(got: list[tuple[float, ...]], wanted: list[tuple[float, ...]]) -> None:
    """Non-dominance and hypervolume by the library, with figures scaled from 0 to 1 (and the worst at 1.1)."""
    both = np.array([*got, *wanted])
    both = np.where(np.isfinite(both), both, np.nanmin(np.where(np.isfinite(both), both, np.nan)) - 1.0)
    low, high = both.min(axis=0), both.max(axis=0)
    # What counts as equal must not be spread over the whole scale.
    both = (both - low) / np.maximum(high - low, 0.01 * np.maximum(abs(low), abs(high)))
    mine, theirs = both[: len(got)], both[len(got) :]
    assert moocore.is_nondominated(mine).all()
    reference = np.full(both.shape[1], 1.1)
    assert moocore.hypervolume(mine, ref=reference) == pytest.approx(
        moocore.hypervolume(theirs, ref=reference), rel=2e-3
    )


@pytest.mark.parametrize("axes", PAIRS, ids="-".join)
def test_the_front_of_two_figures_is_that_of_all_builds(axes: tuple[str, str]) -> None:
    assert compare(21 + PAIRS.index(axes), axes) >= 1


@pytest.mark.parametrize("axes", TRIPLES[:2], ids="-".join)
def test_the_front_of_three_figures_is_that_of_all_builds(axes: tuple[str, ...]) -> None:
    assert compare(500, axes) >= 1


@pytest.mark.long
@pytest.mark.parametrize("number", [0, *range(2, 14)])
@pytest.mark.parametrize("axes", PAIRS, ids="-".join)
def test_many_fronts_of_two_figures_are_those_of_all_builds(number: int, axes: tuple[str, str]) -> None:
    assert compare(21 * number + PAIRS.index(axes), axes) >= 1


@pytest.mark.long
@pytest.mark.parametrize("number", range(500, 511))
@pytest.mark.parametrize("axes", TRIPLES, ids="-".join)
def test_many_fronts_of_three_figures_are_those_of_all_builds(number: int, axes: tuple[str, ...]) -> None:
    assert compare(number, axes) >= 1


@pytest.mark.long
def test_some_fronts_have_many_points() -> None:
    assert sum(compare(number, ("cost", "mass")) > 2 for number in range(0, 30, 3)) >= 3


def test_a_front_does_not_hang_on_the_order_of_parts_or_on_threads(few: Front, few_parts: Catalogue) -> None:
    scenario = read_scenario(ROOT / "scenarios" / "orchard-night.toml")
    parts = few_parts
    turned = {
        kind: getattr(parts, kind)[::-1]
        for kind in ("emitters", "drivers", "panels", "diffusers", "batteries", "cables", "fuses", "connectors")
    }
    other = front(Bench(replace(parts, **turned), scenario, ("cost", "mass"), threads=2), ("cost", "mass"))
    assert [p.found.choice for p in other.points] == [p.found.choice for p in few.points]
    assert [p.values for p in other.points] == [p.values for p in few.points]


@pytest.fixture(scope="module")
def few_parts(tmp_path_factory: pytest.TempPathFactory) -> Catalogue:
    return read_catalogue(write_few_parts(tmp_path_factory.mktemp("few") / "parts"))


@pytest.fixture(scope="module")
def few(few_parts: Catalogue) -> Front:
    scenario = read_scenario(ROOT / "scenarios" / "orchard-night.toml")
    return front(Bench(few_parts, scenario, ("cost", "mass")), ("cost", "mass"))


def test_ends_of_a_front_are_the_best_by_each_figure(few: Front) -> None:
    values = np.array([point.values for point in few.points])
    assert few.complete
    assert (np.diff(values[:, 0]) > 0).all()
    assert (np.diff(values[:, 1]) < 0).all()
    assert values[-1].tolist() == [9830.0, 1161250.0]


def test_the_knee_lies_farthest_below_the_line_between_the_ends(few: Front) -> None:
    place = knee(few)
    assert place is not None
    x, y = scaled(few).T
    below = 1.0 - x - y  # the ends are (0, 1) and (1, 0)
    assert place == int(np.argmax(below))


def test_a_thinned_front_keeps_its_ends_and_spreads(few: Front) -> None:
    some = thinned(few, 6)
    assert len(some.points) == 6
    assert some.points[0] == few.points[0]
    assert some.points[-1] == few.points[-1]
    assert all(p in few.points for p in some.points)
    table = scaled(few)
    kept = [few.points.index(p) for p in some.points]
    gap = min(np.linalg.norm(table[a] - table[b]) for a in kept for b in kept if a < b)
    left = [i for i in range(len(table)) if i not in kept]
    # No point left out is farther from the kept ones than they are from each other.
    assert all(min(np.linalg.norm(table[i] - table[k]) for k in kept) <= gap + 1e-12 for i in left)
    assert thinned(few, 100) is few


def test_a_stopped_front_says_that_it_is_not_complete(few_parts: Catalogue) -> None:
    scenario = read_scenario(ROOT / "scenarios" / "orchard-night.toml")
    bench = Bench(few_parts, scenario, ("cost", "mass"))

    def stop(number: int) -> None:
        if number == 4:
            raise KeyboardInterrupt

    answer = front(bench, ("cost", "mass"), stop)
    assert not answer.complete
    assert 2 <= len(answer.points) <= 4
    assert moocore.is_nondominated(np.array(losses_of(answer))).all()


def test_a_job_that_cannot_be_done_has_no_front() -> None:
    scenario = read_scenario(ROOT / "scenarios" / "impossible-pier.toml")
    answer = front(Bench(read_catalogue(ROOT / "catalogue"), scenario, ("cost", "mass")), ("cost", "mass"))
    assert answer.complete
    assert answer.points == ()


@pytest.mark.long
def test_points_of_a_front_at_the_door_are_the_lightest_for_their_money(tmp_path: Path) -> None:
    catalogue = read_catalogue(write_few_parts(tmp_path / "parts", charges=True))
    scenario = read_scenario(ROOT / "scenarios" / "orchard-night.toml")
    found = front(Bench(catalogue, scenario, ("cost", "mass")), ("cost", "mass"))
    assert found.complete
    values = [point.values for point in found.points]
    for place in range(0, len(values), max(len(values) // 4, 1)):
        cents, milligrams = values[place]
        for budget, other in ((int(cents), milligrams), (int(cents) - 1, values[place - 1][1] if place else None)):
            limits = scenario.limits.model_copy(update={"budget": budget})
            best = best_build(catalogue, scenario.model_copy(update={"limits": limits}), "mass").evaluation
            assert (None if best is None else best.milligrams) == other


def test_with_delivery_each_runtime_has_supplies_of_its_own(tmp_path: Path) -> None:
    # A search made anew for the runtime of a point comes to the same cost.
    catalogue = read_catalogue(write_few_parts(tmp_path / "parts", charges=True))
    scenario = read_scenario(write_job(tmp_path / "job.toml"))
    whole = front(Bench(catalogue, scenario, ("cost", "runtime"), {"runtime": 10_800.0}), ("cost", "runtime"))
    assert whole.complete
    assert len(whole.points) >= 3
    cost, runtime = whole.points[-2].values
    power = scenario.power.model_copy(update={"runtime": runtime * (1.0 - 1e-9)})
    best = best_build(catalogue, scenario.model_copy(update={"power": power}), "cost").evaluation
    assert best is not None
    assert best.cents == cost
