"""Dropping columns that cannot be part of a best build, and finding a good build to measure them by.

Every bound is a sum of least possible shares: what the head, the lumens, the supply and the mount cost (or
weigh, or draw) at the very least. A column goes only where its bound is *above* a limit or the incumbent, so
builds that tie with the best stay in.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from optimise.columns.expand import Floats, Ints, ceil_of
from optimise.columns.supplies import MAINS
from optimise.model.choice import TOLERANCE
from optimise.model.problem import MOST_PIECES, Problem, capacity_of, without_short_offers
from optimise.physics.emitters import REFERENCE_TEMPERATURE
from optimise.physics.heat import HOTTEST, board_temperature, heat_shed

HAIR = 1e-9
"""Relative slack of a bound, for rounding."""

SCALES = ("cost", "mass", "power")


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


def need_of(problem: Problem, heads: Ints, board: Floats) -> Floats:
    """Return target / lux per lumen, corrected for a board at `board` °C, for the heads at an index."""
    per_kelvin = np.array([e.flux_per_kelvin for e in problem.parts.emitters])[problem.heads.emitter[heads]]
    warm = np.maximum(1.0 + per_kelvin * (board - REFERENCE_TEMPERATURE), 1e-6)
    return np.asarray(problem.target / (problem.heads.lux_per_lumen[heads] * warm))


def flux_of(problem: Problem, channels: Ints, coldest: Floats) -> Floats:
    """Return the lumens of channels when the board is at the coldest of their emitter, per `need_of`.

    coldest: °C by emitter. flux(T) = flux25 (1 + a (T + rise − 25)); divided by (1 + a (T − 25)) it falls
    with T, so the coldest board gives the most.
    """
    emitter = problem.channels.emitter[channels]
    per_kelvin = np.array([e.flux_per_kelvin for e in problem.parts.emitters])[emitter]
    warm = np.maximum(1.0 + per_kelvin * (coldest[emitter] - REFERENCE_TEMPERATURE), 1e-6)
    share = 1.0 + per_kelvin * problem.channels.rise[channels] / warm
    return np.asarray(problem.channels.flux[channels] * np.maximum(share, 0.0))


def _by_emitter(problem: Problem, emitter: Ints, values: Floats) -> Floats:
    """Return the least of `values` for each emitter; infinite where it has none."""
    least = np.full(len(problem.parts.emitters), np.inf)
    np.minimum.at(least, emitter, values)
    return least


Weights = tuple[Floats, Floats, Floats, float]
"""Weights of channels, heads and supplies by index, and of the lightest mount."""


def weights(problem: Problem, scale: str, least_load: float) -> Weights:
    """Return (channel, head, supply, mount) weights of all columns on a scale: cents, mg or W.

    The power lost in a lead is counted at `least_load` VA, the least that any build draws.
    """
    if scale == "cost":
        mount = float(problem.mount_cost.min()) if problem.mounts else 0.0
        return problem.channel_cost, problem.head_cost, problem.supplies.cost.astype(np.float64), mount
    if scale == "mass":
        mount = float(problem.mount_mass.min()) if problem.mounts else 0.0
        return problem.channel_mass, problem.head_mass, problem.supplies.mass.astype(np.float64), mount
    loss = np.nan_to_num(problem.supplies.loss(least_load), nan=np.inf)
    return problem.channels.power, np.zeros(len(problem.heads)), loss, 0.0


def weights_of_all(problem: Problem, kept: Kept, caps: Mapping[str, float]) -> Weights:
    """Return the weights of all capped scales together, each as a share of its cap, averaged.

    A build within every cap weighs at most 1: what is cheap but heavy, or light but dear, goes by this bound
    though it passes each cap alone.
    """
    known = [scale for scale in SCALES if np.isfinite(caps[scale]) and caps[scale] > 0.0]
    load = least_load(problem, kept)
    total: Weights = (
        np.zeros(len(problem.channels)),
        np.zeros(len(problem.heads)),
        np.zeros(len(problem.supplies)),
        0.0,
    )
    for scale in known:
        share = 1.0 / (caps[scale] * len(known))
        channel, head, supply, mount = weights(problem, scale, load)
        total = (
            total[0] + channel * share,
            total[1] + head * share,
            total[2] + supply * share,
            total[3] + mount * share,
        )
    return total


def limits_of(problem: Problem) -> dict[str, float]:
    """Return the scenario's own limits on the three scales, in cents, mg and W, as the exact check takes them."""
    limit = problem.scenario.limits
    return {
        "cost": np.inf if limit.budget is None else float(limit.budget),
        "mass": np.inf if limit.mass is None else limit.mass * 1e6 * (1 + TOLERANCE),
        "power": np.inf if limit.power is None else limit.power * (1 + TOLERANCE),
    }


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
        for scale in (*SCALES, "all"):
            if kept.possible and scale == "all":
                kept = _bounded(problem, kept, weights_of_all(problem, kept, caps), 1.0, counts_cost=False)
            elif kept.possible and np.isfinite(caps[scale]):
                weighing = weights(problem, scale, least_load(problem, kept))
                kept = _bounded(problem, kept, weighing, caps[scale], counts_cost=scale == "cost")
        if not kept.possible or before == (len(kept.channels), len(kept.heads), len(kept.supplies)):
            return kept


