"""What meters may be off, carried over to factors: worked by hand from the readings and the law of propagation."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from test_measured import AIR, at, light

from optimise.model.build import Build
from optimise.parts import Collector
from optimise.scenario import Scenario
from optimise.studies.measured import Factors, Fitted, compare, fit, predicted
from optimise.studies.meters import covered, with_meters
from optimise.studies.readings import METERS, Measured, Reading, read_measured

LUX, BARE, BOARD, RUNTIME = at("illuminance", 2.5), at("bare illuminance", 2.5), at("board temperature"), at("runtime")
CURRENT = at("current", 14.4)


def times(build: Build, scenario: Scenario, reading: Reading, *shares: float) -> list[Reading]:
    """Return readings that are these shares of what is predicted."""
    value = predicted(build, scenario, reading)
    return [replace(reading, value=share * value) for share in shares]


def fitted(readings: list[Reading], **meters: float) -> dict[str, Fitted]:
    build, scenario = light("battery")
    _, told = fit(build, scenario, readings)
    return {one.name: one for one in with_meters(build, scenario, readings, told, meters)}


def test_scatter_and_meter_add_as_squares() -> None:
    # By hand: ln 0.90, ln 0.92, ln 0.94 have the mean -0.083540 and the standard deviation 0.021743, so that their
    # mean is uncertain by 0.012554 with 2 degrees of freedom. A meter of ±4 % at 95 % is 0.04/1.960 = 0.020408. Both:
    # 0.023960, with 0.02396⁴/(0.012554⁴/2) = 26.5 degrees of freedom; t(26) is 2.056 (from
    # memory): 0.04926.
    build, scenario = light("battery")
    one = fitted(times(build, scenario, LUX, 0.90, 0.92, 0.94), lux_meter=0.04)["light"]
    assert one.factor == pytest.approx(math.exp(-0.083540), rel=1e-5)
    assert one.scatter == pytest.approx(0.012554, rel=1e-4)
    assert one.meters == pytest.approx(0.04, rel=1e-7)
    assert one.half_width == pytest.approx(0.04926, rel=5e-4)
    alone = fitted(times(build, scenario, LUX, 0.90, 0.92, 0.94))["light"]
    assert alone.meters is None
    assert alone.half_width == pytest.approx(4.303 * 0.012554, rel=5e-4)


def test_one_reading_is_as_sure_as_its_meter_and_a_ratio_of_two_is_surer() -> None:
    build, scenario = light("battery")
    lux, bare = times(build, scenario, LUX, 0.9)[0], times(build, scenario, BARE, 0.95)[0]
    assert fitted([lux], lux_meter=0.04)["light"].half_width == pytest.approx(0.04, rel=1e-7)
    assert fitted([lux])["light"].half_width is None
    both = fitted([lux, bare], lux_meter=0.04)
    assert both["flux"].half_width == pytest.approx(0.04, rel=1e-7)
    # What the meter is off cancels: nothing else is known of the transmittance's uncertainty.
    assert (both["transmittance"].meters, both["transmittance"].half_width) == (None, None)


def test_a_thermal_resistance_is_off_by_its_thermometer_and_its_heat() -> None:
    # R = (T − T_air)/Q by hand: 1 K on a rise of 19 K is 1/19; heat goes with P = V I − R I², whose sensitivity to the
    # current is (V − 2 R I) I/P.
    build, scenario = light("battery")
    board = replace(BOARD, value=AIR + 19.0)
    assert fitted([board], thermometer=1.0)["thermal resistance"].half_width == pytest.approx(1.0 / 19.0, rel=1e-6)
    amps = times(build, scenario, CURRENT, 1.03)[0]
    loop = 2.0 * scenario.power.lead_length * build.cable.ohms_per_metre * (1.0 + 0.00393 * (60.0 - 20.0))
    slope = (14.4 - 2.0 * loop * amps.value) / (14.4 - loop * amps.value)
    found = fitted([board, amps], thermometer=1.0, current_meter=0.02)
    assert found["input power"].half_width == pytest.approx(0.02 * slope, rel=1e-6)
    assert found["thermal resistance"].half_width == pytest.approx(math.hypot(1.0 / 19.0, 0.02 * slope), rel=1e-4)
    # Where its own meter is not stated, a factor has no range of meters.
    silent = fitted([board, amps], current_meter=0.02)
    assert silent["thermal resistance"].half_width is None
    assert silent["input power"].half_width == pytest.approx(0.02 * slope, rel=1e-6)


def test_a_capacity_is_as_sure_as_the_current_that_emptied_it() -> None:
    # A clock is exact. By Peukert's law t = H (C/(I H))^k: for the time that was measured, C goes with I.
    build, scenario = light("battery")
    assert build.battery is not None
    runtime, amps = times(build, scenario, RUNTIME, 0.9)[0], times(build, scenario, CURRENT, 1.0)[0]
    assert fitted([runtime, amps], current_meter=0.02)["usable energy"].half_width == pytest.approx(0.02, rel=1e-5)
    assert fitted([runtime])["usable energy"].half_width is None


def test_meters_move_a_factor_as_much_as_moved_readings_do() -> None:
    # Not linear, not by derivatives: every reading of the meter is really off by all that it may be.
    build, scenario = light("battery")
    readings = [
        *times(build, scenario, LUX, 0.93, 0.95),
        *times(build, scenario, CURRENT, 1.01),
        replace(BOARD, value=45.0),
    ]
    found = fitted(readings, lux_meter=0.03)
    more = [replace(r, value=1.03 * r.value) if r.quantity == "illuminance" else r for r in readings]
    _, moved = fit(build, scenario, more)
    for one in moved:
        shift = abs(math.log(one.value / found[one.name].value))
        assert shift == pytest.approx(found[one.name].meters or 0.0, abs=1e-3)


@pytest.mark.long
def test_truth_is_within_the_range_as_often_as_is_said() -> None:
    # Three hundred builders with a meter each of ±4 % (95 %) and 2 % of scatter: three standard deviations either way.
    build, scenario = light("battery")
    rng, held, rounds = np.random.default_rng(3), 0, 300
    value = predicted(build, scenario, LUX, Factors(flux=0.9))
    for _ in range(rounds):
        meter = rng.normal(0.0, 0.04 / 1.96)
        readings = [replace(LUX, value=value * math.exp(meter + rng.normal(0.0, 0.02))) for _ in range(3)]
        one = fitted(readings, lux_meter=0.04)["light"]
        held += abs(math.log(one.factor / 0.9)) <= (one.half_width or 0.0)
    assert abs(held / rounds - 0.95) < 3.0 * math.sqrt(0.95 * 0.05 / rounds) + 0.01


def test_a_reading_within_its_meter() -> None:
    build, scenario = light("battery")
    readings = [*times(build, scenario, LUX, 1.0 / 0.96, 0.96, 0.95), replace(BOARD, value=AIR), RUNTIME]
    rows = compare(build, scenario, readings, Factors())
    board = rows[3].predicted
    assert [covered(row, {"lux_meter": 0.04}) for row in rows] == [True, False, False, False, False]
    assert covered(rows[3], {"thermometer": board - AIR})
    assert not covered(rows[3], {"thermometer": 0.99 * (board - AIR)})


def read(path: Path | None = None, **meters: str) -> tuple[Measured, list[str]]:
    faults = Collector()
    given = {key: meters.get(key) for key in METERS}
    found = read_measured({"lux": ["1 lx at 1 m"]}, None, path, "measure", faults, given)
    return found, [f"{fault.column}: {fault.allowed}" for fault in faults.faults]


@pytest.mark.parametrize(
    ("key", "text", "value"),
    [
        ("lux_meter", "4 %", 0.04),
        ("lux_meter", "0.04", 0.04),
        ("current_meter", "2 percent", 0.02),
        ("thermometer", "1.5 K", 1.5),
    ],
)
def test_what_is_read_of_a_meter(key: str, text: str, value: float) -> None:
    found, faults = read(**{key: text})
    assert not faults
    assert found.meters == {key: pytest.approx(value)}


@pytest.mark.parametrize(
    ("key", "text", "words"),
    [
        ("lux_meter", "4", "at most 50 %"),
        ("lux_meter", "0 %", "more than 0"),
        ("current_meter", "0.1 A", "a share"),
        ("thermometer", "1 degC", "temperature difference in K"),
        ("thermometer", "30 K", "at most 20 K"),
        ("thermometer", "-1 K", "more than 0"),
    ],
)
def test_what_no_meter_is(key: str, text: str, words: str) -> None:
    _, (fault,) = read(**{key: text})
    assert f"--{key.replace('_', '-')}" in fault
    assert words in fault


def test_meters_stand_in_the_file_too_and_are_stated_once(tmp_path: Path) -> None:
    path = tmp_path / "m.toml"
    path.write_text('lux_meter = "4 %"\nthermometer = "1 K"\ncurrent_meter = ["2 %"]\n', encoding="utf-8")
    found, (wrong,) = read(path)
    assert found.meters == {"lux_meter": 0.04, "thermometer": 1.0}
    assert "key current_meter" in wrong
    same, faults = read(path, lux_meter="0.04")
    assert same.meters["lux_meter"] == 0.04
    assert len(faults) == 1
    _, (_, twice) = read(path, lux_meter="5 %")
    assert twice == "--lux-meter: one"
