"""What is said of drivers whose ripple, switching and dimming are not all known, and how far exposures differ then."""

import math

import pytest
from plain_parts import EMITTER, SCENARIO, catalogue

from optimise.model.modulation import driver_flicker, untold_of_modulation
from optimise.parts import Driver
from optimise.scenario import Scenario

(PLAIN,) = catalogue(EMITTER).drivers


def driver(**figures: object) -> Driver:
    return PLAIN.model_copy(update=figures)


def job(frequency: float | None = 50.0, **look: object) -> Scenario:
    power = SCENARIO.power.model_copy(update={"mains_frequency": frequency})
    return SCENARIO.model_copy(update={"look": SCENARIO.look.model_copy(update=look), "power": power})


FILMS = {"shutter": 1 / 48}
DIMS = {"dim_to": 0.5}
RIPPLE = "d: ripple is not stated; not checked: flicker at full output."
FREQUENCY = "scenario: power.mains_frequency is not stated; not checked: flicker of d."
DIMMABLE = "d: dimmable is not stated; not checked: whether it dims, and its flicker then."
PWM = "d: pwm is not stated; not checked: flicker when dimmed."
DIM_MIN = "d: dim_min is not stated; not checked: how far it dims."


@pytest.mark.parametrize(
    ("figures", "asked", "told"),
    [
        ({}, {}, []),
        ({}, FILMS, [RIPPLE]),
        ({"ripple": 0.0}, FILMS, []),
        ({"ripple": 0.2, "ripple_frequency": 300.0}, FILMS, []),
        ({"ripple": 0.2, "input": "ac"}, FILMS, []),
        ({"ripple": 0.2, "input": "ac"}, {**FILMS, "frequency": None}, [FREQUENCY]),
        ({"ripple": 0.2, "input": "ac"}, {"frequency": None}, []),
        ({"input": "ac"}, {**FILMS, "frequency": None}, [RIPPLE]),
        ({}, DIMS, [DIMMABLE]),
        ({"dimmable": "current"}, DIMS, [DIM_MIN]),
        ({"dimmable": "current", "dim_min": 0.1}, DIMS, []),
        ({"dimmable": "pwm", "dim_min": 0.1}, DIMS, []),
        ({"dimmable": "pwm", "dim_min": 0.1, "ripple": 0.0}, {**DIMS, **FILMS}, [PWM]),
        ({"dimmable": "pwm", "ripple": 0.0, "pwm": 700.0}, {**DIMS, **FILMS}, [DIM_MIN]),
        ({"dimmable": "current", "ripple": 0.0, "dim_min": 0.1}, {**DIMS, **FILMS}, []),
        ({"dimmable": "pwm"}, {**DIMS, **FILMS}, [RIPPLE, PWM, DIM_MIN]),
        ({"dimmable": "pwm"}, FILMS, [RIPPLE]),
        ({}, {**DIMS, **FILMS}, [RIPPLE, DIMMABLE]),
    ],
)
def test_each_blank_is_told_where_it_matters(
    figures: dict[str, object], asked: dict[str, object], told: list[str]
) -> None:
    scenario = job(**asked)  # type: ignore[arg-type]
    assert list(untold_of_modulation([driver(**figures)], scenario)) == told
    # Two of one driver are told once.
    assert list(untold_of_modulation([driver(**figures)] * 2, scenario)) == told


def test_exposures_by_hand() -> None:
    steady = driver(ripple=0.3, input="ac", dimmable="pwm", pwm=100.0)
    assert driver_flicker(steady, job(), 1.0) is None
    # Twice 50 Hz over 1/48 s: x = 100/48 periods, residual 0.3 sin(πx)/(πx).
    residual = 0.3 * abs(math.sin(math.pi * 100 / 48) / (math.pi * 100 / 48))
    stops = math.log2((1 + residual) / (1 - residual))
    assert driver_flicker(steady, job(**FILMS), 1.0) == pytest.approx(stops, rel=1e-9)
    # Half of each of 2 + 1/12 periods: on for 1 to 1 + 1/12 of them.
    switched = driver(ripple=0.0, dimmable="pwm", pwm=100.0)
    assert driver_flicker(switched, job(**FILMS), 0.5) == pytest.approx(math.log2(13 / 12), rel=1e-9)
    assert driver_flicker(switched, job(**FILMS), 1.0) == pytest.approx(0.0, abs=1e-12)
    assert driver_flicker(driver(), job(**FILMS), 1.0) is None
