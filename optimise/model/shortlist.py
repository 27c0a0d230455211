"""The least that a light of each kind of emitter can cost, weigh or draw, before its columns are built.

Sums of least shares, as in `bounds`, but from the parts alone: a trader lists thousands of emitters, and most of
them can be left aside without forming one string of them.
"""

from collections.abc import Mapping, Sequence

import numpy as np

from optimise.columns.expand import Floats, Ints, ceil_of
from optimise.columns.heads import NO_DIFFUSER, peak_through
from optimise.model.even import fewest_by_emitter
from optimise.model.light import HAIR
from optimise.model.market import Market
from optimise.model.weights import SCALES
from optimise.parts import Emitter
from optimise.physics.distributions import bare_beam, peak_intensity
from optimise.physics.emitters import REFERENCE_TEMPERATURE, forward_voltage, relative_flux


def least_by_emitter(market: Market, caps: Mapping[str, float], scale: str) -> Floats:
    """Return the least that a light of each emitter weighs on a scale; infinite where it cannot keep the caps."""
    parts = market.parts
    least = np.zeros(len(parts.emitters))
    if not (parts.emitters and parts.drivers and len(market.boards.panel) and len(market.supplies)):
        return np.full(len(parts.emitters), np.inf)
    flux, efficacy = flux_and_efficacy(parts.emitters)
    ambient = market.scenario.power.ambient
    per_kelvin = np.array([e.flux_per_kelvin for e in parts.emitters])
    warm = np.maximum(1.0 + per_kelvin * (ambient - REFERENCE_TEMPERATURE), 1e-6)
    fewest = fewest_by_emitter(market)
    for name in SCALES:
        if name != scale and not np.isfinite(caps[name]):
            continue
        weight, light = faces_weighed(market, name, brightest_of(parts.emitters))
        need = market.target / (light[None, :] * warm[:, None]) * (1 - HAIR)
        total = weight[None, :] + _pieces(market, name, need, flux, fewest) + _drivers(market, name, need, efficacy)
        total += _supply(market, name, need, efficacy) + _mount(market, name)
        bound = total.min(axis=1)
        least[bound > caps[name] * (1 + HAIR) + HAIR] = np.inf
        if name == scale:
            least = np.maximum(least, bound)
    return least


def flux_and_efficacy(emitters: tuple[Emitter, ...]) -> tuple[Floats, Floats]:
    """Return the most lumens of one piece and the most lumens for a watt, at 25 °C."""
    flux, efficacy = [], []
    for e in emitters:
        if e.drive == "constant current":
            assert e.current is not None
            ends = np.array([e.lowest_current, e.current, e.highest_current])
            lumens = e.flux * relative_flux(ends / e.current, e.droop)
            volts = forward_voltage(e.voltage or 0.0, ends, e.current, e.dynamic_resistance)
            flux.append(float(lumens.max()))
            # Efficacy falls with the current: g(x) / x and 1 / V(x) both do.
            efficacy.append(float((lumens / np.maximum(ends * volts, 1e-300)).max()))
        else:
            flux.append(e.flux)
            efficacy.append(e.flux / e.watts)
    return np.array(flux), np.array(efficacy)


def brightest_of(emitters: Sequence[Emitter]) -> list[Emitter]:
    """Return the emitters one of which gives most ahead: the narrowest of formulas; a table may give more than any."""
    formulas = [e for e in emitters if e.photometric is None]
    return [e for e in emitters if e.photometric is not None] + sorted(formulas, key=lambda e: e.beam)[:1]


