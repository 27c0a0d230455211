"""All limits of a build, each with what is required, what is achieved, and whose rule it is."""

import math
from collections.abc import Iterable, Iterator

from optimise.model.build import Build, Figures, Spot
from optimise.model.choice import YES_NO, ChannelChoice, Margin
from optimise.model.fitting import common_grid
from optimise.model.mixture import light_of_kinds, mix_margins
from optimise.model.modulation import driver_flicker
from optimise.model.stacks import coverings
from optimise.parts import Driver, Emitter
from optimise.physics.batteries import Flight, flight_rule
from optimise.physics.colour import filtered_light
from optimise.physics.evenness import Evenness
from optimise.physics.leads import ambient_factor
from optimise.physics.softness import penumbra_width
from optimise.scenario import Scenario
from optimise.scenario.colour import asked, asks

SCENARIO = "scenario"
CATALOGUE = "catalogue"
COORDINATION = "IEC 60364-4-43 (from memory)"
EARTH = "IEC 61140, class I"
ISOLATION = "IEC 61140, class III"
AIR = "IATA DGR, passengers"
ENCLOSURE = "scenario, IEC 60529"

DEFAULTS = {
    "voltage_drop": "BS 7671 App. 4, 4Ab",
    "continuous_factor": "NEC 210.20(A)",
    "touch_temperature": "common practice",
    "string_voltage": "IEC 60598-1, 8.2.3",
}
"""Whose rule a limit of safety is while the scenario does not set its own (README: where a default comes from)."""


def source_of_safety(scenario: Scenario, key: str) -> str:
    """Return whose rule a limit of safety is."""
    return SCENARIO if key in scenario.safety.model_fields_set else DEFAULTS[key]


def margins(build: Build, figures: Figures, scenario: Scenario, target: float, currency: str) -> tuple[Margin, ...]:
    """Return every margin of a build; the order is that in which a person asks."""
    return (
        Margin(LIGHT, "min", target, figures.lux, "lx", SCENARIO),
        *spot_margins(figures.spots),
        *evenness_margins(figures.evenness, scenario),
        *dots_margins(figures.dots, scenario),
        *_purse(figures, scenario, currency),
        *mix_margins(build.kinds, build.diffuser, scenario.search.emitter_kinds),
        *_look(build, figures, scenario),
        *_heat(build, figures, scenario),
        *_spot(build, figures),
        *_drivers(build, figures, scenario),
        *_lead(build, figures, scenario),
        *_source(build, figures, scenario),
        *_frame(build, figures, scenario),
    )


def _yes(name: str, held: bool, source: str) -> Margin:
    return Margin(name, "min", 1.0, float(held), YES_NO, source)


LIGHT = "illuminance"
"""Name of the limit on the light ahead; those at points begin with it."""

CARRIES = "fuse carries the load"
"""Name of the limit on the rating of a fuse, from below."""


def spot_margins(spots: Iterable[Spot]) -> Iterator[Margin]:
    """Yield the margins of the light on single faces, where that is limited."""
    for spot in spots:
        name = f"{LIGHT} {spot.target.label}"
        if spot.target.least is not None:
            yield Margin(name, "min", spot.target.least, spot.lux, "lx", SCENARIO)
        if spot.target.most is not None:
            yield Margin(f"{name}, at most", "max", spot.target.most, spot.most, "lx", SCENARIO)


def evenness_margins(found: Evenness | None, scenario: Scenario) -> Iterator[Margin]:
    """Yield the margins of how even the light on the subject is, where that is limited."""
    light = scenario.light
    if found is None:
        return
    if light.uniformity_min is not None:
        yield Margin("uniformity", "min", light.uniformity_min, found.share, "", SCENARIO)
    if light.edge_stops_max is not None:
        yield Margin("edge to middle", "max", light.edge_stops_max, found.edge, "stop", SCENARIO)


def dots_margins(found: float | None, scenario: Scenario) -> Iterator[Margin]:
    """Yield the margin of dots on the diffuser, where they are limited; what is not known does not keep it."""
    if (most := scenario.look.dots_max) is not None:
        yield Margin("dots on the diffuser", "max", most, math.inf if found is None else found, "", SCENARIO)


