"""What is left of a problem while it is screened, and the least that it needs of light, load and pieces."""

from dataclasses import dataclass, replace

import numpy as np

from optimise.columns.expand import Floats, Ints, ceil_of
from optimise.model.light import (
    HAIR,
    boards,
    ceiling_of,
    crowded,
    dimmest_of,
    flux_of,
    least_share,
    most_of,
    need_of,
)
from optimise.model.problem import Problem


@dataclass(frozen=True)
class Kept:
    """What is left of a problem, as indices into its columns, with what each head asks."""

    channels: Ints
    heads: Ints
    supplies: Ints
    board: Floats
    """Lowest board temperature that each kept head can have, °C."""
    top: Floats
    """Highest board temperature that each kept head can have in a best build, °C."""
    need: Floats
    """Lumens (25 °C, see `flux`) that each kept head needs on its coldest board."""
    flux: Floats
    """Lumens of each kept channel at the coldest board of its emitter: never less than the true ones."""
    fewest: Ints
    """Least number of emitters of each kept head, whatever its light (see `even` and `must`)."""
    forced: Ints | None = None
    """Channels of which a build must have some; left out: any will do."""
    forced_least: int = 1
    """How many of those it must have at least."""
    low: float = np.inf
    """What builds within all limits that have been dropped come to at least, on the scale that is bounded first."""

    @property
    def possible(self) -> bool:
        """Whether any build can be left."""
        return bool(len(self.channels) and len(self.heads) and len(self.supplies) and self.must.any())

    @property
    def must(self) -> np.ndarray:
        """The mask of the kept channels of which a build must have some: all of them where any will do."""
        if self.forced is None:
            return np.ones(len(self.channels), dtype=bool)
        return np.isin(self.channels, self.forced)

    @property
    def size(self) -> int:
        """Number of columns."""
        return len(self.channels) + len(self.heads) + len(self.supplies)

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
            top=self.top[heads],
            need=self.need[heads],
            fewest=self.fewest[heads],
            supplies=self.supplies[supplies],
            forced=self.forced,
            forced_least=self.forced_least,
            low=self.low,
        )

    def only(self, channels: Ints, heads: Ints) -> "Kept":
        """Return what is among these channels and heads, given as indices into the problem."""
        return self.take(channels=np.isin(self.channels, channels), heads=np.isin(self.heads, heads))


def everything(problem: Problem, supplies: Ints | None = None) -> Kept:
    """Return all columns that can be bought (of the supplies those given), with needs at ambient temperature."""
    heads = np.flatnonzero(np.isfinite(problem.head_cost))
    channels = np.flatnonzero(np.isfinite(problem.channel_cost))
    board = np.full(len(heads), problem.scenario.power.ambient)
    coldest = np.full(len(problem.parts.emitters), problem.scenario.power.ambient)
    return Kept(
        channels=channels,
        heads=heads,
        supplies=np.arange(len(problem.supplies)) if supplies is None else supplies,
        board=board,
        top=np.maximum(problem.heads.limit[heads], board),
        need=need_of(problem, heads, board),
        flux=flux_of(problem, channels, coldest),
        fewest=np.ones(len(heads), dtype=np.int64),
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


def least_load(problem: Problem, kept: Kept) -> float:
    """Return the least VA that any build left can draw."""
    loads = kept.need * per_lumen(problem, kept, problem.channels.apparent)[problem.heads.emitter[kept.heads]]
    return float(loads.min()) if len(loads) else 0.0


def least_pieces(problem: Problem, kept: Kept) -> Ints:
    """Return the least number of emitters that each kept head needs."""
    each = per_lumen(problem, kept, problem.channels.count)[problem.heads.emitter[kept.heads]]
    return np.maximum(ceil_of(kept.need * each * (1 - HAIR)), kept.fewest)


def by_bearing(problem: Problem, kept: Kept) -> list[Ints]:
    """Return the places of kept heads whose boards bear the heat under one emitter of the same channels."""
    dense = np.sort(problem.density[kept.channels])
    number = np.searchsorted(dense, problem.bears[kept.heads], side="right")
    return [np.flatnonzero(number == each) for each in np.unique(number)]


def warm_up(problem: Problem, kept: Kept) -> Kept:
    """Raise the lowest board temperature of each head to what its least heat makes of it."""
    if not kept.possible:
        return kept
    heat = kept.need * per_lumen(problem, kept, problem.channels.heat)[problem.heads.emitter[kept.heads]]
    board = np.maximum(kept.board, boards(problem, kept.heads, heat))
    return warmed(problem, kept, board)


def warmed(problem: Problem, kept: Kept, board: Floats) -> Kept:
    """Return what is left with the lowest board temperatures given, and needs and lumens that go with them."""
    coldest = _by_emitter(problem, problem.heads.emitter[kept.heads], board)
    coldest = np.where(np.isfinite(coldest), coldest, problem.scenario.power.ambient)
    return replace(
        kept,
        board=board,
        top=np.maximum(np.minimum(kept.top, _hottest(problem, kept)), board),
        need=need_of(problem, kept.heads, board),
        flux=flux_of(problem, kept.channels, coldest),
    )


def _hottest(problem: Problem, kept: Kept) -> Floats:
    """Return the board temperature of each head above which its build has a channel too many.

    A best build gets dark without any one of its channels (but see `crowded`), so its light is that of the need on
    the hottest board and less than one channel more. Where there can be too much light, it is no more than that.
    """
    channels, emitters = problem.channels, len(problem.parts.emitters)
    emitter, he = channels.emitter[kept.channels], problem.heads.emitter[kept.heads]
    heat = channels.heat[kept.channels]
    hottest = np.full(emitters, problem.scenario.power.ambient)
    np.maximum.at(hottest, he, kept.top)
    flux = flux_of(problem, kept.channels, hottest)
    ratio, one = np.zeros(emitters), np.zeros(emitters)
    with np.errstate(divide="ignore", over="ignore", invalid="ignore"):
        np.maximum.at(ratio, emitter, np.where(flux > 0.0, heat / flux, np.inf))
        need = need_of(problem, kept.heads, kept.top) / least_share(problem, kept.heads)
        np.maximum.at(one, emitter, heat)
        # Without any heat a need that may be endless is still none.
        most = np.where(ratio[he] > 0.0, need * ratio[he] * (1 + 1e-6), 0.0) + one[he]
        # A board without a diffuser may need more emitters than its light does, to be even.
        most = np.where(crowded(problem, kept.heads), np.inf, most)
        if problem.market.light_is_limited:
            dimmest, bright = dimmest_of(problem, kept.channels, hottest), np.zeros(emitters)
            np.maximum.at(bright, emitter, np.where(dimmest > 0.0, heat / dimmest, np.inf))
            ceiling = ceiling_of(problem, kept.heads, most_of(problem, kept.heads), kept.top)
            most = np.minimum(most, np.where(bright[he] > 0.0, ceiling * bright[he] * (1 + 1e-6), 0.0))
    return boards(problem, kept.heads, np.minimum(most, problem.heads.heat_max[kept.heads])) + 1e-6
