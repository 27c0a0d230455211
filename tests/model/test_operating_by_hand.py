"""What a build does at work, by plain arithmetic: strings, board, flux, lead, runtime. Parts are invented."""

import math
from dataclasses import replace

import numpy as np
import pytest
from plain_parts import EMITTER, asking, catalogue, choice, with_part

from optimise.model.build import Build
from optimise.model.exact import build_of
from optimise.model.operating import brightest, operating, strings_of
from optimise.parts import Emitter
from optimise.physics.heat import HOTTEST, heat_shed
from optimise.scenario import Scenario

# 12 V at 0.5 A, from 11 to 13 V over the spread, 2 ohm, −10 mV/K; half of its power is heat.
WARM = EMITTER.model_copy(
    update={
        "voltage_min": 11.0,
        "voltage_max": 13.0,
        "voltage_per_kelvin": -0.01,
        "dynamic_resistance": 2.0,
        "heat_fraction": 0.5,
        "resistance_junction_case": 4.0,
        "flux_per_kelvin": -0.002,
        "droop": 0.1,
    }
)
TUBE = Emitter(
    part="e", form="tube", drive="ballast", flux=3350.0, power=36.0, length=0.2, width=0.05, mass=0.1, heat_fraction=0.6
)
COLD, HOT = asking(power={"ambient": 5.0}), asking(power={"ambient": 40.0})


def built(emitter: Emitter, series: int = 2, parallel: int = 3, current: float = 0.4, number: int = 2) -> Build:
    """Return a build of so many channels of so many strings."""
    build = build_of(choice("p", "film"), catalogue(emitter))
    (channel,) = build.choice.channels
    channel = replace(channel, series=series, parallel=parallel, current=current, number=number)
    return replace(build, choice=replace(build.choice, channels=(channel,)))


def test_a_string_by_hand() -> None:
    (string,) = strings_of(built(WARM), COLD)
    # At 0.4 A each piece has 0.2 V less than at 0.5 A; 20 K below the reference it has 0.2 V more.
    assert string.emitter_heat == pytest.approx(0.4 * 11.8 * 0.5)
    assert string.heat == pytest.approx(12 * 0.4 * 11.8 * 0.5)
    assert string.power == pytest.approx(12 * 0.4 * 11.8 / 0.9)
    assert string.apparent == string.power  # fed with dc
    assert string.high == pytest.approx(2 * (13.0 - 0.2 + 0.2))
    # No greatest case temperature is stated: it is taken at the reference.
    assert string.low == pytest.approx(2 * (11.0 - 0.2))
    # The most power of one driver: 2 in series, 3 beside each other, at the high end of the spread.
    assert string.output == pytest.approx(6 * 0.4 * 12.8)
    # Drive 0.8: efficacy gains 10 % of the fifth that is missing.
    assert string.flux == pytest.approx(1000.0 * 0.8 * 1.02)


def test_the_lowest_voltage_is_that_of_the_hottest_case_and_never_above_that_at_25_degrees() -> None:
    # 60 K above the reference: 0.6 V less.
    hot = WARM.model_copy(update={"case_max": 85.0})
    assert strings_of(built(hot), COLD)[0].low == pytest.approx(2 * (11.0 - 0.2 - 0.6))
    cool = WARM.model_copy(update={"case_max": 20.0})
    assert strings_of(built(cool), COLD)[0].low == pytest.approx(2 * (11.0 - 0.2))


def test_warm_air_does_not_lower_the_highest_voltage() -> None:
    # It is that of a cold start; where the air is warm the light may be put away cooler.
    assert strings_of(built(WARM), HOT)[0].high == pytest.approx(2 * (13.0 - 0.2))


def test_without_a_spread_the_rated_voltage_stands_for_it() -> None:
    plain = WARM.model_copy(update={"voltage_min": None, "voltage_max": None})
    (string,) = strings_of(built(plain), COLD)
    assert string.low == pytest.approx(2 * 11.8)
    assert string.high == pytest.approx(2 * 12.0)
    assert string.output == pytest.approx(6 * 0.4 * 11.8)


def test_a_tube_is_a_lamp_of_its_power() -> None:
    (string,) = strings_of(built(TUBE, 1, 2, 0.0, 3), COLD)
    assert (string.low, string.high, string.flux) == (0.0, 0.0, 3350.0)
    assert string.output == 2 * 36.0
    assert string.emitter_heat == pytest.approx(36.0 * 0.6)
    assert string.power == pytest.approx(6 * 36.0 / 0.9)


