"""What a build comes to over the tolerances of its parts: at both ends, and in many made lights."""

from dataclasses import dataclass

import numpy as np

from optimise.model.build import Build
from optimise.model.choice import TOLERANCE, Choice, Evaluation, Margin
from optimise.model.exact import build_of, evaluate
from optimise.model.lots import left_on
from optimise.model.stacks import layers_of
from optimise.parts import Catalogue, Part
from optimise.parts.tolerance import bad_end, good_end, tolerances_of
from optimise.physics.arrays import Array
from optimise.scenario import Scenario

DRAWS = 1000
"""Made lights that are drawn unless another number is asked for."""

MOST_DRAWS = 100_000
"""Made lights that may be asked for: more would take memory and show no more."""

START = 1
"""Number from which the draws start unless another is asked for: the same number, the same lights."""


@dataclass(frozen=True)
class Ends:
    """One limit that the tolerances move: at the bad end of all of them, at the good end, and between."""

    worst: Margin
    best: Margin
    share: float | None
    """Share of the made lights that keep it, or None where none were drawn."""


@dataclass(frozen=True)
class Tolerances:
    """A choice over the tolerances of its parts."""

    nominal: Evaluation
    """With every figure as stated."""
    worst: Evaluation
    """With every figure at its bad end."""
    best: Evaluation
    """With every figure at its good end."""
    stated: tuple[tuple[str, str, float], ...]
    """The part's code, the figure and its tolerance, of the parts chosen."""
    unstated: tuple[tuple[str, str], ...]
    """The part's code and the figure that has no tolerance stated, of the parts chosen."""
    ends: tuple[Ends | None, ...]
    """In the order of the margins; None for a limit that no tolerance moves."""
    draws: int
    start: int
    share: float | None
    """Share of the made lights that keep every limit, or None where none were drawn."""


def over_tolerances(
    choice: Choice, catalogue: Catalogue, scenario: Scenario, draws: int = DRAWS, start: int = START
) -> Tolerances | None:
    """Return what a choice comes to over the tolerances of its parts; `catalogue` has every figure as stated.

    None for a light of two kinds of emitter: their colour moves one way with the one and back with the other, so that
    it has no bad end.

    draws: how many made lights are drawn (0: none); start: the number from which they are drawn.
    Each figure of a part is drawn once a light, evenly within its tolerance: all pieces of a part come from one
    lot, and of a tolerance nothing but the ends is known. Figures without a tolerance are exact.
    Raises KeyError where a code is not in the catalogue.
    """
    build = build_of(choice, catalogue)
    if len(build.kinds) > 1:
        return None
    figures = [
        (part.part, figure, share) for part in _parts_of(build) for figure, share in sorted(tolerances_of(part).items())
    ]
    nominal = evaluate(choice, catalogue, scenario)
    stated = tuple((code, figure, share) for code, figure, share in figures if share is not None)
    if any(share > 0.0 for _, _, share in stated):
        worst = evaluate(choice, bad_end(catalogue), scenario)
        best = evaluate(choice, good_end(catalogue), scenario)
    else:
        worst = best = nominal
    left: dict[int, Array] = {}
    if draws and stated:
        left = left_on(build, nominal, scenario, _drawn(stated, draws, start), draws)
    kept = {place: found >= -TOLERANCE for place, found in left.items()}
    whole = np.full(draws, all(m.holds for place, m in enumerate(nominal.margins) if place not in kept), dtype=bool)
    for found in kept.values():
        whole &= found
    moved = [
        None
        if (bad.required, bad.achieved) == (good.required, good.achieved)
        else Ends(bad, good, float(np.mean(kept[place])) if kept else None)
        for place, (bad, good) in enumerate(zip(worst.margins, best.margins, strict=True))
    ]
    return Tolerances(
        nominal=nominal,
        worst=worst,
        best=best,
        stated=stated,
        unstated=tuple((code, figure) for code, figure, share in figures if share is None),
        ends=tuple(moved),
        draws=draws,
        start=start,
        share=float(np.mean(whole)) if kept else None,
    )


def _parts_of(build: Build) -> list[Part]:
    """Return every part of a build once, by code."""
    single = (build.emitter, build.panel, *layers_of(build.diffuser), build.battery, build.cable, build.fuse)
    parts: list[Part | None] = [*single, build.connector, build.mount, *build.drivers]
    return [part for _, part in sorted({part.part: part for part in parts if part is not None}.items())]


def _drawn(stated: tuple[tuple[str, str, float], ...], draws: int, start: int) -> dict[tuple[str, str], Array]:
    """Return by how much each figure of each made light is off: shares, evenly within the tolerances."""
    from numpy.random import PCG64, Generator  # a twentieth of a second, which a build without tolerances need not take

    # The generator is named, since the default one may change between versions of numpy.
    ways = 2.0 * Generator(PCG64(start)).random((len(stated), draws)) - 1.0
    return {(code, figure): share * ways[row] for row, (code, figure, share) in enumerate(stated)}
