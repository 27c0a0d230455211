"""What lets a channel be built and what it is, at the edges of each rule and by hand. Invented figures."""

import numpy as np
import pytest
from column_parts import BALLAST, TUBE

from optimise.columns.channels import Channels, DriverFigures, build_channels
from optimise.columns.expand import ceil_of, floor_of
from optimise.parts import Driver, Emitter

# Volts that do not depend on the current.
PLAIN = Emitter(
    part="plain",
    form="module",
    drive="constant current",
    flux=900.0,
    current=0.5,
    voltage=12.0,
    current_max=0.6,
    length=0.05,
    width=0.05,
    mass=0.02,
)
DRIVER = Driver(
    part="driver",
    input="dc",
    input_min=10.0,
    input_max=30.0,
    output="constant current",
    output_current=0.5,
    output_min=24.0,
    output_max=48.0,
    power_max=100.0,
    efficiency=0.9,
    mass=0.1,
)
STRIP = PLAIN.model_copy(update={"part": "strip", "form": "strip", "drive": "constant voltage", "voltage": 24.0})
STEADY = DRIVER.model_copy(update={"output": "constant voltage", "output_min": 24.0, "output_max": 24.0})


def built(emitter: Emitter, driver: Driver, limit: float = 60.0, capacity: int = 40) -> Channels:
    return build_channels((emitter,), DriverFigures((driver,)), 25.0, limit, np.array([capacity]), 1.0)


def strings(channels: Channels) -> set[tuple[int, int]]:
    """Every (series, parallel) of some channels."""
    return set(zip(channels.series.tolist(), channels.parallel.tolist(), strict=True))


def of(emitter: Emitter, **changes: object) -> Emitter:
    return emitter.model_copy(update=changes)


def at(driver: Driver, **changes: object) -> Driver:
    return driver.model_copy(update=changes)


def test_without_a_slope_the_window_alone_decides_on_the_series() -> None:
    # 24 to 48 V hold two, three and four of 12 V, whatever the current; both ends belong to it. 0.5 A may go
    # through one, two or three strings, or four of 0.125 A each.
    assert strings(built(PLAIN, DRIVER)) == {(s, p) for s in (2, 3, 4) for p in (1, 2, 3, 4)}
    # 100 W are more than enough for those. 13 W are enough for two of 6 W, of 0.5 A shared between any.
    assert strings(built(PLAIN, at(DRIVER, power_max=13.0))) == {(2, p) for p in (1, 2, 3, 4)}
    assert strings(built(PLAIN, at(DRIVER, power_max=11.9))) == set()
    # A single one reaches a window that starts below its voltage.
    assert strings(built(PLAIN, at(DRIVER, output_min=6.0, output_max=12.0))) == {(1, p) for p in (1, 2, 3, 4)}
    assert strings(built(PLAIN, at(DRIVER, output_min=13.0, output_max=23.0))) == set()


def test_parallel_strings_share_what_is_too_much_for_one() -> None:
    # 2 A over strings that bear 0.6 A: four at least; over strings that need 0.125 A: sixteen at most.
    found = built(PLAIN, at(DRIVER, output_current=2.0, power_max=200.0))
    assert {p for _, p in strings(found)} == set(range(4, 17))
    np.testing.assert_allclose(found.current * found.parallel, 2.0)
    assert found.current.max() == pytest.approx(0.5)
    # Exactly as much as they bear, and as little as they need.
    assert {p for _, p in strings(built(PLAIN, at(DRIVER, output_current=1.8, power_max=200.0)))} == set(range(3, 15))