def test_a_strip_has_the_voltage_that_it_is_fed() -> None:
    strip = WARM.model_copy(update={"form": "strip", "drive": "constant voltage"})
    (string,) = strings_of(built(strip, 2, 3, 0.5), COLD)
    assert (string.low, string.high, string.flux) == (24.0, 24.0, 1000.0)
    assert string.output == pytest.approx(6 * 6.0)


def test_volt_amperes_are_those_of_mains_alone() -> None:
    for fed, factor, share in (("ac", 0.8, 0.8), ("ac", None, 1.0), ("dc", 0.8, 1.0)):
        (string,) = strings_of(with_part(built(WARM), "drivers", input=fed, power_factor=factor), COLD)
        assert string.apparent == pytest.approx(string.power / share)


def state_of(build: Build, scenario: Scenario = COLD) -> tuple[float, float | None, float]:
    """Return flux, hottest junction and board."""
    state = operating(build, strings_of(build, scenario), scenario)
    return state.flux, state.hottest, state.board


def test_a_board_with_a_resistance_is_so_much_warmer() -> None:
    build = with_part(built(WARM), "panel", thermal_resistance=0.5)
    flux, hottest, board = state_of(build)
    heat = 12 * 0.4 * 11.8 * 0.5
    assert board == pytest.approx(5.0 + 0.5 * heat)
    junction = board + 4.0 * 0.4 * 11.8 * 0.5
    assert hottest == pytest.approx(junction)
    assert flux == pytest.approx(12 * 816.0 * (1.0 - 0.002 * (junction - 25.0)))


def test_any_other_board_sheds_what_it_gets() -> None:
    build = built(WARM)
    board = state_of(build)[2]
    panel = build.panel
    shed = heat_shed(board, 5.0, panel.width, panel.height, panel.faces, panel.emissivity)
    assert shed == pytest.approx(12 * 0.4 * 11.8 * 0.5, rel=1e-9)


def test_a_board_that_cannot_shed_it_is_as_hot_as_can_be() -> None:
    build = with_part(built(WARM, number=100_000), "panel", width=0.05, height=0.05)
    assert state_of(build)[2] == 5.0 + HOTTEST


def test_the_hottest_junction_is_known_where_all_resistances_are() -> None:
    build = built(WARM)
    other = WARM.model_copy(update={"part": "f", "resistance_junction_case": 9.0})
    (channel,) = build.choice.channels
    channels = (replace(channel, emitter="f"), channel)
    both = replace(
        build, kinds=(WARM, other), choice=replace(build.choice, channels=channels), drivers=build.drivers * 2
    )
    state = operating(both, strings_of(both, COLD), COLD)
    # The one of 9 K/W is hotter, whichever comes last; fluxes are by kind, in the order of the choice.
    assert state.hottest == pytest.approx(state.board + 9.0 * 0.4 * 11.8 * 0.5)
    wanted = [12 * 816.0 * (1.0 - 0.002 * (state.board + ohms * 0.4 * 11.8 * 0.5 - 25.0)) for ohms in (4.0, 9.0)]
    assert state.fluxes == pytest.approx(wanted)
    assert state.flux == pytest.approx(sum(wanted))
    unknown = replace(both, kinds=(WARM, other.model_copy(update={"resistance_junction_case": None})))
    state = operating(unknown, strings_of(unknown, COLD), COLD)
    assert state.hottest is None
    # Its junction is taken as warm as the board.
    assert state.fluxes[1] == pytest.approx(12 * 816.0 * (1.0 - 0.002 * (state.board - 25.0)))


def test_light_of_one_kind_is_that_of_all_its_channels() -> None:
    build = with_part(built(EMITTER, 2, 1, 0.5, 3), "panel", thermal_resistance=0.1)
    (channel,) = build.choice.channels
    channels = (channel, replace(channel, series=1, number=1))
    both = replace(build, choice=replace(build.choice, channels=channels), drivers=build.drivers * 2)
    assert state_of(both)[0] == pytest.approx(7 * 1000.0)  # no light is lost with heat


