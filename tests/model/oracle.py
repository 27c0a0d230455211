"""The best build by looking at every build: slow, plain, and without any column, bound or solver.

The figures of a build are worked out here a second time, in plain floating point; only the factors of faces
and of emitters at their places come from `optimise.physics`. Whether a build passes is decided by
`optimise.model.exact.evaluate`, and must agree with what is worked out here.

One thing alone is not looked at: what more channels on the same panel can do where some of them give enough
light, coolly and evenly enough, already. They cost, weigh and draw no less, load the supply and the mount no less,
and ask no less of the input voltage, so they can neither be better nor be possible where the fewer are not.
"""

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from random import Random

import numpy as np
from random_catalogues import Case, random_case
from random_points import kept, limits_of, spot_light
from random_stacks import sheets_for, stacked_sheets
from ripples import ripple

from optimise.model.choice import ChannelChoice, Choice, Evaluation
from optimise.model.exact import evaluate
from optimise.parts import Battery, Cable, Catalogue, Diffuser, Driver, Emitter, Offer, Panel
from optimise.parts.photometry import Photometry
from optimise.physics.beams import beam_exponent
from optimise.physics.cavity import opposite_factor
from optimise.physics.distributions import Beam, bare_beam, emitter_factors, face_beam, face_lux, grid_lux
from optimise.physics.faces import lux_per_lumen
from optimise.physics.fields import face_field
from optimise.physics.heat import board_temperature, heat_shed
from optimise.physics.intensity import intensity_at, measured
from optimise.physics.places import grid_points
from optimise.physics.scattering import narrowed
from optimise.scenario import Scenario
from optimise.scenario.light import Light
from optimise.scenario.model import Look
from optimise.scenario.points import Point

STRICT = 1e-12
"""Relative miss that counts as kept here: rounding of what is equal by construction."""
LOOSE = 1e-7
"""Relative miss up to which the exact check is asked: it forgives 1e-9."""


class TooManyError(Exception):
    """The case is too large to look at every build."""


def mg(kilograms: float) -> int:
    """Return whole milligrams; a half goes to the even one, whatever floating point makes of a half."""
    return round(round(kilograms * 1e6, 3))


def at_least(value: float, limit: float, slack: float) -> bool:
    return value >= limit - slack * abs(limit)


def at_most(value: float, limit: float, slack: float) -> bool:
    return value <= limit + slack * abs(limit)


# What things cost -----------------------------------------------------------------------------------------


def usable_offers(catalogue: Catalogue, scenario: Scenario, code: str) -> list[Offer]:
    limits = scenario.limits
    usable = []
    for offer in catalogue.offers.get(code, ()):
        named = limits.suppliers is None or offer.supplier in limits.suppliers
        late = limits.deadline is not None and (offer.lead_time is None or offer.lead_time > limits.deadline)
        if offer.supplier == "own" or (named and not late):
            usable.append(offer)
    return usable


def shelves(offers: Sequence[Offer]) -> list[list[Offer]]:
    """Return offers by what lies on one shelf: a pack of one supplier, with its price breaks."""
    found: dict[tuple[object, ...], list[Offer]] = {}
    for offer in offers:
        found.setdefault((offer.supplier, offer.sold_by, offer.pack), []).append(offer)
    return list(found.values())


def purchases(shelf: Sequence[Offer], pieces: int, length: float) -> Iterator[tuple[int, int]]:
    """Yield (pieces, cents) of all numbers of packs off a shelf up to enough, by any one of its price breaks."""
    for offer in shelf:
        packs, given = 0, 0
        while given < pieces or packs * offer.pack < offer.quantity_min * (1 - 1e-9):
            packs += 1
            if offer.stock is not None and packs * offer.pack > offer.stock * (1 + 1e-9):
                break
            amount = packs * offer.pack * (1 + 1e-9)
            given = int(amount / length) if offer.sold_by == "length" else int(amount)
            if packs * offer.pack >= offer.quantity_min * (1 - 1e-9):
                yield min(given, pieces), packs * offer.price


def price(offers: Sequence[Offer], pieces: int, length: float) -> int | None:
    """Return the least that so many pieces cost off any shelves together, cents; None where there are not enough."""
    least = {0: 0}
    for shelf in shelves(offers):
        after = dict(least)
        for given, cents in purchases(shelf, pieces, length):
            for before, paid in least.items():
                both = min(before + given, pieces)
                after[both] = min(after.get(both, paid + cents), paid + cents)
        least = after
    return least.get(pieces)


class Shop:
    """Prices of the parts of one job, remembered."""

    def __init__(self, catalogue: Catalogue, scenario: Scenario) -> None:
        self.catalogue, self.scenario = catalogue, scenario
        self.known: dict[tuple[str, int], int | None] = {}

    def price(self, code: str, pieces: int = 1, length: float = 0.0) -> int | None:
        if (code, pieces) not in self.known:
            offers = usable_offers(self.catalogue, self.scenario, code)
            self.known[code, pieces] = price(offers, pieces, length)
        return self.known[code, pieces]


# Channels -------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Kind:
    """One driver with its strings, at one current."""

    driver: Driver
    series: int
    parallel: int
    current: float
    count: int
    flux: float
    """Of one emitter at 25 °C junction, lm."""
    rise: float
    heat: float
    """Of all its emitters, W."""
    power: float
    apparent: float


def meets(code: str | None, wanted: str | None) -> bool:
    if wanted is None:
        return True
    if code is None:
        return False
    digits = [[-1 if sign == "X" else int(sign) for sign in text[2:]] for text in (code, wanted)]
    return digits[0][0] >= digits[1][0] and digits[0][1] >= digits[1][1]


def exposures(driver: Driver, scenario: Scenario) -> tuple[float, float]:
    """Return the least and the greatest exposure over the mean, at the level asked for, as far as they are known."""
    time, level = scenario.look.shutter, scenario.look.dim_to
    assert time is not None, "random jobs state their shutter in [look]"
    m = driver.ripple or 0.0
    frequency = driver.ripple_frequency or 2.0 * (scenario.power.mains_frequency or 0.5)
    x = frequency * time
    sine = abs(math.sin(math.pi * x) / (math.pi * x))
    if level is None or driver.pwm is None:
        return 1.0 - m * sine, 1.0 + m * sine
    periods = driver.pwm * time
    n = math.floor(periods + 1e-9)
    rest = max(periods - n, 0.0)
    low = (n * level + max(0.0, rest + level - 1.0)) / (level * periods)
    high = (n * level + min(rest, level)) / (level * periods)
    # The part of a ripple in an exposure of light switched: the sine's own, and what the switching makes of its rises.
    quarter = 2.0 * x - math.floor(2.0 * x)
    rises = 2.0 * math.floor(2.0 * x) + 2.0 * math.sin(math.pi * quarter / 2.0)
    part = sine + (2.0 + rises) * (1.0 - level) / (2.0 * periods)
    return max(low * (1.0 - m), low - m * part, 0.0), min(high * (1.0 + m), high + m * part)


