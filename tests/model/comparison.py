"""Comparing what the search finds with what looking at every build finds."""

import pytest
from oracle import Oracle, drawn_case, own_figures
from random_catalogues import Case

from optimise.model.search import best_build

NODES = 20_000
"""Sets of channels that are looked at before a case is given up as too large."""

WATTS = 1e-6
"""Share: what the solver's tolerances blur counts as equal power, and later figures may use it up once more."""


def compare(number: int, source: str, objective: str, nodes: int) -> None:
    """Assert that the search finds what looking at every build finds."""
    compare_case(*drawn_case(number, source, nodes), objective)


def compare_case(case: Case, oracle: Oracle, objective: str) -> None:
    """Assert that the search finds what looking at every build of a case finds."""
    answer = oracle.best(objective)
    result = best_build(case.catalogue, case.scenario, objective)
    if answer.build is None:
        assert result.status == "impossible", case.name
        assert result.evaluation is None, case.name
        return
    found, wanted = result.evaluation, answer.build
    assert result.status == "optimal", case.name
    assert found is not None, case.name
    assert found.passes, case.name
    cents, milligrams, watts = own_figures(found.choice, case.catalogue, case.scenario)
    assert (found.cents, found.milligrams) == (cents, milligrams), case.name
    assert found.watts == pytest.approx(watts, rel=1e-9), case.name
    assert result.proof.bound is not None, case.name
    assert result.proof.gap is not None, case.name
    value = {"cost": cents / 100, "mass": milligrams / 1e6, "power": watts}[objective]
    assert result.proof.bound == pytest.approx(value, rel=result.proof.gap + 1e-9), case.name
    if objective == "cost":
        assert (cents, milligrams) == (wanted.cents, wanted.milligrams), case.name
    elif objective == "mass":
        assert (milligrams, cents) == (wanted.milligrams, wanted.cents), case.name
    else:
        assert watts == pytest.approx(wanted.watts, rel=WATTS), case.name
        # A few millionths more may buy a cheaper build, never a dearer one.
        assert cents <= wanted.cents, case.name
