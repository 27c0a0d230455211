"""The smallest change of each limit, and what easing saves, against looking at every build."""

from pathlib import Path
from random import Random

import pytest
from few_parts import write_few_parts, write_job
from oracle import Oracle, TooManyError
from random_catalogues import random_case

from optimise.model.heuristic import value_of
from optimise.model.search import any_build
from optimise.parts import Catalogue, read_catalogue
from optimise.scenario import Scenario, read_scenario
from optimise.scenario.points import Point
from optimise.studies.desk import Desk
from optimise.studies.limits import Listed, Sliding, Summed, distance_of, limits_asked
from optimise.studies.reasons import HAIR, eases, mends, slid

NODES = 4_000


def feasible(catalogue: Catalogue, scenario: Scenario) -> bool:
    return Oracle(catalogue, scenario, 10 * NODES).best("cost").build is not None


def impossible_case(number: int, more: str = "") -> tuple[Catalogue, Scenario]:
    """Return a small random job that cannot be done for some of its limits, and could without them."""
    rng = Random(number)
    source = ("battery", "mains", "battery")[number % 3] + more
    for attempt in range(400):
        case = random_case(3000 + number, source, attempt, most_emitters=6)
        try:
            oracle = Oracle(case.catalogue, case.scenario, NODES)
        except TooManyError:
            continue
        if len(oracle.lit) * len(oracle.sources) > 20_000:
            continue
        cheap, light = oracle.best("cost").build, oracle.best("mass").build
        if cheap is None or light is None:
            continue
        limits = case.scenario.limits.model_copy(
            update={
                "budget": int(cheap.cents * rng.choice([0.93, 1.0, 1.04])),
                "mass": light.milligrams * rng.choice([0.97, 1.05, 1.5]) / 1e6,
            }
        )
        lit = case.scenario.light
        lit = lit.model_copy(update={"illuminance": (lit.illuminance or 0.0) * rng.choice([1.0, 1.1])})
        scenario = case.scenario.model_copy(update={"limits": limits, "light": lit})
        try:
            if not feasible(case.catalogue, scenario):
                return case.catalogue, scenario
        except TooManyError:
            continue
    raise AssertionError("no case is small enough")


@pytest.mark.parametrize("number", range(3))
def test_the_smallest_change_is_possible_and_a_hair_less_is_not(number: int) -> None:
    check_case(number)


@pytest.mark.long
@pytest.mark.parametrize("number", range(3, 60))
def test_the_smallest_change_is_possible_and_a_hair_less_is_not_in_many_cases(number: int) -> None:
    check_case(number)


@pytest.mark.long
@pytest.mark.parametrize("number", range(20))
def test_the_smallest_change_is_possible_and_a_hair_less_is_not_with_points(number: int) -> None:
    check_case(number, "+points")


def check_case(number: int, more: str = "") -> None:
    catalogue, scenario = impossible_case(number, more)
    desk = Desk(catalogue, scenario)
    mended = 0
    for limit, mend in mends(desk):
        gone = limit.without(scenario)
        if mend is None:
            assert not feasible(catalogue, gone), limit.name
            continue
        mended += 1
        found = mend.result.evaluation
        assert found is not None, limit.name
        assert found.passes, limit.name
        assert feasible(catalogue, mend.scenario), limit.name
        best = Oracle(catalogue, mend.scenario, 10 * NODES).best("cost").build
        assert best is not None
        assert found.cents == best.cents, limit.name
        gives = limit.gives
        if isinstance(gives, Summed):
            assert mend.exact is not None
            less = (mend.exact - 1.0) / 1e6 if gives.scale == "mass" else mend.exact - 1.0
            less = mend.exact * (1 - 1e-6) if gives.scale == "power" else less
            assert not feasible(catalogue, limit.changed(scenario, round(less) if gives.scale == "cost" else less))
        elif isinstance(gives, Sliding):
            assert mend.exact is not None
            assert feasible(catalogue, limit.changed(scenario, mend.exact)), limit.name
            hair = 3 * HAIR * max(abs(gives.asked), 1.0 if limit.name == "ambient" else 0.0)
            tighter = mend.exact + (hair if gives.asked > gives.far else -hair)
            if abs(tighter - gives.far) < abs(gives.asked - gives.far):
                assert not feasible(catalogue, limit.changed(scenario, tighter)), limit.name
        else:
            assert isinstance(gives, Listed)
            place = next(i for i, v in enumerate(gives.values) if limit.changed(scenario, v) == mend.scenario)
            for value in gives.values[:place]:
                assert not feasible(catalogue, limit.changed(scenario, value)), (limit.name, value)
    names = [limit.name for limit in [*limits_asked(scenario, catalogue), distance_of(scenario)]]
    assert len(names) == len(set(names))
    assert {"illuminance", "lead_length", "distance", "budget", "mass"} <= set(names)


