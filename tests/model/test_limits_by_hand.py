"""Every limit of the exact check, from figures made up for it: what it requires and achieves, told in its unit.

All parts and figures are invented; whoever looks a rule up finds its source beside it.
"""

import math
from dataclasses import replace
from typing import Any

import pytest
from plain_parts import EMITTER, SCENARIO, asking, catalogue, choice, with_part

from optimise.model.build import Build, Figures, Lead, Spot, Strings
from optimise.model.choice import Margin
from optimise.model.exact import build_of
from optimise.model.limits import margins
from optimise.parts import Connector, Driver, Emitter, Mount
from optimise.physics.evenness import Evenness
from optimise.scenario import Scenario
from optimise.scenario.points import Target

LEAD = Lead(
    resistance=0.05, nominal=12.0, lowest=10.0, highest=14.0, current=2.0, nominal_current=1.8, drop=0.2, loss=0.1
)
BUILD = build_of(choice("p", "cloth"), catalogue(EMITTER))
BALLAST = Driver(
    part="bal", input="ac", input_min=200.0, input_max=250.0, output="ballast", lamps=2, lamp_power=36.0,
    efficiency=0.9, power_factor=0.95, mass=0.3,
)  # fmt: skip
TUBE = Emitter(part="e", form="tube", drive="ballast", flux=3350.0, power=36.0, length=0.2, width=0.05, mass=0.1)


def figures(build: Build, **changed: Any) -> Figures:
    """Return figures of a build, the same of each of its channels, and some of them changed."""
    strings = tuple(
        Strings(
            channel=channel,
            driver=driver,
            emitter=build.emitter_of(channel),
            low=23.0,
            high=25.0,
            output=12.5,
            flux=1000.0,
            emitter_heat=5.0,
            heat=10.0,
            power=14.0,
            apparent=15.0,
        )
        for channel, driver in zip(build.choice.channels, build.drivers, strict=True)
    )
    plain = Figures(
        cents=1234,
        milligrams=2_500_000,
        head_milligrams=1_750_000,
        watts=33.0,
        lux=120.0,
        board=45.0,
        hottest=50.0,
        runtime=5400.0,
        lead=LEAD,
        strings=strings,
        fluxes=(2000.0,),
    )
    return replace(plain, **changed)


def all_told(build: Build, scenario: Scenario, **changed: Any) -> dict[str, Margin]:
    found = margins(build, figures(build, **changed), scenario, 100.0, "EUR")
    assert len({margin.name for margin in found}) == len(found)
    return {margin.name: margin for margin in found}


def told(build: Build, scenario: Scenario, **changed: Any) -> dict[str, tuple[float, float]]:
    """Return what each limit requires and what is achieved."""
    return {name: (m.required, m.achieved) for name, m in all_told(build, scenario, **changed).items()}


UNMOUNTED = asking(limits={"mount": False})


def test_everything_that_holds_of_a_plain_battery_build() -> None:
    # 2 emitters of 12 V in series at 0.5 A; the panel is 0.8 m × 0.25 m, the pieces are 0.2 m × 0.05 m.
    assert told(BUILD, UNMOUNTED) == {
        "illuminance": (100.0, 120.0),
        # 60 s are asked for, 5400 s found, in hours.
        "runtime": (60.0 / 3600.0, 1.5),
        "touch temperature": (60.0, 45.0),
        "d: output, low": (10.0, 23.0),
        "d: output, high": (30.0, 25.0),
        "d: output power": (30.0, 12.5),
        # Unplugged, it rises to the top of its own range, above what the string needs.
        "d: touchable voltage": (60.0, 30.0),
        "d: output current, low": (0.5, 0.5),
        "d: output current, high": (0.5, 0.5),
        "emitter current, low": (0.125, 0.5),
        "emitter current, high": (0.5, 0.5),
        # The lowest voltage of the pack less the drop, and its highest voltage.
        "d: input, low": (9.0, 10.0 - 0.2),
        "d: input, high": (30.0, 14.0),
        "d: made for this supply": (1.0, 1.0),
        "d: made for these emitters": (1.0, 1.0),
        "voltage drop": (pytest.approx(0.36), 0.2),
        "fuse carries the load": (2.5, 10.0),
        "fuse protects the cable": (16.0, 10.0),
        "fuse protects the connector": (15.0, 10.0),
        "fuse voltage": (32.0, 14.0),
        "cable voltage": (300.0, 14.0),
        "connector voltage": (48.0, 14.0),
        "fuse made for this supply": (1.0, 1.0),
        "connector made for this supply": (1.0, 1.0),
        "battery allowed": (1.0, 1.0),
        "battery voltage": (60.0, 14.0),
        "battery current": (20.0, 2.0),
        "batteries in series": (1, 1),
        "batteries in parallel": (1, 1),
        # 4 along the width by 5 up, all lying.
        "emitters fit the panel": (20, 2),
        "diffuser covers, short side": (0.25, 1.0),
        "diffuser covers, long side": (0.8, 1.0),
    }


