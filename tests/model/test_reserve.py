"""Columns that were looked up before hold all that a new look would find (invented parts)."""

from dataclasses import replace
from pathlib import Path
from random import Random

import pytest
from few_parts import write_few_parts, write_job
from random_catalogues import random_case

from optimise.model import goods
from optimise.model.state import Line
from optimise.model.weights import limits_of
from optimise.parts import Catalogue, Offer, read_catalogue
from optimise.scenario import Scenario, read_scenario
from optimise.studies.till import Till


@pytest.fixture
def looks(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """The costs within which columns were looked up from nothing."""
    asked: list[float] = []
    plain = goods.lines_within

    def counted(search, caps):  # type: ignore[no-untyped-def]
        asked.append(caps["cost"])
        return plain(search, caps)

    monkeypatch.setattr(goods, "lines_within", counted)
    return asked


def at(catalogue: Catalogue, factors: dict[str, float]) -> Catalogue:
    def row(offer: Offer) -> Offer:
        return offer.model_copy(update={"price": round(offer.price * factors.get(offer.part, 1.0))})

    return replace(catalogue, offers={part: tuple(map(row, rows)) for part, rows in catalogue.offers.items()})


def columns(lines: tuple[Line, ...]) -> set[tuple[int, str, int]]:
    heads = {(line.emitter, "head", int(head)) for line in lines for head in line.kept.heads}
    return heads | {(line.emitter, "channel", int(channel)) for line in lines for channel in line.kept.channels}


def within(till: Till, cost: float) -> set[tuple[int, str, int]]:
    return columns(till._within({**limits_of(till.scenario), "cost": cost}, None))


@pytest.mark.parametrize("number", [0, 1, 3])
def test_what_was_looked_up_holds_what_a_new_look_finds(number: int, looks: list[float]) -> None:
    case = random_case(number, "battery", 7000, 8)
    till = Till(case.catalogue, case.scenario)
    best = till.best().best
    assert best is not None
    cap = best.cents * 1.2
    within(till, cap)
    rng = Random(number)
    for _ in range(2):
        factors = {part: rng.uniform(0.96, 1.3) for part in case.catalogue.offers}
        there = at(case.catalogue, factors)
        looks.clear()
        found = within(till.at(there), cap)
        assert looks == []
        assert within(Till(there, case.scenario), cap) <= found
        assert len(looks) == 1


@pytest.fixture
def few(tmp_path: Path) -> tuple[Catalogue, Scenario]:
    return read_catalogue(write_few_parts(tmp_path / "few")), read_scenario(write_job(tmp_path / "job.toml"))


def test_a_new_look_is_taken_where_prices_fell_too_far_or_more_is_to_be_had(
    few: tuple[Catalogue, Scenario], looks: list[float]
) -> None:
    catalogue, scenario = few
    till = Till(catalogue, scenario)
    best = till.best().best
    assert best is not None
    cap = float(best.cents)

    def anew(there: Catalogue, cost: float = cap) -> bool:
        fresh = replace(till, _reserve=type(till._reserve)())
        within(fresh, cap)
        looks.clear()
        within(fresh.at(there), cost)
        return bool(looks)

    part = best.choice.panel
    rows = catalogue.offers[part]
    assert not anew(catalogue)
    assert not anew(at(catalogue, {part: 0.9}))
    assert anew(at(catalogue, {part: 0.8}))
    assert anew(catalogue, cap * 1.2)
    other = rows[0].model_copy(update={"supplier": "elsewhere", "price": rows[0].price * 2})
    assert anew(replace(catalogue, offers={**catalogue.offers, part: (*rows, other)}))
    assert not anew(replace(catalogue, offers={**catalogue.offers, part: rows[:0]}))
