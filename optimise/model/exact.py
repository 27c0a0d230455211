"""The exact check: every figure of a choice by the full physics, with no column and no linearisation.

It shares only `optimise.physics` (and what a part says of itself) with the model that made the choice.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from optimise.model import limits
from optimise.model.choice import BillLine, Choice, Evaluation, Margin
from optimise.model.dots import dots
from optimise.model.face import luminance, lux_per_lumen
from optimise.model.field import evenness, field_figures
from optimise.model.limits import Build
from optimise.model.modulation import driver_flicker
from optimise.model.spots import spots_of
from optimise.model.stacks import layers_of, sheet_of
from optimise.model.unchecked import unchecked
from optimise.parts import Battery, Cable, Catalogue, Connector, Diffuser, Driver, Emitter, Fuse, Mount, Panel
from optimise.parts.basket import Basket, Counter
from optimise.parts.buying import Want
from optimise.parts.cutting import Cuts, left_of, needed
from optimise.physics.batteries import cold_factor, discharge_time
from optimise.physics.emitters import (
    REFERENCE_TEMPERATURE,
    forward_voltage,
    junction_temperature,
    relative_flux,
    temperature_factor,
)
from optimise.physics.exposure import exposure_illuminance
from optimise.physics.heat import HOTTEST, TooHotError, board_temperature
from optimise.physics.leads import conductor_resistance, load_current
from optimise.physics.softness import apparent_angle, corneal_image, penumbra_width
from optimise.scenario import Scenario
from optimise.scenario.terms import let_in


def wanted_illuminance(scenario: Scenario) -> float:
    """Return the illuminance asked for, lx, whether given as such or as an exposure."""
    light = scenario.light
    if light.illuminance is not None:
        return light.illuminance
    assert light.f_number is not None
    assert light.exposure_time is not None
    assert light.iso is not None
    exact = exposure_illuminance(light.f_number, light.exposure_time, light.iso, light.meter_constant)
    return float(exact) * float(2.0**light.stops)


def evaluate(choice: Choice, catalogue: Catalogue, scenario: Scenario, basket: Basket | None = None) -> Evaluation:
    """Return all figures and margins of a choice. Raises KeyError where a code is not in the catalogue.

    basket: how it is bought; left out: the cheapest basket.
    """
    build = build_of(choice, catalogue)
    basket = bought(wants_of(build, scenario), catalogue, scenario) if basket is None else basket
    cents, missing = basket.cents, basket.missing
    head, whole = _masses(build, scenario)
    strings = _strings(build, scenario)
    heat = math.fsum(s.heat for s in strings)
    load_power = math.fsum(s.power for s in strings)
    apparent = math.fsum(s.apparent for s in strings)
    board = _board(build.panel, heat, scenario.power.ambient)
    fluxes, hottest = _flux(build, strings, board)
    flux = sum(fluxes)
    each_lumen = lux_per_lumen(build, scenario.light.distance)
    even, ripple = evenness(build, scenario), dots(build)
    lux = flux * each_lumen
    lost = math.fsum(s.channel.emitters * s.flux * s.emitter.flux_per_kelvin for s in strings)
    lead = _lead(build, apparent, scenario)
    watts = load_power + lead.loss
    runtime = _runtime(build, lead.nominal_current, scenario)
    target = wanted_illuminance(scenario)
    brightest, dimming = _brightest(build, strings, board, scenario.power.ambient)
    asked = scenario.targets(target)
    spots = tuple(
        limits.Spot(point, flux * each, brightest * each)
        for point, each in zip(asked, spots_of(build, tuple(point.place for point in asked)), strict=True)
    )
    figures: dict[str, tuple[float | None, str]] = {
        "cost": (cents / 100, catalogue.currency),
        "mass": (whole / 1e6, "kg"),
        "head_mass": (head / 1e6, "kg"),
        "power": (watts, "W"),
        "illuminance": (lux, "lx"),
        "above_target": (float(np.log2(lux / target)) if lux > 0.0 else -math.inf, "stop"),
        **field_figures(build, scenario, even, flux),
        **{f"{limits.LIGHT} {spot.target.label}": (spot.lux, "lx") for spot in spots[: len(scenario.points)]},
        "luminous_flux": (flux, "lm"),
        "luminance": (luminance(build, flux, max((s.flux for s in strings), default=0.0)), "cd/m²"),
        "runtime": (None if runtime is None else runtime / 3600.0, "h"),
        "board_temperature": (board, "degC"),
        "junction_temperature": (hottest, "degC"),
        "heat": (heat, "W"),
        "supply_voltage": (lead.nominal, "V"),
        "current": (lead.current, "A"),
        "voltage_drop": (lead.drop, "V"),
        "lead_loss": (lead.loss, "W"),
        "emitters": (float(choice.emitters), ""),
        **({} if ripple is None else {"dot_ripple": (ripple, "")}),
        **_seen(build, scenario),
    }
    measured = limits.Figures(
        cents=cents,
        milligrams=whole,
        head_milligrams=head,
        watts=watts,
        lux=lux,
        board=board,
        hottest=hottest,
        runtime=runtime,
        lead=lead,
        strings=tuple(strings),
        fluxes=fluxes,
        evenness=even,
        spots=spots,
        dots=ripple,
    )
    margins = limits.margins(build, measured, scenario, target, catalogue.currency)
    return Evaluation(
        choice=choice,
        bill=bill_of(basket),
        orders=basket.orders,
        margins=margins,
        figures=figures,
        cents=cents,
        milligrams=whole,
        watts=watts,
        lux=lux,
        heat=heat,
        board=board,
        fluxes=fluxes,
        warming=each_lumen * lost,
        apparent=apparent,
        missing=missing,
        unchecked=unchecked(build, scenario),
        dimming=dimming,
    )


def _seen(build: Build, scenario: Scenario) -> dict[str, tuple[float | None, str]]:
    """Return what camera and subject see: flicker at full output, and how soft the lit face is."""
    look, distance = scenario.look, scenario.light.distance
    side, longer = sorted((build.panel.width, build.panel.height))
    known = [driver_flicker(driver, scenario, 1.0) for driver in build.drivers]
    changes = [change for change in known if change is not None]
    back = look.background
    return {
        "flicker": (max(changes) if changes and len(changes) == len(known) else None, "stop"),
        "source_angle": (float(apparent_angle(side, distance)), "deg"),
        "catch_light": (1e3 * float(corneal_image(longer, distance)), "mm"),
        "penumbra": (None if back is None else float(penumbra_width(side, distance, back)), "m"),
    }


def build_of(choice: Choice, catalogue: Catalogue) -> Build:
    """Return a choice with its parts. Raises KeyError where a code is not in the catalogue."""
    return Build(
        choice=choice,
        kinds=tuple(catalogue.find(Emitter, code) for code in choice.kinds),
        drivers=tuple(catalogue.find(Driver, channel.driver) for channel in choice.channels),
        panel=catalogue.find(Panel, choice.panel),
        diffuser=sheet_of(choice, catalogue),
        battery=None if choice.battery is None else catalogue.find(Battery, choice.battery),
        cable=catalogue.find(Cable, choice.cable),
        fuse=catalogue.find(Fuse, choice.fuse),
        connector=catalogue.find(Connector, choice.connector),
        mount=None if choice.mount is None else catalogue.find(Mount, choice.mount),
    )


def wants_of(build: Build, scenario: Scenario) -> list[Want]:
    """Return what a build takes, each part once."""
    choice, panel, kerf = build.choice, build.panel, scenario.buying.kerf
    face = panel.width, panel.height
    wants = [Want(kind.part, choice.pieces[kind.part], kind.length) for kind in build.kinds]
    wants += [Want(code, number) for code, number in choice.drivers.items()]
    wants.append(Want(choice.panel, 1, size=face, kerf=kerf))
    wants += covering_wants(panel, build.diffuser, kerf)
    if choice.battery is not None:
        wants.append(Want(choice.battery, choice.batteries))
    wants.append(Want(choice.cable, 1, scenario.power.lead_length))
    wants += [Want(choice.fuse, 1), Want(choice.connector, 1)]
    if choice.mount is not None:
        wants.append(Want(choice.mount, 1))
    return wants


def covering_wants(panel: Panel, diffuser: Diffuser | None, kerf: float) -> list[Want]:
    """Return what covers a panel with its diffusers, each part once: faces of its size, cut from sheets."""
    layers, size = layers_of(diffuser), (panel.width, panel.height)
    return [
        Want(layer.part, layers.count(layer), size=size, sheet=(layer.width, layer.height), kerf=kerf)
        for layer in dict.fromkeys(layers)
    ]


def bought(wants: Sequence[Want | Cuts], catalogue: Catalogue, scenario: Scenario) -> Basket:
    """Return the cheapest basket of offers that a scenario lets in; prices are taken as they stand."""
    offers = let_in({want.part: catalogue.offers.get(want.part, ()) for want in wants}, scenario)
    sellers = {supplier.supplier: supplier for supplier in catalogue.suppliers}
    return Counter(offers, sellers, scenario.limits.suppliers_max).basket(wants)


def bill_of(basket: Basket) -> tuple[BillLine, ...]:
    """Return the lines of a bill, part by part."""
    return tuple(
        BillLine(
            part=want.part,
            purchase=way,
            needed=needed(want, way.offer),
            left_over=left_of(purchases, want),
        )
        for want, purchases in basket.bought
        for way in purchases
    )


def _masses(build: Build, scenario: Scenario) -> tuple[int, int]:
    """Return the mass of the head and of everything carried, mg."""
    choice = build.choice
    head = build.panel.milligrams + sum(choice.pieces[kind.part] * kind.milligrams for kind in build.kinds)
    head += sum(c.number * d.milligrams for c, d in zip(choice.channels, build.drivers, strict=True))
    area = build.panel.width * build.panel.height
    head += sum(round(sheet.mass_per_area * area * 1e6) for sheet in layers_of(build.diffuser))
    if build.mount is not None:
        head += build.mount.milligrams
    whole = head + build.fuse.milligrams + build.connector.milligrams
    whole += round(build.cable.mass_per_length * scenario.power.lead_length * 1e6)
    if build.battery is not None:
        whole += choice.batteries * build.battery.milligrams
    return head, whole


def _strings(build: Build, scenario: Scenario) -> list[limits.Strings]:
    ambient = scenario.power.ambient
    result: list[limits.Strings] = []
    for channel, driver in zip(build.choice.channels, build.drivers, strict=True):
        emitter = build.emitter_of(channel)
        if emitter.drive == "constant current":
            assert emitter.current is not None
            assert emitter.voltage is not None

            def voltage(
                rated: float | None, junction: float, current: float = channel.current, emitter: Emitter = emitter
            ) -> float:
                return float(
                    forward_voltage(
                        rated if rated is not None else emitter.voltage or 0.0,
                        current,
                        emitter.current or 0.0,
                        emitter.dynamic_resistance,
                        emitter.voltage_per_kelvin,
                        junction,
                    )
                )

            drive = channel.current / emitter.current
            watts = channel.current * voltage(emitter.voltage, REFERENCE_TEMPERATURE)
            low = channel.series * voltage(
                emitter.voltage_min, max(emitter.case_max or REFERENCE_TEMPERATURE, REFERENCE_TEMPERATURE)
            )
            high = channel.series * voltage(emitter.voltage_max, min(ambient, REFERENCE_TEMPERATURE))
            strongest = channel.current * voltage(emitter.voltage_max, REFERENCE_TEMPERATURE)
        else:
            drive, watts, strongest = 1.0, emitter.watts, emitter.watts
            low = high = channel.series * (emitter.voltage or 0.0)
        heat = watts * emitter.heat_share
        power = channel.emitters * watts / driver.efficiency
        factor = driver.power_factor if driver.input == "ac" and driver.power_factor is not None else 1.0
        flux = float(emitter.flux * relative_flux(drive, emitter.droop))
        result.append(
            limits.Strings(
                channel=channel,
                driver=driver,
                emitter=emitter,
                low=low,
                high=high,
                output=channel.series * channel.parallel * strongest,
                flux=flux,
                emitter_heat=heat,
                heat=channel.emitters * heat,
                power=power,
                apparent=power / factor,
            )
        )
    return result


def _board(panel: Panel, heat: float, ambient: float) -> float:
    if panel.thermal_resistance is not None:
        return ambient + heat * panel.thermal_resistance
    try:
        return float(board_temperature(heat, ambient, panel.width, panel.height, panel.faces, panel.emissivity))
    except TooHotError:
        return ambient + HOTTEST  # at least so hot: every limit is missed all the same


def _flux(build: Build, strings: Sequence[limits.Strings], board: float) -> tuple[tuple[float, ...], float | None]:
    """Return the flux of each kind of emitter, lm, at the board's temperature, and the hottest junction, °C."""
    fluxes, hottest = dict.fromkeys(build.choice.kinds, 0.0), board
    for string in strings:
        emitter = string.emitter
        junction = float(junction_temperature(board, string.emitter_heat, emitter.resistance_junction_case or 0.0))
        hottest = max(hottest, junction)
        lit = string.channel.emitters * string.flux * float(temperature_factor(junction, emitter.flux_per_kelvin))
        fluxes[emitter.part] += lit
    known = all(kind.resistance_junction_case is not None for kind in build.kinds)
    return tuple(fluxes.values()), hottest if known else None


