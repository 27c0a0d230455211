"""A catalogue and a scenario whose prices move."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from optimise.model.choice import Choice, Evaluation
from optimise.model.exact import evaluate
from optimise.model.floors import Floors, known_in
from optimise.model.heuristic import value_of
from optimise.model.market import Market, build_market, repriced
from optimise.model.must import Must
from optimise.model.problem import Problem
from optimise.model.reserve import Reserve, lines_within
from optimise.model.search import find_any, run
from optimise.model.state import ORDERS, Line, Progress, State, hair, preferred, step
from optimise.model.weights import limits_of
from optimise.parts import Catalogue, Offer
from optimise.parts.moved import moved
from optimise.scenario import Scenario
from optimise.scenario.terms import let_in

LIKELY = 12
"""How many of the builds seen are looked at where a search begins at other prices."""


@dataclass
class Till:
    """A catalogue and a scenario whose prices move: columns are built once. Raises `TimeUpError` past `deadline`."""

    catalogue: Catalogue
    scenario: Scenario
    deadline: float | None = None
    threads: int = 1
    progress: Progress = lambda text: None
    _problems: dict[int, Problem] = field(default_factory=dict)
    _market: Market | None = None
    _floors: dict[tuple[str, Any], float] = field(default_factory=dict)
    _reserve: Reserve = field(default_factory=Reserve)
    _seen: dict[str, Evaluation] = field(default_factory=dict)

    @property
    def market(self) -> Market:
        """What does not depend on prices, built when it is first asked for."""
        if self._market is None:
            self._market = build_market(self.catalogue, self.scenario)
        return self._market

    def serves(self, catalogue: Catalogue, scenario: Scenario) -> bool:
        """Whether what is built here holds all of another catalogue: prices alone differ, or less is sold."""
        mine = self.catalogue
        same = replace(catalogue, offers=mine.offers, suppliers=mine.suppliers, fingerprints=mine.fingerprints)
        if scenario != self.scenario or same != mine:
            return False
        changes = moved(self.market.parts.offers, let_in(catalogue.offers, scenario))
        return not any(change.more for change in changes)

    def at(self, catalogue: Catalogue) -> "Till":
        """Return a till of the same parts at the prices of another catalogue; what was built for one serves both."""
        market = self._at(catalogue)
        floors = self._floors_in(market) if catalogue.suppliers == self.catalogue.suppliers else {}
        return replace(self, catalogue=catalogue, _market=market, _floors=floors)

    def know(self, floors: Floors) -> None:
        """Take what builds come to at least, as it was found out at prices that were nowhere higher."""
        for what, low in known_in(floors, self.market, self.scenario.search.objective).items():
            self._floors[what] = max(low, self._floors.get(what, low))

    def best(self, offers: Mapping[str, Sequence[Offer]] | None = None, start: Choice | None = None) -> State:
        """Return a search that is done, for the best build at these offers (left out: the catalogue's).

        start: a choice to begin with.
        """
        search = self.search(None if start is None else self.paid(start, offers), offers)
        search.seconds_left()
        run(search, limits_of(self.scenario))
        return search

    def better(
        self,
        choice: Choice,
        offers: Mapping[str, Sequence[Offer]],
        must: Must | None = None,
        *,
        dearer: bool = False,
    ) -> Evaluation | None:
        """Return a build that is better than a choice at these offers; None where it is proven that there is none.

        must: what a better build is known to use. dearer: the choice was the best before, and nothing has become easier
        to buy, so that a build which is better now can only be so by its cost, and by what is looked at after that.
        """
        mine = self.paid(choice, offers)
        caps = limits_of(self.scenario)
        if not mine.passes:
            return self._any(offers, caps, must)
        order = self.search().order
        for scale in order:
            value = value_of(mine, scale)
            if not dearer or order.index(scale) >= order.index("cost"):
                found = self._any(offers, {**caps, scale: min(caps[scale], value - step(scale, value))}, must)
                if found is not None:
                    return found
            caps[scale] = min(caps[scale], value + hair(scale, value))
        return None

    def _any(
        self, offers: Mapping[str, Sequence[Offer]], caps: dict[str, float], must: Must | None
    ) -> Evaluation | None:
        search = self.search(None, offers)
        search.any_will_do, search.must = True, must
        search.seconds_left()
        search.given = self._within(caps, must, offers)
        return find_any(search, caps)

    def search(self, start: Evaluation | None = None, offers: Mapping[str, Sequence[Offer]] | None = None) -> State:
        """Return a search that is still to be run; one that begins with a build, if that passes."""
        market = self.market if offers is None else self._at(with_offers(self.catalogue, offers))
        floors = self._floors if offers is None else self._floors_in(market)
        search = State(
            market,
            self.scenario.search.objective,
            self.threads,
            self.deadline,
            self.progress,
            problems=self._problems,
            floors=floors,
            # Where many prices are tried it is worth its time to look up more than is asked for.
            reserve=replace(self._reserve, fills=offers is not None),
            seen=self._note,
        )
        search.best = start if start is not None and start.passes else None
        return search

    def _note(self, found: Evaluation) -> None:
        """Keep the best build seen of each kind of emitter, at the prices it was seen at."""
        kind, order = found.choice.emitter, ORDERS[self.scenario.search.objective]
        if kind not in self._seen or preferred(found, self._seen[kind], order) < 0:
            self._seen[kind] = found

    def likely(self, known: Evaluation) -> Evaluation:
        """Return the best of a build and those seen in other searches, at the prices of here; where they tie, it."""
        order, best = ORDERS[self.scenario.search.objective], known
        seen = sorted(self._seen.values(), key=lambda each: [value_of(each, scale) for scale in order])[:LIKELY]
        for found in (self.paid(each.choice) for each in seen):
            if found.passes and (not best.passes or preferred(found, best, order) < 0):
                best = found
        return best

    def as_good(self, known: Evaluation, must: Must | None) -> tuple[Line, ...]:
        """Return the columns of builds as good as a known one by the figure that is made least first."""
        scale, caps = self.search().order[0], limits_of(self.scenario)
        caps[scale] = min(caps[scale], value_of(known, scale) + hair(scale, value_of(known, scale)))
        return self._within(caps, must)

    def _within(
        self, caps: Mapping[str, float], must: Must | None, offers: Mapping[str, Sequence[Offer]] | None = None
    ) -> tuple[Line, ...]:
        """Return the columns of builds within caps: they are few where the caps are those of a good build."""
        search = self.search(None, offers)
        search.must = must
        return lines_within(search, caps)

    def paid(self, choice: Choice, offers: Mapping[str, Sequence[Offer]] | None = None) -> Evaluation:
        """Return what a choice comes to at these offers."""
        catalogue = self.catalogue if offers is None else with_offers(self.catalogue, offers)
        return evaluate(choice, catalogue, self.scenario)

    def _floors_in(self, market: Market) -> dict[tuple[str, Any], float]:
        """Return what is known of least figures in another market: all that is known here, if nothing is easier there.

        A market holds the offers that the scenario lets in.
        """
        changes = moved(self.market.parts.offers, market.parts.offers)
        return {} if any(change.easier for change in changes) else dict(self._floors)

    def _at(self, catalogue: Catalogue) -> Market:
        offers = let_in(catalogue.offers, self.scenario)
        market = repriced(self.market, replace(catalogue, offers=offers), self.scenario)
        return replace(market, catalogue=catalogue)


def with_offers(catalogue: Catalogue, offers: Mapping[str, Sequence[Offer]]) -> Catalogue:
    """Return a catalogue with other offers."""
    return replace(catalogue, offers={code: tuple(rows) for code, rows in offers.items()})
