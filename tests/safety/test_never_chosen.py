"""The search never takes the dangerous part, and does take it as soon as it is just safe."""

from dataclasses import replace

import pytest
from dangers import BAIT, SAFE, Danger
from judge import dangers_of
from table import DANGERS
from worlds import World

from optimise.scenario.model import Objective

OBJECTIVES: tuple[Objective, ...] = ("cost", "mass", "power")


def assert_refused(world: World, objective: Objective) -> None:
    """Assert that a world's best build is sound and has nothing of the part that tempts."""
    record = world.record(objective)
    assert record["status"] == "optimal"
    assert BAIT not in {part["part"] for part in record["bill"]}
    assert dangers_of(record, world.files) == []


def assert_taken(world: World, objective: Objective) -> None:
    """Assert that a world's best build is sound and has the part that tempts."""
    record = world.record(objective)
    assert record["status"] == "optimal"
    assert BAIT in {part["part"] for part in record["bill"]}
    assert dangers_of(record, world.files) == []


def assert_safe_one(danger: Danger, objective: Objective) -> None:
    """Assert that what is 1 % beyond is left, and what is just safe is taken in its place, though it costs."""
    world = danger.beside_it(danger.worlds()[0])
    record = world.record(objective)
    codes = {part["part"] for part in record["bill"]}
    assert (BAIT in codes, SAFE in codes) == (False, True)
    assert record["status"] == "optimal"
    assert dangers_of(record, world.files) == []


def in_turn() -> list[tuple[Danger, Objective]]:
    """Return every danger with one objective; the others are for the long run."""
    pairs = [(danger, OBJECTIVES[number % 3]) for number, danger in enumerate(DANGERS)]
    return [(danger, "cost" if danger.loses else objective) for danger, objective in pairs]


@pytest.mark.parametrize(("danger", "objective"), in_turn(), ids=str)
def test_what_is_just_safe_is_chosen_and_not_what_is_one_percent_beyond(danger: Danger, objective: Objective) -> None:
    assert_safe_one(danger, objective)


@pytest.mark.long
@pytest.mark.parametrize("objective", OBJECTIVES)
@pytest.mark.parametrize("share", [1e-7, 0.05])
@pytest.mark.parametrize("danger", DANGERS, ids=str)
def test_no_objective_chooses_what_is_beyond(danger: Danger, share: float, objective: Objective) -> None:
    for world in danger.worlds(share):
        assert_refused(world, objective)


@pytest.mark.long
@pytest.mark.parametrize("objective", OBJECTIVES)
@pytest.mark.parametrize("danger", DANGERS, ids=str)
def test_every_objective_chooses_what_is_just_safe(danger: Danger, objective: Objective) -> None:
    if objective == "power" and danger.loses:
        pytest.skip("it loses more than what it would take the place of")
    assert_taken(danger.safe_world, objective)


@pytest.mark.long
@pytest.mark.parametrize("danger", DANGERS, ids=str)
def test_no_delivery_makes_it_worth_while(danger: Danger) -> None:
    """Where orders are charged, columns give way by other rules."""
    world = replace(danger.temptations()[0], delivery=5.0)
    record = world.record()
    assert SAFE in str(record["choice"])
    assert BAIT not in str(record["choice"])
    assert dangers_of(record, world.files) == []