def _brightest(build: Build, strings: Sequence[limits.Strings], board: float, ambient: float) -> tuple[float, float]:
    """Return the flux, lm, that is never passed over the tolerances of the emitters, and its relative slope, 1/K.

    It is that of the other end (`parts.tolerance`), where there is one; else the flux itself. The slope is over the
    board's temperature.
    """
    flux = slope = 0.0
    for string in strings:
        emitter = string.emitter
        light, heat = emitter.other_end
        rise = heat * string.emitter_heat * (emitter.resistance_junction_case or 0.0)
        junction = ambient + heat * (board - ambient) + rise
        each = light * string.channel.emitters * string.flux
        flux += each * float(temperature_factor(junction, emitter.flux_per_kelvin))
        slope += each * heat * emitter.flux_per_kelvin
    return flux, slope / flux if flux > 0.0 else 0.0


def _lead(build: Build, apparent: float, scenario: Scenario) -> limits.Lead:
    per_metre = build.cable.ohms_per_metre
    warm = float(conductor_resistance(per_metre, build.cable.conductor_max))
    resistance = 2.0 * scenario.power.lead_length * warm
    if build.battery is None:
        nominal = lowest = highest = scenario.power.mains_voltage or math.nan
    else:
        series = build.choice.battery_series
        nominal, lowest, highest = (
            series * v for v in (build.battery.voltage, build.battery.voltage_min, build.battery.voltage_max)
        )
    current = float(load_current(lowest, resistance, apparent))
    nominal_current = float(load_current(nominal, resistance, apparent))
    if np.isnan(current):
        current = nominal_current = math.inf
    return limits.Lead(
        resistance=resistance,
        nominal=nominal,
        lowest=lowest,
        highest=highest,
        current=current,
        nominal_current=nominal_current,
        drop=current * resistance,
        loss=nominal_current**2 * resistance,
    )