def test_purse_mass_and_power_are_told_in_units_of_a_person() -> None:
    limited = asking(limits={"budget": 2000, "mass": 3.0, "power": 40.0, "width": 0.9, "height": 0.5})
    found = told(BUILD, limited)
    assert found["budget"] == (20.0, 12.34)
    assert found["mass"] == (3.0, 2.5)
    assert found["power"] == (40.0, 33.0)
    assert found["panel width"] == (0.9, 0.8)
    assert found["panel height"] == (0.5, 0.25)


def test_a_runtime_is_held_against_what_is_asked_where_both_are_known() -> None:
    assert "runtime" not in told(BUILD, SCENARIO, runtime=None)
    assert "runtime" not in told(BUILD, asking(power={"source": "mains", "runtime": None}))


def test_spots_have_a_limit_on_either_side() -> None:
    def spot(least: float | None, most: float | None) -> Spot:
        target = Target("at the wall", (0.0, 0.0, 1.0, 0.0, 0.0), least, most)
        return Spot(target, 70.0, 80.0)

    for least, most in ((50.0, None), (None, 90.0), (50.0, 90.0)):
        found = told(BUILD, UNMOUNTED, spots=(spot(least, most),))
        wanted = {"illuminance at the wall": (50.0, 70.0)} if least is not None else {}
        if most is not None:
            # Too much light is that of the brightest of its tolerances.
            wanted["illuminance at the wall, at most"] = (90.0, 80.0)
        assert {name: pair for name, pair in found.items() if name.startswith("illuminance at")} == wanted


def test_evenness_is_limited_where_it_is_asked_for() -> None:
    even = Evenness(least=70.0, mean=100.0, edge=0.4)
    assert "uniformity" not in told(BUILD, SCENARIO, evenness=even)
    assert "edge to middle" not in told(BUILD, SCENARIO, evenness=even)
    limited = asking(light={"uniformity_min": 0.6, "edge_stops_max": 0.5})
    found = told(BUILD, limited, evenness=even)
    assert (found["uniformity"], found["edge to middle"]) == ((0.6, 0.7), (0.5, 0.4))
    assert "uniformity" not in told(BUILD, limited, evenness=None)


def test_dots_that_are_not_known_miss_their_limit() -> None:
    limited = asking(look={"dots_max": 0.1})
    assert told(BUILD, limited, dots=0.05)["dots on the diffuser"] == (0.1, 0.05)
    assert told(BUILD, limited)["dots on the diffuser"] == (0.1, math.inf)
    assert "dots on the diffuser" not in told(BUILD, SCENARIO, dots=0.05)


def test_colour_is_that_of_the_emitter_shifted_by_the_filter() -> None:
    warm = with_part(BUILD, "kinds", cct=4000.0, cri=95.0)
    limited = asking(look={"cct_min": 3000.0, "cri_min": 90.0})
    found = told(warm, limited)
    assert found["colour temperature, low"] == (3000.0, pytest.approx(4000.0))
    assert found["colour rendering Ra"] == (90.0, 95.0)
    # 4000 K are 250 mired; a filter of +50 mired makes 300 of it. What it does to rendering is not known.
    filtered = told(with_part(warm, "diffuser", mired_shift=50.0), limited)
    assert filtered["colour temperature, low"] == (3000.0, pytest.approx(1e6 / 300.0))
    bare = told(replace(warm, diffuser=None, choice=choice("p", None)), limited)
    assert bare["colour temperature, low"] == (3000.0, pytest.approx(4000.0))


