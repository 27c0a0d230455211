"""The exact check: every figure of a choice by the full physics, with no column and no linearisation.

It shares only `optimise.physics` (and what a part says of itself) with the model that made the choice.
"""

import math
from collections.abc import Sequence

import numpy as np

from optimise.model import limits
from optimise.model.build import Build, Figures, Spot
from optimise.model.choice import BillLine, Choice, Evaluation, Margin
from optimise.model.dots import dots
from optimise.model.face import luminance, lux_per_lumen
from optimise.model.field import evenness, field_figures
from optimise.model.modulation import driver_flicker
from optimise.model.operating import brightest, operating, strings_of
from optimise.model.spots import spots_of
from optimise.model.stacks import layers_of, sheet_of
from optimise.model.unchecked import unchecked
from optimise.parts import Battery, Cable, Catalogue, Connector, Diffuser, Driver, Emitter, Fuse, Mount, Panel
from optimise.parts.basket import Basket, Counter
from optimise.parts.buying import Want
from optimise.parts.cutting import Cuts, left_of, needed
from optimise.parts.part import Part, whole_milligrams
from optimise.physics.exposure import exposure_illuminance
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
    strings = strings_of(build, scenario)
    full = operating(build, strings, scenario)
    flux, board, lead, watts, runtime = full.flux, full.board, full.lead, full.watts, full.runtime
    each_lumen = lux_per_lumen(build, scenario.light.distance)
    even, ripple = evenness(build, scenario), dots(build)
    lux = flux * each_lumen
    lost = math.fsum(s.channel.emitters * s.flux * s.emitter.flux_per_kelvin for s in strings)
    target = wanted_illuminance(scenario)
    most, dimming = brightest(build, strings, board, scenario.power.ambient)
    asked = scenario.targets(target)
    spots = tuple(
        Spot(point, flux * each, most * each)
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
        "junction_temperature": (full.hottest, "degC"),
        "heat": (full.heat, "W"),
        "supply_voltage": (lead.nominal, "V"),
        "current": (lead.current, "A"),
        "voltage_drop": (lead.drop, "V"),
        "lead_loss": (lead.loss, "W"),
        "emitters": (float(choice.emitters), ""),
        **({} if ripple is None else {"dot_ripple": (ripple, "")}),
        **_seen(build, scenario),
    }
    measured = Figures(
        cents=cents,
        milligrams=whole,
        head_milligrams=head,
        watts=watts,
        lux=lux,
        board=board,
        hottest=full.hottest,
        runtime=runtime,
        lead=lead,
        strings=tuple(strings),
        fluxes=full.fluxes,
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
        heat=full.heat,
        board=board,
        fluxes=full.fluxes,
        warming=each_lumen * lost,
        apparent=full.apparent,
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
        kinds=catalogue.each(Emitter, choice.kinds),
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
    choice, panel = build.choice, build.panel
    wants = [want_of(kind, choice.pieces[kind.part], scenario) for kind in build.kinds]
    wants += [Want(code, number) for code, number in choice.drivers.items()]
    wants.append(want_of(panel, 1, scenario))
    wants += covering_wants(panel, build.diffuser, scenario.buying.kerf)
    if build.battery is not None:
        wants.append(want_of(build.battery, choice.batteries, scenario))
    wants += [want_of(part, 1, scenario) for part in (build.cable, build.fuse, build.connector)]
    if build.mount is not None:
        wants.append(want_of(build.mount, 1, scenario))
    return wants


def want_of(part: Part, pieces: int, scenario: Scenario) -> Want:
    """Return what so many of a part are, as they are bought; of a diffuser see `covering_wants`."""
    if isinstance(part, Emitter):
        return Want(part.part, pieces, part.length)
    if isinstance(part, Cable):
        return Want(part.part, pieces, scenario.power.lead_length)
    if isinstance(part, Panel):
        return Want(part.part, pieces, size=(part.width, part.height), kerf=scenario.buying.kerf)
    return Want(part.part, pieces)


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
    head += sum(whole_milligrams(sheet.mass_per_area * area) for sheet in layers_of(build.diffuser))
    if build.mount is not None:
        head += build.mount.milligrams
    whole = head + build.fuse.milligrams + build.connector.milligrams
    whole += whole_milligrams(build.cable.mass_per_length * scenario.power.lead_length)
    if build.battery is not None:
        whole += choice.batteries * build.battery.milligrams
    return head, whole


def margin_of(evaluation: Evaluation, name: str) -> Margin | None:
    """Return the margin of a name, or None where the build has none of it."""
    return next((margin for margin in evaluation.margins if margin.name == name), None)
