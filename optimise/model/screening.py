"""Dropping columns of one kind of emitter that cannot be part of a best build."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from optimise.model.bounds import COARSE, FINE, Grain, bounded
from optimise.model.dominance import drop_beaten
from optimise.model.even import even_heads
from optimise.model.kept import Kept, least_load, least_pieces, per_lumen, warm_up, warmed
from optimise.model.light import HAIR, hardest, most_of
from optimise.model.problem import Problem, with_sharp_heads
from optimise.model.weights import SCALES, capped, weigh, weigh_all


def sifted(problem: Problem, kept: Kept, caps: Mapping[str, float], objective: str) -> tuple[Problem, Kept]:
    """Return the columns left within `caps` by coarse bounds, on the objective first: most emitters are done with.

    The light of what is left is exact, and its boards are as warm as they must be.
    """
    order = [objective, *(scale for scale in SCALES if scale != objective)]
    kept = _bounded(problem, fits(problem, kept), caps, order, COARSE)
    if kept.possible:
        kept = even_heads(problem, kept)
        problem = with_sharp_heads(problem, kept.heads)
        kept = warm_up(problem, warmed(problem, kept, kept.board))
        kept = _bounded(problem, fits(problem, kept), caps, [*order, "all"], COARSE)
    return problem, kept


def screened(problem: Problem, kept: Kept, caps: Mapping[str, float], tight: Sequence[str]) -> tuple[Problem, Kept]:
    """Return the columns left within `caps` by coarse bounds, fine ones and dominance; repeat while much goes.

    tight: the scales whose caps are those of a build known; the fine bounds are worth their time on these.
    """
    problem, kept = sifted(problem, kept, caps, tight[0])
    return problem, finely(problem, kept, caps, tight)


def finely(problem: Problem, kept: Kept, caps: Mapping[str, float], tight: Sequence[str]) -> Kept:
    """Return what `screened` leaves of columns that are sifted."""
    while kept.possible:
        before = kept.size
        kept = fits(problem, _bounded(problem, kept, caps, [*tight, "all"], FINE))
        kept = fits(problem, warm_up(problem, drop_beaten(problem, kept)))
        if kept.size > 0.7 * before:
            break
    return kept


def _bounded(problem: Problem, kept: Kept, caps: Mapping[str, float], scales: list[str], grain: Grain) -> Kept:
    """Drop what weighs more than the cap on any of these scales; "all" is all that have a cap together.

    `Kept.low` is told on the first of them.
    """
    for number, scale in enumerate(scales):
        if not kept.possible:
            break
        low = kept.low
        if scale == "all":
            if len(capped(caps)) > 1:
                weighing = weigh_all(problem, caps, least_load(problem, kept))
                kept = bounded(problem, kept, weighing, 1.0, grain)
                # What is over all caps together may be over any one of them.
                kept = replace(kept, low=min(low, caps[scales[0]]))
        elif np.isfinite(caps[scale]):
            weighing = weigh(problem, scale, least_load(problem, kept))
            kept = bounded(problem, kept, weighing, caps[scale], grain)
            kept = kept if number == 0 else replace(kept, low=low)
    return kept


def fits(problem: Problem, kept: Kept) -> Kept:
    """Drop heads that no number of emitters can light, supplies that no driver takes, and their like."""
    channels, heads, supplies, market = problem.channels, problem.heads, problem.supplies, problem.market
    if not kept.possible:
        return kept
    kept = kept.take(channels=kept.flux > 0.0)  # the others are too hot to give any light
    if not kept.possible:
        return kept
    if problem.mix is not None and len(np.unique(problem.kinds[kept.channels])) < 2:
        return kept.take(heads=np.zeros(len(kept.heads), dtype=bool))  # one kind alone is another line
    e, he = channels.emitter[kept.channels], heads.emitter[kept.heads]
    strongest = float(supplies.deliverable[kept.supplies].max())
    slack = 1.0 - HAIR
    lit = least_pieces(problem, kept) <= problem.capacity[kept.heads]
    lit &= kept.need * per_lumen(problem, kept, channels.heat)[he] * slack <= heads.heat_max[kept.heads]
    lit &= kept.need * per_lumen(problem, kept, channels.apparent)[he] * slack <= strongest
    if market.light_is_limited:
        # What is enough on one face may be too much on another.
        enough = market.target / hardest(problem, kept.heads) * problem.other_end[0][he]
        lit &= enough * (1.0 - 1e-8) <= most_of(problem, kept.heads)
    used = np.isin(np.arange(len(problem.parts.emitters)), he[lit])
    dense, bears = problem.density[kept.channels], problem.bears[kept.heads]
    lit &= bears >= dense.min()
    driver = channels.driver[kept.channels]
    chosen = used[e] & market.fed(kept.supplies)[driver]
    most = np.zeros(len(problem.parts.emitters), dtype=np.int64)
    np.maximum.at(most, he[lit], problem.capacity[kept.heads][lit])
    chosen &= channels.count[kept.channels] <= most[e]
    chosen &= channels.apparent[kept.channels] <= strongest * (1 + HAIR)
    chosen &= dense <= bears.max()
    fed = market.feeding(driver[chosen])[kept.supplies]
    return kept.take(channels=chosen, heads=lit, supplies=fed)