def test_a_lead_by_hand() -> None:
    # 2 m of 2 conductors of 1.5 mm²: 13.3 ohm/km (IEC 60228 class 5), at 60 °C 1 + 0.00393 × 40 of it (IEC 60028).
    scenario = asking(power={"lead_length": 2.0})
    build = replace(built(WARM), choice=replace(built(WARM).choice, battery_series=2))
    state = operating(build, strings_of(build, scenario), scenario)
    lead = state.lead
    resistance = 2 * 2.0 * 13.3e-3 * (1 + 0.00393 * 40)
    assert lead.resistance == pytest.approx(resistance)
    # Two batteries of 12 V, from 10 to 14 V.
    assert (lead.nominal, lead.lowest, lead.highest) == (24.0, 20.0, 28.0)
    power = 12 * 0.4 * 11.8 / 0.9
    for volts, amperes in ((20.0, lead.current), (24.0, lead.nominal_current)):
        # V I − R I² = P, the smaller root.
        assert amperes == pytest.approx(min(np.roots([resistance, -volts, power]).real))
    assert lead.drop == pytest.approx(lead.current * resistance)
    assert lead.loss == pytest.approx(lead.nominal_current**2 * resistance)
    assert state.watts == pytest.approx(power + lead.loss)
    assert state.apparent == pytest.approx(power)


def test_mains_have_one_voltage_and_no_runtime() -> None:
    scenario = asking(power={"source": "mains", "mains_voltage": 230.0})
    build = replace(built(WARM), battery=None)
    state = operating(build, strings_of(build, scenario), scenario)
    assert (state.lead.nominal, state.lead.lowest, state.lead.highest) == (230.0, 230.0, 230.0)
    assert state.runtime is None


def test_a_lead_that_cannot_carry_the_power_has_no_runtime() -> None:
    for resistance in (10.0, 0.5):
        # 63 W at 12 V: no current brings them through 20 ohm; through 1 ohm none does from 10 V, at its lowest.
        build = with_part(built(WARM), "cable", resistance=resistance)
        state = operating(build, strings_of(build, COLD), COLD)
        assert state.lead.current == state.lead.nominal_current == math.inf
        assert state.runtime == 0.0


def test_a_runtime_by_hand() -> None:
    build = built(WARM)
    build = replace(build, choice=replace(build.choice, battery_parallel=4))
    # 36 000 As; rated over 20 h, Peukert 1.2; 80 % of it usable, and 1 % a kelvin lost in the cold, of 20 K.
    build = with_part(build, "battery", rated_time=72000.0, peukert=1.2, usable=0.8, capacity_per_kelvin=0.01)
    state = operating(build, strings_of(build, COLD), COLD)
    each = state.lead.nominal_current / 4
    assert state.runtime == pytest.approx(72000.0 * (36000.0 / (72000.0 * each)) ** 1.2 * 0.8 * (1 - 0.2))
    unrated = with_part(build, "battery", rated_time=None, peukert=1.0)
    state = operating(unrated, strings_of(unrated, COLD), COLD)
    assert state.runtime == pytest.approx(36000.0 / each * 0.8 * (1 - 0.2))
    # Peukert's law is taken from where it is rated: at the very current where nothing is stated.
    state = operating(with_part(unrated, "battery", peukert=1.3), strings_of(unrated, COLD), COLD)
    assert state.runtime == pytest.approx(36000.0 / each * 0.8 * (1 - 0.2))


def test_the_brightest_end_of_tolerances_by_hand() -> None:
    # 20 % more light with 90 % of the heat; the board is 30 K above the air of 5 °C.
    bright = WARM.ranging(1.2, 0.9)
    build = built(bright)
    flux, slope = brightest(build, strings_of(build, COLD), 35.0, 5.0)
    junction = 5.0 + 0.9 * 30.0 + 0.9 * 4.0 * (0.4 * 11.8 * 0.5)
    rated = 1.2 * 12 * 816.0
    assert flux == pytest.approx(rated * (1.0 - 0.002 * (junction - 25.0)))
    assert slope == pytest.approx(rated * 0.9 * -0.002 / flux)
    # A kelvin more of the board is so much less of the light.
    warmer = brightest(build, strings_of(build, COLD), 36.0, 5.0)[0]
    assert warmer / flux - 1.0 == pytest.approx(slope)


def test_the_brightest_end_of_several_channels_is_their_sum_and_of_none_nothing() -> None:
    build = built(WARM)
    (string,) = strings_of(build, COLD)
    one = brightest(build, [string], 35.0, 5.0)
    assert brightest(build, [string, string], 35.0, 5.0) == pytest.approx((2.0 * one[0], one[1]))
    assert brightest(build, [], 35.0, 5.0) == (0.0, 0.0)
    loose = replace(string, emitter=WARM.model_copy(update={"resistance_junction_case": None}))
    assert brightest(build, [loose], 35.0, 5.0)[0] == pytest.approx(12 * 816.0 * (1.0 - 0.002 * 10.0))
    dim = replace(string, flux=1e-3, channel=replace(string.channel, series=1, parallel=1, number=1))
    assert brightest(build, [dim], 35.0, 5.0)[1] == pytest.approx(one[1])
