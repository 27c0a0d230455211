"""How the best kit is closed in on, step by step, and a few whole searches against every pair of builds."""

import itertools
import math
from collections.abc import Sequence
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import small_kits
from random_shops import offer

from optimise.model import kit_goods as module
from optimise.model.choice import Choice
from optimise.model.kit import evaluate_kit
from optimise.model.kit_goods import MANY, NARROW, KitGoods
from optimise.model.kit_house import KitHouse
from optimise.model.refinement import CannotRefineError
from optimise.model.solver import Outcome, SolverError, Status
from optimise.model.state import Tangent, TimeUpError
from optimise.parts import Catalogue
from optimise.scenario import Scenario

PARTS = small_kits.traded()
KIT = small_kits.kit((1.0, 1), (1.7, 2))
FREE = {"cost": math.inf, "mass": math.inf, "power": math.inf}


def kit_like(cents: int = 500, milligrams: int = 10, watts: float = 1.0, *, passes: bool = True, **rest: Any) -> Any:
    return SimpleNamespace(cents=cents, milligrams=milligrams, watts=watts, passes=passes, **rest)


def bare(order: tuple[str, ...] = ("cost", "mass"), **house: Any) -> KitGoods:
    """Return a search of which nothing but its order is known."""
    told: dict[str, Any] = {"threads": 1, "solver": None, "power_counts": False, "seconds_left": lambda: None}
    terms: Any = SimpleNamespace(scenario=KIT, offers={})
    lights: list[Any] = [
        SimpleNamespace(number=n, count=n + 1, lows={"cost": 100.0}, low=lambda scale: 100.0, tangents=[])
        for n in (0, 1)
    ]
    memory: Any = SimpleNamespace(**(told | house))
    return KitGoods(memory, terms, PARTS, order, lights, 0.0)


def columns(*sizes: int) -> list[Any]:
    """Return lights of so many columns each."""
    return [SimpleNamespace(lines=[SimpleNamespace(kept=SimpleNamespace(size=size))]) for size in sizes]


