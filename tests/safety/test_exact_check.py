"""The exact check by itself: each dangerous build misses the right limit and no other, each just safe one misses none.

So does the judge, which knows the record and the CSV files alone: both would have to be wrong together.
"""

import pytest
from dangers import Danger, as_record, checked
from judge import dangers_of
from table import BY_NAME, DANGERS


def test_every_danger_has_a_name_and_a_source() -> None:
    assert len(BY_NAME) == len(DANGERS)
    assert all(danger.source and danger.limits and danger.verdict for danger in DANGERS)


@pytest.mark.parametrize("danger", DANGERS, ids=str)
def test_the_last_safe_value_is_allowed(danger: Danger) -> None:
    world = danger.safe_world
    evaluation, missed = checked(danger.with_bait(danger.choice), world.catalogue, world.scenario)
    assert missed == set()
    assert evaluation.passes
    assert dangers_of(as_record(evaluation), world.files) == []


@pytest.mark.parametrize("danger", DANGERS, ids=str)
def test_what_is_beyond_it_is_named(danger: Danger) -> None:
    named: set[str] = set()
    for world in danger.worlds():
        choice = danger.with_bait(danger.choice_beyond or danger.choice)
        evaluation, missed = checked(choice, world.catalogue, world.scenario)
        assert missed
        assert missed <= danger.named()
        assert not evaluation.passes
        assert danger.verdict in dangers_of(as_record(evaluation), world.files)
        named |= missed
    assert named == danger.named()
