"""All lights of one kind of emitter and of two: what `oracle` looks at, with mixtures worked out anew.

Chromaticities come from a locus of its own: Planck's law at every nm with the observer that colour-science keeps, and
the nearest of many points on it.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields, replace
from functools import cache, lru_cache
from itertools import combinations
from random import Random

import numpy as np
from oracle import (
    LOOSE,
    STRICT,
    Build,
    Head,
    Kind,
    Looker,
    Oracle,
    Shop,
    at_least,
    at_most,
    before,
    behind,
    grid_of,
    heads_of,
    kinds_of,
)
from random_catalogues import Case, random_case

from optimise.model.choice import ChannelChoice, Choice
from optimise.parts import Catalogue, Diffuser, Emitter
from optimise.parts.colour import library
from optimise.scenario import Scenario
from optimise.scenario.model import Look

NEAR = (3.0, 5e-5)
"""K and Duv: sums by 5 nm and by 1 nm differ by less; what is so near to a limit only the exact check can tell."""


@cache
def locus() -> tuple[np.ndarray, np.ndarray]:
    """Return temperatures and the u, v of the Planckian locus."""
    observer = library().MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    metres = np.array(observer.wavelengths) * 1e-9
    kelvin = 1e6 / np.linspace(40.0, 1000.0, 9601)
    power = metres**-5.0 / np.expm1(1.4388e-2 / (metres * kelvin[:, None]))
    x, y, z = (power @ np.array(observer.values)).T
    return kelvin, np.stack([4 * x, 6 * y], axis=1) / (x + 15 * y + 3 * z)[:, None]


def point_of(cct: float, duv: float) -> tuple[float, float]:
    """Return u, v of a light that is `duv` off the locus at a temperature."""
    kelvin, points = locus()
    place = int(np.clip(np.searchsorted(-kelvin, -cct), 1, len(kelvin) - 2))
    u, v = (float(np.interp(1e6 / cct, 1e6 / kelvin, points[:, i])) for i in (0, 1))
    along = points[place + 1] - points[place - 1]  # towards the warm, where u rises
    along /= math.hypot(*along)
    return u - duv * float(along[1]), v + duv * float(along[0])


@lru_cache(maxsize=4096)
def xyz_of(emitter: Emitter) -> tuple[float, float, float] | None:
    """Return X, Y, Z of a lumen of a kind by its stated figures."""
    if emitter.cct is None:
        return None
    u, v = point_of(emitter.cct, emitter.duv or 0.0)
    x, y = 3 * u / (2 * u - 8 * v + 4), 2 * v / (2 * u - 8 * v + 4)
    return x / y, 1.0, (1 - x - y) / y


def colour_at(first: Emitter, second: Emitter, share: float) -> tuple[float, float] | None:
    """Return colour temperature and Duv of a mixture by the share of the second."""
    one, other = xyz_of(first), xyz_of(second)
    if one is None or other is None:
        return None
    x, y, z = ((1 - share) * a + share * b for a, b in zip(one, other, strict=True))
    u, v = 4 * x / (x + 15 * y + 3 * z), 6 * y / (x + 15 * y + 3 * z)
    kelvin, points = locus()
    apart = np.hypot(points[:, 0] - u, points[:, 1] - v)
    place = int(np.argmin(apart))
    # The nearest point of the chords on both sides.
    best = (float(apart[place]), float(kelvin[place]), float(points[place, 1]))
    for other_place in (place - 1, place + 1):
        if not 0 <= other_place < len(kelvin):
            continue
        step = points[other_place] - points[place]
        along = float(np.clip(np.dot([u, v] - points[place], step) / np.dot(step, step), 0.0, 1.0))
        foot = points[place] + along * step
        mired = 1e6 / kelvin[place] + along * (1e6 / kelvin[other_place] - 1e6 / kelvin[place])
        best = min(best, (math.hypot(u - foot[0], v - foot[1]), 1e6 / mired, float(foot[1])))
    distance, cct, height = best
    return cct, distance if v > height else -distance


def within(look: Look, colour: tuple[float, float] | None, slack: float) -> bool:
    """Whether a colour keeps the limits, which are as much wider as `slack` times `NEAR`."""
    quality = (look.cri_min, look.r9_min, look.rf_min, look.rg_min, look.rg_max, look.ssi_min)
    if colour is None or any(limit is not None for limit in quality):
        return False
    limits = ((look.cct_min, look.cct_max), (look.duv_min, look.duv_max))
    return all(
        (low is None or have >= low - slack * near) and (high is None or have <= high + slack * near)
        for (low, high), have, near in zip(limits, colour, NEAR, strict=True)
    )


@dataclass(frozen=True)
class OfKind(Kind):
    """A channel with the emitter that it has."""

    emitter: Emitter | None = None


@dataclass
class PairHead(Head):
    """Two kinds of emitter on one panel behind one diffuser, each place roomy enough for either."""

    second: Emitter | None = None

    def __post_init__(self) -> None:
        super().__post_init__()
        assert self.second is not None
        pair = (self.emitter, self.second)
        roomy = {name: max(getattr(e, name) for e in pair) for name in ("length", "width")}
        self.columns, self.rows = grid_of(self.emitter.model_copy(update=roomy), self.panel)
        borne = self.panel.heat_density_max
        for e in pair:
            under = e.watts * e.heat_share / (e.length * e.width)
            if borne is not None and not at_most(under, borne, STRICT):
                self.columns = self.rows = 0
        if self.second.case_max is not None and self.second.case_max < self.limit:
            Head.__post_init__(copy := replace_limit(self))
            self.limit, self.heat_max = copy.limit, copy.heat_max

    def lux(self, kinds: Sequence[Kind], board: float, factor: float) -> float:
        return factor * sum(lumens(k, board) for k in kinds)


def replace_limit(head: PairHead) -> Head:
    """Return the head with the second kind's bound on temperature."""
    assert head.second is not None
    return Head(
        head.emitter.model_copy(update={"case_max": head.second.case_max}),
        head.panel,
        head.diffuser,
        head.scenario,
        head.cents,
        head.milligrams,
    )