def faces_weighed(
    market: Market, scale: str, brightest: Sequence[Emitter], *, bare: bool = True
) -> tuple[Floats, Floats]:
    """Return weight and greatest lux per lumen of the faces that no other beats in both; bare: open ones as well."""
    boards, parts, distance = market.boards, market.parts, market.scenario.light.distance
    open_ = boards.diffuser == NO_DIFFUSER
    through = boards.through[boards.panel, boards.diffuser]
    light = boards.lambertian[boards.panel] * through
    beamed = np.append(boards.beamed_sheets, False)[boards.diffuser]
    if beamed.any():
        sheets = zip(parts.diffusers, boards.beamed_sheets, strict=True)
        peaks = [max(peak_through(e, s) for e in brightest) if beams else 0.0 for s, beams in sheets]
        light[beamed] = (np.array([*peaks, 0.0])[boards.diffuser] / distance**2 * through)[beamed]
    light[open_] = max(peak_intensity(bare_beam(e.beam, e.photometric)) for e in brightest) / distance**2
    if scale == "cost":
        weight = market.panel_cost[boards.panel] + market.sheet_cost[boards.panel, boards.diffuser]
    elif scale == "mass":
        panel = np.array([float(p.milligrams) for p in parts.panels])
        sheet = np.array([d.mass_per_area for d in parts.diffusers] + [0.0])
        area = boards.width * boards.height
        weight = panel[boards.panel] + np.maximum(
            np.floor(sheet[boards.diffuser] * area[boards.panel] * 1e6) - 1.0, 0.0
        )
    else:
        weight = np.zeros(len(light))
    if not bare:
        weight, light = weight[~open_], light[~open_]
    order = np.lexsort((weight, -light))
    lighter = np.minimum.accumulate(weight[order])
    first = np.append(True, weight[order][1:] < lighter[:-1])
    return weight[order][first], light[order][first]


def _pieces(market: Market, scale: str, need: Floats, flux: Floats, fewest: Ints) -> Floats:
    number = np.maximum(ceil_of(need / flux[:, None]), fewest[:, None])
    fits = number <= market.capacity[:, None]
    result = np.full(need.shape, np.inf)
    for row, (emitter, buying) in enumerate(zip(market.parts.emitters, market.emitter_buying, strict=True)):
        mine = number[row][fits[row]]
        if len(mine):
            if scale == "cost":
                result[row, fits[row]] = buying.least(mine)
            else:
                result[row, fits[row]] = mine * float(emitter.milligrams) if scale == "mass" else 0.0
    return result


def drivers_weighed(market: Market, scale: str) -> tuple[Floats, Floats]:
    """Return what one piece of each driver weighs on a scale, and the most power that it gives, W."""
    drivers, parts = market.drivers, market.parts
    weight = {
        "cost": np.array([b.unit for b in market.driver_buying]),
        "mass": np.array([float(d.milligrams) for d in parts.drivers]),
        "power": np.zeros(len(parts.drivers)),
    }[scale]
    return weight, np.where(drivers.output == "ballast", drivers.lamps * drivers.lamp_power, drivers.power_max)


def supplies_weighed(market: Market, scale: str, load: Floats) -> Floats:
    """Return the weight of the lightest supply that delivers at least a load, VA; infinite where none does."""
    supplies = market.supplies
    weight = {"cost": supplies.cost, "mass": supplies.mass, "power": np.zeros(len(supplies))}[scale].astype(np.float64)
    order = np.argsort(supplies.deliverable, kind="stable")
    least = np.append(np.minimum.accumulate(weight[order][::-1])[::-1], np.inf)
    return np.asarray(least[np.searchsorted(supplies.deliverable[order], load * (1 - HAIR), side="left")])


def _drivers(market: Market, scale: str, need: Floats, efficacy: Floats) -> Floats:
    drivers = market.drivers
    weight, power = drivers_weighed(market, scale)
    result = np.full(need.shape, np.inf)
    for drive, rows in _by_drive(market).items():
        mine = np.flatnonzero(drivers.output == drive)
        if len(mine):
            each = need[rows] / efficacy[rows, None]
            by_watt = each * (weight[mine] / np.maximum(power[mine], 1e-300)).min()
            result[rows] = np.maximum(by_watt, weight[mine].min())
            if scale == "power":
                result[rows] = each / drivers.efficiency[mine].max()
    return result


def _supply(market: Market, scale: str, need: Floats, efficacy: Floats) -> Floats:
    """Return the lightest supply for the least load."""
    load = np.full(need.shape, np.inf)
    for drive, rows in _by_drive(market).items():
        mine = market.drivers.output == drive
        if mine.any():
            best = float((market.drivers.efficiency[mine] * market.drivers.factor[mine]).max())
            load[rows] = need[rows] / efficacy[rows, None] / best
    return supplies_weighed(market, scale, load)


def _by_drive(market: Market) -> dict[str, np.ndarray]:
    drive = np.array([e.drive for e in market.parts.emitters], dtype=np.str_)
    return {str(kind): np.flatnonzero(drive == kind) for kind in np.unique(drive)}


def _mount(market: Market, scale: str) -> float:
    if not market.mounts or scale == "power":
        return 0.0
    return float((market.mount_cost if scale == "cost" else market.mount_mass).min())
