"""The least that a light can weigh, one face and one emitter at a time: what bounds of whole arrays must come to."""

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from optimise.columns.heads import NO_DIFFUSER, peak_through
from optimise.model.even import fewest_by_emitter
from optimise.model.market import Market
from optimise.parts import Driver, Emitter
from optimise.physics.distributions import bare_beam, peak_intensity

SCALES = ("cost", "mass", "power")
HAIR = 1e-9
"""Relative width within which a bound may give way."""


def strings(emitter: Emitter) -> tuple[float, float]:
    """Return the most lumens of one piece, and for a watt, over a fine grid of the currents that it bears."""
    if emitter.drive != "constant current":
        return emitter.flux, emitter.flux / emitter.watts
    assert emitter.current is not None
    assert emitter.voltage is not None
    best = [0.0, 0.0]
    for current in np.linspace(emitter.lowest_current, emitter.highest_current, 41).tolist():
        x = current / emitter.current
        lumens = emitter.flux * x * (1.0 + emitter.droop * (1.0 - x))
        volts = emitter.voltage + emitter.dynamic_resistance * (current - emitter.current)
        best = [max(best[0], lumens), max(best[1], lumens / (volts * current))]
    return best[0], best[1]


def brightest(market: Market) -> float:
    """Return the greatest intensity for each lumen, cd/lm, that a bare emitter of the catalogue gives."""
    peaks = []
    for e in market.parts.emitters:
        m = math.log(0.5) / math.log(math.cos(math.radians(e.beam / 2.0)))
        measured = e.photometric is not None
        peaks.append(peak_intensity(bare_beam(e.beam, e.photometric)) if measured else (m + 1.0) / (2.0 * math.pi))
    return max(peaks)


def faces(market: Market, scale: str, *, bare: bool = True) -> Iterator[tuple[float, float]]:
    """Yield what panel and sheet weigh, and their greatest lux per lumen with any emitter of the catalogue."""
    boards = market.boards
    for p, d in zip(boards.panel.tolist(), boards.diffuser.tolist(), strict=True):
        panel, open_ = market.parts.panels[p], d == NO_DIFFUSER
        if open_ and not bare:
            continue
        sheet = None if open_ else market.parts.diffusers[d]
        weight = 0.0
        if scale == "cost":
            weight = float(market.panel_cost[p] + market.sheet_cost[p, d])
        elif scale == "mass":
            cut = 0.0 if sheet is None else sheet.mass_per_area * panel.width * panel.height * 1e6
            weight = panel.milligrams + max(math.floor(cut) - 1.0, 0.0)
        distance = market.scenario.light.distance
        if sheet is None:
            light = brightest(market) / distance**2
        elif sheet.spread is None and sheet.grid is None:
            light = float(boards.lambertian[p] * boards.through[p, d])
        else:
            peak = max(peak_through(e, sheet) for e in market.parts.emitters)
            light = peak / distance**2 * float(boards.through[p, d])
        yield weight, light


def warm(market: Market, *emitters: Emitter) -> float:
    """Return what the air's temperature leaves of the light of the emitter that loses least."""
    return max(1.0 + max(e.flux_per_kelvin for e in emitters) * (market.scenario.power.ambient - 25.0), 1e-6)


def drivers_of(market: Market, emitter: Emitter) -> list[tuple[Driver, float, float, float]]:
    """Return the drivers made for an emitter: each with its price, efficiency, and what it takes from 1 VA, W."""
    figures = market.drivers
    return [
        (driver, market.driver_buying[i].unit, float(figures.efficiency[i]), float(figures.factor[i]))
        for i, driver in enumerate(market.parts.drivers)
        if driver.output == emitter.drive
    ]


def gives(driver: Driver) -> float:
    """Return the most power that a driver gives, W."""
    if driver.output == "ballast":
        return (driver.lamps or 0) * (driver.lamp_power or 0.0)
    assert driver.power_max is not None
    return driver.power_max


def weight_of(driver: Driver, unit: float, scale: str) -> float:
    return {"cost": unit, "mass": float(driver.milligrams), "power": 0.0}[scale]


