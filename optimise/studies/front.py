"""The front: every build that no other build beats on all the figures traded.

One figure leads and is made least (or greatest); the others are bounded. Every build found cuts the region that is
still open: what is left are the builds that are better than it in one of the bounded figures at least. A region is
closed when it is proven empty, so the front is complete when none is open, and no grid is laid over anything.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from optimise.model.axes import AXES, Axis
from optimise.model.bench import Ask, Bench, Left, asking
from optimise.model.choice import Evaluation
from optimise.model.exact import evaluate
from optimise.model.state import ORDERS, TimeUpError
from optimise.model.weights import SCALES

LEADERS = ("cost", "mass", "power", "illuminance", "runtime", "source_size", "panel_size")
"""Which of the figures traded leads: those that a program makes least first, those of the panel last."""


DEPTH = 3
"""How often what lies between two points is halved before it is gone through from one end."""

STRIDES = {"runtime": 1.5, "illuminance": 1.25}
"""By what factor the next point that bounds a stretch from above is better."""


@dataclass(frozen=True)
class Point:
    """A build on the front, with its figures on the axes traded."""

    found: Evaluation
    values: tuple[float, ...]


@dataclass(frozen=True)
class Front:
    """The points by the first axis, best first."""

    axes: tuple[Axis, ...]
    points: tuple[Point, ...]
    complete: bool
    """Whether it is proven that there is no other point; not where the time was up."""
    solves: int


def front(bench: Bench, axes: Sequence[str], found: Callable[[int], None] = lambda number: None) -> Front:
    """Return the front of a bench's scenario over two axes or more.

    found: told the number of points after each. Two values count as equal within what `axes.Axis.next` leaves.
    """
    lead, *bounded = sorted(axes, key=LEADERS.index)
    walk = _Walk(bench, lead, bounded, found)
    complete = True
    try:
        if len(bounded) == 1:
            walk.between_ends()
        else:
            walk.through_regions()
    except (TimeUpError, KeyboardInterrupt):
        complete = False
    return _front(bench, axes, walk.builds, complete)


@dataclass(frozen=True)
class _Region:
    """Builds within these bounds; the loss of the lead is at least `floor`, and exactly that where `best` is known."""

    bounds: tuple[float, ...]
    floor: float
    best: Evaluation | None = None


class _Walk:
    """Finding the points: a leading figure, and those that are bounded."""

    def __init__(self, bench: Bench, lead: str, bounded: Sequence[str], found: Callable[[int], None]) -> None:
        self.bench, self.lead, self.bounded, self.found = bench, lead, bounded, found
        self.rules = [AXES[axis] for axis in bounded]
        self.order = _order(lead, bounded, bench)
        self.builds: list[Evaluation] = []

    def take(self, build: Evaluation) -> None:
        """Keep a build as a point."""
        self.builds.append(build)
        self.found(len(self.builds))

    def between_ends(self) -> None:
        """Two axes: the best by each, then what lies between, bounded from both sides."""
        bench, axis, rule = self.bench, self.bounded[0], self.rules[0]
        first = bench.extreme(self.lead, (), self.order)
        while first is not None:
            self.take(first)
            value = bench.value(axis, first)
            if rule.ends_at(value):
                return
            if self.lead in SCALES:
                self._beyond(first)
                return
            # What no program makes least is gone through step by step.
            first = bench.extreme(self.lead, asking((), axis, rule.next(value)), self.order)

    def _beyond(self, first: Evaluation) -> None:
        """Find all points after the first: in strides, where the far end is dear to find, else from the far end back.

        The brightest and the longest-running builds of all lie at the edge of what the limits allow, where proofs
        take longest; in strides, what is near is complete before that.
        """
        bench, axis, rule = self.bench, self.bounded[0], self.rules[0]
        while axis in STRIDES:
            value = bench.value(axis, first)
            stride = min(value * STRIDES[axis], bench.enough.get(axis, math.inf))
            ahead = bench.best(self.order, asking((), axis, stride)) if stride > value else None
            if ahead is None:
                break
            self.take(ahead)
            self._between(first, ahead, None, 1)
            first = ahead
            if rule.ends_at(bench.value(axis, first)):
                return
        last = bench.extreme(axis, asking((), axis, rule.next(bench.value(axis, first))), self.order)
        if last is not None:
            self.take(last)
            self._between(first, last, None, 1 if axis in STRIDES else DEPTH)

    def _between(self, first: Evaluation, last: Evaluation, left: Left | None, depth: int) -> None:
        """Find the points that lead before `last` and are better than `first` by the axis that is bounded."""
        bench, axis, rule = self.bench, self.bounded[0], self.rules[0]
        while True:
            low, high = bench.value(axis, first), bench.value(axis, last)
            most = AXES[self.lead].next(bench.value(self.lead, last))
            if most < bench.value(self.lead, first) or not rule.better(high, rule.next(low)):
                return
            ask = asking(asking((), self.lead, most), axis, rule.next(low))
            if depth >= 0:
                left = bench.left(ask, left)
            if not left:
                return
            if depth > 0 and math.isfinite(high):
                middle = bench.best(self.order, asking(ask, axis, (low + high) / 2), left=left)
                depth -= 1
                if middle is not None:
                    self.take(middle)
                    self._between(first, middle, left, depth)
                    first = middle
                continue
            depth = -1
            again = bench.best(self.order, ask, bench.value(self.lead, first), left)
            if again is None:
                return
            self.take(again)
            first = again

    def through_regions(self) -> None:
        """Three axes and more: of all regions that are open, always that which may lead first.

        A build found is a point only when no open region may lead before it: then what it beats can be cut out of
        all of them.
        """
        open_ = [_Region(tuple(rule.worst for rule in self.rules), -math.inf)]
        while open_:
            region = min(open_, key=lambda region: (region.floor, region.best is None, region.bounds))
            open_.remove(region)
            if region.best is not None:
                self.take(region.best)
                open_ = self._cut([*open_, region], self._values(region.best))
                continue
            ask, floor = _ask(self.bounded, region.bounds), region.floor if self.lead in SCALES else -math.inf
            best = self.bench.extreme(self.lead, ask, self.order, floor)
            if best is None:
                open_ = [other for other in open_ if not _inside(self.rules, other.bounds, region.bounds)]
            else:
                loss = AXES[self.lead].loss(self.bench.value(self.lead, best))
                open_.append(_Region(region.bounds, max(loss, region.floor), best))

    def _values(self, build: Evaluation) -> tuple[float, ...]:
        return tuple(self.bench.value(axis, build) for axis in self.bounded)

    def _cut(self, open_: Sequence[_Region], values: Sequence[float]) -> list[_Region]:
        """Return the regions with the part that is no better than `values` cut out of them."""
        rules = self.rules
        cut: list[_Region] = []
        for region in open_:
            if not _inside(rules, values, region.bounds):
                cut.append(region)
                continue
            for place, (rule, value) in enumerate(zip(rules, values, strict=True)):
                if rule.ends_at(value):
                    continue
                bounds = (*region.bounds[:place], rule.next(value), *region.bounds[place + 1 :])
                known = region.best is not None and _inside(rules, self._values(region.best), bounds)
                cut.append(_Region(bounds, region.floor, region.best if known else None))
        kept: list[_Region] = []
        for place, region in enumerate(cut):
            others = [*kept, *cut[place + 1 :]]
            if not any(_inside(rules, region.bounds, other.bounds) for other in others):
                kept.append(region)
        return kept


def _order(lead: str, bounded: Sequence[str], bench: Bench) -> tuple[str, ...]:
    """Return the scales to make least after the lead: those traded first, so that no point is beaten on them."""
    usual = ORDERS[lead] if lead in ORDERS else ORDERS[bench.scenario.search.objective]
    return tuple(dict.fromkeys([*([lead] if lead in SCALES else []), *(a for a in bounded if a in SCALES), *usual]))


def _ask(bounded: Sequence[str], bounds: Sequence[float]) -> Ask:
    return tuple((axis, bound) for axis, bound in zip(bounded, bounds, strict=True) if bound != AXES[axis].worst)


def _inside(rules: Sequence[Axis], inner: Sequence[float], outer: Sequence[float]) -> bool:
    """Whether all that is within the inner bounds is within the outer ones."""
    return all(not rule.better(o, i) for rule, i, o in zip(rules, inner, outer, strict=True))


def _front(bench: Bench, axes: Sequence[str], builds: Sequence[Evaluation], complete: bool) -> Front:
    rules = tuple(AXES[axis] for axis in axes)
    known: dict[tuple[float, ...], Evaluation] = {}
    for found in builds:
        known.setdefault(tuple(bench.value(axis, found) for axis in axes), found)
    table = np.array([[rule.loss(v) for rule, v in zip(rules, values, strict=True)] for values in known])
    kept = [
        values
        for values, row in zip(known, table, strict=True)
        if not np.any(np.all(table <= row, axis=1) & np.any(table < row, axis=1))
    ]
    kept.sort(key=lambda values: tuple(rule.loss(v) for rule, v in zip(rules, values, strict=True)))
    points = tuple(Point(evaluate(known[v].choice, bench.catalogue, bench.scenario), v) for v in kept)
    return Front(rules, points, complete, bench.solves)


def scaled(whole: Front) -> np.ndarray:
    """Return the points with each axis from 0 (best) to 1 (worst), shape (points, axes).

    An infinite runtime counts as the longest finite one.
    """
    table = np.array([[axis.loss(v) for axis, v in zip(whole.axes, p.values, strict=True)] for p in whole.points])
    finite = np.where(np.isfinite(table), table, np.nan)
    low, high = np.nanmin(finite, axis=0), np.nanmax(finite, axis=0)
    return np.asarray((np.clip(table, low, high) - low) / np.where(high > low, high - low, 1.0))


def knee(whole: Front) -> int | None:
    """Return the point farthest below the straight line between the ends of a front of two axes.

    Both axes count from their best to their worst value on the front. None for fewer than three points, for more
    axes, and where no point lies below the line.
    """
    if len(whole.axes) != 2 or len(whole.points) < 3:
        return None
    table = scaled(whole)
    (x0, y0), (x1, y1) = table[0], table[-1]
    below = (x1 - x0) * (y0 - table[:, 1]) - (x0 - table[:, 0]) * (y1 - y0)
    place = int(np.argmax(below))
    return place if below[place] > 1e-9 else None


def thinned(whole: Front, number: int) -> Front:
    """Return the front with `number` of its points, spread evenly: the ends, then always the one farthest from all.

    number: at least the number of axes.
    """
    table = scaled(whole)
    if len(table) <= number:
        return whole
    kept = list(dict.fromkeys(np.argmin(table, axis=0).tolist()))
    while len(kept) < number:
        apart = np.sqrt(((table[:, None, :] - table[None, kept, :]) ** 2).sum(axis=2)).min(axis=1)
        kept.append(int(np.argmax(apart)))
    return Front(whole.axes, tuple(whole.points[i] for i in sorted(kept)), whole.complete, whole.solves)