def _restrict(kept: Kept, channels: np.ndarray, heads: np.ndarray, supplies: np.ndarray) -> Kept:
    return replace(
        kept,
        channels=kept.channels[channels],
        flux=kept.flux[channels],
        heads=kept.heads[heads],
        board=kept.board[heads],
        need=kept.need[heads],
        supplies=kept.supplies[supplies],
    )


def _everything(kept: Kept) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    return (
        np.ones(len(kept.channels), dtype=bool),
        np.ones(len(kept.heads), dtype=bool),
        np.ones(len(kept.supplies), dtype=bool),
    )


def _fits(problem: Problem, kept: Kept) -> Kept:
    """Drop heads that no number of emitters can light, supplies that no driver takes, and their like."""
    channels, heads, supplies = problem.channels, problem.heads, problem.supplies
    if not kept.possible:
        return kept
    kept = _restrict(kept, kept.flux > 0.0, *_everything(kept)[1:])  # too hot to give any light
    if not kept.possible:
        return kept
    chosen, lit, fed = _everything(kept)
    e = channels.emitter[kept.channels]
    with np.errstate(divide="ignore"):
        each = _by_emitter(problem, e, channels.count[kept.channels] / np.maximum(kept.flux, 1e-300))
        warm = _by_emitter(problem, e, channels.heat[kept.channels] / np.maximum(kept.flux, 1e-300))
        draw = _by_emitter(problem, e, channels.apparent[kept.channels] / np.maximum(kept.flux, 1e-300))
    he = heads.emitter[kept.heads]
    slack = 1.0 - HAIR
    with np.errstate(invalid="ignore"):
        lit &= ceil_of(kept.need * each[he] * slack) <= capacity_of(problem)[kept.heads]
        lit &= kept.need * warm[he] * slack <= heads.heat_max[kept.heads]
        lit &= kept.need * draw[he] * slack <= float(supplies.deliverable[kept.supplies].max())
    used = np.isin(np.arange(len(problem.parts.emitters)), he[lit])
    compatible = compatibility(problem)
    driver = channels.driver[kept.channels]
    chosen &= used[e] & compatible[driver][:, kept.supplies].any(axis=1)
    most = np.zeros(len(problem.parts.emitters), dtype=np.int64)
    np.maximum.at(most, he[lit], capacity_of(problem)[kept.heads][lit])
    chosen &= channels.count[kept.channels] <= most[e]
    chosen &= channels.apparent[kept.channels] <= supplies.deliverable[kept.supplies].max() * (1 + HAIR)
    present = np.isin(np.arange(len(problem.parts.drivers)), driver[chosen])
    fed &= compatible[present][:, kept.supplies].any(axis=0)
    return _restrict(kept, chosen, lit, fed)


