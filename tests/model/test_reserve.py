"""Columns that were looked up before hold all that a new look would find (invented parts)."""

from dataclasses import replace
from pathlib import Path
from random import Random
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from few_parts import write_few_parts, write_job
from random_catalogues import random_case

from optimise.model import goods
from optimise.model import reserve as module
from optimise.model.reserve import Reserve
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


ANY = {"cost": 100.0, "mass": 50.0, "power": 9.0}
ROW = Offer(part="A", supplier="north", price=100)


class Kept:
    """So many columns of an imagined line."""

    def __init__(self, channels: int, heads: int = 0, possible: bool = True) -> None:
        self.channels, self.heads, self.possible = np.arange(channels), np.arange(heads), possible

    def only(self, channels: np.ndarray, heads: np.ndarray) -> "Kept":
        return Kept(len(channels), len(heads))


class Looks:
    """Columns of imagined lines: what is looked up, hung on a market and sifted is told, and nothing else is done."""

    def __init__(self, patch: pytest.MonkeyPatch) -> None:
        self.calls: list[tuple[object, ...]] = []
        self.empty: set[int] = set()
        self.admits: object = None
        patch.setattr(goods, "lines_within", self.looked)
        patch.setattr(goods, "sift", self.sifted)
        patch.setattr(goods, "whole_line", self.hung)

    def search(self, price: int, must: object, reserve: Reserve | None) -> Any:
        offers = {"A": (ROW.model_copy(update={"price": price}),)}
        market = SimpleNamespace(parts=SimpleNamespace(offers=offers), price=price)
        left = lambda: self.calls.append(("left",))  # noqa: E731
        rest = {"admits": self.admits, "order": ("mass", "cost"), "seconds_left": left}
        return SimpleNamespace(market=market, must=must, reserve=reserve, **rest)

    def looked(self, search: Any, caps: dict[str, float]) -> tuple[Any, ...]:
        """Return two lines, of as many channels as the cap is, and of one channel less and a head."""
        self.calls.append(("look", search.market.price, search.must, dict(caps)))
        most = round(caps["cost"])
        return SimpleNamespace(emitter=4, kept=Kept(most)), SimpleNamespace(emitter=7, kept=Kept(most - 1, 1))

    def hung(self, search: Any, emitter: int) -> Any:
        self.calls.append(("hang", search.market.price, emitter, search.must))
        return SimpleNamespace(emitter=emitter, kept=Kept(9999, 9999))

    def sifted(self, search: Any, line: Any, caps: dict[str, float], scale: str) -> None:
        self.calls.append(("sift", line.emitter, caps["cost"], scale))
        line.kept.possible = line.emitter not in self.empty

    def within(
        self, reserve: Reserve | None, caps: dict[str, float], price: int, must: object = None
    ) -> list[tuple[int, int, int]]:
        self.calls.clear()
        found = module.lines_within(self.search(price, must, reserve), caps)
        return [(line.emitter, len(line.kept.channels), len(line.kept.heads)) for line in found]


def test_columns_are_looked_up_with_room_and_sifted_to_what_is_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    looks, reserve = Looks(monkeypatch), Reserve()
    looks.empty = {7}
    assert looks.within(reserve, ANY, 100, must="must") == [(4, 115, 0)]
    assert looks.calls == [
        ("look", 100, None, ANY | {"cost": pytest.approx(115.0)}),  # of all builds, whatever a search must have
        ("left",),
        ("hang", 100, 4, "must"),
        ("sift", 4, 100.0, "mass"),
        ("left",),
        ("hang", 100, 7, "must"),
        ("sift", 7, 100.0, "mass"),
    ]
    # Known within 115 at 100 cents: by 90 cents within 103.5, and no further.
    for price, cap, looked in ((100, 114.0, False), (90, 103.0, False), (90, 104.0, True), (200, 114.0, False)):
        again = Reserve(list(reserve.known))
        looks.within(again, ANY | {"cost": cap}, price)
        assert (looks.calls[0][0] == "look") is looked, (price, cap)
    # Other caps hold as they are: prices are nothing to them.
    for mass, looked in ((50.0, False), (51.0, True)):
        looks.within(Reserve(list(reserve.known)), {"cost": 90.0, "mass": mass, "power": 9.0}, 90)
        assert (looks.calls[0][0] == "look") is looked


def test_of_several_looks_the_one_with_fewest_columns_serves(monkeypatch: pytest.MonkeyPatch) -> None:
    looks, reserve = Looks(monkeypatch), Reserve()
    for cap in (100.0, 300.0, 500.0):
        looks.within(reserve, ANY | {"cost": cap}, 100)
    assert [known.size for known in reserve.known] == [2 * 575, 2 * 345, 2 * 115]
    assert looks.within(reserve, ANY | {"cost": 99.0}, 100) == [(4, 115, 0), (7, 114, 1)]
    assert looks.within(reserve, ANY | {"cost": 200.0}, 100) == [(4, 345, 0), (7, 344, 1)]
    for number in range(module.REMEMBERED):
        looks.within(reserve, ANY | {"cost": 1000.0 * 1.2**number}, 100)
    assert len(reserve.known) == module.REMEMBERED
    assert looks.within(reserve, ANY, 100) == [(4, 1150, 0), (7, 1149, 1)]


def test_without_a_reserve_or_where_heads_are_chosen_each_look_is_plain(monkeypatch: pytest.MonkeyPatch) -> None:
    looks, reserve = Looks(monkeypatch), Reserve()
    assert looks.within(None, ANY, 100, "must") == [(4, 100, 0), (7, 99, 1)]
    looks.admits = len
    assert looks.within(reserve, ANY, 100, "must") == [(4, 100, 0), (7, 99, 1)]
    assert looks.calls == [("look", 100, "must", ANY)]
    assert reserve.known == []


def at(catalogue: Catalogue, factors: dict[str, float]) -> Catalogue:
    def row(offer: Offer) -> Offer:
        return offer.model_copy(update={"price": round(offer.price * factors.get(offer.part, 1.0))})

    return replace(catalogue, offers={part: tuple(map(row, rows)) for part, rows in catalogue.offers.items()})


def columns(lines: tuple[Line, ...]) -> set[tuple[int, str, int]]:
    heads = {(line.emitter, "head", int(head)) for line in lines for head in line.kept.heads}
    return heads | {(line.emitter, "channel", int(channel)) for line in lines for channel in line.kept.channels}


def within(till: Till, cost: float) -> set[tuple[int, str, int]]:
    return columns(till._within({**limits_of(till.scenario), "cost": cost}, None, till.catalogue.offers))


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


def test_a_single_look_takes_no_more_than_is_asked_for_and_what_is_there(looks: list[float]) -> None:
    case = random_case(0, "battery", 7000, 8)
    till = Till(case.catalogue, case.scenario)
    best = till.best().best
    assert best is not None
    cap = float(best.cents)
    caps = {**limits_of(till.scenario), "cost": cap}
    looks.clear()
    alone = columns(till._within(caps, None))
    assert looks == [cap]
    assert till._reserve.known == []
    # Once other prices were tried, it is there.
    within(till, cap)
    looks.clear()
    assert columns(till._within(caps, None)) >= alone
    assert looks == []


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
