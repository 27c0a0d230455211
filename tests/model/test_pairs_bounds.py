"""Which kinds of emitter may be mixed, and what a light of two comes to at least, one face and one pair at a time."""

import math
from dataclasses import replace
from functools import cache
from itertools import combinations

import numpy as np
import pytest
from plain_bounds import SCALES, one_kind, two_kinds, with_supplies_about
from two_whites import two_whites

from optimise.columns.channels import DriverFigures
from optimise.columns.heads import NO_DIFFUSER
from optimise.model.market import Market, build_market
from optimise.model.mixture import one_beam
from optimise.model.pairs import codes_of_line, least_by_line, pairs_of, problem_of_line
from optimise.model.shares import shares_of, widest_shares
from optimise.scenario.model import Look

FREE = dict.fromkeys(SCALES, math.inf)
CASES = (("battery", 4), ("battery", 9), ("battery", 32), ("mains", 2), ("mains", 22), ("any", 0), ("any", 10))


@cache
def market_of(source: str, number: int) -> Market:
    case = two_whites(number, source)
    return build_market(case.catalogue, case.scenario)


@pytest.mark.parametrize(("source", "number"), CASES)
def test_the_least_of_each_line_is_that_of_its_best_face(source: str, number: int) -> None:
    market = market_of(source, number)
    emitters, pairs = market.parts.emitters, pairs_of(market)
    assert pairs
    by_hand = {
        scale: [
            *(
                math.inf if e.part in market.parts.only_mixed else one_kind(market, scale, i)
                for i, e in enumerate(emitters)
            ),
            *(two_kinds(market, scale, pair) for pair in pairs),
        ]
        for scale in SCALES
    }
    for scale in SCALES:
        assert least_by_line(market, FREE, scale) == pytest.approx(by_hand[scale], rel=1e-9)
    for capped in SCALES:
        finite = sorted(value for value in by_hand[capped] if 0.0 < value < math.inf)
        for cap in (finite[-1], finite[-1] * (1.0 - 1e-6)) if finite else ():
            left = [value <= cap * (1.0 + 1e-12) for value in by_hand[capped]]
            for scale in SCALES:
                wanted = [v if keeps else math.inf for v, keeps in zip(by_hand[scale], left, strict=True)]
                assert least_by_line(market, FREE | {capped: cap}, scale) == pytest.approx(wanted, rel=1e-9)


def test_pairs_are_all_two_kinds_that_may_keep_the_colour_and_throw_alike() -> None:
    market = market_of("battery", 9)
    look, emitters = market.scenario.look, market.parts.emitters
    found = {pair[:2]: pair[2:] for pair in pairs_of(market)}
    assert list(found) == sorted(found)
    assert all(i < j for i, j in found)
    for i, j in combinations(range(len(emitters)), 2):
        assert found.get((i, j)) == widest_shares(emitters[i], emitters[j], look.cct_min, look.cct_max)
    # A kind that throws some light at the board is in no pair with those that do not.
    turned = emitters[1].model_copy(update={"back": 0.3})
    back = replace(market.parts, emitters=(emitters[0], turned, *emitters[2:]))
    assert {pair[:2] for pair in pairs_of(replace(market, parts=back))} == {pair for pair in found if 1 not in pair}
    assert (0, 1) in found
    assert (0, 3) in found
    alone = market.scenario.model_copy(
        update={"search": market.scenario.search.model_copy(update={"emitter_kinds": 1})}
    )
    single = replace(market, scenario=alone)
    assert pairs_of(single) == ()
    assert len(least_by_line(single, FREE, "cost")) == len(emitters)
    # What is eligible in a mixture alone makes no light by itself.
    assert least_by_line(market, FREE, "cost")[: len(emitters)].tolist() == [math.inf] * len(emitters)
    assert {e.part for e in emitters} == set(market.parts.only_mixed)


@pytest.mark.parametrize("missing", ["drivers", "supplies", "faces"])
def test_without_any_of_a_kind_no_pair_gives_light(missing: str) -> None:
    market = market_of("any", 10)
    assert np.isfinite(least_by_line(market, FREE, "cost")[-1])
    if missing == "drivers":
        market = replace(market, parts=replace(market.parts, drivers=()))
    elif missing == "supplies":
        market = replace(market, supplies=market.supplies.take(np.zeros(0, dtype=np.int64)))
    else:
        kept = market.boards.diffuser
        market.boards.diffuser = np.full_like(kept, NO_DIFFUSER)
        assert least_by_line(market, FREE, "cost")[-1] == math.inf
        market.boards.diffuser = kept
        return
    assert least_by_line(market, FREE, "cost")[-1] == math.inf