def lightest_supply(market: Market, scale: str, load: float) -> float:
    """Return what the lightest supply for a load weighs; infinite where none bears it."""
    weights = {"cost": market.supplies.cost, "mass": market.supplies.mass, "power": np.zeros(len(market.supplies))}
    able = [
        float(weight)
        for weight, most in zip(weights[scale], market.supplies.deliverable, strict=True)
        if most >= load * (1.0 - HAIR)
    ]
    return min(able, default=math.inf)


def lightest_mount(market: Market, scale: str) -> float:
    if not market.mounts or scale == "power":
        return 0.0
    return float(min(market.mount_cost if scale == "cost" else market.mount_mass))


def one_kind(market: Market, scale: str, place: int) -> float:
    """Return the least that a light of one kind of emitter weighs on a scale, whatever the caps."""
    emitter, buying = market.parts.emitters[place], market.emitter_buying[place]
    flux, efficacy = strings(emitter)
    fed = drivers_of(market, emitter)
    least = math.inf
    for weight, light in faces(market, scale):
        need = market.target / (light * warm(market, emitter)) * (1.0 - HAIR)
        pieces = max(math.ceil(need / flux - HAIR), int(fewest_by_emitter(market)[place]))
        if pieces > market.capacity[place] or not fed:
            continue
        watts = need / efficacy
        if scale == "power":
            weight += watts / max(efficiency for _, _, efficiency, _ in fed)
        else:
            weight += float(buying.least(np.array(pieces))) if scale == "cost" else pieces * emitter.milligrams
            by_watt = min(weight_of(d, unit, scale) / gives(d) for d, unit, _, _ in fed)
            weight += max(watts * by_watt, min(weight_of(d, unit, scale) for d, unit, _, _ in fed))
        load = watts / max(efficiency * factor for _, _, efficiency, factor in fed)
        least = min(least, weight + lightest_supply(market, scale, load) + lightest_mount(market, scale))
    return least


def two_kinds(market: Market, scale: str, pair: tuple[int, int, float, float]) -> float:
    """Return the least that a light of two kinds weighs on a scale, the second giving between two shares of it."""
    emitters = [market.parts.emitters[place] for place in pair[:2]]
    low, high = pair[2:]
    fed = [drivers_of(market, emitter) for emitter in emitters]
    if not all(fed):
        return math.inf
    figures = [strings(emitter) for emitter in emitters]

    def of_mixture(each: list[float]) -> float:
        """Return the least for each lumen of the mixture, by what each kind takes for a lumen."""
        return min((1.0 - s) * each[0] + s * each[1] for s in (low, high))

    per_watt = [1.0 / efficacy for _, efficacy in figures]
    least = math.inf
    for weight, light in faces(market, scale, bare=False):
        need = market.target / (light * warm(market, *emitters)) * (1.0 - HAIR)
        for place, share, (flux, _) in zip(pair[:2], (1.0 - high, low), figures, strict=True):
            buying = market.emitter_buying[place]
            pieces = max(math.ceil(need * share / flux - HAIR), 1)
            if pieces > buying.most:
                weight = math.inf
            elif scale == "cost":
                weight += float(buying.least(np.array(pieces)))
            elif scale == "mass":
                weight += pieces * market.parts.emitters[place].milligrams
        if scale == "power":
            weight += need * of_mixture(
                [w / max(e for _, _, e, _ in mine) for w, mine in zip(per_watt, fed, strict=True)]
            )
        else:
            by_watt = [min(weight_of(d, unit, scale) / gives(d) for d, unit, _, _ in mine) for mine in fed]
            lightest = sum(min(weight_of(d, unit, scale) for d, unit, _, _ in mine) for mine in fed)
            weight += max(need * of_mixture([b * w for b, w in zip(by_watt, per_watt, strict=True)]), lightest)
        load = need * of_mixture([w / max(e * f for _, _, e, f in mine) for w, mine in zip(per_watt, fed, strict=True)])
        least = min(least, weight + lightest_supply(market, scale, load) + lightest_mount(market, scale))
    return least


def with_supplies_about(market: Market, load: float) -> Market:
    """Return a market whose supplies deliver from half a load to thrice, each dearer and heavier than the last."""
    number = len(market.supplies)
    steps = np.arange(1, number + 1)
    supplies = replace(
        market.supplies,
        deliverable=load * np.geomspace(0.5, 3.0, number),
        cost=market.supplies.cost.min() + 10_000 * steps,
        mass=market.supplies.mass.min() + 100_000 * steps,
    )
    return replace(market, supplies=supplies)
