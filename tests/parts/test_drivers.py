"""Drivers: what may be stated of dimming and ripple, and what follows from it."""

from pathlib import Path

import pytest
from pydantic import ValidationError
from sample_files import TABLES, write

from optimise.parts import Driver, InputError, read_catalogue

FEED = {
    "part": "d",
    "input": "dc",
    "input_min": 10.0,
    "input_max": 30.0,
    "output": "constant current",
    "output_current": 0.7,
    "output_min": 20.0,
    "output_max": 52.0,
    "power_max": 35.0,
    "efficiency": 0.9,
    "mass": 0.1,
}
MAINS = {**FEED, "input": "ac", "power_factor": 0.9}
GEAR = {**MAINS, "output": "ballast", "lamps": 1, "lamp_power": 36.0}


@pytest.mark.parametrize(
    ("figures", "column", "allowed"),
    [
        ({**FEED, "pwm": 1000.0}, "pwm", "blank unless dimmable is pwm"),
        ({**FEED, "dimmable": "current", "pwm": 1000.0}, "pwm", "blank unless dimmable is pwm"),
        ({**FEED, "dimmable": "no", "dim_min": 0.1}, "dim_min", "blank where dimmable is no"),
        ({**MAINS, "ripple_frequency": 100.0}, "ripple", "a share where ripple_frequency is stated"),
        ({**FEED, "ripple": 0.1}, "ripple_frequency", "a frequency where input is dc and there is a ripple"),
        ({**MAINS, "ballast": "electronic"}, "ballast", "blank unless output is ballast"),
        ({**GEAR, "input": "dc", "ballast": "magnetic"}, "ballast", "electronic where input is dc"),
        (
            {**GEAR, "ballast": "magnetic", "ripple": 0.3, "ripple_frequency": 100.0},
            "ripple_frequency",
            "blank for a magnetic ballast",
        ),
        ({**GEAR, "ballast": "magnetic", "dimmable": "pwm"}, "dimmable", "no, or blank, for a magnetic ballast"),
    ],
)
def test_what_does_not_go_together_is_refused(figures: dict[str, object], column: str, allowed: str) -> None:
    with pytest.raises(ValidationError) as caught:
        Driver.model_validate(figures)
    (error,) = caught.value.errors()
    assert str(error["msg"]).removeprefix("Value error, ").split("|")[:2] == [column, allowed]


def test_ripple_is_at_twice_the_mains_frequency_unless_stated() -> None:
    rippling = Driver.model_validate({**MAINS, "ripple": 0.1})
    assert rippling.rippling(50.0) == (0.1, 100.0)
    assert rippling.rippling(60.0) == (0.1, 120.0)
    assert rippling.rippling(None) is None
    assert Driver.model_validate({**MAINS, "ripple": 0.1, "ripple_frequency": 66e3}).rippling(50.0) == (0.1, 66e3)
    assert Driver.model_validate({**FEED, "ripple": 0.0}).rippling(None) == (0.0, 1.0)
    assert Driver.model_validate(FEED).rippling(50.0) is None


def test_switching_is_known_only_as_far_as_it_is_stated() -> None:
    assert Driver.model_validate(FEED).switching(1.0) == (1.0, 1.0)
    assert Driver.model_validate(FEED).switching(0.4) is None
    assert Driver.model_validate({**FEED, "dimmable": "current"}).switching(0.4) == (1.0, 1.0)
    assert Driver.model_validate({**FEED, "dimmable": "pwm"}).switching(0.4) is None
    assert Driver.model_validate({**FEED, "dimmable": "pwm", "pwm": 900.0}).switching(0.4) == (0.4, 900.0)


def test_units_of_a_file(tmp_path: Path) -> None:
    text = TABLES["drivers"].replace(
        "lamp_power [W],mass [g]", "lamp_power [W],mass [g],dimmable,dim_min [%],pwm [kHz]"
    )
    text = text.replace("0.91,,,,50", "0.91,,,,50,pwm,2,1.2").replace("0.92,,,,60", "0.92,,,,60,,,")
    text = text.replace("0.93,0.95,,,380", "0.93,0.95,,,380,no,,").replace("2,36,220", "2,36,220,,,0.5")
    with pytest.raises(InputError) as caught:
        read_catalogue(write(tmp_path, {**TABLES, "drivers": text}))
    (fault,) = caught.value.faults
    assert (fault.column, fault.allowed) == ("column pwm", "blank unless dimmable is pwm")
    (tmp_path / "drivers.csv").write_text(text.replace("2,36,220,,,0.5", "2,36,220,,,"), encoding="utf-8")
    driver = read_catalogue(tmp_path).find(Driver, "CC")
    assert (driver.dimmable, driver.dim_min, driver.pwm) == ("pwm", pytest.approx(0.02), pytest.approx(1200.0))