def test_small_emitters_of_less_than_a_watt_and_a_volt() -> None:
    # 0.8 V at 0.1 A, from 0.1 A at 4 to 8 V: five to ten of them, and of 0.5 W six (0.08 W each).
    small = of(PLAIN, flux=20.0, current=0.1, current_min=0.1, current_max=0.1, voltage=0.8)
    feed = at(DRIVER, output_current=0.1, output_min=4.0, output_max=8.0)
    assert strings(built(small, feed)) == {(s, 1) for s in range(5, 11)}
    assert strings(built(small, at(feed, power_max=0.5))) == {(5, 1), (6, 1)}
    # The same where each ampere adds a volt.
    steep = of(small, dynamic_resistance=1.0)
    assert strings(built(steep, feed)) == {(s, 1) for s in range(5, 11)}
    assert strings(built(steep, at(feed, power_max=0.5))) == {(5, 1), (6, 1)}


def test_above_an_ampere_a_slope_adds_more_volts_than_amperes() -> None:
    # 12 V at 2 A, of which an ohm takes 2: two of them reach 24 V, and no more than four 48 V.
    strong = of(PLAIN, current=2.0, current_max=2.0, dynamic_resistance=1.0)
    found = built(strong, at(DRIVER, output_current=2.0, power_max=200.0))
    assert {s for s, p in strings(found) if p == 1} == {2, 3, 4}


def test_the_rated_voltage_stands_in_for_a_spread_at_its_upper_end() -> None:
    sloped = of(PLAIN, dynamic_resistance=1.5)
    dial = at(DRIVER, output_current=None, current_min=0.2, current_max=0.6, output_max=36.3, output_min=30.0)
    # 36.3 V over three of 12 V: i = 0.5 + (12.1 − 12) / 1.5 A.
    assert built(sloped, dial).current.max() == pytest.approx(0.5 + 0.1 / 1.5)


@pytest.mark.parametrize(("emitter", "driver"), [(PLAIN, DRIVER), (STRIP, STEADY)])
def test_what_can_be_touched_may_have_the_limit_itself(emitter: Emitter, driver: Driver) -> None:
    top = driver.output_max
    assert top is not None
    assert len(built(emitter, driver, limit=top))
    assert len(built(emitter, driver, limit=top * 0.9999)) == 0


def test_a_strip_of_the_driver_s_own_voltage_is_a_series_of_one() -> None:
    # 0.5 A and 12 W each from 0.5 A: a single strip.
    found = built(STRIP, STEADY)
    assert strings(found) == {(1, 1)}
    assert found.power.tolist() == pytest.approx([12.0 / 0.9])
    assert found.flux.tolist() == pytest.approx([900.0])
    # A driver that states no current gives what its power does: 100 W are eight of 12 W.
    assert strings(built(STRIP, at(STEADY, output_current=None))) == {(1, p) for p in range(1, 9)}


def test_a_ballast_needs_room_for_all_its_lamps() -> None:
    assert strings(built(TUBE, BALLAST, capacity=2)) == {(1, 2)}
    assert len(built(TUBE, BALLAST, capacity=1)) == 0
    (flux,) = built(TUBE, BALLAST).flux.tolist()
    assert flux == pytest.approx(2 * 3350.0)
    # A tube that states its current as well is no dimmer for it.
    assert built(of(TUBE, current=0.43, droop=0.2), BALLAST).flux.tolist() == pytest.approx([2 * 3350.0])


def test_without_a_thermal_resistance_the_junction_is_as_warm_as_the_board() -> None:
    found = built(PLAIN, DRIVER)
    assert found.rise.tolist() == [0.0] * len(found)
    assert built(of(PLAIN, resistance_junction_case=2.0, heat_fraction=0.5), DRIVER).rise[0] == pytest.approx(6.0)


def test_a_channel_counts_all_its_emitters() -> None:
    found = built(PLAIN, DRIVER)
    assert found.count.tolist() == [s * p for s, p in zip(found.series, found.parallel, strict=True)]
    assert found.count.max() == 16


def test_rounding_keeps_nothing_at_nothing() -> None:
    assert floor_of(np.array([0.0, 1.0, np.inf])).tolist()[:2] == [0, 1]
    assert ceil_of(np.array([0.0, 1.0, np.inf])).tolist()[:2] == [0, 1]
    assert floor_of(np.array([np.inf]))[0] >= 1e9
    assert ceil_of(np.array([np.inf]))[0] >= 1e9
