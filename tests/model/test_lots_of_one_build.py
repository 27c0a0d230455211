"""Many lights of one plain build at once against the exact check of each, figure by figure (invented parts)."""

from dataclasses import replace
from typing import Any

import numpy as np
import plain_parts
import pytest

from optimise.model.choice import Choice, Margin
from optimise.model.exact import build_of, evaluate
from optimise.model.lots import _left, left_on
from optimise.parts import Catalogue
from optimise.parts.tolerance import delivered

EMITTER = plain_parts.EMITTER.model_copy(
    update={
        "flux_per_kelvin": -0.003,
        "voltage_per_kelvin": -0.02,
        "voltage_min": 11.0,
        "voltage_max": 13.0,
        "dynamic_resistance": 2.0,
        "case_max": 85.0,
        "droop": 0.1,
        "flux_tolerance": 0.1,
        "voltage_tolerance": 0.05,
    }
)
LOTS = {("e", "flux"): [-0.1, 0.1, 0.05], ("e", "voltage"): [0.05, -0.05, 0.03], ("b", "capacity"): [-0.1, 0.05, 0.0]}


def lit(**changes: dict[str, Any]) -> Catalogue:
    """Return the plain parts with figures of some of them changed, by kind."""
    parts = plain_parts.catalogue(EMITTER)
    battery = {"capacity_tolerance": 0.1, "peukert": 1.2, "capacity_per_kelvin": 0.005, "usable": 0.8}
    update = {"batteries": battery, "panels": {"heat_density_max": 5e3}, **changes}
    kinds: dict[str, Any] = {
        kind: tuple(part.model_copy(update=figures) for part in getattr(parts, kind))
        for kind, figures in update.items()
    }
    return replace(parts, **kinds)


WARM = plain_parts.SCENARIO.power.model_copy(update={"ambient": 35.0})
LIMITS = plain_parts.SCENARIO.limits.model_copy(update={"power": 100.0, "mass": 9.0})
SCENARIO = plain_parts.SCENARIO.model_copy(update={"power": WARM, "limits": LIMITS})


def compared(catalogue: Catalogue, choice: Choice) -> set[str]:
    """Hold each of the lots against the exact check of what is delivered; return the names of limits that moved."""
    stated = evaluate(choice, catalogue, SCENARIO)
    off = {key: np.array(shares) for key, shares in LOTS.items()}
    left = left_on(build_of(choice, catalogue), stated, SCENARIO, off, 3)
    moved: set[str] = set()
    for turn in range(3):
        exact = evaluate(choice, delivered(catalogue, {key: shares[turn] for key, shares in LOTS.items()}), SCENARIO)
        for place, margin in enumerate(exact.margins):
            found = left[place][turn] if place in left else stated.margins[place].left
            assert found == pytest.approx(margin.left, rel=1e-9, abs=1e-9), margin.name
            if margin.left != stated.margins[place].left:
                moved.add(margin.name)
    return moved


def driven(current: float) -> Choice:
    choice = plain_parts.choice("p", None)
    return replace(choice, channels=(replace(choice.channels[0], current=current),))


@pytest.mark.parametrize("current", [0.5, 0.3])
def test_a_dimmed_light_and_one_at_its_rating(current: float) -> None:
    """Below its rating the emitter under full load decides what heat there may be under it."""
    moved = compared(lit(drivers={"output_current": current}), driven(current))
    assert {"illuminance", "runtime", "power", "d: output, low", "d: output, high", "heat under one emitter"} <= moved


def test_figures_that_are_left_blank() -> None:
    """No range of voltage, no hottest case, no resistance, no droop: what stands for them is what they are taken as."""
    blank = {"voltage_min": None, "voltage_max": None, "case_max": None, "droop": 0.0}
    assert "illuminance" in compared(lit(emitters=blank), driven(0.5))
    assert "illuminance" in compared(lit(emitters={"resistance_junction_case": 3.0, "case_max": 20.0}), driven(0.5))
    # A stated share of heat is what it is, whatever the light.
    assert "illuminance" in compared(lit(emitters={"heat_fraction": 0.7}), driven(0.5))


def test_the_runtime_of_a_battery_that_is_rated_at_a_current_or_a_time() -> None:
    """Peukert's law begins from the rated time; where none is stated, from the current itself."""
    for battery in ({"rated_time": 72000.0}, {"rated_time": None}, {"rated_time": None, "peukert": 1.0}):
        parts = lit(batteries={"capacity_tolerance": 0.1, "peukert": 1.2, "usable": 0.8, **battery})
        assert "runtime" in compared(parts, driven(0.5))


def test_a_power_factor_counts_on_alternating_current_alone() -> None:
    compared(lit(drivers={"power_factor": 0.5}), driven(0.5))


def test_what_is_left_by_hand() -> None:
    achieved = np.array([5.0, 20.0])
    at_most, at_least = Margin("x", "max", 10.0, 0.0, "", ""), Margin("x", "min", 10.0, 0.0, "", "")
    assert _left(at_most, None, achieved).tolist() == [0.5, -1.0]
    assert _left(at_least, None, achieved).tolist() == [-0.5, 1.0]
    # From where the scale begins; of a requirement that moves; where there is no scale, what is left itself.
    assert _left(replace(at_most, zero=6.0), None, achieved).tolist() == [1.25, -2.5]
    assert _left(at_most, np.array([20.0, 40.0]), achieved).tolist() == [0.75, 0.5]
    assert _left(replace(at_most, required=0.0), None, achieved).tolist() == [-5.0, -20.0]
    assert _left(replace(at_least, required=0.0), None, achieved).tolist() == [5.0, 20.0]
