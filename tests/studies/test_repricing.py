"""An earlier choice at new prices: the ends of every span against cold searches just inside and just outside."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from pathlib import Path
from random import Random

import pytest
from baskets import with_charges
from few_parts import write_few_parts, write_job
from random_catalogues import random_case

from optimise.model.choice import Choice, Evaluation
from optimise.model.exact import evaluate
from optimise.model.floors import told_of
from optimise.model.search import Result as SearchResult
from optimise.model.search import best_build
from optimise.model.state import ORDERS, preferred
from optimise.parts import Catalogue, Offer, read_catalogue
from optimise.scenario import Scenario, read_scenario
from optimise.studies.repricing import Span, best_now, spans
from optimise.studies.till import Till


def offers_at(catalogue: Catalogue, offer: Offer, price: int) -> dict[str, tuple[Offer, ...]]:
    offers = dict(catalogue.offers)
    rows = list(offers[offer.part])
    rows[rows.index(offer)] = offer.model_copy(update={"price": price})
    return {**offers, offer.part: tuple(rows)}


def key(found: Evaluation) -> tuple[int, int]:
    return found.cents, found.milligrams


def at(catalogue: Catalogue, scenario: Scenario, choice: Choice, offer: Offer, price: int) -> tuple[bool, Evaluation]:
    """Return whether a choice is still the best at a price, by a search from nothing, and what that search finds."""
    there = replace(catalogue, offers=offers_at(catalogue, offer, price))
    mine, best = evaluate(choice, there, scenario), best_build(there, scenario, "cost").evaluation
    assert best is not None
    assert mine.passes
    assert key(best) <= key(mine)
    return key(best) == key(mine), best


def check(catalogue: Catalogue, scenario: Scenario, choice: Choice, span: Span) -> int:
    """Assert that a choice wins up to the ends of a span and not beyond; return how many ends there are."""
    ends = 0
    for last, beyond, winner in ((span.low, -1, span.below), (span.high, 1, span.above)):
        if last is None:
            assert winner is None
            continue
        ends += 1
        assert winner is not None
        assert at(catalogue, scenario, choice, span.offer, last)[0]
        still, best = at(catalogue, scenario, choice, span.offer, last + beyond)
        assert not still
        assert key(best) == key(winner)
    return ends


@pytest.fixture(scope="module")
def few(tmp_path_factory: pytest.TempPathFactory) -> tuple[Catalogue, Scenario]:
    folder = tmp_path_factory.mktemp("few")
    scenario = read_scenario(write_job(folder / "job.toml", 60.0))
    cost = scenario.search.model_copy(update={"objective": "cost"})
    return read_catalogue(write_few_parts(folder / "parts", charges=True)), scenario.model_copy(update={"search": cost})


def test_ends_are_where_another_build_takes_over(few: tuple[Catalogue, Scenario]) -> None:
    catalogue, scenario = few
    till = Till(catalogue, scenario)
    best = till.best().best
    assert best is not None
    found = list(spans(till, best))
    assert {span.offer.part for span in found} == {
        line.part for line in best.bill if line.purchase.offer.supplier != "own"
    }
    assert sum(check(catalogue, scenario, best.choice, span) for span in found) >= 1


def test_who_else_sells_a_part_is_told_where_its_price_has_no_upper_end(few: tuple[Catalogue, Scenario]) -> None:
    catalogue, scenario = few
    till = Till(catalogue, scenario)
    best = till.best().best
    assert best is not None
    line = next(line for line in best.bill if line.purchase.offer.supplier != "own")
    other = line.purchase.offer.model_copy(update={"supplier": "elsewhere", "price": line.purchase.offer.price + 1})
    more = replace(catalogue, offers={**catalogue.offers, line.part: (*catalogue.offers[line.part], other)})
    span = next(spans(Till(more, scenario), best))
    assert (span.offer, span.high, span.elsewhere) == (line.purchase.offer, None, ("elsewhere",))


@pytest.mark.parametrize("number", range(1))
@pytest.mark.parametrize("charged", [False, pytest.param(True, marks=pytest.mark.long)])
def test_ends_of_random_jobs_are_where_another_build_takes_over(number: int, charged: bool) -> None:
    check_random(number, charged)


@pytest.mark.long
@pytest.mark.parametrize("number", range(1, 40))
@pytest.mark.parametrize("charged", [False, True])
def test_ends_of_many_random_jobs_are_where_another_build_takes_over(number: int, charged: bool) -> None:
    check_random(number, charged)


def check_random(number: int, charged: bool) -> None:
    for attempt in range(40):
        case = random_case(number, ("battery", "mains")[number % 2], 2000 + attempt)
        catalogue = with_charges(case.catalogue, Random(number)) if charged else case.catalogue
        scenario = case.scenario
        till = Till(catalogue, scenario)
        best = till.best().best
        if best is not None and any(line.purchase.offer.supplier != "own" for line in best.bill):
            break
    assert best is not None
    for span in list(spans(till, best))[:4]:
        check(catalogue, scenario, best.choice, span)
        assert span.between or charged


def changed(catalogue: Catalogue, part: str, **update: object) -> Catalogue:
    rows = tuple(offer.model_copy(update=update) for offer in catalogue.offers[part])
    return replace(catalogue, offers={**catalogue.offers, part: rows})


def test_the_earlier_proof_answers_where_nothing_became_better(few: tuple[Catalogue, Scenario]) -> None:
    catalogue, scenario = few
    best = best_build(catalogue, scenario).evaluation
    assert best is not None
    other = next(part.part for part in catalogue.batteries if part.part != best.choice.battery)
    dearer = changed(catalogue, other, price=99_999)
    result, by_proof = best_now(Till(dearer, scenario), best.choice, catalogue, 0.0)
    assert by_proof
    assert result.evaluation == best_build(dearer, scenario).evaluation
    cheaper = changed(catalogue, other, price=1)
    result, by_proof = best_now(Till(cheaper, scenario), best.choice, catalogue, 0.0)
    cold = best_build(cheaper, scenario).evaluation
    assert not by_proof
    assert result.evaluation is not None
    assert cold is not None
    assert key(result.evaluation) == key(cold)


def test_an_offer_that_was_not_let_in_before_counts_as_easier(few: tuple[Catalogue, Scenario]) -> None:
    catalogue, scenario = few
    limits = scenario.limits.model_copy(update={"deadline": 5 * 86400.0})
    buying = scenario.buying.model_copy(update={"date": date(2031, 5, 1)})
    scenario = scenario.model_copy(update={"limits": limits, "buying": buying})
    codes = list(catalogue.offers)
    for code in codes:
        catalogue = changed(catalogue, code, lead_time=3 * 86400.0)
    best = best_build(catalogue, scenario).evaluation
    assert best is not None
    own = best.choice.battery
    assert own is not None
    for kept_out in ({"lead_time": 9 * 86400.0}, {"lead_time": None}, {"until": date(2031, 4, 30)}):
        before = changed(catalogue, own, **kept_out)
        earlier = best_build(before, scenario).evaluation
        assert earlier is not None
        result, by_proof = best_now(Till(catalogue, scenario), earlier.choice, before, 0.0)
        assert result.evaluation is not None
        assert not by_proof
        assert key(result.evaluation) == key(best) < key(earlier)


def test_without_its_parts_an_earlier_choice_is_no_start(few: tuple[Catalogue, Scenario], tmp_path: Path) -> None:
    catalogue, scenario = few
    result, by_proof = best_now(Till(catalogue, scenario), None, None, 0.0)
    cold = best_build(catalogue, scenario).evaluation
    assert not by_proof
    assert result.evaluation == cold


def test_new_prices_give_what_a_search_from_nothing_does(few: tuple[Catalogue, Scenario]) -> None:
    catalogue, scenario = few
    till = Till(catalogue, scenario)
    best = till.best().best
    assert best is not None
    kinds = (catalogue.emitters, catalogue.drivers, catalogue.panels, catalogue.batteries, catalogue.fuses)
    others = 0
    for rows in kinds:
        used = {line.part for line in best.bill}
        other = next((part.part for part in rows if part.part not in used and catalogue.offers.get(part.part)), None)
        if other is not None:
            others += moved_alike(till, best.choice, {other: 0.0})
    assert others >= 2
    for code in (best.choice.panel, best.choice.emitter):
        for factor in (0.9, 1.3):
            moved_alike(till, best.choice, {code: factor})


def test_other_terms_of_delivery_are_searched_anew(few: tuple[Catalogue, Scenario]) -> None:
    """What shops came to on a supplier's old terms says nothing of his new ones."""
    catalogue, scenario = few
    till = Till(catalogue, scenario)
    best = till.best().best
    assert best is not None
    others = set()
    used = {order.supplier for order in best.orders}
    for supplier in catalogue.suppliers[::2]:
        for delivery in (0, 9_000):
            terms = tuple(
                s.model_copy(update={"delivery": delivery if s == supplier else 3_000}) for s in catalogue.suppliers
            )
            there = replace(catalogue, suppliers=terms)
            found, by_proof = best_now(till.at(there), best.choice, catalogue, 0.0)
            cold = best_build(there, scenario).evaluation
            assert found.evaluation is not None
            assert cold is not None
            assert not by_proof
            assert key(found.evaluation) == key(cold)
            others.add({order.supplier for order in cold.orders} == used)
    assert others == {False, True}


