"""Dropping columns that cannot be part of a best build.

Every bound is a sum of least possible shares: what the head, the lumens, the supply and the mount cost (or
weigh, or draw) at the very least. A column goes only where its bound is *above* a limit or the incumbent, so
builds that tie with the best stay in.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from optimise.columns.expand import Floats, Ints, ceil_of
from optimise.model.light import HAIR, boards, flux_of, need_of
from optimise.model.problem import MOST_PIECES, Problem, without_short_offers
from optimise.model.weights import SCALES, Weights, capped, weights, weights_of_all


@dataclass(frozen=True)
class Kept:
    """What is left of a problem, as indices into its columns, with what each head asks."""

    channels: Ints
    heads: Ints
    supplies: Ints
    board: Floats
    """Lowest board temperature that each kept head can have, °C."""
    need: Floats
    """Lumens (25 °C, see `flux`) that each kept head needs at that temperature."""
    flux: Floats
    """Lumens of each kept channel at the coldest board of its emitter: never less than the true ones."""

    @property
    def possible(self) -> bool:
        """Whether any build can be left."""
        return bool(len(self.channels) and len(self.heads) and len(self.supplies))

    def take(
        self,
        *,
        channels: np.ndarray | slice = slice(None),
        heads: np.ndarray | slice = slice(None),
        supplies: np.ndarray | slice = slice(None),
    ) -> "Kept":
        """Return what is at these places of each kind (masks or indices; all of a kind left out)."""
        return Kept(
            channels=self.channels[channels],
            flux=self.flux[channels],
            heads=self.heads[heads],
            board=self.board[heads],
            need=self.need[heads],
            supplies=self.supplies[supplies],
        )


def _by_emitter(problem: Problem, emitter: Ints, values: Floats) -> Floats:
    """Return the least of `values` for each emitter; infinite where it has none."""
    least = np.full(len(problem.parts.emitters), np.inf)
    np.minimum.at(least, emitter, values)
    return least


def per_lumen(problem: Problem, kept: Kept, figures: Ints | Floats) -> Floats:
    """Return by emitter the least that its kept channels have of a figure for each lumen; infinite without any."""
    emitter = problem.channels.emitter[kept.channels]
    return _by_emitter(problem, emitter, figures[kept.channels] / np.maximum(kept.flux, 1e-300))


def start(problem: Problem) -> Kept:
    """Return all columns, with needs at ambient temperature."""
    board = np.full(len(problem.heads), problem.scenario.power.ambient)
    heads = np.arange(len(problem.heads))
    channels = np.arange(len(problem.channels))
    coldest = np.full(len(problem.parts.emitters), problem.scenario.power.ambient)
    return Kept(
        channels=channels,
        heads=heads,
        supplies=np.arange(len(problem.supplies)),
        board=board,
        need=need_of(problem, heads, board),
        flux=flux_of(problem, channels, coldest),
    )


def screen(problem: Problem, kept: Kept, caps: Mapping[str, float]) -> Kept:
    """Drop what no build within `caps` can use; repeat until nothing more goes."""
    while True:
        before = len(kept.channels), len(kept.heads), len(kept.supplies)
        kept = _fits(problem, kept)
        for scale in SCALES:
            if kept.possible and np.isfinite(caps[scale]):
                weighing = weights(problem, scale, least_load(problem, kept))
                kept = _bounded(problem, kept, weighing, caps[scale], counts_cost=scale == "cost")
        if kept.possible and len(capped(caps)) > 1:
            weighing = weights_of_all(problem, caps, least_load(problem, kept))
            kept = _bounded(problem, kept, weighing, 1.0, counts_cost=False)
        if not kept.possible or before == (len(kept.channels), len(kept.heads), len(kept.supplies)):
            return kept


def _fits(problem: Problem, kept: Kept) -> Kept:
    """Drop heads that no number of emitters can light, supplies that no driver takes, and their like."""
    channels, heads, supplies = problem.channels, problem.heads, problem.supplies
    if not kept.possible:
        return kept
    kept = kept.take(channels=kept.flux > 0.0)  # the others are too hot to give any light
    if not kept.possible:
        return kept
    e, he = channels.emitter[kept.channels], heads.emitter[kept.heads]
    strongest = float(supplies.deliverable[kept.supplies].max())
    slack = 1.0 - HAIR
    lit = least_pieces(problem, kept) <= problem.capacity[kept.heads]
    lit &= kept.need * per_lumen(problem, kept, channels.heat)[he] * slack <= heads.heat_max[kept.heads]
    lit &= kept.need * per_lumen(problem, kept, channels.apparent)[he] * slack <= strongest
    used = np.isin(np.arange(len(problem.parts.emitters)), he[lit])
    compatible = problem.feeds
    driver = channels.driver[kept.channels]
    chosen = used[e] & compatible[driver][:, kept.supplies].any(axis=1)
    most = np.zeros(len(problem.parts.emitters), dtype=np.int64)
    np.maximum.at(most, he[lit], problem.capacity[kept.heads][lit])
    chosen &= channels.count[kept.channels] <= most[e]
    chosen &= channels.apparent[kept.channels] <= strongest * (1 + HAIR)
    present = np.isin(np.arange(len(problem.parts.drivers)), driver[chosen])
    fed = np.asarray(compatible[present][:, kept.supplies].any(axis=0))
    return kept.take(channels=chosen, heads=lit, supplies=fed)


def least_load(problem: Problem, kept: Kept) -> float:
    """Return the least VA that any build left can draw."""
    loads = kept.need * per_lumen(problem, kept, problem.channels.apparent)[problem.heads.emitter[kept.heads]]
    return float(loads.min()) if len(loads) else 0.0


def _bounded(problem: Problem, kept: Kept, weighing: Weights, cap: float, *, counts_cost: bool) -> Kept:
    """Drop the columns whose least possible build weighs more than `cap` on a scale.

    For a head that needs N lumens and a supply that delivers L, a build weighs at least

        head + supply − λ L + min over channels of ((channel + λ load) + what the rest of N costs) + mount

    for every λ ≥ 0 (Lagrange's bound for the row of the load), where the rest costs by the lumen, at the best
    rate, and at least one whole channel more. A few λ are tried, read off the prices that supplies ask for a
    volt-ampere.
    """
    channels, heads = problem.channels, problem.heads
    channel_weight, head_weight, supply_weight, mount = weighing
    by_channel, by_head = channel_weight[kept.channels], head_weight[kept.heads]
    by_supply = supply_weight[kept.supplies] + mount
    deliverable = problem.supplies.deliverable[kept.supplies]
    e, he = channels.emitter[kept.channels], heads.emitter[kept.heads]
    load = channels.apparent[kept.channels]
    flux = np.maximum(kept.flux, 1e-300)
    most = cap * (1 + HAIR) + HAIR
    if counts_cost:
        pieces, drivers = _bought(problem, kept)
    else:
        pieces, drivers = np.zeros(len(kept.heads)), np.zeros(len(kept.channels))
    prices = _load_prices(deliverable, by_supply)
    after_load = by_supply[:, None] - prices[None, :] * deliverable[:, None]
    chosen = np.zeros(len(kept.channels), dtype=bool)
    fits = np.zeros((len(kept.heads), len(kept.supplies)), dtype=bool)
    for able, fed in _groups(problem, kept):
        least_after = after_load[fed].min(axis=0)
        body = np.full((len(kept.heads), len(prices)), np.inf)
        for emitter in np.unique(he):
            mine, its = np.flatnonzero((e == emitter) & able), np.flatnonzero(he == emitter)
            if not len(mine):
                continue
            need = kept.need[its]
            times = np.maximum(need[None, :] / flux[mine][:, None], 1.0)
            rest = np.maximum(need[None, :] - flux[mine][:, None], 0.0) / need[None, :]
            more = rest > 0.0
            with_one = np.full((len(mine), len(its)), -np.inf)
            for k, price in enumerate(prices):
                charge = price * load[mine]
                together, apart = by_channel[mine] + charge, drivers[mine] + charge
                # Whatever its first channel leaves dark, a build pays by the lumen and by whole channels.
                by_lumen = np.maximum(rest * (together[:, None] * times).min(axis=0), together.min() * more)
                by_piece = np.maximum(rest * (apart[:, None] * times).min(axis=0), apart.min() * more)
                one = np.maximum(together[:, None] + by_lumen, apart[:, None] + by_piece + pieces[its])
                body[its, k] = by_head[its] + one.min(axis=0)
                with_one = np.maximum(with_one, one + least_after[k])
            chosen[mine] |= (with_one + by_head[its]).min(axis=1) <= most
        pairs = np.full((len(kept.heads), len(fed)), -np.inf)
        for k in range(len(prices)):
            np.maximum(pairs, body[:, k, None] + after_load[None, fed, k], out=pairs)
        fits[:, fed] |= pairs <= most
    return kept.take(channels=chosen, heads=np.asarray(fits.any(axis=1)), supplies=np.asarray(fits.any(axis=0)))


MANY = 200_000
"""Pairs of channel and head above which supplies are bounded all together, not by the drivers they feed."""


def _groups(problem: Problem, kept: Kept) -> list[tuple[np.ndarray, Ints]]:
    """Return (channels that can be fed, supplies) for each group of kept supplies that feed the same drivers."""
    channels = problem.channels
    if len(kept.channels) * len(kept.heads) > MANY:
        return [(np.ones(len(kept.channels), dtype=bool), np.arange(len(kept.supplies)))]
    feeds = problem.feeds[:, kept.supplies]
    patterns, inverse = np.unique(feeds, axis=1, return_inverse=True)
    groups = [
        (patterns[channels.driver[kept.channels], g], np.flatnonzero(np.ravel(inverse) == g))
        for g in range(patterns.shape[1])
    ]
    return [(able, fed) for able, fed in groups if able.any()]


def _load_prices(deliverable: Floats, weight: Floats) -> Floats:
    """Return a few multipliers for the load: 0, and slopes of the lower hull of weight over load."""
    order = np.lexsort((weight, deliverable))
    hull: list[tuple[float, float]] = []
    for x, y in zip(deliverable[order].tolist(), weight[order].tolist(), strict=True):
        while len(hull) >= 2 and (hull[-1][1] - hull[-2][1]) * (x - hull[-2][0]) >= (y - hull[-2][1]) * (
            hull[-1][0] - hull[-2][0]
        ):
            hull.pop()
        hull.append((x, y))
    slopes = [(b[1] - a[1]) / (b[0] - a[0]) for a, b in pairwise(hull) if b[0] > a[0]]
    rising = np.unique(np.array([0.0, *(slope for slope in slopes if slope > 0.0)]))
    # The bound holds for any multiplier; a handful, spread over the hull, does nearly all there is to do.
    return np.asarray(rising[np.unique(np.linspace(0, len(rising) - 1, 8).round().astype(np.int64))])


def least_pieces(problem: Problem, kept: Kept) -> Ints:
    """Return the least number of emitters that each kept head needs."""
    each = per_lumen(problem, kept, problem.channels.count)[problem.heads.emitter[kept.heads]]
    return ceil_of(kept.need * each * (1 - HAIR))


def narrowed(problem: Problem, kept: Kept) -> Problem:
    """Return the problem without the offers of emitters that are too few for every head left."""
    least = np.full(len(problem.parts.emitters), MOST_PIECES, dtype=np.int64)
    np.minimum.at(least, problem.heads.emitter[kept.heads], least_pieces(problem, kept))
    return without_short_offers(problem, least)


def _bought(problem: Problem, kept: Kept) -> tuple[Floats, Floats]:
    """Return what the emitters of each head cost at least, and the driver of each channel alone.

    A second bound beside that by lumen: a few owned pieces must not make every lumen seem free.
    """
    channels = problem.channels
    he, number = problem.heads.emitter[kept.heads], least_pieces(problem, kept)
    capacity = problem.capacity[kept.heads]
    pieces = np.full(len(kept.heads), np.inf)
    for emitter in np.unique(he):
        its = np.flatnonzero(he == emitter)
        most = int(capacity[its].max())
        from_here_on = np.minimum.accumulate(problem.emitter_buying[emitter].prices(most)[::-1])[::-1]
        pieces[its] = np.append(from_here_on, np.inf)[np.minimum(number[its], most + 1)]
    unit = np.array([buying.unit for buying in problem.driver_buying])
    return pieces, unit[channels.driver[kept.channels]]


def warm_up(problem: Problem, kept: Kept) -> Kept:
    """Raise the lowest board temperature of each head to what its least heat makes of it."""
    if not kept.possible:
        return kept
    heat = kept.need * per_lumen(problem, kept, problem.channels.heat)[problem.heads.emitter[kept.heads]]
    board = np.maximum(kept.board, boards(problem, kept.heads, heat))
    coldest = _by_emitter(problem, problem.heads.emitter[kept.heads], board)
    coldest = np.where(np.isfinite(coldest), coldest, problem.scenario.power.ambient)
    return replace(
        kept,
        board=board,
        need=need_of(problem, kept.heads, board),
        flux=flux_of(problem, kept.channels, coldest),
    )
