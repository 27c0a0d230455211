"""Channels against a plain loop over every driver, string and drive level."""

import numpy as np
import pytest
from column_parts import BALLAST, TUBE
from numpy.typing import NDArray

from optimise.columns.channels import DriverFigures, build_channels
from optimise.columns.expand import ceil_of, expand, floor_of
from optimise.parts import Driver, Emitter
from optimise.parts.emitters import LEAST_DRIVE

# Invented figures.
MODULE = Emitter(
    part="module",
    form="module",
    drive="constant current",
    flux=1200.0,
    current=0.7,
    voltage=12.0,
    voltage_min=11.4,
    voltage_max=12.8,
    voltage_per_kelvin=-0.01,
    dynamic_resistance=1.5,
    current_max=0.9,
    length=0.05,
    width=0.05,
    mass=0.02,
    droop=0.1,
    heat_fraction=0.6,
    resistance_junction_case=2.0,
    case_max=85.0,
)
STRIP = Emitter(
    part="strip",
    form="strip",
    drive="constant voltage",
    flux=500.0,
    current=0.2,
    voltage=12.0,
    length=0.25,
    width=0.01,
    mass=0.01,
)
FIXED = Driver(
    part="fixed",
    input="dc",
    input_min=10.0,
    input_max=30.0,
    output="constant current",
    output_current=0.7,
    output_min=20.0,
    output_max=52.0,
    power_max=35.0,
    efficiency=0.9,
    mass=0.1,
)
DIAL = Driver(
    part="dial",
    input="ac",
    input_min=200.0,
    input_max=240.0,
    output="constant current",
    current_min=0.35,
    current_max=1.75,
    output_min=9.0,
    output_max=48.0,
    power_max=60.0,
    efficiency=0.88,
    power_factor=0.95,
    mass=0.2,
)
STEADY = Driver(
    part="steady",
    input="dc",
    input_min=18.0,
    input_max=36.0,
    output="constant voltage",
    output_current=2.5,
    output_min=24.0,
    output_max=24.0,
    power_max=50.0,
    efficiency=0.92,
    mass=0.1,
)
# Its window bounds the current from both ends: of two in series from below, of three from above.
TIGHT = DIAL.model_copy(update={"part": "tight", "output_min": 22.0, "output_max": 38.0})
WRONG = BALLAST.model_copy(update={"part": "wrong", "lamp_power": 58.0})
STEP = 0.1
DRIVERS = (FIXED, DIAL, STEADY, BALLAST, WRONG)
EMITTERS = (MODULE, STRIP, TUBE)
CAPACITY = np.array([20, 30, 6], dtype=np.int64)


Floats = NDArray[np.float64]


def volts(rated: float, current: Floats | float, junction: float) -> Floats:
    return np.asarray(rated + 1.5 * (np.asarray(current) - 0.7) - 0.01 * (junction - 25.0))


def allowed(driver: Driver, series: int, parallel: int, current: Floats, ambient: float, slack: float) -> Floats:
    """Those of the currents of each string that emitter and driver bear."""
    assert driver.output_min is not None
    assert driver.output_max is not None
    assert driver.power_max is not None
    least = driver.output_current or driver.current_min or 0.0
    most = driver.output_current or driver.current_max or 0.0
    low = series * volts(11.4, current, 85.0)
    high = series * volts(12.8, current, min(ambient, 25.0))
    watts = series * parallel * current * volts(12.8, current, 25.0)
    good = max(LEAST_DRIVE * 0.7, least / parallel) <= current * (1 + slack)
    good &= current <= min(0.9, most / parallel) * (1 + slack)
    good &= low >= driver.output_min * (1 - slack)
    good &= high <= driver.output_max * (1 + slack)
    good &= watts <= driver.power_max * (1 + slack)
    return current[good]


