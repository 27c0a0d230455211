"""What screening leaves by simple figures, one column at a time, and in which order bounds are asked for."""

import math
from collections.abc import Mapping
from dataclasses import replace
from random import Random

import numpy as np
import pytest
from small_worlds import STEADY, WARM, job, pair_world, parts_of, world

from optimise.columns.heads import NO_DIFFUSER
from optimise.model import screening
from optimise.model.bounds import COARSE, FINE, Grain
from optimise.model.kept import Kept, everything
from optimise.model.light import most_of
from optimise.model.problem import Problem
from optimise.model.screening import fits, screened, sifted
from optimise.scenario.points import Point

THREE = tuple(parts_of().drivers[0].model_copy(update={"part": f"d{n}"}) for n in range(3))
BASES = {
    False: world(parts_of(WARM, STEADY, drivers=THREE), job(illuminance=300.0)),
    True: world(parts_of(WARM, STEADY, drivers=THREE), job(Point(name="x", illuminance_max=320.0), illuminance=300.0)),
}

PLAIN, ROUGH = world(parts_of(), job()), world(parts_of(), job(), sharp=False)


def made(seed: int, *, limited: bool) -> tuple[Problem, Kept]:
    """Return a problem with figures of which each rule refuses some."""
    rng, plain = Random(seed), BASES[limited]
    n, h, s = len(plain.channels), len(plain.heads), 4

    def among(number: int, *values: float) -> np.ndarray:
        return np.array([rng.choice(values) for _ in range(number)])

    deliverable = among(s, *rng.choice([(6.0,), (6.0, 9.0), (6.0, 9.0, 12.0)]))
    supplies = replace(plain.supplies.take(np.zeros(s, dtype=np.int64)), deliverable=deliverable)
    market = replace(plain.market, supplies=supplies)
    feeds = np.array([[rng.random() < 0.5 for _ in range(s)] for _ in range(len(plain.parts.drivers))])
    market.__dict__["_window"] = np.arange(s), feeds
    problem = replace(
        plain,
        market=market,
        channels=replace(
            plain.channels,
            flux=among(n, 400.0, 800.0),
            series=among(n, 1, 2, 3, 5).astype(np.int64),
            parallel=np.ones(n, dtype=np.int64),
            apparent=among(n, 3.0, 5.0, 12.0, 12.5),
            heat=among(n, 1.0, 3.0),
        ),
        heads=replace(
            plain.heads,
            columns=among(h, 1, 2, 4).astype(np.int64),
            rows=np.ones(h, dtype=np.int64),
            heat_max=among(h, 2.0, 5.0, 20.0),
        ),
    )
    problem.__dict__["density"] = among(n, 1.0, 2.0, 3.0)
    problem.__dict__["bears"] = among(h, 0.5, 1.0, 2.0, 2.5)
    kept = everything(problem)
    flux = np.array([0.0 if rng.random() < 0.15 else f for f in problem.channels.flux.tolist()])
    need = among(h, 400.0, 800.0, 1000.0, 1600.0)
    return problem, replace(kept, flux=flux, need=need, fewest=among(h, 1, 1, 2).astype(np.int64))


def left(problem: Problem, kept: Kept) -> tuple[list[int], list[int], list[int]]:
    """Return the channels, heads and supplies that may be in a build, by looking at each."""
    c, h, m = problem.channels, problem.heads, problem.market
    _, feeds = m.__dict__["_window"]
    bright = [i for i, f in zip(kept.channels.tolist(), kept.flux.tolist(), strict=True) if f > 0.0]
    strongest = max(problem.supplies.deliverable[kept.supplies])

    def least(figures: np.ndarray, emitter: int) -> float:
        return min((figures[i] / kept.flux[i] for i in bright if c.emitter[i] == emitter), default=math.inf)

    lit = []
    for place, head in enumerate(kept.heads.tolist()):
        e, need = int(h.emitter[head]), float(kept.need[place])
        pieces = max(need * least(c.count, e), float(kept.fewest[place]))
        if pieces > h.capacity[head] + 1e-6 and math.ceil(pieces - 1e-6) > h.capacity[head]:
            continue
        if need * least(c.heat, e) > h.heat_max[head] + 1e-6 or need * least(c.apparent, e) > strongest + 1e-6:
            continue
        if math.ceil(pieces - 1e-6) > h.capacity[head] or problem.bears[head] < min(problem.density[i] for i in bright):
            continue
        if m.light_is_limited:
            # 300 lx ahead, with tolerances that may make the first kind 10 % brighter.
            lumens = 300.0 / h.lux_per_lumen[head] * (1.1 if problem.parts.emitters[e].part == "e" else 1.0)
            if lumens > most_of(problem, np.array([head]))[0] * (1.0 + 1e-6):
                continue
        lit.append(head)
    channels = []
    for i in bright:
        rooms = [int(h.capacity[head]) for head in lit if h.emitter[head] == c.emitter[i]]
        fed = any(feeds[c.driver[i], s] for s in kept.supplies.tolist())
        borne = problem.density[i] <= max(problem.bears[kept.heads])
        if rooms and fed and borne and c.count[i] <= max(rooms) and c.apparent[i] <= strongest:
            channels.append(i)
    supplies = [s for s in kept.supplies.tolist() if any(feeds[c.driver[i], s] for i in channels)]
    return channels, lit, supplies