def test_a_colour_that_is_not_stated_is_as_far_off_as_can_be_on_either_side() -> None:
    found = told(BUILD, asking(look={"cct_min": 3000.0, "cct_max": 5000.0}))
    assert found["colour temperature, low"] == (3000.0, -math.inf)
    assert found["colour temperature, high"] == (5000.0, math.inf)
    assert not any(name.startswith("colour") for name in told(BUILD, SCENARIO))


def test_softness_is_that_of_the_shorter_side() -> None:
    # The panel is 0.25 m on its shorter side, the subject 1 m away and the background 2 m behind it.
    found = told(BUILD, asking(look={"source_size_min": 0.2, "penumbra_min": 0.4, "background": 2.0}))
    assert found["source size"] == (0.2, 0.25)
    assert found["penumbra"] == (0.4, pytest.approx(0.5))  # by similar triangles 0.25 m × 2 m / 1 m
    assert "source size" in told(BUILD, asking(look={"source_size_min": 0.001}))
    for look in ({"penumbra_min": 0.4}, {"background": 2.0}):
        assert not {"source size", "penumbra"} & told(BUILD, asking(look=look)).keys()


def test_sheets_are_counted_where_there_are_two() -> None:
    two = build_of(replace(choice("p", "cloth"), second_diffuser="film"), catalogue(EMITTER))
    assert told(two, SCENARIO)["diffusers"] == (1, 2)
    assert told(two, asking(look={"sheets_max": 2}))["diffusers"] == (2, 2)
    assert "diffusers" not in told(BUILD, SCENARIO)


def test_a_diffuser_is_fitted_or_not() -> None:
    asked = asking(look={"diffused": True})
    assert told(BUILD, asked)["diffuser fitted"] == (1.0, 1.0)
    assert told(replace(BUILD, diffuser=None, choice=choice("p", None)), asked)["diffuser fitted"] == (1.0, 0.0)
    assert "diffuser fitted" not in told(BUILD, SCENARIO)


def test_dimming_is_held_against_what_is_stated_of_it() -> None:
    asked = asking(look={"dim_to": 0.2})
    dims = with_part(BUILD, "drivers", dimmable="current", dim_min=0.1)
    assert told(dims, asked)["d: can be dimmed"] == (1.0, 1.0)
    assert told(dims, asked)["d: dims to"] == (0.2, 0.1)
    assert not {"d: can be dimmed", "d: dims to"} & told(dims, SCENARIO).keys()
    never = with_part(BUILD, "drivers", dimmable="no")
    assert told(never, asked)["d: can be dimmed"] == (1.0, 0.0)
    assert "d: dims to" not in told(never, asked)
    assert not {"d: can be dimmed", "d: dims to"} & told(BUILD, asked).keys()


def test_flicker_is_that_of_the_level_dimmed_to() -> None:
    pwm = with_part(BUILD, "drivers", dimmable="pwm", pwm=30.0, ripple=0.0)
    filmed = {"flicker_max": 0.5, "shutter": 0.02}
    # At full light nothing is switched; by half, an exposure of 0.6 periods of 33 ms has from 0.1 to 0.5 of one lit.
    assert told(pwm, asking(look=filmed))["d: flicker"] == (0.5, 0.0)
    dimmed = told(pwm, asking(look=filmed | {"dim_to": 0.5}))["d: flicker"]
    assert dimmed == (0.5, pytest.approx(math.log2(0.5 / 0.1)))
    assert "d: flicker" not in told(pwm, asking(look={"shutter": 0.02}))
    assert "d: flicker" not in told(BUILD, asking(look=filmed))  # its ripple is not stated