def lumens(kind: Kind, board: float) -> float:
    assert isinstance(kind, OfKind)
    assert kind.emitter is not None
    slope = kind.emitter.flux_per_kelvin
    return kind.count * kind.flux * max(1.0 + slope * (board + kind.rise - 25.0), 0.0)


class PairLooker(Looker):
    """Goes through the channels of two kinds on one head: a set of another colour may become right with more."""

    head: PairHead

    def _more(self, chosen: tuple[Kind, ...], start: int, count: int, heat: float, flux: float) -> None:
        for index in range(start, len(self.kinds)):
            kind = self.kinds[index]
            number, warm = count + kind.count, heat + kind.heat
            if number > self.most or warm > self.head.heat_max * (1 + LOOSE):
                continue
            self.budget[0] -= 1
            if self.budget[0] < 0:
                from oracle import TooManyError

                raise TooManyError
            kinds = (*chosen, kind)
            if not self._done(kinds, number, warm):
                self._more(kinds, index, number, warm, 0.0)

    def _done(self, kinds: tuple[Kind, ...], number: int, heat: float) -> bool:
        head = self.head
        if len({k.emitter.part for k in kinds if isinstance(k, OfKind) and k.emitter is not None}) < 2:
            return False
        factor = head.factor(number)
        cold, _ = head.board_between(heat)
        if not at_least(head.lux(kinds, cold, factor), self.target, LOOSE):
            return False
        board = head.board(heat)
        lux = head.lux(kinds, board, factor)
        if not at_least(lux, self.target, LOOSE) or not self._even(number, LOOSE):
            return False
        second = sum(lumens(k, board) for k in kinds if isinstance(k, OfKind) and k.emitter is head.second)
        whole = sum(lumens(k, board) for k in kinds)
        assert head.second is not None
        colour = colour_at(head.emitter, head.second, second / whole)
        if not within(head.scenario.look, colour, 1.0):
            return False
        sure = at_least(lux, self.target, STRICT) and at_most(heat, head.heat_max, STRICT)
        sure &= self._even(number, STRICT) and within(head.scenario.look, colour, -1.0)
        pieces: dict[str, tuple[int, Emitter]] = {}
        for kind in kinds:
            assert isinstance(kind, OfKind)
            assert kind.emitter is not None
            code = kind.emitter.part
            pieces[code] = pieces.get(code, (0, kind.emitter))[0] + kind.count, kind.emitter
        if not self._keep(kinds, pieces, sure=sure):
            return True
        return sure


