"""An earlier choice at new prices: what it costs now, what is best now, and how far each price may move.

What was proven before is put to use: at prices that have nowhere fallen, stock that has nowhere grown and no new offer,
no other build can have become better, so a choice that still costs what it cost is still the best. Where one part alone
has become cheaper, `studies.savings` says what a better build must use of it.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from optimise.model.choice import Choice, Evaluation
from optimise.model.exact import evaluate
from optimise.model.floors import Floors
from optimise.model.heuristic import value_of
from optimise.model.must import KINDS, Must
from optimise.model.search import Ending, Result, proof_of, run
from optimise.model.state import State, TimeUpError, preferred
from optimise.model.weights import limits_of
from optimise.parts import Catalogue, Offer, Part
from optimise.parts.basket import least_extra
from optimise.parts.buying import OWN
from optimise.parts.moved import moved
from optimise.scenario import Scenario
from optimise.scenario.terms import let_in
from optimise.studies.savings import least_number
from optimise.studies.till import Till, with_offers

NO_PRICE = 10**9
"""Cents that no build can pay: an offer at this price is out of the shop."""


@dataclass(frozen=True)
class Span:
    """How far the price of one offer may move, all else as it is, before another build is the better one.

    Prices are of a pack, in cents. None: without an end.
    """

    offer: Offer
    low: int | None
    high: int | None
    below: Evaluation | None
    """The best build at a cent below `low`."""
    above: Evaluation | None
    """The best build at a cent above `high`."""
    elsewhere: tuple[str, ...]
    """Where there is no upper end: who else the part is bought from once this offer is too dear, the build the same."""
    between: bool
    """Whether it is proven at every price between, not at those alone that were looked at: where orders are topped up,
    a window between them is not ruled out."""


FEW_KINDS = 2
"""Kinds of part with easier offers up to which builds that use them are searched, and nothing else."""


def best_now(
    till: Till, earlier: Choice | None, before: Catalogue | None, began: float, floors: Floors | None = None
) -> tuple[Result, bool]:
    """Return the best build at the till's prices, and whether the earlier proof alone answered.

    Where only a few parts have become easier to buy, a build must use one of them to win; where it ties with the
    earlier one, that stays.

    earlier: None where its parts are not all in the catalogue.

    before: the catalogue in which `earlier` was proven best, if it is known and differs in its offers alone; floors:
    what other builds came to at least there.
    """
    objective = till.scenario.search.objective
    best = None if earlier is None else till.paid(earlier)
    musts: list[Must | None] = [None]
    floor = -math.inf
    if earlier is not None and best is not None and before is not None and before.suppliers == till.catalogue.suppliers:
        # An offer that did not hold or came too late may be to be had now at the price that it always had.
        changes = moved(*(let_in(each.offers, till.scenario) for each in (before, till.catalogue)))
        easier = {change.now.part for change in changes if change.easier and change.now is not None}
        if floors is not None and not easier:
            till.know(floors)
        old = evaluate(earlier, before, till.scenario)
        if old.passes and best.passes and preferred(best, old, till.search().order) <= 0:
            musts = _musts(till.catalogue, till.scenario, easier, before.offers, old.cents - best.cents)
            if not musts:
                search = till.search(best)
                return Result("optimal", best, proof_of(search, "optimal", began), till.market, objective), True
        # Without a budget no price lets in a lighter build.
        priced = objective != "cost" and math.isinf(limits_of(till.scenario)["cost"])
        if old.passes and (not easier or (priced and not any(change.more for change in changes))):
            floor = value_of(old, objective)
    for must in musts:
        search, status = _searched(till, best, must, floor)
        if must is None or best is None or search.best is None or preferred(search.best, best, search.order) < 0:
            best = search.best
        if status != "optimal":
            break
    return Result(status, best, proof_of(search, status, began), till.market, objective), False


def _searched(till: Till, start: Evaluation | None, must: Must | None, floor: float) -> tuple[State, Ending]:
    """Return a search that is over, of builds that use what they must, and how it ended.

    floor: what the objective comes to at least.
    """
    search = till.search(start if start is None else till.likely(start))
    search.floor = floor
    search.must, search.stays = must, None if start is None else start.choice
    try:
        if search.best is not None and search.order[0] != "cost":
            search.given = till.as_good(search.best, must)
        run(search, limits_of(till.scenario))
    except (TimeUpError, KeyboardInterrupt):
        return search, "optimal" if search.settled else "stopped" if search.best is None else "feasible"
    return search, "impossible" if search.best is None else "optimal"


def _musts(
    catalogue: Catalogue, scenario: Scenario, easier: set[str], before: Mapping[str, Sequence[Offer]], saved: int
) -> list[Must | None]:
    """Return what builds use that may be better than an earlier one, search by search; None is any build.

    What uses nothing that is easier to buy is no better than it was.

    easier: parts that have become easier to buy than by the offers `before`; saved: what the earlier build costs less
    now, cents.
    """
    some, least = [part for part in catalogue.parts() if part.part in easier], 1
    # A build that was beyond the budget before may be better now by other figures than cost.
    if len(some) == 1 and (scenario.search.objective == "cost" or math.isinf(limits_of(scenario)["cost"])):
        code = some[0].part
        then, now = (let_in({code: offers.get(code, ())}, scenario) for offers in (before, catalogue.offers))
        number = least_number(some[0], scenario, then.get(code, ()), now.get(code, ()), saved)
        if number is None:
            return []
        least = number
    kinds: dict[type[Part], set[str]] = {}
    for part in some:
        kinds.setdefault(type(part), set()).add(part.part)
    if len(kinds) > FEW_KINDS or not set(kinds) <= set(KINDS):
        return [None]
    return [Must(kind, frozenset(codes), least) for kind, codes in kinds.items()]


def spans(till: Till, best: Evaluation) -> Iterator[Span]:
    """Yield for each offer on the bill of the best build how far its price may move. Raises `TimeUpError`."""
    seen: set[Offer] = set()
    for line in best.bill:
        offer = line.purchase.offer
        if offer.supplier != OWN and offer not in seen:
            seen.add(offer)
            till.progress(f"how far the price of {offer.part} may move")
            yield _Ranger(till, best, offer).span()


class _Ranger:
    """The price of one offer, moved up and down."""

    def __init__(self, till: Till, best: Evaluation, offer: Offer) -> None:
        self.till, self.choice, self.offer, self.cents = till, best.choice, offer, best.cents
        self.order = till.search().order
        self.known: dict[int, Evaluation | None] = {}

    def offers(self, price: int) -> dict[str, Sequence[Offer]]:
        offers: dict[str, Sequence[Offer]] = dict(self.till.catalogue.offers)
        rows = list(offers[self.offer.part])
        rows[rows.index(self.offer)] = self.offer.model_copy(update={"price": price})
        offers[self.offer.part] = tuple(rows)
        return offers

    def winner(self, price: int) -> Evaluation | None:
        """Return a build that is better than the choice at a price; None where there is none."""
        if price not in self.known:
            offers = self.offers(price)
            dearer = price >= self.offer.price
            found = (self.till.better(self.choice, offers, each, dearer=dearer) for each in self._musts(price, offers))
            self.known[price] = next((each for each in found if each is not None), None)
        return self.known[price]

    def _musts(self, price: int, offers: dict[str, Sequence[Offer]]) -> list[Must | None]:
        if price >= self.offer.price:
            return [None]
        saved = self.cents - self.till.paid(self.choice, offers).cents
        there = with_offers(self.till.catalogue, offers)
        return _musts(there, self.till.scenario, {self.offer.part}, self.till.catalogue.offers, saved)

    def beats(self, other: Choice, price: int) -> bool:
        """Whether another choice is better than this one at a price."""
        offers = self.offers(price)
        mine, theirs = self.till.paid(self.choice, offers), self.till.paid(other, offers)
        if not (mine.passes and theirs.passes):
            return theirs.passes
        return preferred(theirs, mine, self.order) < 0

    def span(self) -> Span:
        high, above = self._end(NO_PRICE)
        low, below = self._end(0)
        return Span(self.offer, low, high, below, above, self._elsewhere() if high is None else (), self._sure())

    def _elsewhere(self) -> tuple[str, ...]:
        """Return who sells the part of the choice where this offer has no price that can be paid."""
        bill = self.till.paid(self.choice, self.offers(NO_PRICE)).bill
        sellers = {line.purchase.offer.supplier for line in bill if line.part == self.offer.part}
        return () if self.offer.supplier in sellers else tuple(sorted(sellers))

    def _end(self, far: int) -> tuple[int | None, Evaluation | None]:
        """Return the last price towards `far` at which the choice is the best, and the build that wins beyond it."""
        inside, step = self.offer.price, 1 if far > self.offer.price else -1
        if far == inside:
            return None, None
        outside = far
        winner = self.winner(outside)
        if winner is None:
            return None, None
        while outside != inside + step:
            # Where the build that wins there begins to win; its nearest neighbour inside is looked at next.
            outside = self._first(winner.choice, inside, outside, step)
            if outside == inside + step:
                break
            nearer = self.winner(outside - step)
            if nearer is None:
                break
            outside, winner = outside - step, nearer
        # A build that is merely any one within reach is a start that helps by cost; by mass and power it costs time.
        start = winner.choice if self.order[0] == "cost" else self.choice
        found = self.till.best(self.offers(outside), start).best
        return outside - step, found

    def _first(self, other: Choice, inside: int, outside: int, step: int) -> int:
        """Return the price nearest to `inside` from which on another choice wins as far as `outside`: by halving."""
        near, far = inside, outside
        while abs(far - near) > 1:
            middle = (near + far) // 2
            if self.beats(other, middle):
                far = middle
            else:
                near = middle
        return far

    def _sure(self) -> bool:
        """Whether no build can win between the ends: what a build costs is then a line in the price, or bends down."""
        supplier = next((s for s in self.till.catalogue.suppliers if s.supplier == self.offer.supplier), None)
        if supplier is None:
            return True
        steady = supplier.delivery_free_over is None or not supplier.delivery
        most = limits_of(self.till.scenario)["cost"]
        far = math.isfinite(most) and least_extra(supplier, int(most)) == supplier.delivery
        return not supplier.order_min and (steady or far)