def test_heat_is_told_from_the_air_up() -> None:
    hot = with_part(with_part(BUILD, "kinds", case_max=75.0), "panel", temperature_max=85.0)
    found = all_told(hot, asking(power={"ambient": 20.0}))
    names = ("touch temperature", "case temperature", "panel temperature")
    assert [(found[name].required, found[name].achieved) for name in names] == [
        (60.0, 45.0),
        (75.0, 45.0),
        (85.0, 45.0),
    ]
    # What is left is a share of the rise over 20 °C: of 40, 55 and 65 K.
    assert [found[name].left for name in names] == [
        pytest.approx(15 / 40),
        pytest.approx(30 / 55),
        pytest.approx(40 / 65),
    ]
    two = replace(hot, kinds=(hot.kinds[0], EMITTER.model_copy(update={"part": "f", "case_max": 70.0})))
    assert told(two, SCENARIO, fluxes=(1.0, 1.0))["case temperature"] == (70.0, 45.0)


def test_the_spot_under_an_emitter_is_that_of_the_hottest_way_to_run_it() -> None:
    # 5 W here under 0.2 m × 0.05 m are 500 W/m², 0.05 W/cm²; at its rated point it is 6 W less what leaves as light.
    dense = with_part(with_part(BUILD, "panel", heat_density_max=2000.0), "kinds", heat_fraction=0.5)
    assert told(dense, SCENARIO)["heat under one emitter"] == (0.2, pytest.approx(0.05))
    rated = with_part(dense, "kinds", heat_fraction=1.0)
    assert told(rated, SCENARIO)["heat under one emitter"] == (0.2, pytest.approx(0.06))
    assert "heat under one emitter" not in told(BUILD, SCENARIO)


def test_a_ballast_takes_its_lamps_all_of_them() -> None:
    fed = replace(
        BUILD,
        kinds=(TUBE,),
        drivers=(BALLAST,),
        choice=replace(BUILD.choice, channels=(replace(BUILD.choice.channels[0], series=1, parallel=3, current=0.0),)),
    )
    found = all_told(fed, SCENARIO)
    wanted = {
        "bal: lamps": (2, 3, True),
        "bal: lamps at most": (2, 3, False),
        "bal: lamp power": (36.0, 36.0, True),
        "bal: lamp power at most": (36.0, 36.0, True),
    }
    assert {name: (found[name].required, found[name].achieved, found[name].holds) for name in wanted} == wanted
    assert not any("output" in name or "current, " in name for name in found)
    blank = with_part(fed, "drivers", lamps=None, lamp_power=None)
    nothing = told(blank, SCENARIO)
    assert [nothing[name][0] for name in wanted] == [0, 0, 0.0, 0.0]


def test_a_string_above_the_drivers_range_is_what_can_be_touched() -> None:
    low = with_part(BUILD, "drivers", output_max=24.0)
    assert told(low, SCENARIO)["d: touchable voltage"] == (60.0, 25.0)
    assert told(low, SCENARIO)["d: output, high"] == (24.0, 25.0)


def test_currents_are_those_of_all_strings_of_a_channel() -> None:
    three = replace(BUILD, choice=replace(BUILD.choice, channels=(replace(BUILD.choice.channels[0], parallel=3),)))
    settable = with_part(three, "drivers", output_current=None, current_min=1.4, current_max=1.6)
    found = told(settable, SCENARIO)
    assert found["d: output current, low"] == (1.4, 1.5)
    assert found["d: output current, high"] == (1.6, 1.5)
    assert found["emitter current, high"] == (0.5, 0.5)
    steady = with_part(three, "drivers", output="constant voltage", output_current=2.0)
    found = told(steady, SCENARIO)
    assert found["d: output current"] == (2.0, 1.5)
    assert found["d: made for these emitters"] == (1.0, 0.0)
    assert not any("current, " in name for name in found)
    assert "d: output current" not in told(with_part(steady, "drivers", output_current=None), SCENARIO)