def test_some_jobs_are_mended_in_several_ways() -> None:
    catalogue, scenario = impossible_case(0)
    assert sum(mend is not None for _, mend in mends(Desk(catalogue, scenario))) >= 2


@pytest.mark.parametrize("number", range(2))
def test_easing_saves_what_looking_at_every_build_says(number: int) -> None:
    rng = Random(number)
    for attempt in range(400):
        case = random_case(4000 + number, "battery", attempt, most_emitters=6)
        try:
            best = Oracle(case.catalogue, case.scenario, NODES).best("cost").build
        except TooManyError:
            continue
        if best is not None:
            break
    limits = case.scenario.limits.model_copy(update={"mass": best.milligrams * rng.choice([1.0, 1.2]) / 1e6})
    scenario = case.scenario.model_copy(update={"limits": limits})
    desk = Desk(case.catalogue, scenario)
    answer = desk.best(scenario).evaluation
    assert answer is not None
    told = {ease.limit: ease for ease in eases(desk, answer, 0.1)}
    for limit in limits_asked(scenario, case.catalogue):
        ease = told[limit.name]
        without = Oracle(case.catalogue, limit.without(scenario), 10 * NODES).best("cost").build
        assert without is not None
        assert ease.dropped == max(answer.cents - without.cents, 0), limit.name
        assert 0.0 <= ease.saves <= ease.dropped
        if ease.result is not None:
            assert ease.result.evaluation is not None
            assert value_of(answer, "cost") - value_of(ease.result.evaluation, "cost") == ease.saves
    assert told["lead_length"].eased != told["lead_length"].asked


def test_the_number_of_suppliers_is_a_limit_that_may_give_way(tmp_path: Path) -> None:
    catalogue = read_catalogue(write_few_parts(tmp_path / "parts", charges=True))
    job = read_scenario(write_job(tmp_path / "job.toml", 120.0, limits="suppliers_max = 1"))
    assert any_build(catalogue, job) is None
    mend = next(mend for limit, mend in mends(Desk(catalogue, job)) if limit.name == "suppliers_max")
    assert mend is not None
    assert (mend.asked, mend.needed) == ("1", "2")
    for number, can in ((1, False), (2, True)):
        limits = job.limits.model_copy(update={"suppliers_max": number})
        assert (any_build(catalogue, job.model_copy(update={"limits": limits})) is not None) is can


def test_evenness_gives_way_to_what_the_parts_can_do(tmp_path: Path) -> None:
    catalogue = read_catalogue(write_few_parts(tmp_path / "parts"))
    job = read_scenario(write_job(tmp_path / "job.toml", 60.0))
    light = job.light.model_copy(update={"subject_width": 3.0, "uniformity_min": 0.99})
    desk = Desk(catalogue, job.model_copy(update={"light": light}))
    found = {limit.name: mend for limit, mend in mends(desk)}
    mend = found["uniformity_min"]
    assert mend is not None
    assert mend.exact is not None
    assert 0.3 < mend.exact < 0.99
    assert mend.result.evaluation is not None
    achieved = mend.result.evaluation.figures["uniformity"][0]
    assert achieved is not None
    assert achieved >= mend.scenario.light.uniformity_min - 1e-9  # type: ignore[operator]
    for value, possible in ((mend.exact, True), (mend.exact * (1 + 1e-4), False)):
        tried = light.model_copy(update={"uniformity_min": value})
        assert (any_build(catalogue, job.model_copy(update={"light": tried})) is not None) is possible
    # No other limit alone mends it, and nearer would be less even.
    assert {name for name, change in found.items() if change is not None} == {"uniformity_min"}
    assert "distance" not in found


@pytest.mark.long
def test_a_point_gives_way_to_what_the_parts_can_do_and_keeps_its_lux_while_others_do(tmp_path: Path) -> None:
    catalogue = read_catalogue(write_few_parts(tmp_path / "parts"))
    job = read_scenario(write_job(tmp_path / "job.toml", 60.0))
    job = job.model_copy(update={"points": (Point(name="x", across=0.3, stops=4.0, stops_max=4.5),)})
    desk = Desk(catalogue, job)
    limits = {limit.name: limit for limit in limits_asked(job, catalogue)}
    # In cooler air the light is more, which may be too much: that is no easier.
    assert "ambient" not in limits
    less = limits["illuminance"].changed(job, 30.0)
    assert [(t.least, t.most) for t in less.targets(30.0)] == [(960.0, pytest.approx(60.0 * 2.0**4.5))]
    least = limits["illuminance at x"]
    assert isinstance(least.gives, Sliding)
    exact = slid(desk, least, least.gives)
    assert exact is not None
    for value, possible in ((exact, True), (exact * (1 + 1e-4), False)):
        assert (any_build(catalogue, least.changed(job, value)) is not None) is possible
    assert limits["illuminance at x, at most"].without(job).limited_targets(60.0)[0].most is None