def _runtime(build: Build, current: float, scenario: Scenario) -> float | None:
    """Return the runtime at the nominal voltage, s; None on mains."""
    battery = build.battery
    if battery is None:
        return None
    if math.isinf(current):
        return 0.0
    each = current / build.choice.battery_parallel
    rated = battery.rated_time if battery.rated_time is not None else battery.capacity / each
    time = float(discharge_time(each, battery.capacity, rated, battery.peukert))
    return time * battery.usable * float(cold_factor(scenario.power.ambient, battery.capacity_per_kelvin))


@dataclass(frozen=True)
class Operating:
    """What channels come to on their board and lead."""

    flux: float
    """At the board's temperature, lm."""
    board: float
    watts: float
    """Drawn from the supply at the nominal voltage, W."""
    lead: limits.Lead
    runtime: float | None
    """s; None on mains."""


def strings_of(build: Build, scenario: Scenario) -> list[limits.Strings]:
    """Return what each entry of a build's channels does electrically."""
    return _strings(build, scenario)


def operating(build: Build, strings: Sequence[limits.Strings], scenario: Scenario) -> Operating:
    """Return what channels come to in a build, be they its own or turned down."""
    board = _board(build.panel, math.fsum(s.heat for s in strings), scenario.power.ambient)
    fluxes, _ = _flux(build, strings, board)
    lead = _lead(build, math.fsum(s.apparent for s in strings), scenario)
    watts = math.fsum(s.power for s in strings) + lead.loss
    return Operating(sum(fluxes), board, watts, lead, _runtime(build, lead.nominal_current, scenario))


def margin_of(evaluation: Evaluation, name: str) -> Margin | None:
    """Return the margin of a name, or None where the build has none of it."""
    return next((margin for margin in evaluation.margins if margin.name == name), None)
