"""A kit as it is bought at the shops: what its searches share, the prices they begin with, first guesses."""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations
from typing import Any

from optimise.columns.dearer import Together
from optimise.model.choice import Choice
from optimise.model.kit import KitEvaluation, evaluate_kit, sharing
from optimise.model.kit_bounds import KitLightState, KitMemory, Lines, together_of
from optimise.model.kit_goods import KitGoods
from optimise.model.kit_prices import Bounds, at_least, for_bounds, of_suppliers
from optimise.model.kit_program import Terms
from optimise.model.market import build_market, repriced
from optimise.model.weights import limits_of
from optimise.parts import Catalogue, Supplier
from optimise.parts.buying import OWN
from optimise.scenario import KitLight, Scenario
from optimise.scenario.terms import let_in

FEW = 40
"""Sets of suppliers from which a first guess is made."""

ROUNDS = 4
"""Rounds in which owned parts are made to count at the shop's price."""


@dataclass
class KitHouse(KitMemory):
    """A kit, and what its searches share."""

    first_stage: int = 1
    """Goods at their prices: those of a shop that delivers free count for too much of a kit to be left out first."""
    few: int = 0
    floors: dict[tuple[str, Any], float] = field(default_factory=dict)
    whole: bool = True

    def __post_init__(self) -> None:
        """Build what does not depend on the shops."""
        caps = limits_of(self.scenario)
        self.offers = let_in(self.catalogue.offers, self.scenario)
        self.power_counts = self.objective == "power" or math.isfinite(caps["power"]) or any(sharing(self.scenario))
        self.credited: frozenset[str] = frozenset()
        prices = at_least(self.catalogue, self.offers, self.scenario, self.credited)
        pairs = zip(prices.catalogues, self.scenario.kit, strict=True)
        self.markets = [build_market(mine, self.job(entry)) for mine, entry in pairs]
        self.problems = [{} for _ in self.markets]

    def choose_credit(self) -> None:
        """Have those parts count at the shop's price of which the lights, each by itself, take more than are owned."""
        best, tried = -math.inf, self.credited
        for _ in range(ROUNDS):
            before, self.credited = self.credited, tried
            first = self.open(self.catalogue, self.scenario, (), ("cost",), None)()
            if not first.bounded(limits_of(self.scenario)):
                return
            if first.least("cost") < best:
                self.credited = before
                return
            best = first.least("cost")
            tried = self.credited | self._overdrawn([light.starts["cost"] for light in first.lights])
            if tried == self.credited:
                return

    def _overdrawn(self, choices: Sequence[Choice]) -> frozenset[str]:
        """Return the owned parts of which these lights take more than there are."""
        kit = evaluate_kit(choices, self.catalogue, self.scenario)
        owned = {line.part for line in kit.bill if line.purchase.offer.supplier == OWN}
        return frozenset(line.part for line in kit.bill if line.part in owned and line.purchase.offer.supplier != OWN)

    def job(self, entry: KitLight) -> Scenario:
        """Return the job of a light at the prices of bounds."""
        return for_bounds(self.scenario, entry, power_counts=self.power_counts)

    def open(
        self, catalogue: Catalogue, scenario: Scenario, orders: tuple[Supplier, ...], order: tuple[str, ...], lines: Any
    ) -> Callable[[], "KitGoods"]:
        """Return what makes searches of a shop."""
        known: list[tuple[list[KitLightState], float]] = []
        offers = let_in(catalogue.offers, scenario)

        def make() -> KitGoods:
            if not known:
                prices = at_least(catalogue, offers, scenario, self.credited)
                together = together_of(offers, scenario)
                known.append((list(self._lights(prices, together, lines)), prices.credit))
            return KitGoods(self, Terms(scenario, offers, orders), catalogue, order, *known[0])

        return make

    def _lights(self, prices: Bounds, together: Together, lines: Lines | None) -> Iterator["KitLightState"]:
        for number, (entry, mine) in enumerate(zip(self.scenario.kit, prices.catalogues, strict=True)):
            job, market = self.job(entry), self.markets[number]
            yield KitLightState(
                number=number,
                entry=entry,
                plain=repriced(market, mine, job),
                market=repriced(market, mine, job, together=together),
                given=None if lines is None else lines[number],
            )

    def evaluate(self, choice: Sequence[Choice], catalogue: Catalogue, scenario: Scenario) -> KitEvaluation:
        """Return all figures of a kit."""
        return evaluate_kit(choice, catalogue, scenario)

    def guesses(self, order: tuple[str, ...]) -> Iterator[tuple[Choice, ...]]:
        """Yield what the lights are best made of, each by itself, from all suppliers, and from few of them."""
        caps = limits_of(self.scenario)
        first = self.open(self.catalogue, self.scenario, (), order, None)()
        if not first.bounded(caps):
            return
        yield from first.starts()
        names = sorted({offer.supplier for rows in self.offers.values() for offer in rows} - {OWN})
        few = [set(some) for number in (1, 2, 3) for some in combinations(names, number)]
        for chosen in few[:FEW]:
            self.seconds_left()
            offers = of_suppliers(self.offers, chosen | {OWN})
            shop = self.open(replace(self.catalogue, offers=offers, suppliers=()), self.scenario, (), order, None)()
            found = shop.quickly(caps)
            if found is not None:
                yield found