def _purse(figures: Figures, scenario: Scenario, currency: str) -> Iterator[Margin]:
    limit = scenario.limits
    if limit.budget is not None:
        yield Margin("budget", "max", limit.budget / 100, figures.cents / 100, currency, SCENARIO)
    if limit.mass is not None:
        yield Margin("mass", "max", limit.mass, figures.milligrams / 1e6, "kg", SCENARIO)
    if limit.power is not None:
        yield Margin("power", "max", limit.power, figures.watts, "W", SCENARIO)
    if figures.runtime is not None and scenario.power.runtime is not None:
        yield Margin("runtime", "min", scenario.power.runtime / 3600, figures.runtime / 3600, "h", SCENARIO)


def _look(build: Build, figures: Figures, scenario: Scenario) -> Iterator[Margin]:
    look = scenario.look
    if asks(look):
        shift = 0.0 if build.diffuser is None else build.diffuser.mired_shift
        light = filtered_light(light_of_kinds(build.kinds, figures.fluxes, look), shift)
        for limit, required in asked(look):
            achieved = light[limit.figure]
            if achieved is None:
                achieved = -math.inf if limit.kind == "min" else math.inf
            yield Margin(limit.name, limit.kind, required, achieved, limit.measure.unit, SCENARIO)
    if scenario.source_size_min > 0.0:
        side = min(build.panel.width, build.panel.height)
        yield Margin("source size", "min", scenario.source_size_min, side, "m", SCENARIO)
    if look.penumbra_min is not None and look.background is not None:
        side = min(build.panel.width, build.panel.height)
        width = float(penumbra_width(side, scenario.light.distance, look.background))
        yield Margin("penumbra", "min", look.penumbra_min, width, "m", SCENARIO)
    yield from _dimming(build, scenario)
    if len(build.choice.sheets) > 1:
        yield Margin("diffusers", "max", look.sheets_max, len(build.choice.sheets), "", SCENARIO)
    if look.diffused:
        yield _yes("diffuser fitted", build.diffuser is not None, SCENARIO)


def _dimming(build: Build, scenario: Scenario) -> Iterator[Margin]:
    look = scenario.look
    for driver in dict.fromkeys(build.drivers):
        if look.dim_to is not None and driver.dimmable is not None:
            yield _yes(f"{driver.part}: can be dimmed", driver.dimmable != "no", SCENARIO)
            if driver.dim_min is not None:
                yield Margin(f"{driver.part}: dims to", "max", look.dim_to, driver.dim_min, "", SCENARIO)
        change = driver_flicker(driver, scenario, look.dim_to or 1.0)
        if look.flicker_max is not None and change is not None:
            yield Margin(f"{driver.part}: flicker", "max", look.flicker_max, change, "stop", SCENARIO)


def _heat(build: Build, figures: Figures, scenario: Scenario) -> Iterator[Margin]:
    ambient = scenario.power.ambient
    cases = [kind.case_max for kind in build.kinds if kind.case_max is not None]
    limits = [
        ("touch temperature", scenario.safety.touch_temperature, source_of_safety(scenario, "touch_temperature")),
        ("case temperature", min(cases, default=None), CATALOGUE),
        ("panel temperature", build.panel.temperature_max, CATALOGUE),
    ]
    for name, limit, source in limits:
        if limit is not None:
            yield Margin(name, "max", limit, figures.board, "degC", source, zero=ambient)


def _spot(build: Build, figures: Figures) -> Iterator[Margin]:
    limit = build.panel.heat_density_max
    if limit is not None:
        # Dimmed or turned down it may be run up again, to its rated power; above that by these drivers alone.
        strings = [s.emitter_heat / s.emitter.area for s in figures.strings]
        heat = max([kind.heat_density for kind in build.kinds] + strings)
        yield Margin("heat under one emitter", "max", limit / 1e4, heat / 1e4, "W/cm²", CATALOGUE)