def modulated_as_asked(driver: Driver, scenario: Scenario) -> bool:
    look = scenario.look
    least = 1.0 if driver.dimmable == "no" else driver.dim_min or 0.0
    if look.dim_to is not None and not at_most(least, look.dim_to, STRICT):
        return False
    if look.flicker_max is None:
        return True
    low, high = exposures(driver, scenario)
    return low > 0.0 and at_most(math.log2(high / low), look.flicker_max, STRICT)


def edge(low: float, high: float, good: Callable[[float], bool]) -> float:
    """Return the last current from `low`, where it is good, towards `high` at which it still is."""
    if good(high):
        return high
    for _ in range(200):
        middle = (low + high) / 2
        low, high = (middle, high) if good(middle) else (low, middle)
    return low


def currents(
    emitter: Emitter,
    driver: Driver,
    parallel: int,
    step: float,
    soft: Callable[[float], bool],
    hard: Callable[[float], bool],
) -> Iterator[float]:
    """Yield the currents of one emitter at which a constant-current driver may feed so many strings.

    soft: whether a current is not too low for the driver's window; hard: whether it is not too high.
    """
    assert emitter.current is not None
    if driver.output_current is not None:
        yield driver.output_current / parallel
        return
    assert driver.current_min is not None
    assert driver.current_max is not None
    least = emitter.current_min if emitter.current_min is not None else 0.25 * emitter.current
    most = emitter.current_max if emitter.current_max is not None else emitter.current
    low, high = max(least, driver.current_min / parallel), min(most, driver.current_max / parallel)
    if not at_most(low, high, STRICT):
        return
    high = max(high, low)
    if not (soft(high) and hard(low)):
        return
    low, high = edge(high, low, soft), edge(low, high, hard)
    yield low
    if high > low * (1 + 1e-9):
        yield from (
            k * step * emitter.current
            for k in range(1, 1000)
            if low * (1 + 1e-9) < k * step * emitter.current < high * (1 - 1e-9)
        )
        yield high