@dataclass(frozen=True)
class MixedBuild(Build):
    """A build whose channels name their kind."""

    @property
    def choice(self) -> Choice:
        plain = super().choice
        codes = sorted({k.emitter.part for k in self.lit.kinds if isinstance(k, OfKind) and k.emitter is not None})
        if not codes:
            return plain
        numbers: dict[tuple[str, int, int, float, str], int] = {}
        for k in self.lit.kinds:
            assert isinstance(k, OfKind)
            assert k.emitter is not None
            of = "" if k.emitter.part == codes[0] else k.emitter.part
            key = k.driver.part, k.series, k.parallel, k.current, of
            numbers[key] = numbers.get(key, 0) + 1
        channels = (ChannelChoice(*key[:4], number, key[4]) for key, number in numbers.items())
        return replace(plain, emitter=codes[0], channels=tuple(sorted(channels)))


def pair_heads(
    pair: tuple[Emitter, Emitter], catalogue: Catalogue, scenario: Scenario, shop: Shop
) -> Iterator[PairHead]:
    """Yield the heads on which two kinds may be mixed: behind a diffuser before which their light is alike."""
    free = {name: None for name in Look.model_fields if name.startswith(("cct", "duv", "cri", "r9", "rf", "rg", "ssi"))}
    uncoloured = scenario.model_copy(update={"look": scenario.look.model_copy(update={**free, "diffused": True})})
    first, second = pair
    back = [e.back or 0.0 if behind(e.photometric) is None else behind(e.photometric) for e in pair]
    if back[0] != back[1]:
        return
    alone = replace(catalogue, emitters=(first,))
    for head in heads_of(alone, uncoloured, shop):
        assert head.diffuser is not None
        if head.diffuser.mired_shift == 0.0 and _alike(pair, head.diffuser):
            plain = {f.name: getattr(head, f.name) for f in fields(Head)[:7]}
            yield PairHead(**{**plain, "scenario": scenario}, second=second)


def _alike(pair: tuple[Emitter, Emitter], sheet: Diffuser) -> bool:
    beams = [before(e, sheet) for e in pair]
    return beams[0] == beams[1] and isinstance(beams[0][0], float)


class MixedOracle(Oracle):
    """All builds of one job, of one kind of emitter and of two."""

    def __init__(self, catalogue: Catalogue, scenario: Scenario, nodes: int) -> None:
        super().__init__(catalogue, scenario, nodes)
        shop, target = Shop(catalogue, scenario), scenario.light.illuminance
        assert target is not None
        budget = [nodes]
        for pair in combinations(catalogue.emitters, 2):
            mine = list(pair_heads(pair, catalogue, scenario, shop))
            most = max((head.columns * head.rows for head in mine), default=0)
            kinds = [
                OfKind(**vars(kind), emitter=emitter)
                for emitter in pair
                for kind in kinds_of(emitter, catalogue.drivers, most, scenario)
            ]
            for head in mine:
                self.lit += PairLooker(head, kinds, target, shop, budget).go()

    def check(self, build: Build) -> object:  # type: ignore[override]
        return super().check(MixedBuild(**{f.name: getattr(build, f.name) for f in fields(Build)}))


WHITES = (2700.0, 3000.0, 4000.0, 5600.0, 6500.0)