@pytest.mark.parametrize("limited", [False, True])
@pytest.mark.parametrize("seed", range(10))
def test_what_fits_one_column_at_a_time(seed: int, limited: bool) -> None:
    problem, kept = made(seed, limited=limited)
    found = fits(problem, kept)
    channels, heads, supplies = left(problem, kept)
    assert found.channels.tolist() == channels
    assert found.heads.tolist() == heads
    assert found.supplies.tolist() == supplies
    # Of some of the columns as of all.
    some = kept.take(channels=kept.channels % 3 > 0, heads=kept.heads % 4 > 0, supplies=kept.supplies > 0)
    if some.possible:
        dense = replace(some, flux=np.maximum(some.flux, 1.0))
        whole = replace(kept, flux=np.maximum(kept.flux, 1.0))
        assert set(fits(problem, dense).heads.tolist()) <= set(fits(problem, whole).heads.tolist())


def test_what_is_too_hot_for_any_light_leaves_nothing() -> None:
    problem, kept = made(1, limited=False)
    dark = replace(kept, flux=np.zeros(len(kept.flux)))
    found = fits(problem, dark)
    assert not found.possible
    assert len(found.channels) == 0
    assert len(found.heads) == len(kept.heads)
    assert fits(problem, found) is found


def test_a_mixture_takes_two_kinds() -> None:
    mixed = pair_world(parts_of(WARM, STEADY), job())
    kept = everything(mixed)
    assert fits(mixed, kept).possible
    for kind in (0, 1):
        one = fits(mixed, kept.take(channels=mixed.kinds[kept.channels] == kind))
        assert len(one.heads) == 0
        assert len(one.channels) > 0


ASKED = {"cost": 500.0, "mass": 9e6, "power": math.inf}


