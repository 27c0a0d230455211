"""Which checks a build could not be put to, because a figure is not stated."""

from optimise.model.build import Build
from optimise.model.losses import untold_of_losses
from optimise.model.modulation import untold_of_modulation
from optimise.model.stacks import layers_of
from optimise.parts.colour import worked_out
from optimise.scenario import Scenario


def unchecked(build: Build, scenario: Scenario) -> tuple[str, ...]:
    """Return the checks that were not made because a figure is not stated, in words."""
    told: list[str] = []

    def tell(missing: bool, part: str, column: str, check: str) -> None:
        if missing:
            told.append(f"{part}: {column} is not stated; not checked: {check}.")

    for emitter in build.kinds:
        if emitter.drive == "constant current":
            spread = emitter.voltage_min is None or emitter.voltage_max is None
            tell(spread, emitter.part, "voltage_min or voltage_max", "the driver's window over the maker's spread")
            cold = "string voltage at a cold start"
            tell(emitter.voltage_per_kelvin == 0.0, emitter.part, "voltage_per_kelvin", cold)
        tell(emitter.case_max is None, emitter.part, "case_max", "case temperature")
        if emitter.drive != "ballast":
            tell(
                emitter.resistance_junction_case is None,
                emitter.part,
                "resistance_junction_case",
                "junction temperature (taken as the board's)",
            )
        tell(emitter.flux_per_kelvin == 0.0, emitter.part, "flux_per_kelvin", "loss of light with heat")
        if build.diffuser is None:
            bare = "luminance and blue light of bare emitters"
            tell(emitter.emitting_area is None, emitter.part, "emitting_area", bare)
        if not worked_out(emitter):
            why = "spectrum is not stated" if emitter.measured is None else "the extra spectra is not installed"
            told.append(f"{emitter.part}: {why}; not checked: blue light.")
    if not build.panel.metal:
        spot = "the spot under each emitter (the board is taken as evenly warm)"
        tell(build.panel.heat_density_max is None, build.panel.part, "heat_density_max", spot)
    tell(build.panel.temperature_max is None, build.panel.part, "temperature_max", "what the board bears")
    if build.diffuser is not None:
        dots = "dots on the diffuser"
        tell(build.panel.depth is None, build.panel.part, "depth", dots)
        emitter = build.emitter
        if len(build.kinds) > 1:
            told.append(f"Two kinds of emitter; not checked: {dots}.")
        elif emitter.form == "module" and emitter.emitting_area is None and build.panel.depth is not None:
            told.append(f"{emitter.part}: emitting_area is not stated; {dots} are those of pieces lit all along.")
    losses = [line for kind in build.kinds for line in untold_of_losses(kind, build.panel, build.diffuser)]
    told += dict.fromkeys(losses)
    layers = layers_of(build.diffuser)
    if len(layers) > 1:
        between = "light thrown to and fro between the sheets"
        for sheet in dict.fromkeys(layers):
            tell(sheet.reflectance == 0.0, sheet.part, "reflectance", between)
    told += untold_of_modulation(build.drivers, scenario)
    if scenario.limits.ip is not None:
        ends = f"{build.connector.part}, {build.fuse.part}"
        told.append(f"{ends}: a catalogue has no IP code for them; not checked: ingress protection at the supply.")
    for driver in dict.fromkeys(build.drivers):
        unknown = driver.on_mains_strings and driver.isolated is None
        tell(unknown, driver.part, "isolated", "that its strings are separated from the mains")
    if build.battery is None:
        if build.panel.metal:
            tell(build.connector.earth is None, build.connector.part, "earth", "the earth at the plug")
        tell(scenario.power.circuit is None, "scenario", "power.circuit", "the rating of the mains circuit")
    else:
        battery = build.battery
        tell(battery.temperature_min is None, battery.part, "temperature_min", "discharge in the cold")
        if scenario.power.ambient < 25.0:
            cold = "loss of capacity in the cold"
            tell(battery.capacity_per_kelvin == 0.0, battery.part, "capacity_per_kelvin", cold)
        if battery.peukert == 1.0:
            told.append(f"{battery.part}: peukert is 1 or blank; capacity is taken as the same at any current.")
    return tuple(told)