def test_of_several_channels_each_tells_its_own_currents() -> None:
    first = BUILD.choice.channels[0]
    other = BUILD.drivers[0].model_copy(update={"part": "d2", "output_current": 0.4})
    both = replace(
        BUILD,
        choice=replace(BUILD.choice, channels=(first, replace(first, driver="d2", current=0.4))),
        drivers=(BUILD.drivers[0], other),
    )
    found = told(both, SCENARIO)
    assert found["d: emitter current, low"] == (0.125, 0.5)
    assert found["d2: emitter current, low"] == (0.125, 0.4)
    assert "emitter current, low" not in found


@pytest.mark.parametrize("mains", [False, True])
def test_parts_are_made_for_their_supply_or_not(mains: bool) -> None:
    fed = replace(BUILD, battery=None) if mains else BUILD
    names = ("d: made for this supply", "fuse made for this supply", "connector made for this supply")
    assert [told(fed, SCENARIO)[name] for name in names] == [(1.0, float(not mains))] * 3
    for kind, key in (("drivers", "input"), ("fuse", "supply"), ("connector", "supply")):
        fed = with_part(fed, kind, **{key: "ac"})
    assert [told(fed, SCENARIO)[name] for name in names] == [(1.0, float(mains))] * 3


def test_isolation_is_told_where_it_is_stated() -> None:
    for isolated in (True, False):
        found = told(with_part(BUILD, "drivers", isolated=isolated), SCENARIO)
        assert found["d: isolated from the mains"] == (1.0, float(isolated))
    assert "d: isolated from the mains" not in told(BUILD, SCENARIO)


def test_a_cable_in_hot_air_carries_less() -> None:
    # A conductor for 60 °C, rated in air of 30 °C: at 45 °C √(15 / 30) of its rating (IEC 60287, from memory).
    assert told(BUILD, asking(power={"ambient": 45.0}))["fuse protects the cable"][0] == pytest.approx(16 * 0.5**0.5)


def on_mains(metal: bool, earth: bool | None = None) -> Build:
    board = with_part(BUILD, "panel", metal=metal)
    plug = Connector(part="k", rating=15.0, voltage_max=300.0, supply="ac", mass=0.0, earth=earth)
    return replace(board, battery=None, choice=replace(board.choice, battery=None), connector=plug)


def test_mains_have_a_circuit_and_metal_has_an_earth() -> None:
    asked = asking(power={"source": "any", "mains_voltage": 230.0, "circuit": 10.0})
    found = told(on_mains(metal=True, earth=True), asked)
    assert found["mains allowed"] == (1.0, 1.0)
    assert found["mains circuit"] == (10.0, 2.5)
    assert found["cores of the lead (earth)"] == (3, 2)
    assert found["connector with earth"] == (1.0, 1.0)
    assert told(on_mains(metal=True, earth=False), asked)["connector with earth"] == (1.0, 0.0)
    assert "connector with earth" not in told(on_mains(metal=True), asked)
    found = told(on_mains(metal=False, earth=True), SCENARIO)
    assert found["mains allowed"] == (1.0, 0.0)
    assert found["cores of the lead (earth)"] == (2, 2)
    assert not {"mains circuit", "connector with earth", "battery allowed"} & found.keys()


def test_batteries_in_parallel_bear_the_sum_of_their_currents() -> None:
    three = replace(BUILD, choice=replace(BUILD.choice, battery_parallel=3))
    assert told(three, SCENARIO)["battery current"] == (60.0, 2.0)
    assert told(three, SCENARIO)["batteries in parallel"] == (1, 3)


def test_cold_is_told_by_the_kelvin() -> None:
    cold = with_part(BUILD, "battery", temperature_min=-10.0)
    margin = all_told(cold, asking(power={"ambient": -12.0}))["battery in the cold"]
    assert (margin.required, margin.achieved, margin.left, margin.holds) == (-10.0, -12.0, -2.0, False)
    assert all_told(cold, asking(power={"ambient": -7.0}))["battery in the cold"].left == 3.0
    assert "battery in the cold" not in told(BUILD, SCENARIO)