class Recorder:
    """Stands for `bounded`: notes what it is asked for, and drops so many heads each time."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, *, drops: int = 0, lows: tuple[float, ...] = ()) -> None:
        self.calls: list[tuple[str, float, Grain]] = []
        self.drops, self.lows = drops, list(lows)
        monkeypatch.setattr(screening, "bounded", self.bounded)
        monkeypatch.setattr(screening, "weigh", lambda problem, scale, load: scale)
        monkeypatch.setattr(screening, "weigh_all", lambda problem, caps, load: "all")

    def bounded(self, problem: Problem, kept: Kept, weighing: str, cap: float, grain: Grain) -> Kept:
        self.calls.append((weighing, cap, grain))
        low = self.lows.pop(0) if self.lows else kept.low
        return replace(kept.take(heads=np.arange(max(len(kept.heads) - self.drops, 0))), low=low)


@pytest.mark.parametrize("first", ["cost", "mass", "power"])
def test_the_objective_is_bounded_first_and_all_scales_together_last(
    first: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    problem = ROUGH
    assert problem.heads.rough.any()
    recorder = Recorder(monkeypatch)
    sharp, kept = sifted(problem, everything(problem), ASKED, first)
    order = [first, *(scale for scale in ("cost", "mass", "power") if scale != first)]
    once = [(scale, ASKED[scale], COARSE) for scale in order if ASKED[scale] < math.inf]
    assert recorder.calls == [*once, *once, ("all", 1.0, COARSE)]
    # The light of what is left is exact, and its boards are warm.
    assert not sharp.heads.rough[kept.heads].any()
    assert (kept.board > 20.0).all()


def test_one_cap_is_not_bounded_twice(monkeypatch: pytest.MonkeyPatch) -> None:
    problem = PLAIN
    recorder = Recorder(monkeypatch)
    sifted(problem, everything(problem), {**ASKED, "mass": math.inf}, "cost")
    assert [scale for scale, *_ in recorder.calls] == ["cost", "cost"]


def test_nothing_is_bounded_once_nothing_is_left(monkeypatch: pytest.MonkeyPatch) -> None:
    problem = ROUGH
    recorder = Recorder(monkeypatch, drops=1000)
    same, kept = sifted(problem, everything(problem), ASKED, "cost")
    assert [scale for scale, *_ in recorder.calls] == ["cost"]
    assert not kept.possible
    assert same is problem
    recorder.calls.clear()
    screened(problem, everything(problem), ASKED, ["cost", "mass"])
    assert [scale for scale, *_ in recorder.calls] == ["cost"]


@pytest.mark.parametrize(
    ("lows", "told"),
    [
        # By scale, coarse twice: what is told of the mass is no cost; what is over all caps may be over that of cost.
        ((700.0, 650.0, 600.0, 550.0, 520.0), 500.0),
        ((700.0, 450.0, 400.0, 350.0, 300.0), 400.0),
        ((700.0, 1.0, 490.0, 1.0, 1.0), 490.0),
    ],
)
def test_what_is_told_is_of_the_first_scale(
    lows: tuple[float, ...], told: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    problem = PLAIN
    Recorder(monkeypatch, lows=lows)
    _, kept = sifted(problem, everything(problem), ASKED, "cost")
    assert kept.low == told


def test_without_a_cap_on_the_first_scale_nothing_is_told_of_it(monkeypatch: pytest.MonkeyPatch) -> None:
    problem = PLAIN
    Recorder(monkeypatch, lows=(3.0, 4.0))
    _, kept = sifted(problem, everything(problem), {**ASKED, "mass": math.inf}, "power")
    assert kept.low == math.inf


@pytest.mark.parametrize(
    ("heads", "drops", "sizes"),
    # Of 2 channels, 2 supplies and some heads: another round follows where three tenths are gone or more.
    [(8, 0, [12, 12]), (8, 3, [12, 9]), (6, 3, [10, 7, 4]), (8, 4, [12, 8, 4])],
)
def test_screening_goes_on_while_much_goes(
    heads: int, drops: int, sizes: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    recorder = Recorder(monkeypatch, drops=drops)
    monkeypatch.setattr(screening, "sifted", lambda problem, kept, caps, objective: (problem, kept))
    monkeypatch.setattr(screening, "drop_beaten", lambda problem, kept: kept)
    monkeypatch.setattr(screening, "fits", lambda problem, kept: kept)
    kept = everything(PLAIN).take(channels=np.arange(2), heads=np.arange(heads))
    caps = {"cost": math.inf, "mass": 9e6, "power": math.inf}
    assert kept.size == sizes[0]
    _, found = screened(PLAIN, kept, caps, ["mass"])
    assert found.size == sizes[-1]
    assert recorder.calls == [("mass", 9e6, FINE)] * (len(sizes) - 1)


def test_fine_bounds_are_on_the_tight_scales_and_on_all_together(monkeypatch: pytest.MonkeyPatch) -> None:
    recorder = Recorder(monkeypatch)
    monkeypatch.setattr(screening, "sifted", lambda problem, kept, caps, objective: (problem, kept))
    screened(PLAIN, everything(PLAIN), ASKED, ["mass"])
    assert recorder.calls == [("mass", ASKED["mass"], FINE), ("all", 1.0, FINE)]


def test_the_faintest_light_is_light() -> None:
    problem, kept = made(2, limited=False)
    faint = replace(kept, flux=kept.flux / 1600.0, need=kept.need / 1600.0)
    one, other = fits(problem, kept), fits(problem, faint)
    for name in ("channels", "heads", "supplies"):
        assert getattr(one, name).tolist() == getattr(other, name).tolist()
    assert len(one.channels)


@pytest.mark.parametrize("points", [(), (Point(name="x", across=0.1, illuminance_max=900.0),)])
def test_beaten_columns_go_and_boards_are_warm(points: tuple[Point, ...]) -> None:
    # Two drivers alike but for their codes: one stays. What is left is what a second screening leaves.
    problem = world(parts_of(drivers=THREE[:2]), job(*points))
    caps: Mapping[str, float] = {"cost": math.inf, "mass": math.inf, "power": math.inf}
    whole = everything(problem)
    sharp, found = screened(problem, whole, caps, ["mass"])
    assert found.possible
    assert set(problem.channels.driver[found.channels].tolist()) == {0}
    assert (found.board > 20.0).all()
    _, again = screened(sharp, found, caps, ["mass"])
    for name in ("channels", "heads", "supplies"):
        assert getattr(again, name).tolist() == getattr(found, name).tolist()
    assert (problem.heads.diffuser[found.heads] == NO_DIFFUSER).any()