def compatibility(problem: Problem) -> np.ndarray:
    """Return which driver (rows) may hang on which supply (columns), by kind and input window."""
    supplies = problem.supplies
    drivers = problem.parts.drivers
    mains = supplies.battery == MAINS
    ac = np.array([d.input == "ac" for d in drivers], dtype=bool)[:, None]
    low = np.array([d.input_min for d in drivers], dtype=np.float64)[:, None]
    high = np.array([d.input_max for d in drivers], dtype=np.float64)[:, None]
    return np.asarray(
        (ac == mains[None, :])
        & (low <= supplies.floor[None, :] * (1 + 1e-12))
        & (high >= supplies.highest[None, :] * (1 - 1e-12))
    )


def earthed_supplies(problem: Problem) -> np.ndarray:
    """Return which supplies may feed a head with metal: batteries, and mains with a protective earth."""
    return np.asarray((problem.supplies.battery != MAINS) | (problem.supplies.cores >= 3))


def least_load(problem: Problem, kept: Kept) -> float:
    """Return the least VA that any build left can draw."""
    e = problem.channels.emitter[kept.channels]
    draw = _by_emitter(problem, e, problem.channels.apparent[kept.channels] / np.maximum(kept.flux, 1e-300))
    loads = kept.need * draw[problem.heads.emitter[kept.heads]]
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
    return _restrict(kept, chosen, np.asarray(fits.any(axis=1)), np.asarray(fits.any(axis=0)))


MANY = 200_000
"""Pairs of channel and head above which supplies are bounded all together, not by the drivers they feed."""


def _groups(problem: Problem, kept: Kept) -> list[tuple[np.ndarray, Ints]]:
    """Return (channels that can be fed, supplies) for each group of kept supplies that feed the same drivers."""
    channels = problem.channels
    if len(kept.channels) * len(kept.heads) > MANY:
        return [(np.ones(len(kept.channels), dtype=bool), np.arange(len(kept.supplies)))]
    feeds = compatibility(problem)[:, kept.supplies]
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
    e, he = problem.channels.emitter[kept.channels], problem.heads.emitter[kept.heads]
    each = _by_emitter(problem, e, problem.channels.count[kept.channels] / np.maximum(kept.flux, 1e-300))
    return ceil_of(kept.need * each[he] * (1 - HAIR))


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
    capacity = capacity_of(problem)[kept.heads]
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
    e = problem.channels.emitter[kept.channels]
    warm = _by_emitter(problem, e, problem.channels.heat[kept.channels] / np.maximum(kept.flux, 1e-300))
    heat = kept.need * warm[problem.heads.emitter[kept.heads]]
    board = np.maximum(kept.board, boards(problem, kept.heads, heat))
    coldest = _by_emitter(problem, problem.heads.emitter[kept.heads], board)
    coldest = np.where(np.isfinite(coldest), coldest, problem.scenario.power.ambient)
    return replace(
        kept,
        board=board,
        need=need_of(problem, kept.heads, board),
        flux=flux_of(problem, kept.channels, coldest),
    )


def boards(problem: Problem, heads: Ints, heat: Floats) -> Floats:
    """Return the board temperature of heads at an index for the heat given, °C (a lower bound by 1e-9 K)."""
    ambient = problem.scenario.power.ambient
    panels = [problem.parts.panels[i] for i in problem.heads.panel[heads]]
    measured = np.array([p.thermal_resistance or 0.0 for p in panels], dtype=np.float64)
    limited = np.minimum(heat * (1 - HAIR), problem.heads.heat_max[heads])
    calculated = board_temperature(
        limited,
        ambient,
        np.array([p.width for p in panels]),
        np.array([p.height for p in panels]),
        np.array([p.faces for p in panels]),
        np.array([p.emissivity for p in panels]),
    )
    assert float(np.max(calculated, initial=0.0)) <= ambient + HOTTEST
    known = np.where(measured > 0.0, ambient + limited * measured, calculated)
    return np.asarray(np.maximum(known - 1e-9, ambient))


def heat_at(problem: Problem, head: int, board: float) -> float:
    """Return the heat, W, at which the board of a head is at `board` °C."""
    panel = problem.parts.panels[problem.heads.panel[head]]
    ambient = problem.scenario.power.ambient
    if panel.thermal_resistance is not None:
        return float((board - ambient) / panel.thermal_resistance)
    return float(heat_shed(board, ambient, panel.width, panel.height, panel.faces, panel.emissivity))
