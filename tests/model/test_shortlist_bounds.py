"""What a light of each kind of emitter comes to at least, against one face and one emitter at a time."""

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from plain_bounds import SCALES, brightest, faces, lightest_supply, one_kind, strings, with_supplies_about
from plain_parts import EMITTER
from random_catalogues import random_case

from optimise.model.market import Market, build_market
from optimise.model.shortlist import (
    brightest_of,
    faces_weighed,
    flux_and_efficacy,
    least_by_emitter,
    supplies_weighed,
)

FREE = dict.fromkeys(SCALES, math.inf)
CASES = [
    ("battery", 1),
    ("battery", 7),
    ("battery", 9),
    ("battery", 12),
    ("mains", 3),
    ("mains", 8),
    ("mains", 13),
    ("any", 0),
    ("any", 10),
    ("any+dots", 1),
    ("any+dots", 10),
    ("any+measured", 8),
    ("any+measured", 12),
]


@cache
def market_of(source: str, number: int) -> Market:
    case = random_case(number, source)
    return build_market(case.catalogue, case.scenario)


@pytest.mark.parametrize(("source", "number"), CASES)
def test_the_least_of_each_emitter_is_that_of_its_best_face(source: str, number: int) -> None:
    market = market_of(source, number)
    by_hand = {s: [one_kind(market, s, e) for e in range(len(market.parts.emitters))] for s in SCALES}
    for scale in SCALES:
        assert least_by_emitter(market, FREE, scale) == pytest.approx(by_hand[scale], rel=1e-9)
    # A cap that one emitter just keeps leaves those that keep it, on every scale by itself.
    for capped in SCALES:
        least = min(by_hand[capped])
        if not 0.0 < least < math.inf:
            continue
        for cap, slack in ((least, 1e-12), (least * (1.0 - 1e-6), 0.0)):
            left = [value <= cap * (1.0 + slack) for value in by_hand[capped]]
            for scale in SCALES:
                wanted = [v if keeps else math.inf for v, keeps in zip(by_hand[scale], left, strict=True)]
                assert least_by_emitter(market, FREE | {capped: cap}, scale) == pytest.approx(wanted, rel=1e-9)


def test_a_scale_whose_least_is_nothing_may_be_capped_at_nothing() -> None:
    market = market_of("battery", 9)
    free = replace(market, driver_buying=market.driver_buying)
    assert np.isinf(least_by_emitter(free, FREE | {"power": 0.0}, "cost")).all()


@pytest.mark.parametrize("missing", ["emitters", "drivers", "boards", "supplies"])
def test_without_any_of_a_kind_there_is_no_light(missing: str) -> None:
    market = market_of("any", 10)
    assert np.isfinite(least_by_emitter(market, FREE, "cost")).all()
    if missing == "supplies":
        market = replace(market, supplies=market.supplies.take(np.zeros(0, dtype=np.int64)))
    elif missing == "boards":
        market.boards.panel, kept = market.boards.panel[:0], market.boards.panel
        assert least_by_emitter(market, FREE, "cost").tolist() == [math.inf] * 2
        market.boards.panel = kept
        return
    else:
        market = replace(market, parts=replace(market.parts, **{missing: ()}))
    assert least_by_emitter(market, FREE, "cost").tolist() == [math.inf] * (0 if missing == "emitters" else 2)


@pytest.mark.parametrize(("source", "number"), [("any", 0), ("mains", 8), ("any+measured", 8), ("battery", 7)])
@pytest.mark.parametrize("bare", [True, False])
def test_faces_are_those_that_no_other_beats(source: str, number: int, *, bare: bool) -> None:
    market = market_of(source, number)
    for scale in SCALES:
        weight, light = faces_weighed(market, scale, brightest_of(market.parts.emitters), bare=bare)
        every = set(faces(market, scale, bare=bare))
        best = sorted(
            (w, lux) for w, lux in every if not any(o != (w, lux) and o[0] <= w and o[1] >= lux for o in every)
        )
        assert sorted(zip(weight.tolist(), light.tolist(), strict=True)) == [pytest.approx(face) for face in best]
    assert brightest(market) > 0.0


def test_the_brightest_are_the_narrowest_and_all_that_are_measured() -> None:
    market = market_of("any+measured", 12)
    measured = [e for e in market.parts.emitters if e.photometric is not None]
    wide, narrow = (EMITTER.model_copy(update={"part": name, "beam": b}) for name, b in (("w", 90.0), ("n", 12.0)))
    assert brightest_of([wide, narrow, *measured]) == [*measured, narrow]
    assert brightest_of([narrow, wide]) == [narrow]
    assert brightest_of(measured) == measured


def test_lumens_and_efficacy_are_the_greatest_of_all_currents() -> None:
    adjustable = EMITTER.model_copy(
        update={"current_min": 0.1, "current_max": 0.9, "droop": 0.2, "dynamic_resistance": 4.0}
    )
    strip = EMITTER.model_copy(update={"drive": "constant voltage"})
    tube = EMITTER.model_copy(update={"drive": "ballast", "power": 8.0, "form": "tube", "current": None})
    kinds = (adjustable, EMITTER, strip, tube)
    flux, efficacy = flux_and_efficacy(kinds)
    assert flux == pytest.approx([strings(e)[0] for e in kinds], rel=1e-12)
    assert efficacy == pytest.approx([strings(e)[1] for e in kinds], rel=1e-12)
    # By hand: 1000 lm at 0.5 A and 12 V are 166.7 lm/W; of the tube 1000 lm of 8 W are 125 lm/W.
    assert efficacy[1:] == pytest.approx([1000.0 / 6.0, 1000.0 / 6.0, 125.0])
    assert flux[1:].tolist() == [1000.0] * 3


def test_a_load_is_borne_by_the_lightest_supply_that_can() -> None:
    market = market_of("battery", 1)
    most = np.sort(market.supplies.deliverable)
    loads = np.concatenate([most, most * (1.0 + 5e-10), most * (1.0 + 1e-6), most * 0.9, [0.0, 1e9]])
    for scale in SCALES:
        found = supplies_weighed(market, scale, loads)
        assert found.tolist() == [lightest_supply(market, scale, load) for load in loads.tolist()]
    assert math.isinf(found[-1])


@pytest.mark.parametrize(("source", "number"), [("mains", 3), ("mains", 8), ("battery", 12)])
def test_the_supply_counts_for_the_load_of_the_best_driver(source: str, number: int) -> None:
    market = market_of(source, number)
    drawn = np.array([one_kind(market, "power", e) for e in range(len(market.parts.emitters))])
    for share in (0.9, 1.1, 1.7):
        tight = with_supplies_about(market, share * float(drawn[np.isfinite(drawn)].min()))
        for scale in ("cost", "mass"):
            by_hand = [one_kind(tight, scale, e) for e in range(len(tight.parts.emitters))]
            assert least_by_emitter(tight, FREE, scale) == pytest.approx(by_hand, rel=1e-9)


def test_a_heavy_sheet_counts_to_the_milligram() -> None:
    market = market_of("battery", 9)
    heavy = tuple(d.model_copy(update={"mass_per_area": 100.0 * d.mass_per_area}) for d in market.parts.diffusers)
    market = replace(market, parts=replace(market.parts, diffusers=heavy))
    weight, _ = faces_weighed(market, "mass", brightest_of(market.parts.emitters), bare=False)
    assert set(weight.tolist()) <= {w for w, _ in faces(market, "mass", bare=False)}