@pytest.mark.long
@pytest.mark.parametrize("number", range(120))
def test_new_prices_of_many_random_jobs_give_what_a_search_from_nothing_does(number: int) -> None:
    """One kind after the other, a part or two of it."""
    draw, objective = Random(number), "cost" if number < 60 else ("mass", "power")[number % 2]
    for attempt in range(60):
        case = random_case(
            number, ("battery", "mains")[number // 2 % 2 if number >= 60 else number % 2], 4000 + attempt
        )
        catalogue = with_charges(case.catalogue, Random(number)) if number % 3 else case.catalogue
        search = case.scenario.search.model_copy(update={"objective": objective})
        till = Till(catalogue, case.scenario.model_copy(update={"search": search}))
        best = till.best().best
        if best is not None:
            break
    assert best is not None
    kinds = (catalogue.emitters, catalogue.drivers, catalogue.panels, catalogue.diffusers, catalogue.batteries)
    kinds += (catalogue.cables, catalogue.fuses, catalogue.connectors)
    for rows in kinds:
        codes = [part.part for part in rows if catalogue.offers.get(part.part)]
        for _ in range(3 if codes else 0):
            some = draw.sample(codes, min(len(codes), draw.choice((1, 1, 2))))
            factors = {code: draw.choice((0.0, 0.6, 0.9, 1.05, 1.2, 3.0)) for code in some}
            moved_alike(till, best.choice, factors)


def moved_alike(till: Till, choice: Choice, factors: Mapping[str, float]) -> bool:
    """Assert that prices times these factors give the build of a search from nothing; whether it is another one.

    till: of the prices before, with all that it remembers. From that, and by what a record keeps of it alone.
    """
    catalogue, scenario = till.catalogue, till.scenario
    there = priced(catalogue, factors)
    floors = told_of(till._floors, till.market, scenario.search.objective)
    cold = best_build(there, scenario)
    for found, _ in (
        best_now(till.at(there), choice, catalogue, 0.0),
        best_now(Till(there, scenario), choice, catalogue, 0.0, floors),
    ):
        same_as(cold, found, there, scenario)
    return cold.evaluation is None or cold.evaluation.choice != choice


def priced(catalogue: Catalogue, factors: Mapping[str, float]) -> Catalogue:
    offers = dict(catalogue.offers)
    for code, factor in factors.items():
        offers[code] = tuple(o.model_copy(update={"price": round(o.price * factor)}) for o in offers[code])
    return replace(catalogue, offers=offers)


def same_as(cold: SearchResult, found: SearchResult, catalogue: Catalogue, scenario: Scenario) -> None:
    assert found.status == cold.status
    if cold.evaluation is None:
        assert (found.evaluation, cold.status) == (None, "impossible")
        return
    assert cold.status == "optimal"
    assert found.evaluation is not None
    assert found.evaluation == evaluate(found.evaluation.choice, catalogue, scenario)
    assert preferred(found.evaluation, cold.evaluation, ORDERS[scenario.search.objective]) == 0


@pytest.mark.parametrize("number", [2, *(pytest.param(n, marks=pytest.mark.long) for n in range(3, 60))])
def test_prices_that_move_again_and_again_give_what_a_search_from_nothing_does(number: int) -> None:
    """One till after the other, as while prices are watched: each begins with what the last ones found out."""
    draw, objective = Random(number), ("cost", "cost", "mass", "power")[number % 4]
    for attempt in range(40):
        case = random_case(number, ("battery", "mains", "any")[number % 3], 9000 + attempt, 8)
        catalogue = with_charges(case.catalogue, Random(number)) if number % 5 else case.catalogue
        search = case.scenario.search.model_copy(update={"objective": objective})
        scenario = case.scenario.model_copy(update={"search": search})
        till = Till(catalogue, scenario)
        best = till.best().best
        if best is not None:
            break
    assert best is not None
    for _ in range(6):
        codes = draw.sample(sorted(catalogue.offers), draw.choice((1, 1, 3)))
        there = priced(till.catalogue, {code: draw.choice((0.7, 0.95, 1.05, 1.1, 1.5)) for code in codes})
        assert till.serves(there, scenario)
        till = till.at(there)
        found, _ = best_now(till, best.choice, catalogue, 0.0)
        same_as(best_build(there, scenario), found, there, scenario)