def _fed(case: Case) -> list[Emitter]:
    """Return the kinds of emitter that drivers can feed and of which some fit behind a diffuser."""
    catalogue = case.catalogue
    fed = [
        emitter
        for emitter in catalogue.emitters
        if emitter.photometric is None
        and max(math.prod(grid_of(emitter, panel)) for panel in catalogue.panels) >= 4
        and kinds_of(emitter, catalogue.drivers, 4, case.scenario)
    ]
    return fed if catalogue.diffusers else []


def mixed_case(number: int, most_emitters: int = 6) -> Case:
    """Return a case in which most kinds of emitter come in two or three whites, with a window between (invented)."""
    rng = Random(number)
    source = ("battery", "mains")[number % 2]
    drawn = (random_case(number, source, attempt, most_emitters) for attempt in range(1000))
    case = next(case for case in drawn if _fed(case))
    offers, emitters = dict(case.catalogue.offers), list[Emitter]()
    warm, cold = rng.choice([(2700.0, 5600.0), (3000.0, 6500.0), (3000.0, 4000.0), (2700.0, 6500.0)])

    def tinted(emitter: Emitter, code: str, cct: float) -> Emitter:
        rows = case.catalogue.offers.get(emitter.part, ())
        offers[code] = tuple(
            offer.model_copy(update={"part": code, "price": int(offer.price * rng.uniform(0.8, 1.3))}) for offer in rows
        )
        figures = {
            "part": code,
            "cct": cct if rng.random() < 0.95 else None,
            "duv": rng.choice([None, -0.003, 0.0, 0.002, 0.004]),
            "flux": emitter.flux * rng.uniform(0.8, 1.2),
            "mass": emitter.mass * rng.choice([1.0, 1.0, 1.3]),
            "length": 0.6 * emitter.length * rng.choice([1.0, 1.0, 1.2]),
            "width": 0.8 * emitter.width,
            "flux_per_kelvin": rng.choice([emitter.flux_per_kelvin, -0.001, -0.004, 0.0]),
        }
        return emitter.model_copy(update=figures)

    for emitter in _fed(case)[: rng.choice([1, 1, 2])]:
        for place, cct in enumerate((warm, cold, *([rng.choice(WHITES)] if rng.random() < 0.2 else []))):
            emitters.append(tinted(emitter, f"{emitter.part}-{place}", cct))
    sheets = tuple(
        sheet.model_copy(update={"spread": sheet.spread if rng.random() < 0.25 else None})
        for sheet in case.catalogue.diffusers
    )
    ways = [colour_at(*emitters[:2], share) for share in rng.sample([1 / 2, 1 / 2, 1 / 3, 2 / 3, 3 / 5], 3)]
    middle, wide = next((way[0] for way in ways if way), (warm + cold) / 2), rng.choice([0.02, 0.05, 0.12])
    limits: dict[str, float] = {"cct_min": middle * (1 - wide), "cct_max": middle * (1 + wide)}
    if rng.random() < 0.15:
        del limits[rng.choice(sorted(limits))]
    if rng.random() < 0.35:
        limits["duv_min"] = rng.choice([-0.006, -0.004, -0.002])
    if rng.random() < 0.2:
        limits["duv_max"] = rng.choice([0.0, 0.002])
    quality = dict.fromkeys(("cri_min", "r9_min", "rf_min", "rg_min", "rg_max", "ssi_min"))
    look = case.scenario.look.model_copy(update={**quality, **limits})
    light = case.scenario.light.model_copy(
        update={"illuminance": rng.choice([0.1, 0.25, 0.5]) * (case.scenario.light.illuminance or 0.0)}
    )
    search = case.scenario.search.model_copy(update={"emitter_kinds": 2})
    return Case(
        f"{case.name}, mixed",
        replace(
            case.catalogue, emitters=tuple(sorted(emitters, key=lambda e: e.part)), diffusers=sheets, offers=offers
        ),
        case.scenario.model_copy(update={"look": look, "light": light, "search": search}),
    )


__all__ = ["NEAR", "MixedOracle", "colour_at", "mixed_case", "xyz_of"]