def _drivers(build: Build, figures: Figures, scenario: Scenario) -> Iterator[Margin]:
    lead = figures.lead
    left = lead.lowest - lead.drop
    for string in figures.strings:
        emitter, driver, code = string.emitter, string.driver, string.driver.part
        if driver.output == "ballast":
            yield Margin(f"{code}: lamps", "min", driver.lamps or 0, string.channel.parallel, "", CATALOGUE)
            yield Margin(f"{code}: lamps at most", "max", driver.lamps or 0, string.channel.parallel, "", CATALOGUE)
            power = driver.lamp_power or 0.0
            yield Margin(f"{code}: lamp power", "min", power, emitter.watts, "W", CATALOGUE)
            yield Margin(f"{code}: lamp power at most", "max", power, emitter.watts, "W", CATALOGUE)
        else:
            assert driver.output_min is not None
            assert driver.output_max is not None
            assert driver.power_max is not None
            yield Margin(f"{code}: output, low", "min", driver.output_min, string.low, "V", CATALOGUE)
            yield Margin(f"{code}: output, high", "max", driver.output_max, string.high, "V", CATALOGUE)
            yield Margin(f"{code}: output power", "max", driver.power_max, string.output, "W", CATALOGUE)
            limit = scenario.safety.string_voltage
            # With a string unplugged, a constant-current driver rises to the top of its range.
            open_volts = max(string.high, driver.output_max)
            yield Margin(
                f"{code}: touchable voltage",
                "max",
                limit,
                open_volts,
                "V",
                source_of_safety(scenario, "string_voltage"),
            )
            # Drivers may run their emitters at different currents, so of several each tells its own.
            yield from _currents(emitter, driver, string.channel, f"{code}: " if len(figures.strings) > 1 else "")
        yield Margin(f"{code}: input, low", "min", driver.input_min, left, "V", CATALOGUE)
        yield Margin(f"{code}: input, high", "max", driver.input_max, lead.highest, "V", CATALOGUE)
        fed = (driver.input == "ac") == (build.battery is None)
        yield _yes(f"{code}: made for this supply", fed, CATALOGUE)
        if driver.isolated is not None:
            yield _yes(f"{code}: isolated from the mains", driver.isolated, ISOLATION)
        yield _yes(f"{code}: made for these emitters", driver.output == emitter.drive, CATALOGUE)


def _currents(emitter: Emitter, driver: Driver, channel: ChannelChoice, whose: str) -> Iterator[Margin]:
    assert emitter.current is not None
    code = driver.part
    total = channel.current * channel.parallel
    if driver.output == "constant voltage":
        if driver.output_current is not None:
            yield Margin(f"{code}: output current", "max", driver.output_current, total, "A", CATALOGUE)
        return
    low = driver.output_current if driver.output_current is not None else driver.current_min
    high = driver.output_current if driver.output_current is not None else driver.current_max
    assert low is not None
    assert high is not None
    yield Margin(f"{code}: output current, low", "min", low, total, "A", CATALOGUE)
    yield Margin(f"{code}: output current, high", "max", high, total, "A", CATALOGUE)
    yield Margin(f"{whose}emitter current, low", "min", emitter.lowest_current, channel.current, "A", CATALOGUE)
    yield Margin(f"{whose}emitter current, high", "max", emitter.highest_current, channel.current, "A", CATALOGUE)


def _lead(build: Build, figures: Figures, scenario: Scenario) -> Iterator[Margin]:
    lead, safety = figures.lead, scenario.safety
    factor = float(ambient_factor(scenario.power.ambient, build.cable.conductor_max))
    cable_rating = build.cable.rating * factor
    yield Margin(
        "voltage drop",
        "max",
        safety.voltage_drop * lead.nominal,
        lead.drop,
        "V",
        source_of_safety(scenario, "voltage_drop"),
    )
    needed = safety.continuous_factor * lead.current
    yield Margin(CARRIES, "min", needed, build.fuse.rating, "A", source_of_safety(scenario, "continuous_factor"))
    yield Margin("fuse protects the cable", "max", cable_rating, build.fuse.rating, "A", COORDINATION)
    yield Margin("fuse protects the connector", "max", build.connector.rating, build.fuse.rating, "A", COORDINATION)
    for name, part in (("fuse", build.fuse), ("cable", build.cable), ("connector", build.connector)):
        yield Margin(f"{name} voltage", "max", part.voltage_max, lead.highest, "V", CATALOGUE)
    supply = "ac" if build.battery is None else "dc"
    for name, made_for in (("fuse", build.fuse.supply), ("connector", build.connector.supply)):
        yield _yes(f"{name} made for this supply", made_for == supply, CATALOGUE)


