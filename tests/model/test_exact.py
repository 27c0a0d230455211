"""The exact check against calculations by hand, step by step, with plain arithmetic."""

import math
from dataclasses import replace
from pathlib import Path

import pytest
from ht.conv_free_immersed import Nu_vertical_plate_Churchill
from ht.radiation import q_rad

from optimise.model.choice import ChannelChoice, Choice, Margin
from optimise.model.exact import evaluate, margin_of, wanted_illuminance
from optimise.parts import Catalogue, read_catalogue
from optimise.scenario import Scenario, read_scenario

# Invented parts, one of each, chosen so that the sums are easy to follow.
FILES = {
    "emitters": "part,form,drive,flux [lm],current [A],voltage [V],voltage_min [V],voltage_max [V],length [mm],"
    "width [mm],mass [g],cct [K],cri,flux_per_kelvin [%/K],droop,heat_fraction,resistance_junction_case [K/W],"
    "case_max [degC]\n"
    "E,module,constant current,1000,0.7,12,11.5,12.5,50,50,20,4000,95,-0.2,0.1,0.6,2,90\n",
    "drivers": "part,input,input_min [V],input_max [V],output,output_current [A],output_min [V],output_max [V],"
    "power_max [W],efficiency,power_factor,mass [g]\n"
    "DC,dc,10,30,constant current,0.7,20,50,35,0.9,,100\n"
    "AC,ac,200,240,constant current,0.7,20,50,35,0.9,0.95,150\n",
    "panels": "part,width [m],height [m],material,metal,mass [kg],faces,emissivity,temperature_max [degC]\n"
    "P,0.5,0.4,aluminium,yes,1.2,1,0.8,80\n",
    "diffusers": "part,transmittance,width [m],height [m],mass_per_area [g/m^2]\nD,0.6,1,1,500\n",
    "batteries": "part,chemistry,voltage [V],voltage_min [V],voltage_max [V],capacity [Ah],rated_time [h],peukert,"
    "current_max [A],usable,capacity_per_kelvin [%/K],mass [kg]\n"
    "B,lead-acid,12,10.8,14.4,20,20,1.2,15,0.5,0.8,6\n",
    "cables": "part,area [mm^2],cores,rating [A],voltage_max [V],mass_per_length [g/m]\nC,1.5,3,16,300,120\n",
    "fuses": "part,rating [A],voltage_max [V],supply,kind,mass [g]\nFD,10,32,dc,blade,2\nFA,3,250,ac,plug fuse,5\n",
    "connectors": "part,rating [A],voltage_max [V],supply,mass [g]\nKD,15,48,dc,10\nKA,13,250,ac,60\n",
    "mounts": "part,load [kg],mass [g]\nM,5,300\n",
    "offers": "part,supplier,price [EUR],pack,quantity_min,stock,sold_by\n"
    "E,s,5.00,2,,,\nE,s,4.00,2,6,,\nDC,s,20,,,,\nAC,s,22,,,,\nP,s,30,,,,\nD,s,12,,,,\nB,s,40,,,,\nC,s,1.50,1,,,length\n"
    "FD,s,1,,,,\nFA,s,1,,,,\nKD,s,3,,,,\nKA,s,4,,,,\nM,s,8,,,,\n",
}
SCENARIO = """
[light]
illuminance = "100 lx"
distance = "2 m"
[power]
source = "any"
runtime = "2 h"
mains_voltage = "230 V"
circuit = "10 A"
lead_length = "5 m"
ambient = "15 degC"
"""


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("hand")
    for name, text in FILES.items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    (folder / "job.toml").write_text(SCENARIO, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def catalogue(files: Path) -> Catalogue:
    return read_catalogue(files)


@pytest.fixture(scope="module")
def scenario(files: Path) -> Scenario:
    return read_scenario(files / "job.toml")


def choice(battery: bool) -> Choice:
    return Choice(
        emitter="E",
        channels=(ChannelChoice("DC" if battery else "AC", 3, 1, 0.7, 2),),
        panel="P",
        diffuser="D",
        battery="B" if battery else None,
        battery_series=1 if battery else 0,
        battery_parallel=1 if battery else 0,
        cable="C",
        fuse="FD" if battery else "FA",
        connector="KD" if battery else "KA",
        mount="M",
    )


def test_battery_build_by_hand(catalogue: Catalogue, scenario: Scenario) -> None:
    e = evaluate(choice(battery=True), catalogue, scenario)
    # Electricity: 6 emitters of 12 V × 0.7 A = 8.4 W; drivers at 90 %.
    power = 6 * 8.4 / 0.9
    # Lead: 2 × 5 m of 1.5 mm² (IEC 60228 class 5: 13.3 ohm/km) at 60 °C.
    resistance = 2 * 5 * 13.3e-3 * (1 + 0.00393 * 40)
    current = (10.8 - math.sqrt(10.8**2 - 4 * resistance * power)) / (2 * resistance)
    nominal = (12 - math.sqrt(12**2 - 4 * resistance * power)) / (2 * resistance)
    assert e.figures["current"][0] == pytest.approx(current, rel=1e-12)
    assert e.figures["voltage_drop"][0] == pytest.approx(current * resistance, rel=1e-12)
    assert e.watts == pytest.approx(power + nominal**2 * resistance, rel=1e-12)
    assert e.watts == pytest.approx(12 * nominal, rel=1e-9)
    # Runtime: Peukert from the 20-hour rating, half of it used, 8 % less at 15 °C.
    hours = 20 * (20 / (nominal * 20)) ** 1.2 * 0.5 * (1 - 0.008 * 10)
    assert e.figures["runtime"][0] == pytest.approx(hours, rel=1e-12)
    # Heat: 60 % of 50.4 W; the board sheds exactly that.
    assert e.heat == pytest.approx(0.6 * 50.4)
    board = e.board
    # Air near 297 K (value from memory): 0.0261 W/(m K), 15.6e-6 m²/s, Pr 0.708.
    grashof = 9.81 / 296.7 * (board - 15) * 0.4**3 / 15.6e-6**2
    convection = Nu_vertical_plate_Churchill(0.708, grashof) * 0.0261 / 0.4 * (board - 15)
    radiation = q_rad(0.8, board + 273.15, 15 + 273.15)
    assert 0.5 * 0.4 * (convection + radiation) == pytest.approx(e.heat, rel=0.01)
    # Light: flux at the junction's temperature, through the sheet, by the closed configuration factor.
    junction = board + 2 * 0.6 * 8.4
    flux = 6 * 1000 * (1 - 0.002 * (junction - 25))
    a, b = 0.25 / 2, 0.2 / 2
    quarter = (
        a / math.sqrt(1 + a * a) * math.atan(b / math.sqrt(1 + a * a))
        + b / math.sqrt(1 + b * b) * math.atan(a / math.sqrt(1 + b * b))
    ) / (2 * math.pi)
    assert e.lux == pytest.approx(0.6 * flux * 4 * quarter / (0.5 * 0.4), rel=1e-9)
    # Money: 6 emitters in packs of 2 at the break of 6; 5 m of cable.
    assert e.cents == 3 * 400 + 2 * 2000 + 3000 + 1200 + 4000 + 5 * 150 + 100 + 300 + 800
    # Mass in grams.
    grams = 6 * 20 + 2 * 100 + 1200 + 500 * 0.2 + 6000 + 5 * 120 + 2 + 10 + 300
    assert e.milligrams == grams * 1000
    assert e.figures["head_mass"][0] == pytest.approx(6 * 0.02 + 0.2 + 1.2 + 0.1 + 0.3)


def test_margins_of_the_battery_build_by_hand(catalogue: Catalogue, scenario: Scenario) -> None:
    e = evaluate(choice(battery=True), catalogue, scenario)
    current = e.figures["current"][0]
    assert current is not None

    def margin(name: str) -> Margin:
        found = margin_of(e, name)
        assert found is not None, name
        return found

    assert margin("DC: output, low").achieved == pytest.approx(3 * 11.5)
    assert margin("DC: output, high").achieved == pytest.approx(3 * 12.5)
    assert margin("DC: output power").achieved == pytest.approx(3 * 12.5 * 0.7)
    assert margin("fuse carries the load").required == pytest.approx(1.25 * current)
    assert margin("fuse protects the cable").required == pytest.approx(16.0)
    assert margin("voltage drop").required == pytest.approx(0.36)
    # 5 m of 1.5 mm² at 12 V is too thin: the drop tells, and the build is refused.
    assert not margin("voltage drop").holds
    assert not e.passes
    assert margin("mount load").achieved == pytest.approx(1.92)
    assert margin("touch temperature").left == pytest.approx((60 - e.board) / (60 - 15))


def test_mains_build_by_hand(catalogue: Catalogue, scenario: Scenario) -> None:
    e = evaluate(choice(battery=False), catalogue, scenario)
    apparent = 6 * 8.4 / 0.9 / 0.95
    resistance = 2 * 5 * 13.3e-3 * (1 + 0.00393 * 40)
    current = (230 - math.sqrt(230**2 - 4 * resistance * apparent)) / (2 * resistance)
    assert e.figures["current"][0] == pytest.approx(current, rel=1e-9)
    assert e.watts == pytest.approx(56.0 + current**2 * resistance, rel=1e-12)
    assert e.figures["runtime"] == (None, "h")
    circuit = margin_of(e, "mains circuit")
    earth = margin_of(e, "cores of the lead (earth)")
    assert circuit is not None
    assert circuit.achieved == pytest.approx(1.25 * current)
    assert earth is not None
    assert (earth.required, earth.achieved) == (3, 3)
    assert e.passes


@pytest.mark.parametrize(
    ("light", "lux"),
    [
        ('illuminance = "640 lx"', 640.0),
        ('iso = "800"\nf_number = "2.8"\nshutter = "1/50 s"', 250 * 2.8**2 / (0.02 * 800)),
        ('iso = "800"\nf_number = "2.8"\nshutter_angle = "180 deg"\nframe_rate = "25 fps"', 122.5),
        ('iso = "800"\nf_number = "2.8"\nshutter = "1/50 s"\nstops = "1"', 245.0),
        ('iso = "800"\nf_number = "2.8"\nshutter = "1/50 s"\nstops = "-2"', 30.625),
        ('iso = "800"\nf_number = "2.8"\nshutter = "1/50 s"\nmeter_constant = "340 lx*s"', 166.6),
    ],
)
def test_exposure_becomes_illuminance(tmp_path: Path, light: str, lux: float) -> None:
    text = SCENARIO.replace('illuminance = "100 lx"', light)
    (tmp_path / "job.toml").write_text(text, encoding="utf-8")
    assert wanted_illuminance(read_scenario(tmp_path / "job.toml")) == pytest.approx(lux, rel=1e-12)


@pytest.mark.parametrize(
    ("kind", "required", "achieved", "left"),
    [("min", 100.0, 110.0, 0.1), ("max", 100.0, 110.0, -0.1), ("max", 0.0, 1.0, -1.0), ("min", 2.0, 2.0, 0.0)],
)
def test_left_is_a_share_of_what_is_required(kind: str, required: float, achieved: float, left: float) -> None:
    margin = Margin("m", "min" if kind == "min" else "max", required, achieved, "", "test")
    assert margin.left == pytest.approx(left)
    assert margin.holds == (left >= 0)


def test_a_hair_is_forgiven_and_no_more() -> None:
    assert Margin("m", "min", 1.0, 1.0 - 5e-10, "", "test").holds
    assert not Margin("m", "min", 1.0, 1.0 - 2e-9, "", "test").holds


def held(name: str, choice: Choice, catalogue: Catalogue, scenario: Scenario) -> tuple[float, float, bool]:
    """Return what a margin requires and achieves, and whether it holds."""
    margin = margin_of(evaluate(choice, catalogue, scenario), name)
    assert margin is not None
    return margin.required, margin.achieved, margin.holds


def with_sections(scenario: Scenario, **sections: dict[str, object]) -> Scenario:
    return scenario.model_copy(
        update={name: getattr(scenario, name).model_copy(update=values) for name, values in sections.items()}
    )


def test_money_is_told_in_whole_units_of_currency(catalogue: Catalogue, scenario: Scenario) -> None:
    limited = with_sections(scenario, limits={"budget": 20_000})
    e = evaluate(choice(battery=True), catalogue, limited)
    required, achieved, holds = held("budget", choice(battery=True), catalogue, limited)
    assert (required, holds) == (200.0, True)
    assert achieved == e.cents / 100
    assert not held("budget", choice(battery=True), catalogue, with_sections(scenario, limits={"budget": 10_000}))[2]


def test_heat_under_one_emitter_is_told_by_the_square_centimetre(catalogue: Catalogue, scenario: Scenario) -> None:
    # 60 % of 8.4 W under 5 cm × 5 cm: 0.2016 W/cm².
    for most, holds in ((2500.0, True), (2000.0, False)):
        board = catalogue.panels[0].model_copy(update={"heat_density_max": most})
        found = held("heat under one emitter", choice(True), replace(catalogue, panels=(board,)), scenario)
        assert found == (pytest.approx(most / 1e4), pytest.approx(0.6 * 8.4 / 25.0, rel=1e-9), holds)


def test_the_least_protected_part_decides_and_one_without_a_code_has_none(
    catalogue: Catalogue, scenario: Scenario
) -> None:
    wet = with_sections(scenario, limits={"ip": "IP43"})

    def digits(panel: str | None, driver: str | None, battery: str | None) -> list[tuple[float, float, bool]]:
        coded = replace(
            catalogue,
            panels=tuple(part.model_copy(update={"ip": panel}) for part in catalogue.panels),
            drivers=tuple(part.model_copy(update={"ip": driver}) for part in catalogue.drivers),
            batteries=tuple(part.model_copy(update={"ip": battery}) for part in catalogue.batteries),
        )
        return [held(f"ingress protection, {name}", choice(True), coded, wet) for name in ("solids", "water")]

    assert digits("IP65", "IP44", "IP43") == [(4.0, 4.0, True), (3.0, 3.0, True)]
    assert digits("IP65", "IP34", "IP67") == [(4.0, 3.0, False), (3.0, 4.0, True)]
    assert digits("IP65", "IP4X", "IP67") == [(4.0, 4.0, True), (3.0, -1.0, False)]
    for codes in ((None, "IP65", "IP65"), ("IP65", None, "IP65"), ("IP65", "IP65", None)):
        assert [found[1:] for found in digits(*codes)] == [(-1.0, False), (-1.0, False)]


def test_a_figure_of_colour_that_is_not_stated_never_keeps_a_limit(catalogue: Catalogue, scenario: Scenario) -> None:
    limited = with_sections(scenario, look={"cri_min": 90.0, "cct_max": 4500.0})
    names = {m.name: m for m in evaluate(choice(True), catalogue, limited).margins if m.unit == "K" or "CRI" in m.name}
    assert names
    assert all(margin.holds for margin in names.values())
    unknown = replace(
        catalogue, emitters=tuple(part.model_copy(update={"cct": None, "cri": None}) for part in catalogue.emitters)
    )
    missed = {m.name for m in evaluate(choice(True), unknown, limited).margins if not m.holds}
    assert set(names) <= missed


@pytest.mark.parametrize(("chemistry", "told"), [("li-ion", True), ("lead-acid", True), ("nimh", False)])
def test_watt_hours_count_in_the_air_but_for_nickel(
    catalogue: Catalogue, scenario: Scenario, chemistry: str, told: bool
) -> None:
    # IATA: the rule by watt-hours is that of lithium and of non-spillable lead; 12 V × 20 Ah = 240 Wh is above it.
    flying = with_sections(scenario, travel={"mode": "air"})
    pack = tuple(part.model_copy(update={"chemistry": chemistry}) for part in catalogue.batteries)
    e = evaluate(choice(True), replace(catalogue, batteries=pack), flying)
    margin = margin_of(e, "watt-hours of a battery")
    assert (margin is not None) is told
    assert margin is None or (margin.required, margin.achieved, margin.holds) == (100.0, 240.0, False)


def test_batteries_in_parallel_share_the_current(catalogue: Catalogue, scenario: Scenario) -> None:
    two = replace(choice(True), battery_parallel=2)
    packs = tuple(part.model_copy(update={"parallel_max": 2}) for part in catalogue.batteries)
    one, both = (evaluate(way, replace(catalogue, batteries=packs), scenario) for way in (choice(True), two))
    # Peukert, k = 1.2: at half of the current each lasts 2^1.2 times as long.
    assert both.figures["runtime"][0] == pytest.approx(2**1.2 * one.figures["runtime"][0], rel=1e-9)