def test_columns_of_a_line_are_those_of_its_kinds() -> None:
    market = market_of("battery", 4)
    kinds = len(market.parts.emitters)
    for line in range(kinds):
        problem = problem_of_line(market, line)
        assert problem.mix is None
        assert problem.parts.emitters == (market.parts.emitters[line],)
        assert codes_of_line(market, line) == (market.parts.emitters[line].part,)
    for place, (i, j, *_) in enumerate(pairs_of(market)):
        problem = problem_of_line(market, kinds + place)
        first, second = market.parts.emitters[i], market.parts.emitters[j]
        assert problem.parts.emitters == (first, second)
        assert codes_of_line(market, kinds + place) == (first.part, second.part)
        assert problem.mix is not None
        assert problem.mix.shares == shares_of(first, second, market.scenario.look)
        sheets = [one_beam((first, second), market.parts.diffusers[d]) for d in problem.heads.diffuser.tolist()]
        assert all(sheets)
        assert len(sheets) > 0


def test_a_pair_that_cannot_keep_the_colour_has_no_head() -> None:
    market = market_of("battery", 4)
    # Ra of what has no spectrum is not known, and so never kept.
    look = Look(**market.scenario.look.model_dump(exclude={"cri_min"}), cri_min=50.0)
    market = replace(market, scenario=market.scenario.model_copy(update={"look": look}))
    problem = problem_of_line(market, len(market.parts.emitters))
    assert problem.mix is not None
    assert problem.mix.shares == ((0.0, 0.0),)
    assert len(problem.heads) == 0


@pytest.mark.parametrize(("source", "number"), [("mains", 2), ("mains", 20), ("battery", 9)])
def test_the_supply_counts_for_the_load_of_the_best_drivers(source: str, number: int) -> None:
    market = market_of(source, number)
    pairs = pairs_of(market)
    least = min(two_kinds(market, "power", pair) for pair in pairs)
    for share in (0.9, 1.1, 1.7):
        tight = with_supplies_about(market, share * least)
        for scale in ("cost", "mass"):
            by_hand = [two_kinds(tight, scale, pair) for pair in pairs]
            assert least_by_line(tight, FREE, scale)[-len(pairs) :] == pytest.approx(by_hand, rel=1e-9)


def test_a_kind_that_no_driver_feeds_is_in_no_pair_whatever_its_share() -> None:
    market = market_of("battery", 9)
    tubes = {i for i, e in enumerate(market.parts.emitters) if e.drive == "ballast"}
    assert 0 < len(tubes) < len(market.parts.emitters)
    drivers = tuple(d for d in market.parts.drivers if d.output != "ballast")
    rows = np.array([d.output != "ballast" for d in market.parts.drivers])
    buying = tuple(b for b, keep in zip(market.driver_buying, rows.tolist(), strict=True) if keep)
    left = replace(
        market, parts=replace(market.parts, drivers=drivers), drivers=DriverFigures(drivers), driver_buying=buying
    )
    # A look without limits on colour leaves every share, none of one kind among them.
    scenario = left.scenario.model_copy(update={"look": Look(diffused=True)})
    left = replace(left, scenario=scenario)
    least = least_by_line(left, FREE, "cost")
    pairs = pairs_of(left)
    assert {pair[2:] for pair in pairs} == {(0.0, 1.0)}
    for pair, value in zip(pairs, least[-len(pairs) :].tolist(), strict=True):
        assert math.isinf(value) == bool(tubes & set(pair[:2]))


def test_all_pieces_that_can_be_had_may_be_taken() -> None:
    market = market_of("mains", 2)
    pair = pairs_of(market)[0]
    for most, possible in ((1, True), (0, False)):
        buying = list(market.emitter_buying)
        for place in pair[:2]:
            buying[place] = replace(buying[place], most=most)
        few = replace(market, emitter_buying=tuple(buying))
        least = least_by_line(few, FREE, "mass")[len(buying)]
        assert least == pytest.approx(two_kinds(few, "mass", pair), rel=1e-9)
        assert math.isfinite(least) == possible
