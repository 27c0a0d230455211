"""Lights of two kinds of emitter as lines of a search: which pairs may be mixed, and the least that a light of one is.

Lines are numbered: first every kind of emitter by itself, then the pairs.
"""

from collections.abc import Mapping, Sequence
from functools import lru_cache

import numpy as np

from optimise.columns.expand import Floats, ceil_of
from optimise.columns.heads import NO_DIFFUSER
from optimise.model.light import HAIR
from optimise.model.market import Market
from optimise.model.mixture import one_beam
from optimise.model.problem import Problem, problem_of
from optimise.model.shares import shares_of, widest_shares
from optimise.model.shortlist import (
    brightest_of,
    drivers_weighed,
    faces_weighed,
    flux_and_efficacy,
    least_by_emitter,
    supplies_weighed,
)
from optimise.model.weights import SCALES
from optimise.parts import Emitter
from optimise.parts.colour import library_version
from optimise.physics.distributions import back_share
from optimise.physics.emitters import REFERENCE_TEMPERATURE
from optimise.scenario.model import Look

Pair = tuple[int, int, float, float]
"""Places of two emitters, and the least and the greatest share of the light that the second may give."""


def pairs_of(market: Market) -> tuple[Pair, ...]:
    """Return the pairs of emitters that may be mixed, in order; none where a light has one kind."""
    if market.scenario.search.emitter_kinds < 2:
        return ()
    return _pairs(market.parts.emitters, market.scenario.look, library_version())


@lru_cache(maxsize=64)
def _pairs(emitters: tuple[Emitter, ...], look: Look, library: str | None) -> tuple[Pair, ...]:
    back = [back_share(e.back, e.photometric) for e in emitters]
    found: list[Pair] = []
    for i, first in enumerate(emitters):
        for j in range(i + 1, len(emitters)):
            if back[i] != back[j]:
                continue
            shares = widest_shares(first, emitters[j], look.cct_min, look.cct_max)
            if shares is not None:
                found.append((i, j, *shares))
    return tuple(found)


def least_by_line(market: Market, caps: Mapping[str, float], scale: str) -> Floats:
    """Return the least that a light of each line weighs on a scale; infinite where it cannot keep the caps."""
    least = least_by_emitter(market, caps, scale)
    if market.scenario.search.emitter_kinds < 2:
        return least
    alone = [emitter.part in market.parts.only_mixed for emitter in market.parts.emitters]
    least[np.array(alone, dtype=bool)] = np.inf
    return np.append(least, _least_by_pair(market, pairs_of(market), caps, scale))


def codes_of_line(market: Market, line: int) -> tuple[str, ...]:
    """Return the codes of the emitters of a line."""
    emitters = market.parts.emitters
    places = (line,) if line < len(emitters) else pairs_of(market)[line - len(emitters)][:2]
    return tuple(emitters[place].part for place in places)


def problem_of_line(market: Market, line: int) -> Problem:
    """Return the columns of a line: of one kind of emitter, or of two that are mixed."""
    kinds = len(market.parts.emitters)
    if line < kinds:
        return problem_of(market, np.array([line]))
    i, j, *_ = pairs_of(market)[line - kinds]
    first, second = market.parts.emitters[i], market.parts.emitters[j]
    sheets = np.array([one_beam((first, second), sheet) for sheet in market.parts.diffusers], dtype=bool)
    shares = shares_of(first, second, market.scenario.look)
    if not shares:
        shares, sheets = ((0.0, 0.0),), np.zeros_like(sheets)  # no head, and so no build
    return problem_of(market, np.array([i, j]), shares, sheets)


