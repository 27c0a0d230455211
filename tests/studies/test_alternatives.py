"""Alternatives against looking at every build."""

from itertools import islice

import pytest
from fronts import every_build
from oracle import Build, Oracle, TooManyError
from random_catalogues import random_case

from optimise.model.heuristic import value_of
from optimise.scenario.model import Objective
from optimise.studies.alternatives import (
    KINDS,
    Asked,
    capped,
    different,
    next_best,
    pieces_of,
    unknown_names,
    without_name,
)
from optimise.studies.desk import Desk


def case_of(number: int, objective: Objective) -> tuple[Desk, list[tuple[float, Build]]]:
    """Return a small random job, and all its builds, the best by the objective first."""
    for attempt in range(400):
        case = random_case(2000 + number, ("battery", "mains", "any")[number % 3], attempt, most_emitters=6)
        try:
            oracle = Oracle(case.catalogue, case.scenario, 1500)
        except TooManyError:
            continue
        if len(oracle.lit) * len(oracle.sources) > 40_000 or oracle.best(objective).build is None:
            continue
        builds = [(build.key(objective)[0], build) for build, _ in every_build(oracle)]
        search = case.scenario.search.model_copy(update={"objective": objective})
        desk = Desk(case.catalogue, case.scenario.model_copy(update={"search": search}))
        good = [(v, b) for v, b in sorted(builds, key=lambda row: row[0]) if oracle.check(b).passes]
        return desk, good
    raise AssertionError("no case is small enough")


@pytest.mark.parametrize("number", range(4))
def test_next_best_builds_are_those_of_all_builds(number: int) -> None:
    objective: Objective = ("cost", "mass")[number % 2]  # type: ignore[assignment]
    desk, builds = case_of(number, objective)
    best = desk.best(desk.scenario).evaluation
    assert best is not None
    found = [a.result.evaluation for a in next_best(desk, best, 5)]
    told = [pieces_of(best.choice)]
    for other in found:
        assert other is not None
        assert other.passes
        left = [(v, b) for v, b in builds if not any(pieces <= pieces_of(b.choice) for pieces in told)]
        assert value_of(other, objective) == left[0][0]
        assert not any(pieces <= pieces_of(other.choice) for pieces in told)
        told.append(pieces_of(other.choice))
    if len(found) < 5:
        assert all(any(pieces <= pieces_of(b.choice) for pieces in told) for _, b in builds)


@pytest.mark.parametrize("number", [0, pytest.param(1, marks=pytest.mark.long)])
@pytest.mark.parametrize("kind", KINDS)
def test_the_best_build_with_another_part_is_that_of_all_builds(number: int, kind: str) -> None:
    desk, builds = case_of(number, "cost")
    best = desk.best(desk.scenario).evaluation
    assert best is not None
    gone = {piece for piece in pieces_of(best.choice) if piece[0] == kind}
    left = [(v, b) for v, b in builds if not gone & pieces_of(b.choice)]
    found = different(desk, best, kind)
    if found is None:
        assert not left
    else:
        assert found.result.evaluation is not None
        assert value_of(found.result.evaluation, "cost") == left[0][0]
        assert not gone & pieces_of(found.result.evaluation.choice)


def test_only_what_lies_within_the_share_is_told() -> None:
    desk, _ = case_of(6, "cost")
    best = desk.best(desk.scenario).evaluation
    assert best is not None
    every = [value_of(a.result.evaluation, "cost") for a in next_best(desk, best, 4) if a.result.evaluation]
    assert len(every) >= 3
    share = every[1] / best.cents - 1.0
    assert capped(desk, best, share).limits.budget in (int(every[1]), int(every[1]) - 1)
    within = [a.result.evaluation for a in next_best(desk, best, 4, share + 1e-6)]
    assert [value_of(e, "cost") for e in within if e] == [v for v in every if v <= every[1]]


def test_nothing_comes_from_the_supplier_left_out() -> None:
    desk, _ = case_of(1, "cost")
    best = desk.best(desk.scenario).evaluation
    assert best is not None
    supplier = best.bill[0].purchase.offer.supplier
    found = without_name(desk, best, supplier)
    if found is not None:
        assert found.result.evaluation is not None
        assert all(line.purchase.offer.supplier != supplier for line in found.result.evaluation.bill)
        assert found.result.evaluation.cents >= best.cents
    part = best.choice.panel
    other = without_name(desk, best, part)
    assert other is None or (other.result.evaluation is not None and other.result.evaluation.choice.panel != part)


def test_what_was_asked_is_answered_one_by_one_and_none_is_left_out() -> None:
    desk, _ = case_of(2, "cost")
    best = desk.best(desk.scenario).evaluation
    assert best is not None
    asked = Asked(2, ("panel",), (best.choice.cable,), 1e-9)
    answers = list(asked.answers(desk, best))
    assert [name for name, _ in answers] == ["next best", "next best", "other panel", f"without {best.choice.cable}"]
    assert len(answers) == len(asked)
    assert not Asked(0, (), (), None)


def test_unknown_names_are_told_with_the_nearest_known() -> None:
    desk, _ = case_of(2, "cost")
    part = desk.catalogue.panels[0].part
    assert unknown_names(desk.catalogue, [part, desk.catalogue.suppliers[0].supplier]) == []
    (told,) = unknown_names(desk.catalogue, [part + "x"])
    assert f"did you mean {part}?" in told


def test_alternatives_come_in_rising_order() -> None:
    desk, _ = case_of(3, "mass")
    best = desk.best(desk.scenario).evaluation
    assert best is not None
    found = [value_of(a.result.evaluation, "mass") for a in islice(next_best(desk, best, 6), 6) if a.result.evaluation]
    assert found == sorted(found)
    assert found[0] >= best.milligrams
