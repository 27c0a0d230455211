"""The figures that are traded: how a build reads on each, where better lies, and how far the next value is."""

import math
from dataclasses import replace

import pytest
from plain_parts import EMITTER, PANEL, SCENARIO, TALL, catalogue, choice

from optimise.model.axes import AXES
from optimise.model.choice import Evaluation
from optimise.model.exact import evaluate

BUILD = evaluate(choice("p", "cloth"), catalogue(EMITTER), SCENARIO)
READ = replace(BUILD, cents=12345, milligrams=678901, watts=23.5, lux=432.1)


def running(hours: float | None) -> Evaluation:
    return replace(READ, figures={**READ.figures, "runtime": (hours, "h")})


@pytest.mark.parametrize(
    ("axis", "value"),
    [
        ("cost", 12345.0),
        ("mass", 678901.0),
        ("power", 23.5),
        ("runtime", 9000.0),
        ("illuminance", 432.1),
        ("panel_size", 0.8),
        ("source_size", 0.25),
    ],
)
def test_a_build_reads_by_what_is_written_on_it(axis: str, value: float) -> None:
    # 2.5 hours are 9000 s; the boards are 0.8 m × 0.25 m, one lying, one standing.
    for panel in (PANEL, TALL):
        assert AXES[axis].of(running(2.5), panel) == pytest.approx(value, rel=1e-12)


def test_on_mains_a_light_runs_without_end_and_nothing_runs_longer() -> None:
    runtime = AXES["runtime"]
    assert runtime.of(running(None), PANEL) == math.inf
    assert runtime.ends_at(math.inf)
    assert not runtime.ends_at(9000.0)
    assert not any(axis.ends_at(10.0) for axis in AXES.values())


@pytest.mark.parametrize("axis", AXES.values(), ids=AXES)
def test_the_next_value_is_better_by_what_a_solver_can_tell(axis: object) -> None:
    assert axis in AXES.values()
    rule = next(one for one in AXES.values() if one is axis)
    for value in (2.0, 75.0, 9000.0):
        following = rule.next(value)
        assert rule.better(following, value)
        assert not rule.better(value, following)
        assert not rule.better(value, value)
        assert (following < value) == (rule.prefers == "less")
        # Whole cents and milligrams; of the rest a few millionths, and of sizes, which are read, not worked out, less.
        least, most = {"cent": (1.0, 1.0), "mg": (1.0, 1.0), "m": (0.5e-9 * value, 2e-9 * value)}.get(
            rule.unit, (1e-7 * value, 1.5e-6 * value)
        )
        assert least * 0.999 <= abs(following - value) <= most * 1.001
        assert rule.better(value, rule.worst)
        assert rule.loss(value) < rule.loss(rule.worst)


@pytest.mark.parametrize(("axis", "lying", "square"), [("panel_size", 0.8, 0.3), ("source_size", 0.25, 0.3)])
def test_sizes_are_those_of_a_panel_alone(axis: str, lying: float, square: float) -> None:
    rule = AXES[axis]
    assert rule.listed is not None
    assert rule.of_panel(PANEL) == rule.of_panel(TALL) == lying
    assert rule.of_panel(PANEL.model_copy(update={"width": 0.3, "height": 0.3})) == square
    assert [name for name, one in AXES.items() if one.listed is not None] == ["panel_size", "source_size"]


def test_who_saves_wants_less_and_who_lights_wants_more() -> None:
    wants = {name: axis.prefers for name, axis in AXES.items()}
    assert {name for name, way in wants.items() if way == "more"} == {"runtime", "illuminance", "source_size"}
    assert AXES["mass"].loss(3.0) == 3.0
    assert AXES["runtime"].loss(3.0) == -3.0