def by_loop(ambient: float, limit: float, step: float) -> dict[tuple[str, int, int], list[float]]:
    """Every (driver, series, parallel) of the module with its currents, their ends found in small steps."""
    found: dict[tuple[str, int, int], list[float]] = {}
    fine = np.linspace(0.0, 1.0, 5001).tolist()
    for driver in (FIXED, DIAL):
        if driver.output_max is not None and driver.output_max > limit:
            continue
        for parallel in range(1, 21):
            ends = [(driver.current_min or 0.0) / parallel, (driver.current_max or 0.0) / parallel, 0.175, 0.9]
            tried = np.array(sorted([*fine, *ends]))
            for series in range(1, 20 // parallel + 1):
                key = driver.part, series, parallel
                if driver.output_current is not None:
                    only = np.array([driver.output_current / parallel])
                    if len(allowed(driver, series, parallel, only, ambient, 1e-12)):
                        found[key] = only.tolist()
                    continue
                good = allowed(driver, series, parallel, tried, ambient, 1e-9).tolist()
                if good:
                    steps = [k * step * 0.7 for k in range(1, 200)]
                    between = [i for i in steps if good[0] + 2e-4 < i < good[-1] - 2e-4]
                    found[key] = [good[0], *between, *([good[-1]] if good[-1] > good[0] * (1 + 1e-5) else [])]
    return found


@pytest.mark.parametrize("step", [0.1, 0.25])
@pytest.mark.parametrize("ambient", [-10.0, 25.0, 40.0])
@pytest.mark.parametrize("limit", [50.0, 60.0])
def test_constant_current_channels_are_all_and_only_the_allowed(ambient: float, limit: float, step: float) -> None:
    channels = build_channels(EMITTERS, DriverFigures(DRIVERS), ambient, limit, CAPACITY, step)
    mine = channels.take(channels.emitter == 0)
    built: dict[tuple[str, int, int], list[float]] = {}
    for d, s, p, i in zip(mine.driver, mine.series, mine.parallel, mine.current, strict=True):
        built.setdefault((DRIVERS[d].part, int(s), int(p)), []).append(float(i))
    looked = by_loop(ambient, limit, step)
    assert built.keys() == looked.keys()
    for key, currents in looked.items():
        assert built[key] == pytest.approx(currents, abs=3e-4), key
    assert built


def test_the_greatest_current_uses_up_what_the_driver_gives() -> None:
    channels = build_channels((MODULE,), DriverFigures((DIAL,)), 25.0, 60.0, CAPACITY[:1], STEP)
    one = channels.take((channels.series == 3) & (channels.parallel == 3))
    # 60 W over nine modules at the top of their spread: i (12.8 + 1.5 (i − 0.7)) = 6.667 W, i = 0.5313 A.
    assert one.current[-1] == pytest.approx(0.5313, abs=1e-4)
    assert 9 * one.current[-1] * volts(12.8, float(one.current[-1]), 25.0) == pytest.approx(60.0, rel=1e-12)


@pytest.mark.parametrize(("ambient", "most"), [(25.0, 0.6111), (-10.0, 0.3778)])
def test_a_window_bounds_the_current_by_the_least_and_the_greatest_voltage(ambient: float, most: float) -> None:
    channels = build_channels((MODULE,), DriverFigures((TIGHT,)), ambient, 60.0, CAPACITY[:1], STEP)
    # 22 V over two hot modules of 11.4 − 0.6 V: i = 0.7 + (11 − 10.8) / 1.5 A at least.
    two = channels.take((channels.series == 2) & (channels.parallel == 1))
    assert two.current[0] == pytest.approx(0.8333, abs=1e-4)
    # 38 V over three of 12.8 V, and 0.35 V more each at −10 °C: i = 0.7 + (38 / 3 − 12.8 − …) / 1.5 A at most.
    three = channels.take((channels.series == 3) & (channels.parallel == 1))
    assert three.current[-1] == pytest.approx(most, abs=1e-4)
    # One without a spread is taken at its voltage.
    plain = MODULE.model_copy(update={"voltage_min": None, "voltage_max": None})
    channels = build_channels((plain,), DriverFigures((TIGHT,)), 25.0, 60.0, CAPACITY[:1], STEP)
    two = channels.take((channels.series == 2) & (channels.parallel == 1))
    three = channels.take((channels.series == 3) & (channels.parallel == 1))
    assert two.current[0] == pytest.approx(0.7 + (11.0 - 11.4) / 1.5, abs=1e-9)
    assert three.current[-1] == pytest.approx(0.9, rel=1e-9)


def test_a_window_that_two_ends_of_the_spread_cannot_both_meet_has_no_string() -> None:
    # Three hot ones of 10.8 V reach 33.2 V at 0.88 A; three of 12.8 V go above 37 V from 0.39 A on.
    narrow = DIAL.model_copy(update={"output_min": 33.2, "output_max": 37.0})
    channels = build_channels((MODULE,), DriverFigures((narrow,)), 25.0, 60.0, CAPACITY[:1], STEP)
    assert 3 not in channels.series
    # With half of the slope: i = 0.7 + (38 / 3 − 12.8) / 0.5 A.
    flat = MODULE.model_copy(update={"dynamic_resistance": 0.5})
    channels = build_channels((flat,), DriverFigures((TIGHT,)), 25.0, 60.0, CAPACITY[:1], STEP)
    three = channels.take((channels.series == 3) & (channels.parallel == 1))
    assert three.current[-1] == pytest.approx(0.7 + (38.0 / 3.0 - 12.8) / 0.5, rel=1e-9)


def test_a_power_factor_counts_on_mains_alone() -> None:
    stated = FIXED.model_copy(update={"power_factor": 0.5})
    channels = build_channels((MODULE,), DriverFigures((stated,)), 25.0, 60.0, CAPACITY[:1], STEP)
    assert len(channels)
    np.testing.assert_array_equal(channels.apparent, channels.power)


def test_figures_of_a_channel_by_hand() -> None:
    channels = build_channels((MODULE,), DriverFigures((FIXED,)), 25.0, 60.0, CAPACITY[:1], STEP)
    index = np.flatnonzero((channels.series == 2) & (channels.parallel == 2))
    assert len(index) == 1
    one = channels.take(index)
    current, drive = 0.35, 0.5
    watts = current * (12.0 - 1.5 * 0.35)
    assert one.current[0] == pytest.approx(current)
    assert one.flux[0] == pytest.approx(4 * 1200 * drive * (1 + 0.1 * 0.5))
    assert one.heat[0] == pytest.approx(4 * watts * 0.6)
    assert one.rise[0] == pytest.approx(watts * 0.6 * 2.0)
    assert one.power[0] == pytest.approx(4 * watts / 0.9)
    assert one.apparent[0] == pytest.approx(4 * watts / 0.9)


def test_constant_voltage_takes_up_to_current_and_power() -> None:
    channels = build_channels(EMITTERS, DriverFigures(DRIVERS), 25.0, 60.0, CAPACITY, STEP)
    mine = channels.take(channels.emitter == 1)
    assert {DRIVERS[d].part for d in mine.driver} == {"steady"}
    assert set(mine.series.tolist()) == {2}
    # 2.5 A / 0.2 A = 12 strings, 50 W / 4.8 W = 10 strings, 30 pieces = 15 strings.
    assert sorted(mine.parallel.tolist()) == list(range(1, 11))


def test_constant_voltage_strings_obey_the_voltage_limit() -> None:
    channels = build_channels((STRIP,), DriverFigures((STEADY,)), 25.0, 20.0, CAPACITY[1:2], STEP)
    assert len(channels) == 0


def test_ballast_feeds_all_its_lamps_of_its_own_power() -> None:
    channels = build_channels(EMITTERS, DriverFigures(DRIVERS), 25.0, 60.0, CAPACITY, STEP)
    mine = channels.take(channels.emitter == 2)
    assert [(DRIVERS[d].part, int(p)) for d, p in zip(mine.driver, mine.parallel, strict=True)] == [("ballast", 2)]
    assert mine.power[0] == pytest.approx(80.0)
    assert mine.apparent[0] == pytest.approx(80.0 / 0.96)


def test_expand_lists_every_whole_number_of_every_range() -> None:
    index, value = expand(np.array([2, 5, 1]), np.array([4, 4, 1]))
    assert index.tolist() == [0, 0, 0, 2]
    assert value.tolist() == [2, 3, 4, 1]


def test_rounding_forgives_noise_only() -> None:
    assert floor_of(np.array([0.3 / 0.1, 2.999])).tolist() == [3, 2]
    assert ceil_of(np.array([0.1 * 3 / 0.1, 3.001])).tolist() == [3, 4]