def _source(build: Build, figures: Figures, scenario: Scenario) -> Iterator[Margin]:
    lead, power, battery = figures.lead, scenario.power, build.battery
    if battery is None:
        yield _yes("mains allowed", power.mains, SCENARIO)
        if power.circuit is not None:
            needed = scenario.safety.continuous_factor * lead.current
            yield Margin(
                "mains circuit", "max", power.circuit, needed, "A", source_of_safety(scenario, "continuous_factor")
            )
        cores = 3 if build.panel.metal else 2
        yield Margin("cores of the lead (earth)", "min", cores, build.cable.cores, "", EARTH)
        if build.panel.metal and build.connector.earth is not None:
            yield _yes("connector with earth", build.connector.earth, EARTH)
        return
    choice = build.choice
    yield _yes("battery allowed", power.battery, SCENARIO)
    # The terminals of a pack can be touched as a loose string can.
    yield Margin(
        "battery voltage",
        "max",
        scenario.safety.string_voltage,
        lead.highest,
        "V",
        source_of_safety(scenario, "string_voltage"),
    )
    limit = battery.current_max * choice.battery_parallel
    yield Margin("battery current", "max", limit, lead.current, "A", CATALOGUE)
    yield Margin("batteries in series", "max", battery.series_max, choice.battery_series, "", CATALOGUE)
    yield Margin("batteries in parallel", "max", battery.parallel_max, choice.battery_parallel, "", CATALOGUE)
    if battery.temperature_min is not None:
        # A scale of one kelvin: a share of a Celsius temperature would mean nothing.
        yield Margin(
            "battery in the cold",
            "min",
            battery.temperature_min,
            power.ambient,
            "degC",
            CATALOGUE,
            zero=battery.temperature_min - 1.0,
        )
    if scenario.travel.mode == "air":
        rule, number = flight_rule(battery.chemistry, battery.watt_hours, battery.voltage)
        if rule is Flight.APPROVAL and not scenario.travel.approval:
            number = 0
        yield Margin("batteries that may fly", "max", number, choice.batteries, "", AIR)
        if battery.chemistry not in {"nimh", "nicd"}:
            allowed = 160.0 if rule is Flight.APPROVAL and scenario.travel.approval else 100.0
            yield Margin("watt-hours of a battery", "max", allowed, battery.watt_hours, "Wh", AIR)


def _frame(build: Build, figures: Figures, scenario: Scenario) -> Iterator[Margin]:
    limit, panel = scenario.limits, build.panel
    columns, rows = common_grid(build.kinds, panel)
    yield Margin("emitters fit the panel", "max", columns * rows, build.choice.emitters, "", CATALOGUE)
    if limit.width is not None:
        yield Margin("panel width", "max", limit.width, panel.width, "m", SCENARIO)
    if limit.height is not None:
        yield Margin("panel height", "max", limit.height, panel.height, "m", SCENARIO)
    for name, want, have in coverings(panel, build.diffuser):
        yield Margin(name, "min", want, have, "m", CATALOGUE)
    if limit.mount:
        load = 0.0 if build.mount is None else build.mount.load
        yield Margin("mount load", "max", load, figures.head_milligrams / 1e6, "kg", CATALOGUE)
    if limit.ip is not None:
        housed = [panel.ip, *(driver.ip for driver in build.drivers)]
        if build.battery is not None:
            housed.append(build.battery.ip)
        if build.diffuser is None:
            housed += [kind.ip for kind in build.kinds]
        for digit, name in enumerate(("solids", "water")):
            want = _digit(limit.ip, digit)
            have = min(-1 if code is None else _digit(code, digit) for code in housed)
            if want >= 0:
                yield Margin(f"ingress protection, {name}", "min", want, have, "", ENCLOSURE)


def _digit(code: str, index: int) -> int:
    sign = code[2 + index]
    return -1 if sign == "X" else int(sign)