@pytest.mark.parametrize(
    ("chemistry", "capacity", "approval", "number", "energy"),
    [
        # 12 V of so many As: 96, 120 and 180 Wh. Rules: IATA DGR, as `flight_rule` has them.
        ("li-ion", 28800.0, False, 20, (100.0, 96.0)),
        ("li-ion", 28800.0, True, 20, (100.0, 96.0)),
        ("li-ion", 36000.0, False, 0, (100.0, 120.0)),
        ("li-ion", 36000.0, True, 2, (160.0, 120.0)),
        ("li-ion", 54000.0, True, 0, (100.0, 180.0)),
        ("nimh", 54000.0, False, 20, None),
        ("nicd", 54000.0, True, 20, None),
        ("lead-acid", 28800.0, True, 2, (100.0, 96.0)),
    ],
)
def test_batteries_fly_by_their_energy(
    chemistry: str, capacity: float, approval: bool, number: int, energy: tuple[float, float] | None
) -> None:
    packed = with_part(BUILD, "battery", chemistry=chemistry, capacity=capacity)
    found = told(packed, asking(travel={"mode": "air", "approval": approval}))
    assert found["batteries that may fly"] == (number, 1)
    assert found.get("watt-hours of a battery") == (None if energy is None else pytest.approx(energy))
    assert "batteries that may fly" not in told(packed, asking(travel={"approval": approval}))


def test_a_mount_carries_the_head() -> None:
    stand = Mount(part="m", load=5.0, mass=0.3)
    assert told(replace(BUILD, mount=stand), SCENARIO)["mount load"] == (5.0, 1.75)
    assert told(BUILD, SCENARIO)["mount load"] == (0.0, 1.75)
    assert "mount load" not in told(replace(BUILD, mount=stand), UNMOUNTED)


def protection(
    asked: str, emitter: str | None = "IP68", *, bare: bool = False, mains: bool = False, **codes: str | None
) -> dict[str, tuple[float, float]]:
    coded = with_part(BUILD, "kinds", ip=emitter)
    for kind in ("panel", "drivers", "battery"):
        coded = with_part(coded, kind, ip=codes.get(kind, "IP68"))
    if bare:
        coded = replace(coded, diffuser=None, choice=choice("p", None))
    if mains:
        coded = replace(coded, battery=None)
    found = told(coded, asking(limits={"ip": asked}))
    return {name.rpartition(" ")[2]: pair for name, pair in found.items() if name.startswith("ingress")}


def test_digits_of_protection_are_those_of_the_worst_part() -> None:
    assert protection("IP43") == {"solids": (4, 6), "water": (3, 8)}
    assert protection("IP43", panel="IP5X", drivers="IP67", battery="IP64") == {"solids": (4, 5), "water": (3, -1)}
    assert protection("IP43", drivers="IPX5") == {"solids": (4, -1), "water": (3, 5)}
    assert protection("IP43", battery=None) == {"solids": (4, -1), "water": (3, -1)}
    assert protection("IP43", battery=None, mains=True) == {"solids": (4, 6), "water": (3, 8)}
    assert protection("IPX3", panel="IP20") == {"water": (3, 0)}
    assert protection("IP0X", panel="IP20") == {"solids": (0, 2)}
    # Behind a diffuser what the emitters bear does not count; bare it does.
    assert protection("IP43", "IP20") == {"solids": (4, 6), "water": (3, 8)}
    assert protection("IP43", "IP20", bare=True) == {"solids": (4, 2), "water": (3, 0)}
    assert protection("IP43", bare=True, battery="IP44") == {"solids": (4, 4), "water": (3, 4)}


def test_whose_rule_a_limit_is_changes_with_who_sets_it() -> None:
    own = SCENARIO.model_copy(update={"safety": type(SCENARIO.safety)(touch_temperature=55.0)})
    found = all_told(BUILD, own)
    assert (found["touch temperature"].required, found["touch temperature"].source) == (55.0, "scenario")
    assert found["voltage drop"].source != "scenario"
    assert all_told(BUILD, SCENARIO)["touch temperature"].source == "common practice"