def kinds_of(emitter: Emitter, drivers: Sequence[Driver], most: int, scenario: Scenario) -> list[Kind]:
    kinds: dict[tuple[str, int, int, float], Kind] = {}
    for driver in drivers:
        if driver.output != emitter.drive or not meets(driver.ip, scenario.limits.ip):
            continue
        if not modulated_as_asked(driver, scenario):
            continue
        if driver.input == "ac":
            volts = scenario.power.mains_voltage
            if not scenario.power.mains or volts is None or not driver.input_min <= volts <= driver.input_max:
                continue
            if driver.isolated is False:
                continue
        elif not scenario.power.battery:
            continue
        for series in range(1, most + 1):
            for parallel in range(1, most // series + 1):
                for current, drive, watts in loads(emitter, driver, series, parallel, scenario):
                    count = series * parallel
                    heat = watts * emitter.heat_share
                    power = count * watts / driver.efficiency
                    factor = driver.power_factor if driver.input == "ac" and driver.power_factor else 1.0
                    key = driver.part, series, parallel, current
                    kinds.setdefault(
                        key,
                        Kind(
                            driver=driver,
                            series=series,
                            parallel=parallel,
                            current=current,
                            count=count,
                            flux=emitter.flux * drive * (1.0 + emitter.droop * (1.0 - drive)),
                            rise=heat * (emitter.resistance_junction_case or 0.0),
                            heat=count * heat,
                            power=power,
                            apparent=power / factor,
                        ),
                    )
    return list(kinds.values())


def loads(
    emitter: Emitter, driver: Driver, series: int, parallel: int, scenario: Scenario
) -> Iterator[tuple[float, float, float]]:
    """Yield (current, drive, watts) of one emitter for each load of the kind that the driver bears."""
    if driver.output == "ballast":
        assert driver.lamps is not None
        assert driver.lamp_power is not None
        if series == 1 and parallel == driver.lamps and abs(emitter.watts / driver.lamp_power - 1) < STRICT:
            yield 0.0, 1.0, emitter.watts
        return
    assert emitter.current is not None
    assert emitter.voltage is not None
    assert driver.output_min is not None
    assert driver.output_max is not None
    assert driver.power_max is not None
    if not at_most(driver.output_max, scenario.safety.string_voltage, STRICT):
        return  # a string that comes loose lets the driver rise to the top of its range
    if driver.output == "constant voltage":
        volts = series * emitter.voltage
        fits = at_least(volts, driver.output_min, STRICT)
        fits &= at_most(volts, driver.output_max, STRICT)
        fits &= at_most(series * parallel * emitter.watts, driver.power_max, STRICT)
        if driver.output_current is not None:
            fits &= at_most(parallel * emitter.current, driver.output_current, STRICT)
        if fits:
            yield emitter.current, 1.0, emitter.watts
        return
    least = emitter.current_min if emitter.current_min is not None else 0.25 * emitter.current
    most = emitter.current_max if emitter.current_max is not None else emitter.current
    lowest = emitter.voltage_min if emitter.voltage_min is not None else emitter.voltage
    highest = emitter.voltage_max if emitter.voltage_max is not None else emitter.voltage
    hot = max(emitter.case_max if emitter.case_max is not None else 25.0, 25.0)
    cold = min(scenario.power.ambient, 25.0)

    def volts_at(current: float, rated: float, above: float) -> float:
        sag = emitter.dynamic_resistance * (current - (emitter.current or 0.0))
        return max(rated + sag + emitter.voltage_per_kelvin * above, 0.0)

    def soft(current: float) -> bool:
        return at_least(series * volts_at(current, lowest, hot - 25.0), driver.output_min or 0.0, STRICT)

    def hard(current: float) -> bool:
        output = series * parallel * current * volts_at(current, highest, 0.0)
        fits = at_most(series * volts_at(current, highest, cold - 25.0), driver.output_max or 0.0, STRICT)
        return fits and at_most(output, driver.power_max or 0.0, STRICT)

    step = scenario.search.drive_step
    for current in currents(emitter, driver, parallel, step, soft, hard):
        fits = at_least(current, least, STRICT) and at_most(current, most, STRICT)
        if fits and soft(current) and hard(current):
            yield current, current / emitter.current, current * volts_at(current, emitter.voltage, 0.0)


# Heads ----------------------------------------------------------------------------------------------------


def grid_of(emitter: Emitter, panel: Panel) -> tuple[int, int]:
    share = math.sqrt(panel.usable)
    width, height = panel.width * share, panel.height * share
    grids = [
        (math.floor(width / a + 1e-9), math.floor(height / b + 1e-9))
        for a, b in ((emitter.length, emitter.width), (emitter.width, emitter.length))
    ]
    return max(grids, key=lambda grid: grid[0] * grid[1])


@lru_cache(maxsize=10_000)
def leaving(panel: Panel, sheet: Diffuser) -> float:
    """Return the share of a board's light that leaves through a sheet: followed from face to face, bounce by bounce."""
    if panel.depth is None or panel.reflectance is None:
        return sheet.transmittance
    w, h, d, r = panel.width, panel.height, panel.depth, panel.reflectance
    ahead = 1.0 if d == 0.0 else float(opposite_factor(w, h, d))
    out = 0.0 if d == 0.0 else w * h * (1.0 - ahead) / (2.0 * (w + h) * d)
    board, walls, front, left = 1.0, 0.0, 0.0, 0.0
    while board + walls + front > 1e-16:
        falling = board * ahead + walls * out
        left += sheet.transmittance * falling
        board, walls = (
            r * (walls * out + front * ahead),
            r * ((board + front) * (1.0 - ahead) + walls * (1.0 - 2.0 * out)),
        )
        front = sheet.reflectance * falling
    return left


@lru_cache(maxsize=1000)
def behind(table: Photometry | None) -> float | None:
    """Return the share of a table's light past 90°, summed over a fine grid; None where it does not go so far."""
    if table is None or table.vertical[-1] <= 90.0:
        return None
    edges = np.linspace(0.0, np.pi, 20_001)
    turns = (np.arange(720) + 0.5) * (2.0 * np.pi / 720)
    light = 0.0 * edges[1:]
    middle = (edges[1:] + edges[:-1]) / 2.0
    for turn in turns if len(table.horizontal) > 1 else turns[:1]:
        light += intensity_at(table, np.degrees(middle), np.degrees(turn))
    light *= np.cos(edges[:-1]) - np.cos(edges[1:])
    return float(light[middle > np.pi / 2.0].sum() / light.sum())


@lru_cache(maxsize=1000)
def before(emitter: Emitter, sheet: Diffuser) -> tuple[Beam, float]:
    """Return the beam before a sheet and its grid, and the share of the sheet's light in it."""
    beam = face_beam(emitter.beam, emitter.photometric, sheet.spread)
    if sheet.grid is None or sheet.grid_transmittance is None:
        return beam, 1.0
    # A grid takes what goes aside and leaves the axis as it is, but for its walls.
    narrow = math.log(0.5) / math.log(math.cos(math.radians(sheet.grid / 2.0)))
    if not isinstance(beam, float):
        return narrowed(beam, sheet.grid, sheet.grid_transmittance)
    return max(beam, narrow), sheet.grid_transmittance * (beam + 1.0) / (max(beam, narrow) + 1.0)


_face = lru_cache(maxsize=10_000)(lambda *figures: float(lux_per_lumen(*figures)))
_grid = lru_cache(maxsize=100_000)(grid_lux)


def _field(
    emitter: Emitter, panel: Panel, diffuser: Diffuser | None, count: int, light: Light
) -> Callable[[float, float], float]:
    """Return the lux per lumen at points of the subject, remembered."""
    lying = Head.lies(emitter, panel)
    if diffuser is None:
        share = math.sqrt(panel.usable)
        size = panel.width * share, panel.height * share
        x, y, weights = grid_points(count, *grid_of(emitter, panel), *size, emitter.length, lying)
        beam = bare_beam(emitter.beam, emitter.photometric)
        return lambda u, v: float(np.mean(emitter_factors(beam, x, y, light.distance, lying, u, v) @ weights))
    beam, _ = before(emitter, diffuser)
    width, height = panel.width, panel.height
    if isinstance(beam, float):
        return lambda u, v: _face(width, height, light.distance, beam, abs(u), abs(v))
    return lambda u, v: _point(beam, width, height, (u, v, light.distance), lying)


_point = lru_cache(maxsize=20_000)(
    lambda beam, width, height, point, lying: float(face_field(beam, width, height, point, lying=lying)[0])
)


@dataclass
class Head:
    """One emitter kind on one panel behind one diffuser or none."""

    emitter: Emitter
    panel: Panel
    diffuser: Diffuser | None
    scenario: Scenario
    cents: int
    milligrams: int
    layers: tuple[Diffuser, ...] = ()
    columns: int = 0
    rows: int = 0
    lying: bool = True

    @staticmethod
    def lies(emitter: Emitter, panel: Panel) -> bool:
        """Whether the pieces of the fuller grid lie along the width."""
        share = math.sqrt(panel.usable)
        across = math.floor(panel.width * share / emitter.length + 1e-9)
        up = math.floor(panel.height * share / emitter.width + 1e-9)
        return (across, up) == grid_of(emitter, panel)

    limit: float = 0.0
    heat_max: float = 0.0
    asked: list[tuple[Point, float | None, float | None]] = field(default_factory=list)
    known: dict[int, list[float]] = field(default_factory=dict)
    temperatures: list[float] = field(default_factory=list)
    heats: list[float] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.columns, self.rows = grid_of(self.emitter, self.panel)
        self.asked = limits_of(self.scenario)
        along = math.floor(self.panel.width * math.sqrt(self.panel.usable) / self.emitter.length + 1e-9)
        across = math.floor(self.panel.height * math.sqrt(self.panel.usable) / self.emitter.width + 1e-9)
        self.lying = (along, across) == (self.columns, self.rows)
        borne = self.panel.heat_density_max
        under = self.emitter.watts * self.emitter.heat_share / (self.emitter.length * self.emitter.width)
        if borne is not None and not at_most(under, borne, STRICT):
            self.columns = self.rows = 0
        limits = (
            self.scenario.safety.touch_temperature,
            self.emitter.case_max,
            self.panel.temperature_max,
        )
        self.limit = min(limit for limit in limits if limit is not None)
        ambient = self.scenario.power.ambient
        if self.limit > ambient and self.panel.thermal_resistance is None:
            self.temperatures = np.linspace(ambient, self.limit + 1e-3, 400).tolist()
            self.heats = self.shed(np.array(self.temperatures)).tolist()
        if self.limit > ambient:
            if self.panel.thermal_resistance is not None:
                self.heat_max = (self.limit - ambient) / self.panel.thermal_resistance
            else:
                self.heat_max = float(self.shed(np.array([self.limit]))[0])

    def shed(self, board: np.ndarray) -> np.ndarray:
        p = self.panel
        return np.asarray(heat_shed(board, self.scenario.power.ambient, p.width, p.height, p.faces, p.emissivity))

    def bears(self, kind: Kind) -> bool:
        """Whether the board bears the heat under one emitter of a kind, which may run above its rated current."""
        emitter = getattr(kind, "emitter", None) or self.emitter
        borne = self.panel.heat_density_max
        return borne is None or at_most(kind.heat / kind.count, borne * emitter.length * emitter.width, LOOSE)

    def board_between(self, heat: float) -> tuple[float, float]:
        """Return temperatures between which the board is at a heat up to `heat_max`: quick, and safe."""
        ambient = self.scenario.power.ambient
        if self.panel.thermal_resistance is not None:
            board = ambient + heat * self.panel.thermal_resistance
            return board, board
        place = min(int(np.searchsorted(self.heats, heat)), len(self.heats) - 1)
        return self.temperatures[max(place - 1, 0)], self.temperatures[place]

    def board(self, heat: float) -> float:
        p = self.panel
        if p.thermal_resistance is not None:
            return self.scenario.power.ambient + heat * p.thermal_resistance
        return float(board_temperature(heat, self.scenario.power.ambient, p.width, p.height, p.faces, p.emissivity))

    def spots(self, count: int) -> list[float]:
        """Return the lux per lumen on each point's face with so many emitters."""
        count = count if self.diffuser is None else 0
        if count not in self.known:
            beam, share = (None, 1.0) if self.diffuser is None else before(self.emitter, self.diffuser)
            # What leaves the face, for each lumen: as in the light ahead.
            share *= self.forward() * (1.0 if self.diffuser is None else leaving(self.panel, self.diffuser))
            grid = self.columns, self.rows
            light = spot_light(self.emitter, self.panel, self.diffuser, beam, grid, self.lying, self.scenario)
            self.known[count] = [share * light(point, count) for point, _, _ in self.asked]
        return self.known[count]

    def forward(self) -> float:
        """Return the share of the emitters' light that goes forward."""
        back = behind(self.emitter.photometric)
        return 1.0 - (self.emitter.back or 0.0 if back is None else back) * (1.0 - (self.panel.reflectance or 0.0))

    def pointed(self, kinds: Sequence[Kind], count: int, heat: float, slack: float) -> bool:
        """Whether every point's face gets enough light and none too much."""
        if not self.asked:
            return True
        board = self.board(min(heat, self.heat_max * (1 + LOOSE)))
        light, less = self.emitter.other_end
        ambient, slope = self.scenario.power.ambient, self.emitter.flux_per_kelvin
        cool = ambient + less * (board - ambient)
        most = light * sum(k.count * k.flux * max(1.0 + slope * (cool + less * k.rise - 25.0), 0.0) for k in kinds)
        flux = self.lux(kinds, board, 1.0)
        return kept([(flux * each, most * each) for each in self.spots(count)], self.asked, slack)

    def factor(self, count: int) -> float:
        """Return the lux per lumen with so many emitters."""
        distance = self.scenario.light.distance
        table = self.emitter.photometric
        back = behind(table)
        lost = (self.emitter.back or 0.0 if back is None else back) * (1.0 - (self.panel.reflectance or 0.0))
        if self.diffuser is None:
            share = math.sqrt(self.panel.usable)
            size = self.panel.width * share, self.panel.height * share
            places = count, self.columns, self.rows, *size, distance
            if table is not None:
                beam = measured(table)
                # Of all its lumens, only those that go ahead are in the share that is not lost.
                return (1.0 - lost) / (1.0 - (back or 0.0)) * grid_lux(beam, *places, self.emitter.length, self.lying)
            exponent = float(beam_exponent(self.emitter.beam))
            return (1.0 - lost) * _grid(exponent, *places, self.emitter.length, self.lying)
        beam, share = before(self.emitter, self.diffuser)
        width, height = self.panel.width, self.panel.height
        if isinstance(beam, float):
            face = share * _face(width, height, distance, beam)
        else:
            face = share * face_lux(beam, width, height, distance, self.lying)
        return (1.0 - lost) * leaving(self.panel, self.diffuser) * face

    @property
    def counted(self) -> bool:
        """Whether it hangs on the number of emitters how evenly they light subject and sheet."""
        return self.diffuser is None or self.scenario.look.dots_max is not None

    def hidden(self, count: int, slack: float) -> bool:
        """Whether so many emitters do not show on the sheet."""
        limit = self.scenario.look.dots_max
        if limit is None:
            return True
        if self.diffuser is None or self.panel.depth is None:
            return False
        grid = self.columns, self.rows
        return at_most(ripple(self.emitter, self.panel, self.diffuser, count, grid, self.lying), limit, slack)

    def even(self, count: int, slack: float) -> bool:
        """Whether so many emitters light the subject evenly enough: worked out anew from the light at its points."""
        light = self.scenario.light
        if not self.hidden(count, slack):
            return False
        if light.uniformity_min is None and light.edge_stops_max is None:
            return True
        width, height = light.subject_width or 0.0, light.subject_height or 0.0
        sides = [[side * (i / 4 - 1) / 2 for i in range(9)] if side else [0.0] for side in (width, height)]
        field = _field(self.emitter, self.panel, self.diffuser, count if self.diffuser is None else 0, light)
        lux = {(x, y): field(x, y) for x in sides[0] for y in sides[1]}
        heavy = [{side: 0.5 if abs(side) == max(places) > 0 else 1.0 for side in places} for places in sides]
        weight = {(x, y): heavy[0][x] * heavy[1][y] for x, y in lux}
        mean = sum(weight[p] * lux[p] for p in lux) / sum(weight.values())
        good = True
        if light.uniformity_min is not None:
            good &= mean > 0.0 and at_least(min(lux.values()) / mean, light.uniformity_min, slack)
        if light.edge_stops_max is not None:
            edge = [v for (x, y), v in lux.items() if abs(x) * 2 == width > 0 or abs(y) * 2 == height > 0]
            lit = min(*edge, lux[0.0, 0.0]) > 0.0
            good &= lit and all(at_most(abs(math.log2(v / lux[0.0, 0.0])), light.edge_stops_max, slack) for v in edge)
        return good

    def lux(self, kinds: Sequence[Kind], board: float, factor: float) -> float:
        slope = self.emitter.flux_per_kelvin
        return factor * sum(k.count * k.flux * max(1.0 + slope * (board + k.rise - 25.0), 0.0) for k in kinds)


def in_colour(emitter: Emitter, shift: float, look: Look) -> bool:
    """Whether stated figures of colour keep the limits behind a filter, which leaves no figure but one known."""
    cct = emitter.cct
    if cct is not None and shift != 0.0:
        cct = 1.0 / (1.0 / cct + shift / 1e6)
    known = emitter if shift == 0.0 else Emitter.model_construct(duv=None, cri=None, r9=None, rf=None, rg=None)
    seen = [
        (look.cct_min, cct, 1),
        (look.cct_max, cct, -1),
        (look.duv_min, known.duv, 1),
        (look.duv_max, known.duv, -1),
        (look.cri_min, known.cri, 1),
        (look.r9_min, known.r9, 1),
        (look.rf_min, known.rf, 1),
        (look.rg_min, known.rg, 1),
        (look.rg_max, known.rg, -1),
    ]
    return all(wanted is None or (have is not None and sign * have >= sign * wanted) for wanted, have, sign in seen)


def heads_of(catalogue: Catalogue, scenario: Scenario, shop: Shop) -> Iterator[Head]:
    look, limits = scenario.look, scenario.limits
    for emitter in catalogue.emitters:
        for panel in catalogue.panels:
            if limits.width is not None and panel.width > limits.width:
                continue
            if limits.height is not None and panel.height > limits.height:
                continue
            if min(panel.width, panel.height) < scenario.source_size_min * (1 - STRICT):
                continue
            if look.penumbra_min is not None and look.background is not None:
                shadow = min(panel.width, panel.height) * look.background / scenario.light.distance
                if not at_least(shadow, look.penumbra_min, STRICT):
                    continue
            board_price = shop.price(panel.part)
            if board_price is None or not meets(panel.ip, limits.ip):
                continue
            if not look.diffused and meets(emitter.ip, limits.ip) and in_colour(emitter, 0.0, look):
                yield Head(emitter, panel, None, scenario, board_price, mg(panel.mass))
            for sheet in catalogue.diffusers:
                sheet_price = shop.price(sheet.part)
                sides = sorted((sheet.width, sheet.height)), sorted((panel.width, panel.height))
                if sheet_price is None or not in_colour(emitter, sheet.mired_shift, look):
                    continue
                if any(have < want * (1 - STRICT) for have, want in zip(*sides, strict=True)):
                    continue
                mass = mg(panel.mass) + mg(sheet.mass_per_area * panel.width * panel.height)
                yield Head(emitter, panel, sheet, scenario, board_price + sheet_price, mass, (sheet,))
            if look.sheets_max > 1:
                yield from stacked_heads(emitter, panel, catalogue, scenario, shop, board_price)


def stacked_heads(
    emitter: Emitter, panel: Panel, catalogue: Catalogue, scenario: Scenario, shop: Shop, board_price: int
) -> Iterator[Head]:
    for inner, outer, both in stacked_sheets(catalogue.diffusers):
        board = sorted((panel.width, panel.height))
        layers = inner, outer
        if any(
            have < want * (1 - STRICT)
            for layer in layers
            for have, want in zip(sorted((layer.width, layer.height)), board, strict=True)
        ):
            continue
        if inner.part == outer.part:
            prices = [shop.price(inner.part, sheets_for(panel, inner, scenario.buying.kerf))]
        else:
            prices = [shop.price(layer.part) for layer in layers]
        if None in prices or not in_colour(emitter, both.mired_shift, scenario.look):
            continue
        area = panel.width * panel.height
        mass = mg(panel.mass) + sum(mg(layer.mass_per_area * area) for layer in layers)
        cents = board_price + sum(price for price in prices if price is not None)
        yield Head(emitter, panel, both, scenario, cents, mass, layers)


@dataclass(frozen=True)
class Lit:
    """A head with channels that give enough light, coolly enough."""

    head: Head
    kinds: tuple[Kind, ...]
    cents: int
    milligrams: int
    power: float
    apparent: float
    sure: bool
    """False where it is so near to a limit that only the exact check can tell."""

    @property
    def windows(self) -> tuple[float, float]:
        drivers = [k.driver for k in self.kinds]
        return max(d.input_min for d in drivers), min(d.input_max for d in drivers)

    @property
    def inputs(self) -> set[str]:
        return {k.driver.input for k in self.kinds}


class Looker:
    """Goes through the channels of one head, fewer first, and keeps those that give enough light."""

    def __init__(
        self, head: Head, kinds: list[Kind], target: float, shop: Shop, budget: list[int], every: bool = False
    ) -> None:
        self.head, self.target, self.shop, self.budget, self.every = head, target, shop, budget, every
        most = head.columns * head.rows
        self.kinds = [k for k in kinds if k.count <= most and k.heat <= head.heat_max * (1 + LOOSE) and head.bears(k)]
        self.most = most
        self.found: list[Lit] = []
        self.dark: list[tuple[Kind, ...]] = []
        self.evens: dict[tuple[int, float], bool] = {}
        self.colder = 1.0 + head.emitter.flux_per_kelvin * (head.scenario.power.ambient - 25.0)
        self.slope = head.emitter.flux_per_kelvin

    def go(self) -> list[Lit]:
        if self.head.heat_max > 0.0 and self.kinds:
            self._more((), 0, 0, 0.0, 0.0)
        return self.found

    def _more(self, chosen: tuple[Kind, ...], start: int, count: int, heat: float, flux: float) -> None:
        for index in range(start, len(self.kinds)):
            kind = self.kinds[index]
            number = count + kind.count
            warm = heat + kind.heat
            if number > self.most or warm > self.head.heat_max * (1 + LOOSE):
                continue
            self.budget[0] -= 1
            if self.budget[0] < 0:
                raise TooManyError
            # Light on a board no warmer than the air is more than it can ever be.
            most = flux + kind.count * kind.flux * max(self.colder + self.slope * kind.rise, 0.0)
            kinds = (*chosen, kind)
            if not self._look(kinds, number, warm, most):
                self._more(kinds, index, number, warm, most)

    def _even(self, number: int, slack: float) -> bool:
        key = (number if self.head.counted else 0), slack
        if key not in self.evens:
            self.evens[key] = self.head.even(number, slack)
        return self.evens[key]

    def _look(self, kinds: tuple[Kind, ...], number: int, heat: float, most: float) -> bool:
        """Record the channels if they do; return whether more of them need not be looked at."""
        head, target = self.head, self.target
        factor = head.factor(number)
        if not at_least(most * factor, target, LOOSE):
            if len(self.dark) < 50:
                self.dark.append(kinds)
            return False
        if not self._even(number, LOOSE):
            return not head.counted
        cold, hot = head.board_between(heat)
        sure = self._even(number, STRICT) and at_most(heat, head.heat_max, STRICT)
        if not at_least(head.lux(kinds, hot, factor), target, 1e-6):
            if not at_least(head.lux(kinds, cold, factor), target, LOOSE):
                return False
            lux = head.lux(kinds, head.board(heat), factor)
            if not at_least(lux, target, LOOSE):
                return False
            sure &= at_least(lux, target, STRICT)
        if not head.pointed(kinds, number, heat, LOOSE):
            return False
        sure &= head.pointed(kinds, number, heat, STRICT)
        if not self._keep(kinds, {head.emitter.part: (number, head.emitter)}, sure=sure):
            return not self.every
        return sure and not self.every

    def _keep(self, kinds: tuple[Kind, ...], pieces: Mapping[str, tuple[int, Emitter]], *, sure: bool) -> bool:
        """Record channels that light so many of each emitter, with what they cost; False where not all can be had."""
        head = self.head
        drivers: dict[str, int] = {}
        for kind in kinds:
            drivers[kind.driver.part] = drivers.get(kind.driver.part, 0) + 1
        prices = [self.shop.price(code, number, emitter.length) for code, (number, emitter) in pieces.items()]
        prices += [self.shop.price(code, wanted) for code, wanted in drivers.items()]
        if None in prices:
            return False
        mass = head.milligrams + sum(number * mg(emitter.mass) for number, emitter in pieces.values())
        mass += sum(mg(kind.driver.mass) for kind in kinds)
        self.found.append(
            Lit(
                head=head,
                kinds=kinds,
                cents=head.cents + sum(p for p in prices if p is not None),
                milligrams=mass,
                power=math.fsum(kind.power for kind in kinds),
                apparent=math.fsum(kind.apparent for kind in kinds),
                sure=sure,
            )
        )
        return True


# Supplies -------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Source:
    """A battery pack or the mains, with cable, fuse and connector, safe but for the load."""

    codes: tuple[str | None, int, int, str, str, str]
    cents: int
    milligrams: int
    lowest: float
    nominal: float
    highest: float
    resistance: float
    current_max: float
    """Least of what fuse, source and circuit carry, A."""
    battery: Battery | None
    parallel: int
    cores: int


def may_fly(battery: Battery, number: int, scenario: Scenario) -> bool:
    if scenario.travel.mode != "air":
        return True
    energy = battery.voltage * battery.capacity / 3600.0
    if battery.chemistry == "lead-acid":
        return energy <= 100.0 and battery.voltage <= 12.0 and number <= 2
    if battery.chemistry in ("nimh", "nicd") or energy <= 100.0:
        return number <= 20
    return energy <= 160.0 and scenario.travel.approval and number <= 2


def packs_of(catalogue: Catalogue, scenario: Scenario) -> Iterator[tuple[Battery, int, int]]:
    for battery in catalogue.batteries:
        cold = battery.temperature_min is not None and scenario.power.ambient < battery.temperature_min
        if cold or not meets(battery.ip, scenario.limits.ip):
            continue
        for series in range(1, battery.series_max + 1):
            if not at_most(series * battery.voltage_max, scenario.safety.string_voltage, STRICT):
                continue
            for parallel in range(1, battery.parallel_max + 1):
                if may_fly(battery, series * parallel, scenario):
                    yield battery, series, parallel


def derated(cable: Cable, ambient: float) -> float:
    if ambient >= cable.conductor_max:
        return 0.0
    return cable.rating * min(1.0, math.sqrt((cable.conductor_max - ambient) / (cable.conductor_max - 30.0)))


def sources_of(catalogue: Catalogue, scenario: Scenario, shop: Shop) -> Iterator[Source]:
    power, safety = scenario.power, scenario.safety
    feeds: list[tuple[str, Battery | None, int, int]] = []
    if power.battery:
        feeds += [("dc", *pack) for pack in packs_of(catalogue, scenario)]
    if power.mains:
        feeds.append(("ac", None, 0, 0))
    for kind, battery, series, parallel in feeds:
        if battery is None:
            assert power.mains_voltage is not None
            volts = (power.mains_voltage,) * 3
            cents: int | None = 0
            mass = 0
            own_limit = math.inf if power.circuit is None else power.circuit / safety.continuous_factor
        else:
            volts = (series * battery.voltage_min, series * battery.voltage, series * battery.voltage_max)
            cents = shop.price(battery.part, series * parallel)
            mass = series * parallel * mg(battery.mass)
            own_limit = parallel * battery.current_max
        if cents is None:
            continue
        for cable in catalogue.cables:
            for fuse in catalogue.fuses:
                for plug in catalogue.connectors:
                    prices = (
                        shop.price(cable.part, 1, power.lead_length),
                        shop.price(fuse.part),
                        shop.price(plug.part),
                    )
                    if None in prices or fuse.supply != kind or plug.supply != kind:
                        continue
                    if min(cable.voltage_max, fuse.voltage_max, plug.voltage_max) < volts[2] * (1 - STRICT):
                        continue
                    carried = min(derated(cable, power.ambient), plug.rating)
                    if fuse.rating > carried * (1 + STRICT):
                        continue
                    warm = 1.0 + 0.00393 * (cable.conductor_max - 20.0)
                    yield Source(
                        codes=(
                            None if battery is None else battery.part,
                            series,
                            parallel,
                            cable.part,
                            fuse.part,
                            plug.part,
                        ),
                        cents=cents + sum(p for p in prices if p is not None),
                        milligrams=mass + mg(fuse.mass) + mg(plug.mass) + mg(cable.mass_per_length * power.lead_length),
                        lowest=volts[0],
                        nominal=volts[1],
                        highest=volts[2],
                        resistance=2.0 * power.lead_length * cable.ohms_per_metre * warm,
                        current_max=min(fuse.rating / safety.continuous_factor, own_limit),
                        battery=battery,
                        parallel=parallel,
                        cores=cable.cores if plug.earth is not False else 2,
                    )


def lead_current(volts: float, resistance: float, load: float) -> float:
    """Return the current of a load behind a lead, A; infinite where the lead cannot carry it."""
    under = volts * volts - 4.0 * resistance * load
    return math.inf if under < 0.0 else 2.0 * load / (volts + math.sqrt(under))


def runs(source: Source, current: float, scenario: Scenario) -> float:
    """Return the seconds that a pack lasts."""
    battery = source.battery
    assert battery is not None
    each = current / source.parallel
    seconds = battery.capacity / each
    if battery.peukert > 1.0 and battery.rated_time is not None:
        rated = battery.rated_time
        seconds = min(seconds, rated * (battery.capacity / (each * rated)) ** battery.peukert)
    cold = 1.0 - battery.capacity_per_kelvin * max(25.0 - scenario.power.ambient, 0.0)
    return seconds * battery.usable * max(cold, 0.0)


def feeds(source: Source, lit: Lit, scenario: Scenario, slack: float) -> bool:
    """Whether a supply can feed a head: everything that depends on both."""
    if lit.inputs != ({"ac"} if source.battery is None else {"dc"}):
        return False
    low, high = lit.windows
    current = lead_current(source.lowest, source.resistance, lit.apparent)
    if math.isinf(current):
        return False
    drop = current * source.resistance
    good = at_most(current, source.current_max, slack)
    good &= at_most(drop, scenario.safety.voltage_drop * source.nominal, slack)
    good &= at_least(source.lowest - drop, low, slack)
    good &= at_most(source.highest, high, slack)
    if source.battery is None:
        return good and source.cores >= (3 if lit.head.panel.metal else 2)
    assert scenario.power.runtime is not None
    steady = lead_current(source.nominal, source.resistance, lit.apparent)
    return good and at_least(runs(source, steady, scenario), scenario.power.runtime, slack)


def drawn(source: Source, lit: Lit) -> float:
    """Return the power drawn from the supply, W."""
    current = lead_current(source.nominal, source.resistance, lit.apparent)
    return lit.power + current * current * source.resistance


# Whole builds ---------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Build:
    """A build with the figures worked out here."""

    lit: Lit
    source: Source
    mount: str | None
    cents: int
    milligrams: int
    watts: float
    sure: bool

    @property
    def choice(self) -> Choice:
        numbers: dict[Kind, int] = {}
        for kind in self.lit.kinds:
            numbers[kind] = numbers.get(kind, 0) + 1
        battery, series, parallel, cable, fuse, plug = self.source.codes
        head = self.lit.head
        return Choice(
            emitter=head.emitter.part,
            channels=tuple(
                sorted(
                    ChannelChoice(k.driver.part, k.series, k.parallel, k.current, number)
                    for k, number in numbers.items()
                )
            ),
            panel=head.panel.part,
            diffuser=head.layers[0].part if head.layers else None,
            battery=battery,
            battery_series=series,
            battery_parallel=parallel,
            cable=cable,
            fuse=fuse,
            connector=plug,
            mount=self.mount,
            second_diffuser=head.layers[1].part if len(head.layers) > 1 else None,
        )

    def key(self, objective: str) -> tuple[float, ...]:
        # Watts that differ by rounding alone are equal.
        watts = round(self.watts, 9)
        return {
            "cost": (self.cents, self.milligrams),
            "mass": (self.milligrams, self.cents),
            "power": (watts, self.cents, self.milligrams),
        }[objective]


def mounts_of(catalogue: Catalogue, scenario: Scenario, shop: Shop) -> list[tuple[str | None, int, int, float]]:
    """Return (code, cents, milligrams, kg carried) of the mounts that may be used."""
    if not scenario.limits.mount:
        return [(None, 0, 0, math.inf)]
    rows = [(m.part, shop.price(m.part), mg(m.mass), m.load) for m in catalogue.mounts]
    return [(code, cents, mass, load) for code, cents, mass, load in rows if cents is not None]


def whole(
    lit: Lit, source: Source, mount: tuple[str | None, int, int, float], scenario: Scenario, slack: float
) -> Build | None:
    """Return the build if every limit is kept within `slack`."""
    code, cents, mass, load = mount
    limits = scenario.limits
    money = lit.cents + source.cents + cents
    milligrams = lit.milligrams + source.milligrams + mass
    if limits.budget is not None and money > limits.budget:
        return None
    if limits.mass is not None and not at_most(milligrams / 1e6, limits.mass, slack):
        return None
    if not at_most((lit.milligrams + mass) / 1e6, load, slack) or not feeds(source, lit, scenario, slack):
        return None
    watts = drawn(source, lit)
    if limits.power is not None and not at_most(watts, limits.power, slack):
        return None
    return Build(lit, source, code, money, milligrams, watts, lit.sure)


@dataclass
class Answer:
    """What looking at every build came to."""

    build: Build | None
    evaluation: Evaluation | None
    looked: int
    """Sets of channels looked at."""


class Oracle:
    """All builds of one job; of those with a channel too many only a few, unless `every` one is wanted."""

    def __init__(self, catalogue: Catalogue, scenario: Scenario, nodes: int, every: bool = False) -> None:
        self.catalogue, self.scenario = catalogue, scenario
        shop = Shop(catalogue, scenario)
        target = scenario.light.illuminance
        assert target is not None, "random jobs state their illuminance"
        self.mounts = mounts_of(catalogue, scenario, shop)
        self.sources = list(sources_of(catalogue, scenario, shop))
        self.lit: list[Lit] = []
        self.dark: list[tuple[Head, tuple[Kind, ...]]] = []
        heads = list(heads_of(catalogue, scenario, shop))
        budget = [nodes]
        for emitter in catalogue.emitters:
            mine = [head for head in heads if head.emitter is emitter]
            most = max((head.columns * head.rows for head in mine), default=0)
            while most and shop.price(emitter.part, most, emitter.length) is None:
                most -= 1
            kinds = kinds_of(emitter, catalogue.drivers, most, scenario)
            for head in mine:
                looker = Looker(head, kinds, target, shop, budget, every)
                self.lit += looker.go()
                self.dark += [(head, kinds) for kinds in looker.dark]
        self.looked = nodes - budget[0]

    def best(self, objective: str) -> Answer:
        """Return the best build by cost, mass or power; ties go to the least by what comes next."""
        candidates: list[Build] = []
        limit = math.inf
        first = {"cost": lambda b: b.cents, "mass": lambda b: b.milligrams, "power": lambda b: b.power}
        for lit in sorted(self.lit, key=first[objective]):
            if first[objective](lit) > limit:
                break
            for source in self.sources:
                for mount in self.mounts:
                    money, mass = lit.cents + source.cents, lit.milligrams + source.milligrams
                    least = {"cost": money + mount[1], "mass": mass + mount[2], "power": lit.power}[objective]
                    if least > limit:
                        continue
                    build = whole(lit, source, mount, self.scenario, LOOSE)
                    if build is None or build.key(objective)[0] > limit:
                        continue
                    candidates.append(build)
                    if build.sure and whole(lit, source, mount, self.scenario, STRICT) is not None:
                        limit = build.key(objective)[0]
        for build in sorted(candidates, key=lambda b: b.key(objective)):
            evaluation = self.check(build)
            if evaluation.passes:
                return Answer(build, evaluation, self.looked)
            # Only what is on the very edge of a limit may be judged differently here and there.
            sure = whole(build.lit, build.source, self._mount(build), self.scenario, STRICT)
            assert not (build.sure and sure), (build.choice, [m for m in evaluation.margins if not m.holds])
        return Answer(None, None, self.looked)

    def _mount(self, build: Build) -> tuple[str | None, int, int, float]:
        return next(mount for mount in self.mounts if mount[0] == build.mount)

    def check(self, build: Build) -> Evaluation:
        """Return the exact check's evaluation, whose figures must be those worked out here."""
        evaluation = evaluate(build.choice, self.catalogue, self.scenario)
        assert evaluation.cents == build.cents
        assert evaluation.milligrams == build.milligrams
        assert math.isclose(evaluation.watts, build.watts, rel_tol=1e-9)
        return evaluation

    def agree(self, rng: Random, number: int) -> int:
        """Assert of a few builds, possible or not, that the exact check says the same; return how many."""
        compared = 0
        for _ in range(number):
            if not self.sources or not self.mounts:
                break
            source, mount = rng.choice(self.sources), rng.choice(self.mounts)
            if self.lit and rng.random() < 0.7:
                lit = rng.choice(self.lit)
                good = lit.sure and whole(lit, source, mount, self.scenario, STRICT) is not None
                fair = whole(lit, source, mount, self.scenario, LOOSE) is not None
            elif self.dark:
                head, kinds = rng.choice(self.dark)
                lit = Lit(head, kinds, 0, 0, 0.0, 0.0, sure=False)
                good = fair = False
            else:
                continue
            build = Build(lit, source, mount[0], 0, 0, 0.0, good)
            passes = evaluate(build.choice, self.catalogue, self.scenario).passes
            assert passes or not good, build.choice
            assert fair or not passes, build.choice
            compared += 1
        return compared


def taken(choice: Choice, catalogue: Catalogue, scenario: Scenario) -> dict[str, tuple[int, float]]:
    """Return (pieces, metres of one) of each part that a choice takes."""
    length = scenario.power.lead_length
    wanted: dict[str, tuple[int, float]] = {}
    for channel in choice.channels:
        code = channel.emitter or choice.emitter
        more = channel.number * channel.series * channel.parallel
        wanted[code] = wanted.get(code, (0, 0.0))[0] + more, catalogue.find(Emitter, code).length
    for channel in choice.channels:
        number = wanted.get(channel.driver, (0, 0.0))[0] + channel.number
        wanted[channel.driver] = number, 0.0
    singles = (choice.panel, choice.diffuser, choice.fuse, choice.connector, choice.mount)
    wanted |= {code: (1, 0.0) for code in singles if code is not None}
    second = choice.second_diffuser
    if second is not None:
        panel, sheet = catalogue.find(Panel, choice.panel), catalogue.find(Diffuser, second)
        twice = second == choice.diffuser
        wanted[second] = (sheets_for(panel, sheet, scenario.buying.kerf) if twice else 1), 0.0
    wanted[choice.cable] = 1, length
    if choice.battery is not None:
        wanted[choice.battery] = choice.battery_series * choice.battery_parallel, 0.0
    return wanted


def own_figures(choice: Choice, catalogue: Catalogue, scenario: Scenario) -> tuple[int, int, float]:
    """Return (cents, milligrams, watts) of any choice, worked out from the codes alone; delivery is not counted."""
    parts = {part.part: part for part in catalogue.parts()}
    length = scenario.power.lead_length
    wanted = taken(choice, catalogue, scenario)
    cents, milligrams = 0, 0
    panel = catalogue.find(Panel, choice.panel)
    for code, (pieces, metres) in wanted.items():
        paid = price(usable_offers(catalogue, scenario, code), pieces, metres)
        assert paid is not None, code
        cents += paid
        part = parts[code]
        if isinstance(part, Cable):
            milligrams += mg(part.mass_per_length * length)
        elif isinstance(part, Diffuser):
            faces = [choice.diffuser, choice.second_diffuser].count(code)
            milligrams += faces * mg(part.mass_per_area * panel.width * panel.height)
        else:
            milligrams += pieces * mg(getattr(part, "mass", 0.0))
    power, apparent = 0.0, 0.0
    for channel in choice.channels:
        driver = catalogue.find(Driver, channel.driver)
        emitter = catalogue.find(Emitter, channel.emitter or choice.emitter)
        each = emitter.watts
        if emitter.drive == "constant current":
            assert emitter.voltage is not None
            assert emitter.current is not None
            sag = emitter.dynamic_resistance * (channel.current - emitter.current)
            each = channel.current * max(emitter.voltage + sag, 0.0)
        drawn_here = channel.emitters * each / driver.efficiency
        power += drawn_here
        apparent += drawn_here / (driver.power_factor if driver.input == "ac" and driver.power_factor else 1.0)
    cable = catalogue.find(Cable, choice.cable)
    ohms = 2.0 * length * cable.ohms_per_metre * (1.0 + 0.00393 * (cable.conductor_max - 20.0))
    if choice.battery is None:
        volts = scenario.power.mains_voltage or math.nan
    else:
        volts = choice.battery_series * catalogue.find(Battery, choice.battery).voltage
    current = lead_current(volts, ohms, apparent)
    return cents, milligrams, power + current * current * ohms


# Cases ----------------------------------------------------------------------------------------------------

OBJECTIVES = ("cost", "mass", "power")


@lru_cache(maxsize=128)
def drawn_case(number: int, source: str, nodes: int, most_emitters: int = 8) -> tuple[Case, Oracle]:
    """Return the case of a number with its oracle: small enough, and most often with a build.

    Every fifth is taken as it falls, so that jobs that cannot be done are among them; two of the others have
    limits or a target set to the very figures of a build, where a rounding too much or too little shows.
    """
    for attempt in range(200):
        case = random_case(number, source, attempt, most_emitters)
        try:
            oracle = Oracle(case.catalogue, case.scenario, nodes)
        except TooManyError:
            continue
        if number % 5 == 0:
            return case, oracle
        answer = oracle.best(OBJECTIVES[number % 3])
        if answer.build is None:
            continue
        assert answer.evaluation is not None
        if number % 5 in (1, 2):
            scenario = on_edge(case.scenario, answer, Random(number), light=number % 5 == 1)
            case = Case(case.name, case.catalogue, scenario)
            try:
                oracle = Oracle(case.catalogue, scenario, 10 * nodes)
            except TooManyError:
                continue
        return case, oracle
    raise AssertionError(f"no case of number {number} is small enough")


def on_edge_there(scenario: Scenario, evaluation: Evaluation, rng: Random) -> Scenario:
    """Return the scenario with the limits of some points set to the very light that they get."""
    points = []
    for point in scenario.points:
        found = {
            key: lux
            for key, name in (("illuminance", ""), ("illuminance_max", ", at most"))
            for lux in (
                m.achieved
                for m in evaluation.margins
                if m.name == f"illuminance at {point.name}{name}" and m.achieved > 0.0
            )
        }
        asked = {key: lux for key, lux in found.items() if rng.random() < 0.6}
        gone = {"stops" if key == "illuminance" else "stops_max": None for key in asked}
        points.append(point.model_copy(update=asked | gone))
    return scenario.model_copy(update={"points": tuple(points)})


def on_edge(scenario: Scenario, answer: Answer, rng: Random, *, light: bool) -> Scenario:
    """Return the scenario with a target or limits that the build of `answer` just keeps or just misses."""
    evaluation = answer.evaluation
    assert evaluation is not None
    if light:
        target = scenario.light.model_copy(update={"illuminance": evaluation.lux})
        return on_edge_there(scenario.model_copy(update={"light": target}), evaluation, rng)
    bars = rng.random() < 0.5
    figures = {
        "budget": evaluation.cents - bars,
        "mass": (evaluation.milligrams - bars) / 1e6,
        "power": evaluation.watts * (1 - 1e-5 * bars),
    }
    names = rng.sample(list(figures), rng.randint(1, 3))
    limits = scenario.limits.model_copy(update={name: figures[name] for name in names})
    power = scenario.power
    hours = evaluation.figures["runtime"][0]
    if hours is not None and rng.random() < 0.4:
        power = power.model_copy(update={"runtime": hours * 3600.0})
    return scenario.model_copy(update={"limits": limits, "power": power})
