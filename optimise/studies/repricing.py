"""An earlier choice at new prices: what it costs now, what is best now, and how far each price may move.

What was proven before is put to use: at prices that have nowhere fallen, stock that has nowhere grown and no new offer,
no other build can have become better, so a choice that still costs what it cost is still the best. Where one part alone
has become cheaper, `studies.savings` says what a better build must use of it.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from optimise.model.choice import Choice, Evaluation
from optimise.model.exact import evaluate
from optimise.model.goods import lines_within
from optimise.model.heuristic import value_of
from optimise.model.market import Market, build_market, repriced
from optimise.model.must import KINDS, Must
from optimise.model.problem import Problem
from optimise.model.search import Ending, Result, find_any, proof_of, run
from optimise.model.state import Line, Progress, State, TimeUpError, hair, preferred, step
from optimise.model.weights import limits_of
from optimise.parts import Catalogue, Offer, Part
from optimise.parts.basket import least_extra
from optimise.parts.buying import OWN
from optimise.scenario import Scenario
from optimise.scenario.terms import let_in
from optimise.studies.savings import least_number

NO_PRICE = 10**9
"""Cents that no build can pay: an offer at this price is out of the shop."""


@dataclass(frozen=True)
class Moved:
    """One offer that has changed; None where it is new, or gone."""

    before: Offer | None
    now: Offer | None

    @property
    def easier(self) -> bool:
        """Whether it may make a build better that uses it: new, cheaper, or more of it."""
        if self.now is None:
            return False
        if (
            self.before is None
            or self.now.price < self.before.price
            or self.now.quantity_min < self.before.quantity_min
        ):
            return True
        there, then = self.now.stock, self.before.stock
        return then is not None and (there is None or there > then)


def moved(before: Catalogue, now: Catalogue) -> list[Moved]:
    """Return the offers that differ between two catalogues, by part and supplier."""
    found: list[Moved] = []
    for part in sorted({*before.offers, *now.offers}):
        if before.offers.get(part) == now.offers.get(part):
            continue
        old, new = _by_shelf(before.offers.get(part, ())), _by_shelf(now.offers.get(part, ()))
        for key in sorted({*old, *new}, key=str):
            found += [Moved(*pair) for pair in _paired(old.get(key, []), new.get(key, [])) if pair[0] != pair[1]]
    return found


def _by_shelf(offers: Sequence[Offer]) -> dict[tuple[object, ...], list[Offer]]:
    shelves: dict[tuple[object, ...], list[Offer]] = {}
    for offer in offers:
        key = offer.supplier, offer.sold_by, offer.pack, offer.sheet_width, offer.sheet_height, offer.quantity_min
        shelves.setdefault(key, []).append(offer)
    return shelves


def _paired(old: Sequence[Offer], new: Sequence[Offer]) -> Iterator[tuple[Offer | None, Offer | None]]:
    for place in range(max(len(old), len(new))):
        yield old[place] if place < len(old) else None, new[place] if place < len(new) else None


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
    _floors: dict[tuple[str, int], float] = field(default_factory=dict)

    @property
    def market(self) -> Market:
        """What does not depend on prices, built when it is first asked for."""
        if self._market is None:
            self._market = build_market(self.catalogue, self.scenario)
        return self._market

    def at(self, catalogue: Catalogue) -> "Till":
        """Return a till of the same parts at the prices of another catalogue; what was built for one serves both."""
        market = self._at(catalogue.offers)
        return replace(self, catalogue=catalogue, _market=market, _floors=self._floors_in(market))

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
        market = self.market if offers is None else self._at(offers)
        floors = self._floors if offers is None else self._floors_in(market)
        search = State(
            market,
            self.scenario.search.objective,
            self.threads,
            self.deadline,
            self.progress,
            problems=self._problems,
            floors=floors,
        )
        search.best = start if start is not None and start.passes else None
        return search

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
        catalogue = (
            self.catalogue
            if offers is None
            else replace(self.catalogue, offers={code: tuple(rows) for code, rows in offers.items()})
        )
        return evaluate(choice, catalogue, self.scenario)

    def _floors_in(self, market: Market) -> dict[tuple[str, int], float]:
        """Return what is known of least figures in another market: all that is known here, if nothing is easier there.

        A market holds the offers that the scenario lets in.
        """
        here, there = (_with(self.catalogue, each.parts.offers) for each in (self.market, market))
        return {} if any(change.easier for change in moved(here, there)) else dict(self._floors)

    def _at(self, offers: Mapping[str, Sequence[Offer]]) -> Market:
        catalogue = _with(self.catalogue, offers)
        market = repriced(self.market, replace(catalogue, offers=let_in(offers, self.scenario)), self.scenario)
        return replace(market, catalogue=catalogue)


def _with(catalogue: Catalogue, offers: Mapping[str, Sequence[Offer]]) -> Catalogue:
    return replace(catalogue, offers={code: tuple(rows) for code, rows in offers.items()})


def _let_in(catalogue: Catalogue, scenario: Scenario) -> Catalogue:
    return _with(catalogue, let_in(catalogue.offers, scenario))


FEW_KINDS = 2
"""Kinds of part with easier offers up to which builds that use them are searched, and nothing else."""


def best_now(till: Till, earlier: Choice | None, before: Catalogue | None, began: float) -> tuple[Result, bool]:
    """Return the best build at the till's prices, and whether the earlier proof alone answered.

    Where only a few parts have become easier to buy, a build must use one of them to win; where it ties with the
    earlier one, that stays.

    earlier: None where its parts are not all in the catalogue.

    before: the catalogue in which `earlier` was proven best, if it is known and differs in its offers alone.
    """
    objective = till.scenario.search.objective
    best = None if earlier is None else till.paid(earlier)
    musts: list[Must | None] = [None]
    if earlier is not None and best is not None and before is not None and before.suppliers == till.catalogue.suppliers:
        # An offer that did not hold or came too late may be to be had now at the price that it always had.
        changes = moved(*(_let_in(each, till.scenario) for each in (before, till.catalogue)))
        easier = {change.now.part for change in changes if change.easier and change.now is not None}
        old = evaluate(earlier, before, till.scenario)
        if old.passes and best.passes and preferred(best, old, till.search().order) <= 0:
            musts = _musts(till.catalogue, till.scenario, easier, before.offers, old.cents - best.cents)
            if not musts:
                search = till.search(best)
                return Result("optimal", best, proof_of(search, "optimal", began), till.market, objective), True
    for must in musts:
        search, status = _searched(till, best, must)
        if must is None or best is None or search.best is None or preferred(search.best, best, search.order) < 0:
            best = search.best
        if status != "optimal":
            break
    return Result(status, best, proof_of(search, status, began), till.market, objective), False


def _searched(till: Till, start: Evaluation | None, must: Must | None) -> tuple[State, Ending]:
    """Return a search that is over, of builds that use what they must, and how it ended."""
    search = till.search(start)
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
        there = _with(self.till.catalogue, offers)
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