def _least_by_pair(market: Market, pairs: Sequence[Pair], caps: Mapping[str, float], scale: str) -> Floats:
    """Return the least weight of each pair, as `least_by_emitter` does, each kind with its least share of the light."""
    parts, boards = market.parts, market.boards
    faces = np.flatnonzero(boards.diffuser != NO_DIFFUSER)
    if not (pairs and parts.drivers and len(faces) and len(market.supplies)):
        return np.full(len(pairs), np.inf)
    kinds = np.array([pair[:2] for pair in pairs], dtype=np.int64)
    low, high = np.array([pair[2:] for pair in pairs], dtype=np.float64).T
    shares = np.stack([1.0 - high, low], axis=1)
    flux, efficacy = flux_and_efficacy(parts.emitters)
    per_kelvin = np.array([e.flux_per_kelvin for e in parts.emitters])[kinds].max(axis=1)
    warm = np.maximum(1.0 + per_kelvin * (market.scenario.power.ambient - REFERENCE_TEMPERATURE), 1e-6)
    least = np.zeros(len(pairs))
    for name in SCALES:
        if name != scale and not np.isfinite(caps[name]):
            continue
        weight, light = faces_weighed(market, name, brightest_of(parts.emitters), bare=False)
        need = market.target / (light[None, :] * warm[:, None]) * (1 - HAIR)
        total = weight[None, :] + _pieces(market, name, need, flux, kinds, shares)
        total += _electrics(market, name, need, efficacy, kinds, shares)
        if market.mounts and name != "power":
            total += float((market.mount_cost if name == "cost" else market.mount_mass).min())
        bound = total.min(axis=1)
        least[bound > caps[name] * (1 + HAIR) + HAIR] = np.inf
        if name == scale:
            least = np.maximum(least, bound)
    return least


def _pieces(market: Market, scale: str, need: Floats, flux: Floats, kinds: np.ndarray, shares: Floats) -> Floats:
    """Return the weight of the emitters of each kind that its least share of the light takes, one at least."""
    total = np.zeros(need.shape)
    for which in (0, 1):
        kind = kinds[:, which]
        number = np.maximum(ceil_of(need * shares[:, which, None] / flux[kind][:, None]), 1)
        for e in np.unique(kind).tolist():
            rows = np.flatnonzero(kind == e)
            emitter, buying = market.parts.emitters[e], market.emitter_buying[e]
            if scale == "cost":
                total[rows] += buying.least(number[rows])
            elif scale == "mass":
                total[rows] += number[rows] * float(emitter.milligrams)
            total[rows] = np.where(number[rows] <= buying.most, total[rows], np.inf)
    return total


def _electrics(market: Market, scale: str, need: Floats, efficacy: Floats, kinds: np.ndarray, shares: Floats) -> Floats:
    """Return the weight of the drivers, of which each kind has one at least, and of the supply for the least load."""
    drivers, parts = market.drivers, market.parts
    weight, power = drivers_weighed(market, scale)
    figures = np.full((len(parts.emitters), 4), np.inf)
    for e, emitter in enumerate(parts.emitters):
        mine = drivers.output == emitter.drive
        if mine.any():
            best = 1.0 / (drivers.efficiency[mine] * drivers.factor[mine]).max()
            by_watt = float((weight[mine] / np.maximum(power[mine], 1e-300)).min())
            # For each lumen: weight of drivers, volt-amperes, watts; and the lightest driver.
            each = (by_watt, best, 1.0 / drivers.efficiency[mine].max())
            figures[e] = (*(value / efficacy[e] for value in each), weight[mine].min())

    def least(column: int) -> Floats:
        """Return the least of a figure for each lumen of the mixture: it is linear in the share."""
        first, second = figures[kinds[:, 0], column], figures[kinds[:, 1], column]
        # A kind that no driver feeds has no least, whatever its share: 0 of it is none either.
        with np.errstate(invalid="ignore"):
            ends = [(1.0 - s) * first + s * second for s in (1.0 - shares[:, 0], shares[:, 1])]
        return np.where(np.isfinite(first) & np.isfinite(second), np.minimum(*ends), np.inf)

    two = figures[kinds, 3].sum(axis=1)
    result = np.maximum(need * least(0)[:, None], two[:, None])
    if scale == "power":
        result = need * least(2)[:, None]
    return np.asarray(result + supplies_weighed(market, scale, need * least(1)[:, None]))
