"""Stopped at any moment, the search shows a build that was checked, with a bound that is true, or none."""

import itertools
from pathlib import Path

import pytest
from comparison import NODES
from oracle import drawn_case

from optimise.model.search import best_build
from optimise.model.state import State, TimeUpError
from optimise.parts import read_catalogue
from optimise.scenario import read_scenario

ROOT = Path(__file__).parents[2]
SCALES = {"cost": 100.0, "mass": 1e6, "power": 1.0}


def stop_after(calls: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the time be up when it is looked at for the last time of so many."""
    looked = itertools.count(1)

    def seconds_left(self: State) -> float | None:
        if next(looked) > calls:
            raise TimeUpError
        return None

    monkeypatch.setattr(State, "seconds_left", seconds_left)


@pytest.mark.parametrize("calls", [0, 1, 2, 3, 4, 5, 6, 8, 10, 13, 17, 25])
@pytest.mark.parametrize(
    ("number", "source", "objective"), [(3, "battery", "cost"), (4, "mains", "mass"), (8, "any", "power")]
)
def test_what_is_shown_is_checked_and_its_bound_true(
    number: int, source: str, objective: str, calls: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    case, oracle = drawn_case(number, source, NODES)
    best = oracle.best(objective).build
    assert best is not None
    value = {"cost": best.cents, "mass": best.milligrams, "power": best.watts}[objective]
    stop_after(calls, monkeypatch)
    result = best_build(case.catalogue, case.scenario, objective)
    if result.evaluation is None:
        assert result.status == "stopped"
        assert result.proof.bound is None
        return
    assert result.status in ("optimal", "feasible")
    assert result.evaluation.passes
    assert result.proof.bound is not None
    assert result.proof.gap is not None
    assert result.proof.bound <= value / SCALES[objective] * (1 + 1e-6)
    shown = {
        "cost": result.evaluation.cents,
        "mass": result.evaluation.milligrams,
        "power": result.evaluation.watts,
    }[objective]
    assert shown >= value * (1 - 1e-6)
    if result.status == "optimal":
        assert shown == pytest.approx(value, rel=1e-6)
    else:
        assert result.proof.gap == pytest.approx(1 - result.proof.bound / (shown / SCALES[objective]), abs=1e-9)


@pytest.mark.long
def test_a_demonstration_stopped_early_keeps_an_honest_gap(monkeypatch: pytest.MonkeyPatch) -> None:
    catalogue = read_catalogue(ROOT / "catalogue")
    scenario = read_scenario(ROOT / "scenarios" / "pottery-studio.toml")
    whole = best_build(catalogue, scenario)
    assert whole.evaluation is not None
    seen = set()
    for calls in (0, 3, 6, 9):
        with monkeypatch.context() as patch:
            stop_after(calls, patch)
            early = best_build(catalogue, scenario)
        seen.add(early.status)
        if early.evaluation is not None:
            assert early.evaluation.passes
            assert early.proof.bound is not None
            assert early.proof.bound * 100 <= whole.evaluation.cents <= early.evaluation.cents
    assert "feasible" in seen