def test_figures_are_made_least_one_after_the_other(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[tuple[str, dict[str, float]]] = []

    def least(self: KitGoods, scale: str, caps: dict[str, float]) -> None:
        asked.append((scale, dict(caps)))
        self.best = None if caps["cost"] == 1.0 else kit_like(500, 70)

    monkeypatch.setattr(KitGoods, "_make_least", least)
    monkeypatch.setattr(KitGoods, "bounded", lambda self, caps: caps["mass"] > 0.0)
    search = bare()
    search.run(FREE)
    assert asked == [("cost", FREE), ("mass", {**FREE, "cost": 500.25})]
    asked.clear()
    bare().run({**FREE, "cost": 500.0})
    assert asked[1][1] == {**FREE, "cost": 500.0}
    asked.clear()
    bare().run({**FREE, "cost": 1.0})
    assert len(asked) == 1
    bare().run({**FREE, "mass": 0.0})
    assert len(asked) == 1
    # Any that is likely: one known by the lights themselves, or the first one found.
    asked.clear()
    search = bare()
    assert search.likely({**FREE, "mass": 0.0}) is None
    assert asked == []
    found = search.likely(FREE)
    assert (found.cents, search.any_will_do) == (500, True)
    assert asked == [("cost", FREE)]
    again = bare()
    again.best = kit_like(400)
    assert again.likely(FREE) is again.best
    assert (again.any_will_do, len(asked)) == (False, 1)
    # All columns, by light.
    monkeypatch.setattr(
        KitGoods,
        "_states",
        lambda self, scale, caps: columns(1, 2) if (scale, caps["cost"] > 2.0) == ("cost", True) else None,
    )
    assert [[line.kept.size for line in lines] for lines in search.within(FREE)] == [[1], [2]]
    assert search.within({**FREE, "cost": 1.0}) == search.within({**FREE, "mass": 0.0}) == ((), ())
    search.rounds, search.columns, search.kept = 1, 2, 3
    assert search.effort == (1, 2, 3)


def closing(
    monkeypatch: pytest.MonkeyPatch, near: dict[float, list[Any] | None], states: Sequence[list[Any] | None]
) -> list[Any]:
    """Have columns be what is told by share and in turn; return what is solved, by number of columns."""
    solved: list[Any] = []
    left = list(states)
    monkeypatch.setattr(KitGoods, "_near", lambda self, scale, caps, share: near.get(share, near.get(-1.0)))
    monkeypatch.setattr(KitGoods, "_states", lambda self, scale, caps: left.pop(0))
    monkeypatch.setattr(KitGoods, "_solve_all", lambda self, lights, scale, caps: solved.append(module.size_of(lights)))
    return solved


def test_without_a_kit_ever_more_columns_are_looked_at(monkeypatch: pytest.MonkeyPatch) -> None:
    near: dict[float, list[Any] | None] = dict(zip(NARROW, [None, columns(2), columns(1, 1), columns(3)], strict=True))
    solved = closing(monkeypatch, near, [columns(9)])
    bare()._make_least("cost", FREE)
    # The same number again is the same columns; all are looked at in the end.
    assert solved == [2, 3, 9]
    solved = closing(monkeypatch, near, [None])
    bare()._make_least("cost", FREE)
    assert solved == [2, 3]
    solved = closing(monkeypatch, {-1.0: columns(1)}, [None])
    bare()._make_least("cost", FREE)
    assert solved == [1]
    # Once a kit is known, all that may be better.
    search = bare()
    search.best = kit_like()
    solved = closing(monkeypatch, near, [columns(9)])
    search._make_least("cost", FREE)
    assert solved == [9]
    for any_will_do, wanted in ((True, [2]), (False, [2, 9])):
        search = bare()
        search.any_will_do = any_will_do
        closing(monkeypatch, near, [columns(9)])
        solved = []

        def found(lights: Any, scale: str, caps: Any, search: KitGoods = search, solved: Any = solved) -> None:
            solved.append(module.size_of(lights))
            search.best = kit_like()

        search._solve_all = found  # type: ignore[method-assign]
        search._make_least("cost", FREE)
        assert solved == wanted


def test_of_many_columns_those_near_the_bound_are_looked_at_first(monkeypatch: pytest.MonkeyPatch) -> None:
    """Lights of 100 and two of 100 cents, and a kit of 900: 0.3 of the way from 300 is a share of 0.6."""
    many, few = columns(MANY, 1), columns(5)
    shares: list[float] = []

    def search_of(states: Sequence[list[Any] | None], after: Sequence[int], near: list[Any] | None = few) -> list[int]:
        search = bare()
        search.best = kit_like(900)
        left, costs = list(states), list(after)
        solved: list[int] = []

        def solve(lights: Any, scale: str, caps: Any) -> None:
            solved.append(module.size_of(lights))
            search.best = kit_like(costs.pop(0))

        search._solve_all = solve  # type: ignore[method-assign]
        monkeypatch.setattr(KitGoods, "_near", lambda self, scale, caps, share: (shares.append(share), near)[1])
        monkeypatch.setattr(KitGoods, "_states", lambda self, scale, caps: left.pop(0))
        search._make_least("cost", FREE)
        return solved

    # Better by far, and few are left.
    assert search_of([many, columns(9)], [600, 600]) == [5, 9]
    assert shares == [pytest.approx(0.6)]
    # No better: then all.
    assert search_of([many], [900, 900]) == [5, MANY + 1]
    # Better once, then no better.
    assert search_of([many, many], [600, 600, 600]) == [5, 5, MANY + 1]
    assert shares[-1] == pytest.approx(0.3)
    assert search_of([columns(MANY)], [900]) == [MANY]
    assert search_of([many], [900], None) == [MANY + 1]
    assert search_of([many], [900], columns(MANY + 1)) == [MANY + 1]
    assert search_of([many, None], [600]) == [5]
    # Of lights that may come to nothing, a share of 0.3 × 900 of one cent.
    monkeypatch.setattr(KitGoods, "least", lambda self, scale: -5.0)
    assert search_of([many], [900, 900]) == [5, MANY + 1]
    assert shares[-1] == pytest.approx(270.0)
    monkeypatch.undo()
    # A kit at the bound itself can only be matched.
    shares.clear()
    search = bare()
    search.best = kit_like(300)
    monkeypatch.setattr(KitGoods, "_states", lambda self, scale, caps: many)
    search._solve_all = lambda *arguments: None  # type: ignore[method-assign]
    search._make_least("cost", FREE)
    assert shares == []


def answering(
    monkeypatch: pytest.MonkeyPatch, search: KitGoods, answers: Sequence[tuple[Status, float, int | None]]
) -> list[tuple[float, float]]:
    """Have programs end so: status, objective, and the cents of the kit where it holds; return caps and gaps."""
    left, asked = list(answers), []

    def program(lights: Any, caps: dict[str, float], scale: str) -> Any:
        asked.append([caps[scale]])
        return "program"

    def solve(k: Any, gap: float) -> Outcome:
        asked[-1].append(gap)
        status, objective, _ = left[0]
        return Outcome(status, objective, objective, {})

    def judged(k: Any, outcome: Outcome, lights: Any, caps: dict[str, float]) -> Any:
        cents = left.pop(0)[2]
        if cents is not None:
            search.best = kit_like(cents)
        return None if cents is None else search.best

    search._program, search._solve, search._judged = program, solve, judged  # type: ignore[method-assign, assignment]
    return asked  # type: ignore[return-value]


def test_programs_are_solved_until_nothing_better_is_left(monkeypatch: pytest.MonkeyPatch) -> None:
    good, none = Status.OPTIMAL, Status.IMPOSSIBLE
    search = bare()
    # 500 where the program counts 450, then 460 as counted: nothing is left.
    asked = answering(monkeypatch, search, [(good, 450.0, 500), (good, 440.0, None), (good, 460.0, 460)])
    search._solve_all([], "cost", {**FREE, "cost": 800.0})
    assert asked == [[800.0, 0.99], [499.25, 0.99], [499.25, 0.99]]
    # One cent above what it counts is as good as proven, two are not.
    search = bare()
    asked = answering(monkeypatch, search, [(good, 498.0, 500), (good, 499.0, 499), (good, 0.0, 1)])
    search._solve_all([], "cost", FREE)
    assert [caps for caps, _ in asked] == [math.inf, 499.25]
    # 499 where 500 is known: no whole cent lies between.
    search = bare()
    asked = answering(monkeypatch, search, [(good, 499.0, 500), (good, 0.0, 1)])
    search._solve_all([], "cost", FREE)
    assert len(asked) == 1
    search = bare()
    search.best = kit_like(300)
    asked = answering(monkeypatch, search, [(none, math.inf, None)])
    search._solve_all([], "cost", {**FREE, "cost": 200.0})
    assert asked == [[200.0, 0.99]]
    # Where any will do, the first one is enough, however far from the bound.
    search = bare()
    search.any_will_do = True
    asked = answering(monkeypatch, search, [(good, 1.0, None), (good, 1.0, 500), (good, 1.0, 1)])
    search._solve_all([], "cost", FREE)
    assert asked == [[math.inf, math.inf]] * 2
    # Time is up: with a kit, which is kept, or without.
    for status, cents in ((Status.NOTHING, None), (Status.FEASIBLE, 500), (Status.FEASIBLE, None)):
        search = bare()
        answering(monkeypatch, search, [(status, 500.0, cents)])
        with pytest.raises(TimeUpError):
            search._solve_all([], "cost", FREE)
        assert (search.best is None) == (cents is None)


def test_programs_are_counted_and_failures_said() -> None:
    search = bare(solver="other", threads=3)
    k = SimpleNamespace(solve=lambda *told: asked.append(told) or Outcome(Status.OPTIMAL, 1.0, 1.0, {}))
    asked: list[Any] = []
    assert search._solve(k, 0.5).status is Status.OPTIMAL  # type: ignore[arg-type]
    assert asked == [(0.5, search.house.seconds_left, 3, "other")]
    assert search.rounds == 1
    k = SimpleNamespace(solve=lambda *told: Outcome(Status.FAILED, 1.0, 1.0, {}))
    with pytest.raises(SolverError):
        search._solve(k, 0.5)  # type: ignore[arg-type]
    assert search.rounds == 2


def test_a_kit_is_judged_by_the_exact_check(monkeypatch: pytest.MonkeyPatch) -> None:
    refined: list[Any] = []
    monkeypatch.setattr(module, "_choice", lambda block, outcome: block)
    monkeypatch.setattr(KitGoods, "_refine", lambda self, *told: refined.append(told[-1]))
    k: Any = SimpleNamespace(chosen=lambda outcome: ["block"])
    nothing: Any = None
    for kit, cap, taken in (
        (kit_like(), 500.0, True),
        (kit_like(), 499.0, False),
        (kit_like(passes=False), 900.0, False),
    ):
        monkeypatch.setattr(module, "evaluate_kit", lambda choices, *_, kit=kit: kit)
        search = bare()
        found = search._judged(k, nothing, [], {**FREE, "cost": cap})
        assert (found is kit, search.best is kit) == (taken, taken)
        assert taken or refined.pop() is kit
    assert refined == []


def test_what_flattered_a_light_is_cut(monkeypatch: pytest.MonkeyPatch) -> None:
    """Losses of 2 W in the lead of a light of 50 VA."""
    whole = evaluate_kit([light, light], PARTS, KIT).lights[0]
    figures = {**whole.figures, "lead_loss": (2.0, "W")}
    cut: list[Any] = []
    monkeypatch.setattr(module, "refine_line", lambda state, line, f, outcome, found: cut.append((line, found.watts)))
    heavy = replace(whole.margins[0], name="mass", kind="max", required=1.0, achieved=2.0)
    for passes, counted, tangents, is_cut in (
        (True, 2.0, [], False),
        # By less than the solver's tolerances may blur, of 22 W: nothing can be cut off that.
        (True, 2.0 - 5.0e-7, [], False),
        (True, 2.0 - 1.0e-6, [], True),
        (True, 1.9, [], True),
        (True, 1.9, [Tangent(7, 50.0)], False),
        (True, 1.9, [Tangent(8, 50.0)], True),
        (True, 1.9, [Tangent(7, 51.0)], True),
        (False, 2.0, [Tangent(7, 50.0)], True),
        (False, None, [], True),
        (True, None, [], False),
    ):
        cut.clear()
        f = SimpleNamespace(scales={}, read=lambda outcome: (0, 7, None, []))
        block: Any = SimpleNamespace(light=1, line="line", formulation=f, loss=None if counted is None else 3)
        margins = whole.margins if passes else (replace(whole.margins[0], kind="max", required=-1.0, achieved=1.0),)
        found = replace(whole, figures=figures, apparent=50.0, watts=22.0, margins=margins, missing=())
        kit = kit_like(lights=[found], margins=[heavy], missing=("e",))
        k: Any = SimpleNamespace(program=SimpleNamespace(value=lambda outcome, v, counted=counted: counted))
        state: Any = SimpleNamespace(tangents=tangents)
        search = bare()
        nothing: Any = None
        if not is_cut:
            # The light holds and is not flattered: then the kit as a whole is refused, and that cannot be mended.
            with pytest.raises(CannotRefineError, match="mass, e"):
                search._refine(k, nothing, [block], [state], kit)
            assert cut == []
            continue
        search._refine(k, nothing, [block], [state], kit)
        assert cut == [("line", 2.0)]
        # One that is not flattered says nothing of those after it.
        fine: Any = SimpleNamespace(**vars(block) | {"loss": None, "light": 0, "line": "fine"})
        sound = replace(found, margins=whole.margins)
        both = kit_like(lights=[sound, found], margins=[heavy], missing=())
        search._refine(k, nothing, [fine, block], [SimpleNamespace(tangents=[]), state], both)
        assert cut == [("line", 2.0)] * 2
        # A loss that is not known is none.
        blank = replace(found, figures={**figures, "lead_loss": (None, "W")})
        search._refine(k, nothing, [block], [state], kit_like(lights=[replace(blank, missing=("e",))]))
        assert cut[2] == ("line", 0.0)
        assert search.lights[1].tangents == tangents
        assert search.lights[0].tangents == []
        assert f.scales == ({} if counted is None else {"power": {3: 1.0}})


light = Choice("e", (small_kits.ChannelChoice("d", 1, 1, 0.5, 1),), "p", None, "b", 1, 1, "c", "f", "k", "m")


def pairs(parts: Catalogue, kit: Scenario) -> list[tuple[int, int, tuple[Choice, ...]]]:
    """Return cents and milligrams of every kit; prices are by the piece, so that they add up."""
    every = [small_kits.builds(parts, entry.job) for entry in kit.kit]
    counts = [entry.count for entry in kit.kit]
    return [
        (
            sum(n * build.cents for n, build in zip(counts, pair, strict=True)),
            sum(n * build.milligrams for n, build in zip(counts, pair, strict=True)),
            tuple(build.choice for build in pair),
        )
        for pair in itertools.product(*every)
    ]


@pytest.fixture(scope="module")
def house() -> KitHouse:
    return KitHouse(PARTS, KIT, "cost", None, 1, None)


def opened(house: KitHouse, order: tuple[str, ...] = ("cost", "mass")) -> KitGoods:
    return house.open(house.catalogue, house.scenario, (), order, None)()


@pytest.mark.long
def test_the_best_kit_within_a_cap_is_that_of_every_pair(house: KitHouse) -> None:
    every = pairs(PARTS, KIT)
    light_ = min(mass for _, mass, _ in every)
    cheap = min(every, key=lambda kit: kit[:2])
    cap = float(min(mass for cents, mass, _ in every if mass > light_))
    assert cap < cheap[1]
    best = min((kit for kit in every if kit[1] <= cap), key=lambda kit: kit[:2])
    search = opened(house)
    search.run({**FREE, "mass": cap})
    assert search.best is not None
    assert (search.best.cents, search.best.milligrams) == best[:2]
    rounds, columns_, kept = search.effort
    assert 0 < rounds < 40
    assert 0 < kept < columns_


def alike() -> Catalogue:
    """Return parts of which two of each kind are the same but for their codes, the later one a larger fuse."""
    parts = small_kits.few_parts()

    def twice(kind: tuple[Any, ...], code: str, **changed: Any) -> tuple[Any, ...]:
        return kind[0], kind[0].model_copy(update={"part": code, **changed})

    prices = {"e": 900, "e9": 900, "d": 800, "p": 700, "p9": 700, "b": 2000, "b9": 2000, "c": 15, "k": 120, "m": 500}
    offers = small_kits.priced_parts.offers_of(prices)
    offers |= {code: (offer(code, "north", 90),) for code in ("f", "f3", "f9")}
    return replace(
        parts,
        emitters=twice(parts.emitters, "e9"),
        drivers=parts.drivers[:1],
        panels=twice(parts.panels, "p9"),
        batteries=twice(parts.batteries, "b9"),
        fuses=(*twice(parts.fuses, "f3", rating=3.0), parts.fuses[0].model_copy(update={"part": "f9", "rating": 0.5})),
        offers=offers,
    )


def test_of_kits_that_tie_that_with_the_first_part_codes_is_told() -> None:
    """Each light of one emitter: with the smallest fuse that carries 1.25 times its current (about 0.6 A of 12 V)."""
    parts, kit = alike(), small_kits.kit((0.5, 2))
    last = Choice("e9", (small_kits.ChannelChoice("d", 1, 1, 0.5, 1),), "p9", None, "b9", 1, 1, "c", "f", "k", "m")
    best = evaluate_kit([last], parts, kit)
    assert best.passes
    assert best.cents == 2 * (900 + 800 + 700 + 2000 + 150 + 120 + 500 + 90)
    search = KitHouse(parts, kit, "cost", None, 1, None).open(parts, kit, (), ("cost", "mass"), None)()
    search.break_ties(best, {**FREE, "cost": best.cents + 0.25, "mass": best.milligrams + 0.25})
    assert search.best is not None
    (choice,) = search.best.choice
    assert (choice.emitter, choice.panel, choice.battery, choice.fuse) == ("e", "p", "b", "f3")
    assert (search.best.cents, search.best.milligrams) == (best.cents, best.milligrams)


def ranked(
    monkeypatch: pytest.MonkeyPatch, statuses: Sequence[Status], held: Sequence[bool], ranks: dict[int, float]
) -> tuple[KitGoods, list[Any], list[Any]]:
    """Have programs of two lights end so, and their kits hold or not; return what is minimised and what is kept."""
    blocks = [
        SimpleNamespace(
            light=n, used=10 * n + emitter, line=SimpleNamespace(emitter=emitter), formulation=f"{n}{emitter}"
        )
        for n, emitter in ((0, 1), (1, 3), (1, 4))
    ]
    minimised: list[Any] = []
    fixed: list[Any] = []
    left, holds = list(statuses), list(held)
    k = SimpleNamespace(
        blocks=blocks, chosen=lambda outcome: [blocks[0], blocks[2]], program=SimpleNamespace(minimise=minimised.append)
    )
    search = bare()
    asked: Any = search
    asked._program = lambda lights, caps, scale: k if scale == "" else None
    asked._solve = lambda k, gap: Outcome(left.pop(0), 0.0, 0.0, {}) if gap == 1e-4 else None
    asked._judged = lambda k, outcome, lights, caps: kit_like() if holds.pop(0) else None
    monkeypatch.setattr(module, "rank_terms", lambda f, what: {**ranks} if f == "13" else None)
    monkeypatch.setattr(module, "_fix", lambda state, block, what, outcome: fixed.append((state, block, what)))
    return search, minimised, fixed


def test_the_first_of_what_a_light_can_have_is_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    good = Status.OPTIMAL
    states: Any = ["first", "second"]
    search, minimised, fixed = ranked(monkeypatch, [good], [True], {})
    search._first_by(states, 1, "emitters", FREE)
    assert minimised == [{13: 3.0, 14: 4.0}]
    assert [(state, block.used, what) for state, block, what in fixed] == [("second", 14, "emitters")]
    # Of one kind there is nothing to choose.
    search, minimised, fixed = ranked(monkeypatch, [], [], {})
    search._first_by(states, 0, "emitters", FREE)
    assert (minimised, fixed) == ([], [])
    # One that only the program holds for a kit is refined, and looked for again.
    search, minimised, fixed = ranked(monkeypatch, [good, good], [False, True], {7: 0.0, 8: 1.0})
    search._first_by(states, 1, "cells", FREE)
    assert (minimised, len(fixed)) == ([{7: 0.0, 8: 1.0}] * 2, 1)
    # Channels are told apart even if there is one kind of them: in which numbers is open.
    for what, number in (("channels", 1), ("mounts", 0), ("cells", 0)):
        search, minimised, fixed = ranked(monkeypatch, [good], [True], {7: 1.5})
        search._first_by(states, 1, what, FREE)
        assert len(fixed) == number
    for status, error in (
        (Status.NOTHING, TimeUpError),
        (Status.IMPOSSIBLE, SolverError),
        (Status.FEASIBLE, SolverError),
    ):
        search, _, fixed = ranked(monkeypatch, [status], [], {7: 0.0, 8: 1.0})
        with pytest.raises(error):
            search._first_by(states, 1, "cells", FREE)
        assert fixed == []


def test_ties_are_broken_light_by_light(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[Any] = []
    monkeypatch.setattr(KitGoods, "bounded", lambda self, caps: True)
    monkeypatch.setattr(KitGoods, "_states", lambda self, scale, caps: ["one", "two"] if scale == "cost" else None)
    monkeypatch.setattr(KitGoods, "_first_by", lambda self, lights, number, what, caps: asked.append((number, what)))
    monkeypatch.setattr(KitGoods, "_smallest_fuses", lambda self: asked.append("fuses"))
    search, best = bare(), kit_like()
    search.break_ties(best, FREE)
    assert search.best is best
    kinds = ("emitters", "cells", "supplies", "mounts", "channels")
    assert asked == [*((number, what) for number in (0, 1) for what in kinds), "fuses"]


def test_a_smaller_fuse_is_taken_where_nothing_else_changes(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of fuses from the smallest on: a is dearer, b does not pass, c is heavier, d will do for the second light."""
    monkeypatch.setattr(module, "smaller_fuses", lambda light, market: [SimpleNamespace(part=code) for code in "abcde"])
    told = {
        "a": kit_like(501),
        "b": kit_like(passes=False),
        "c": kit_like(milligrams=11),
        "d": kit_like(),
        "e": kit_like(),
    }

    def evaluated(choices: Sequence[Choice], *_: Any) -> Any:
        fuses = [choice.fuse for choice in choices]
        found = told[fuses[1]] if fuses[0] == "f" else kit_like(999)
        return SimpleNamespace(**vars(found) | {"choice": tuple(choices), "lights": ["", ""]})

    monkeypatch.setattr(module, "evaluate_kit", evaluated)
    search = bare()
    search.best = kit_like(choice=(light, light), lights=["", ""])
    for each in search.lights:
        each.market = None  # type: ignore[assignment]
    search._smallest_fuses()
    assert [choice.fuse for choice in search.best.choice] == ["f", "d"]


@pytest.mark.parametrize("what", ["emitters", "cells", "supplies", "mounts", "channels"])
def test_what_came_first_is_all_that_is_left(what: str) -> None:
    class Kept:
        supplies, channels = np.array([4, 7, 9]), np.array([2, 3, 5])

        def take(self, **masks: Any) -> Any:
            return {name: mask.tolist() for name, mask in masks.items()}

    kept = Kept()
    cells = [SimpleNamespace(head=head) for head in (1, 2, 1)]
    line: Any = SimpleNamespace(cells=cells, kept=kept)
    f = SimpleNamespace(read=lambda outcome: (2, 7, None, [(3, 1), (5, 2)]))
    block: Any = SimpleNamespace(line=line, formulation=f)
    state: Any = SimpleNamespace(lines=["others", line])
    nothing: Any = None
    module._fix(state, block, what, nothing)
    assert state.lines == ([line] if what == "emitters" else ["others", line])
    assert line.cells == ([cells[0], cells[2]] if what == "cells" else cells)
    left = {"supplies": {"supplies": [False, True, False]}, "channels": {"channels": [False, True, True]}}
    assert line.kept == left.get(what, kept)
