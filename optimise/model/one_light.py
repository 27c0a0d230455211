"""A light as it is bought at the shops: its searches at the prices of one of them."""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from optimise.model import goods
from optimise.model.choice import Choice, Evaluation
from optimise.model.exact import evaluate
from optimise.model.market import Market, repriced
from optimise.model.pairs import least_by_line
from optimise.model.reserve import line_in, lines_within
from optimise.model.state import Line, State, keeps
from optimise.model.weights import limits_of
from optimise.parts import Catalogue, Supplier
from optimise.scenario import Scenario

FEW = 400
"""Columns of a light up to which a program with all orders is quicker than shops one by one."""

LEADS = 50_000
"""Sets of cable, fuse and connector up to which that may be so: where orders count, few of them give way to others."""


@dataclass
class OneLight:
    """A light, searched by `goods`."""

    search: State
    first_stage: int = 0
    few: int = field(default_factory=lambda: FEW)
    _most: float | None = None
    """The most that goods may cost in the shop that was opened first, which has all builds in it."""
    _last: tuple[Any, Market] | None = None
    """The market that was built last, and the terms of its shop, which is often opened twice."""

    def __post_init__(self) -> None:
        """Keep columns by emitter for all shops."""
        market = self.search.market
        self.catalogue, self.scenario, self.offers = market.catalogue, market.scenario, market.parts.offers
        self.problems = {} if self.search.problems is None else self.search.problems
        self.floors = {} if self.search.floors is None else self.search.floors
        self.whole = self.search.admits is None and self.search.must is None
        if len(market.parts.cables) * len(market.parts.fuses) * len(market.parts.connectors) > LEADS:
            self.few = 0

    def open(
        self, catalogue: Catalogue, scenario: Scenario, orders: tuple[Supplier, ...], order: tuple[str, ...], lines: Any
    ) -> Callable[[], "OneLightGoods"]:
        """Return what makes searches of a shop."""
        search, most = self.search, limits_of(scenario)["cost"]
        self._most = most if self._most is None else self._most
        # What is found out by mass or power where goods may cost less holds for no others.
        of_all = order[0] == "cost" or most >= self._most
        known: list[Market] = []

        def make() -> OneLightGoods:
            if not known:
                known.append(self._market(catalogue, scenario, orders))
            given = search.given if lines is None else lines
            floors = self.floors if of_all else dict(self.floors)
            start = None if not orders or search.best is None else search.best
            if start is not None and not self._on_own_terms(catalogue, scenario):
                start = evaluate(start.choice, catalogue, scenario)
            return OneLightGoods(
                State(
                    known[0],
                    search.objective,
                    search.threads,
                    search.deadline,
                    search.progress,
                    search.solver,
                    order=order,
                    problems=self.problems,
                    floors=floors if known[0].parts is search.market.parts else None,
                    reserve=search.reserve,
                    admits=search.admits,
                    must=search.must,
                    stays=search.stays,
                    given=None if given is None else [line_in(known[0], line, search.must) for line in given],
                ),
                start,
            )

        return make

    def _market(self, catalogue: Catalogue, scenario: Scenario, orders: tuple[Supplier, ...]) -> Market:
        """Return the market of a shop: the search's own one where everybody is in."""
        own, terms = self.search.market, (catalogue.offers, scenario.limits, orders)
        if self._last is None or self._last[0] != terms:
            if not orders and self._offers_all(catalogue):
                market = replace(own, catalogue=catalogue, scenario=scenario)
            else:
                market = repriced(own, catalogue, scenario, orders)
            self._last = terms, market
        return self._last[1]

    def _offers_all(self, catalogue: Catalogue) -> bool:
        """Whether a shop offers all that the search's own market does, at its prices."""
        return all(catalogue.offers.get(part) == rows for part, rows in self.search.market.parts.offers.items())

    def _on_own_terms(self, catalogue: Catalogue, scenario: Scenario) -> bool:
        """Whether what a build costs in a shop is what it costs anywhere."""
        known = {supplier.supplier: supplier for supplier in self.catalogue.suppliers}
        same = all(each == known.get(each.supplier, each) for each in catalogue.suppliers)
        return same and scenario.limits == self.scenario.limits and self._offers_all(catalogue)

    def evaluate(self, choice: Choice, catalogue: Catalogue, scenario: Scenario) -> Evaluation:
        """Return all figures of a choice."""
        return evaluate(choice, catalogue, scenario)

    def guesses(self, order: tuple[str, ...]) -> tuple[Choice, ...]:
        """Return no choices: the first search at the prices of all shops finds a good one."""
        return ()


@dataclass
class OneLightGoods:
    """A search for a light by its goods."""

    state: State
    start: Evaluation | None = None
    """A build, as it is bought in this shop, that may well be the best."""

    @property
    def best(self) -> Evaluation | None:
        """The best build found."""
        return self.state.best

    @property
    def low(self) -> float:
        """What the first figure comes to at least."""
        return self.state.low or self.promise(limits_of(self.state.market.scenario))

    @property
    def effort(self) -> tuple[int, int, int]:
        """How many solves, columns, and columns after screening."""
        return self.state.rounds, self.state.columns, sum(line.kept.size for line in self.state.lines)

    def promise(self, caps: Mapping[str, float]) -> float:
        """Return what the first figure comes to at least within caps, by the parts alone."""
        least = least_by_line(self.state.market, caps, self.state.order[0])
        return float(least.min(initial=math.inf))

    def run(self, caps: Mapping[str, float]) -> None:
        """Leave the best build within caps in `best`."""
        if self.start is not None:
            self.state.best = self.start if self.start.passes and keeps(self.start, caps) else None
        goods.run(self.state, caps)

    def likely(self, caps: Mapping[str, float]) -> Evaluation | None:
        """Return a good build within caps."""
        return goods.find_likely(self.state, caps)

    def within(self, caps: Mapping[str, float]) -> tuple[Line, ...]:
        """Return all columns that builds within caps can have."""
        return lines_within(self.state, caps)
