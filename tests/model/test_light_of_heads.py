"""What heads need and channels give on warm boards: one head, one channel at a time, and lines under true curves."""

import itertools
import math
from dataclasses import replace
from random import Random

import numpy as np
import pytest
from random_catalogues import random_table
from small_worlds import BOARDS, STEADY, WARM, job, pair_world, parts_of, world

from optimise.columns.heads import NO_DIFFUSER, usable_size
from optimise.model import light
from optimise.model.problem import Problem
from optimise.physics.distributions import bare_beam, open_bounds
from optimise.physics.heat import heat_shed
from optimise.physics.spots import face_spots, spot_bounds
from optimise.scenario.points import Point

POINTS = (
    Point(name="a", across=0.4, illuminance=70.0, illuminance_max=200.0),
    Point(name="b", up=-0.5, distance=1.4, illuminance=50.0),
    Point(name="c", across=-0.2, distance=0.6, illuminance_max=400.0),
)
PLAIN = world(parts_of(), job())
AIMED = world(parts_of(), job(*POINTS))
MIXED = pair_world(parts_of(), job())
WARMER = pair_world(parts_of(WARM, STEADY.model_copy(update={"flux_per_kelvin": -0.002})), job())
ALL = [PLAIN, AIMED, MIXED, WARMER]
IDS = ["plain", "aimed", "mixed", "both lose"]


def every(problem: Problem) -> np.ndarray:
    return np.arange(len(problem.heads))


def coefficient(problem: Problem, head: int) -> float:
    """Return the change per kelvin by which a head counts: of two kinds that of the one that loses less."""
    if problem.mix is not None:
        return max(emitter.flux_per_kelvin for emitter in problem.parts.emitters)
    return problem.parts.emitters[problem.heads.emitter[head]].flux_per_kelvin


def on_spots(problem: Problem, head: int, end: int) -> list[float]:
    """Return the lux on each face for each lumen of a head; of an open one the least (0) or the most (1) there is."""
    h, parts = problem.heads, problem.parts
    panel, emitter = parts.panels[h.panel[head]], parts.emitters[h.emitter[head]]
    # What goes back is lost: the board states no reflectance.
    forward = 1.0 - (emitter.back or 0.0)
    spots = problem.market.boards.spots
    if h.diffuser[head] == NO_DIFFUSER:
        beam = bare_beam(emitter.beam, emitter.photometric)
        return [forward * float(each) for each in spot_bounds(beam, *usable_size(panel), spots)[:, end]]
    sheet = parts.diffusers[h.diffuser[head]]
    spread = None if sheet.spread is None else math.hypot(emitter.beam, sheet.spread)
    m = 1.0 if spread is None else math.log(0.5) / math.log(math.cos(math.radians(min(spread, 120.0)) / 2.0))
    return [forward * sheet.transmittance * each for each in face_spots(m, panel.width, panel.height, True, spots)]


def hardest(problem: Problem, head: int) -> float:
    """Return the light of a head by the hardest of what is asked: 100 lx ahead, 70 at a, 50 at b."""
    ahead = float(problem.heads.lux_per_lumen[head])
    if not problem.market.targets:
        return ahead
    a, b, _ = on_spots(problem, head, 1)
    return min(ahead, a * 100.0 / 70.0, b * 100.0 / 50.0)


@pytest.mark.parametrize("problem", ALL, ids=IDS)
def test_what_heads_need(problem: Problem) -> None:
    assert light.hardest(problem, every(problem)) == pytest.approx([hardest(problem, h) for h in every(problem)])
    for board in (20.0, 25.0, 61.0):
        found = light.need_of(problem, every(problem), np.full(len(problem.heads), board))
        for h in every(problem).tolist():
            warm = 1.0 + coefficient(problem, h) * (board - 25.0)
            assert found[h] == pytest.approx(100.0 / (hardest(problem, h) * warm), rel=1e-9)


def test_on_a_board_that_takes_all_light_the_need_has_no_end() -> None:
    # 0.5 % a kelvin: at 225 °C nothing is left, and no more than a millionth is counted.
    for board in (225.0, 300.0):
        found = light.need_of(PLAIN, every(PLAIN), np.full(len(PLAIN.heads), board))
        for h in every(PLAIN).tolist():
            share = 1e-6 if coefficient(PLAIN, h) < 0.0 else 1.0
            assert found[h] == pytest.approx(100.0 / hardest(PLAIN, h) / share, rel=1e-9)


@pytest.mark.parametrize("problem", [PLAIN, MIXED, WARMER], ids=["plain", "mixed", "both lose"])
def test_what_channels_give_on_the_coldest_board(problem: Problem) -> None:
    c = problem.channels
    index = np.arange(len(c))
    assert len(np.unique(problem.kinds)) == 2
    for boards in ([10.0, 40.0], [30.0, 30.0], [230.0, 230.0]):
        found = light.flux_of(problem, index, np.array(boards))
        for i in index.tolist():
            own, cold = problem.own_per_kelvin[i], boards[c.emitter[i]] - 25.0
            counted = own if problem.mix is None else max(e.flux_per_kelvin for e in problem.parts.emitters)
            # As `need_of` divides by what a board takes, lumens are multiplied by it.
            share = 1.0 + own * (cold + c.rise[i])
            by = max(1.0 + counted * cold, 1e-6)
            wanted = share / by if problem.mix is not None else 1.0 + own * c.rise[i] / by
            assert found[i] == pytest.approx(c.flux[i] * max(wanted, 0.0), rel=1e-9)
    assert (light.flux_of(problem, index, np.array([230.0, 230.0])) >= 0.0).all()


def test_a_channel_times_what_its_board_takes_is_its_light() -> None:
    # Light at 50 °C on the board, by the data sheet: flux (1 + a (50 + rise − 25)).
    c, index = PLAIN.channels, np.arange(len(PLAIN.channels))
    found = light.flux_of(PLAIN, index, np.array([50.0, 50.0]))
    for i in index.tolist():
        a = PLAIN.parts.emitters[c.emitter[i]].flux_per_kelvin
        assert found[i] * (1.0 + a * 25.0) == pytest.approx(c.flux[i] * (1.0 + a * (25.0 + c.rise[i])))


@pytest.mark.parametrize("problem", [PLAIN, MIXED, WARMER], ids=["plain", "mixed", "both lose"])
def test_the_dimmest_and_the_ceiling(problem: Problem) -> None:
    # Tolerances may make the first kind 10 % brighter, at 90 % of the heat: its board is 90 % as far above 20 °C.
    c, index, hottest = problem.channels, np.arange(len(problem.channels)), np.array([60.0, 60.0])
    found = light.dimmest_of(problem, index, hottest)

    def factor(kind: str, board: float, rise: float, a: float) -> float:
        heat = 0.9 if kind == "e" else 1.0
        return 1.0 + a * (20.0 + heat * (board - 20.0) + heat * rise - 25.0)

    for i in index.tolist():
        own = problem.parts.emitters[problem.kinds[i]].part
        head = problem.parts.emitters[c.emitter[i]].part
        losing = problem.parts.emitters[problem.kinds[i]].flux_per_kelvin
        counted = losing if problem.mix is None else max(e.flux_per_kelvin for e in problem.parts.emitters)
        if problem.mix is None:
            wanted = factor(own, 60.0, c.rise[i], losing) / factor(head, 60.0, 0.0, counted)
        else:
            # Channels count by the tolerances of their head's emitter, which is the first.
            wanted = factor(head, 60.0, c.rise[i], losing) / factor(head, 60.0, 0.0, counted)
        assert found[i] == pytest.approx(c.flux[i] * wanted, rel=1e-9)
        for board in (20.0, 35.0, 60.0):
            cooler = factor(own, board, c.rise[i], losing) / factor(head, board, 0.0, counted)
            if problem.mix is None:
                assert found[i] <= c.flux[i] * cooler * (1.0 + 1e-12)
    most = light.ceiling_of(
        problem, every(problem), np.full(len(problem.heads), 5000.0), np.full(len(problem.heads), 55.0)
    )
    for h in every(problem).tolist():
        kind = problem.parts.emitters[problem.heads.emitter[h]].part
        brighter = 1.1 if kind == "e" else 1.0
        assert most[h] == pytest.approx(5000.0 / brighter / factor(kind, 55.0, 0.0, coefficient(problem, h)), rel=1e-9)


def test_no_light_is_negative_where_it_is_too_hot() -> None:
    hot = np.array([400.0, 400.0])
    for problem in (PLAIN, MIXED):
        index = np.arange(len(problem.channels))
        assert light.dimmest_of(problem, index, hot).min() == 0.0
        number = len(problem.heads)
        ceiling = light.ceiling_of(problem, every(problem), np.ones(number), np.full(number, 400.0))
        for h, most in zip(every(problem).tolist(), ceiling.tolist(), strict=True):
            brighter = 1.1 if problem.parts.emitters[problem.heads.emitter[h]].part == "e" else 1.0
            assert most == pytest.approx((1e6 if coefficient(problem, h) < 0.0 else 1.0) / brighter)


def test_the_least_and_the_most_on_faces() -> None:
    heads = every(AIMED)
    least, most = light.least_spots(AIMED, heads), light.most_of(AIMED, heads)
    for h in heads.tolist():
        wanted = on_spots(AIMED, h, 0)
        assert least[h] == pytest.approx(wanted, rel=1e-9)
        ends = [limit / each if each > 0.0 else math.inf for limit, each in ((200.0, wanted[0]), (400.0, wanted[2]))]
        assert most[h] == pytest.approx(min(ends), rel=1e-9)
    # Any order and number of heads.
    assert np.array_equal(light.least_spots(AIMED, heads[::-2]), least[::-2])
    assert np.array_equal(light.most_of(AIMED, heads[::-2]), most[::-2])
    assert np.isinf(light.most_of(PLAIN, every(PLAIN))).all()
    one_end = world(parts_of(), job(POINTS[1]))
    assert np.isinf(light.most_of(one_end, every(one_end))).all()
    away = world(parts_of(), job(Point(name="x", face_bearing=180.0, illuminance_max=1.0)))
    assert np.isinf(light.most_of(away, every(away))).all()
    # Where the light is not worked out yet, as little as none is sure.
    rough = world(parts_of(), job(*POINTS), sharp=False)
    for h in every(rough).tolist():
        if rough.heads.rough[h]:
            assert light.least_spots(rough, np.array([h])).tolist() == [[0.0, 0.0, 0.0]]
    assert rough.heads.rough.any()
    assert not rough.heads.rough.all()


@pytest.mark.parametrize("sharp", [True, False])
def test_what_a_lumen_gives_at_least(sharp: bool) -> None:
    problem = world(parts_of(), job(), sharp=sharp)
    found = light.least_share(problem, every(problem))
    for h in every(problem).tolist():
        panel, emitter = (
            problem.parts.panels[problem.heads.panel[h]],
            problem.parts.emitters[problem.heads.emitter[h]],
        )
        if problem.heads.diffuser[h] != NO_DIFFUSER:
            assert found[h] == (0.0 if problem.heads.rough[h] else 1.0)
            continue
        # From a corner, half a diagonal aside: cos^(m + 3) of what comes from the middle.
        width, height = usable_size(panel)
        cosine = 1.0 / math.sqrt(1.0 + (width**2 + height**2) / 4.0)
        m = math.log(0.5) / math.log(math.cos(math.radians(emitter.beam) / 2.0))
        assert found[h] == pytest.approx(cosine ** (m + 3.0), rel=1e-9)


def test_what_a_measured_lumen_gives_at_least() -> None:
    measured = STEADY.beaming(random_table(Random(4)))
    problem = world(parts_of(WARM, measured), job(distance=1.5))
    found = light.least_share(problem, every(problem))
    open_ = [
        h
        for h in every(problem).tolist()
        if problem.heads.diffuser[h] == NO_DIFFUSER and problem.parts.emitters[problem.heads.emitter[h]].part == "g"
    ]
    assert open_
    for h in open_:
        size = usable_size(problem.parts.panels[problem.heads.panel[h]])
        least, most = open_bounds(bare_beam(measured.beam, measured.photometric), *size, 1.5)
        assert 0.0 <= found[h] < 1.0
        assert found[h] == pytest.approx(least / most, rel=1e-9)


def test_a_face_that_is_asked_for_little_changes_nothing() -> None:
    easy = world(parts_of(), job(Point(name="x", illuminance=1e-3)))
    assert light.least_share(easy, every(easy)) == pytest.approx(light.least_share(PLAIN, every(PLAIN)), rel=1e-9)


def test_what_a_lumen_gives_at_least_of_the_hardest_that_is_asked() -> None:
    found = light.least_share(AIMED, every(AIMED))
    plain = light.least_share(PLAIN, every(PLAIN))
    for h in every(AIMED).tolist():
        a, b, _ = on_spots(AIMED, h, 0)
        (ahead,) = [
            plain[k] * PLAIN.heads.lux_per_lumen[k]
            for k in every(PLAIN).tolist()
            if all(getattr(PLAIN.heads, n)[k] == getattr(AIMED.heads, n)[h] for n in ("emitter", "panel", "diffuser"))
        ]
        least = min(ahead, a * 100.0 / 70.0, b * 100.0 / 50.0)
        assert found[h] == pytest.approx(least / hardest(AIMED, h), rel=1e-9)
    assert found.max() == pytest.approx(1.0)
    assert found.min() < 1.0


EVEN = {"subject_width": 0.5, "uniformity_min": 0.1}
DOTS: dict[str, object] = {"dots_max": 0.9}
DEEP = tuple(panel.model_copy(update={"depth": 0.1}) for panel in BOARDS)


@pytest.mark.parametrize(("even", "limited"), list(itertools.product([False, True], repeat=2)))
def test_which_heads_may_hold_more_than_their_light_takes(even: bool, limited: bool) -> None:
    points = (Point(name="x", across=0.1, illuminance_max=1e5),) if limited else ()
    problem = world(parts_of(), job(*points, **(EVEN if even else {})))
    open_ = problem.heads.diffuser == NO_DIFFUSER
    assert open_.any()
    assert not open_.all()
    wanted = np.ones(len(open_), dtype=bool) if limited else open_ & even
    assert light.crowded(problem, every(problem)).tolist() == wanted.tolist()
    assert light.crowded(problem, every(problem)[1:3]).tolist() == wanted[1:3].tolist()
    dotted = world(parts_of(panels=DEEP), job(*points, look=DOTS))
    assert light.crowded(dotted, every(dotted)).all()
    assert len(dotted.heads)
    assert light.crowded(MIXED, every(MIXED)).tolist() == [True] * len(MIXED.heads)


def test_open_heads_that_need_hide_nothing_are_not_crowded_by_dots() -> None:
    # No open head is built where dots are limited; asked all the same, it has none.
    problem = world(parts_of(panels=DEEP), job())
    look = problem.scenario.look.model_copy(update=DOTS)
    scenario = problem.scenario.model_copy(update={"look": look})
    asked = replace(problem, market=replace(problem.market, scenario=scenario))
    found = light.crowded(asked, every(asked))
    assert found.tolist() == (asked.heads.diffuser != NO_DIFFUSER).tolist()


def test_how_warm_boards_are() -> None:
    heads = every(PLAIN)
    for heat in (0.0, 2.0, 9.0):
        found = light.boards(PLAIN, heads, np.full(len(heads), heat))
        for h, board in zip(heads.tolist(), found.tolist(), strict=True):
            panel = PLAIN.parts.panels[PLAIN.heads.panel[h]]
            # The wide board by convection and radiation, the tall one by what was measured: 0.8 K/W.
            if panel.thermal_resistance is None:
                shed = heat_shed(board, 20.0, panel.width, panel.height, panel.faces, panel.emissivity)
                assert float(shed) == pytest.approx(heat, rel=1e-6, abs=1e-6)
                assert light.heat_at(PLAIN, h, 45.0) == pytest.approx(
                    float(heat_shed(45.0, 20.0, panel.width, panel.height, panel.faces, panel.emissivity))
                )
            else:
                assert board == pytest.approx(20.0 + 0.8 * heat, abs=1e-7)
                assert light.heat_at(PLAIN, h, 45.0) == pytest.approx(25.0 / 0.8)
            assert board <= 20.0 + 0.8 * heat or panel.thermal_resistance is None
            assert board >= 20.0
    # No warmer than they may be.
    limit = PLAIN.heads.limit
    hot = light.boards(PLAIN, heads, np.full(len(heads), 1e4))
    assert hot == pytest.approx(limit, abs=1e-6)
    assert (hot <= limit).all()


def shed_by(problem: Problem, head: int, board: np.ndarray) -> np.ndarray:
    """Return the heat of a board at temperatures: by convection and radiation, or by 0.8 K/W as measured."""
    panel = problem.parts.panels[problem.heads.panel[head]]
    if panel.thermal_resistance is not None:
        return (board - 20.0) / 0.8
    return heat_shed(board, 20.0, panel.width, panel.height, panel.faces, panel.emissivity)


@pytest.mark.parametrize("share", [0.0, 0.6, 1.0, 1.7])
def test_a_line_under_the_need(share: float) -> None:
    heads, at = every(PLAIN), np.linspace(22.0, 58.0, 433)
    low, high = np.full(len(heads), 22.0), np.full(len(heads), 58.0)
    slope = light.slope_of(PLAIN, heads, low, high)
    base = light.base_of(PLAIN, heads, low, high, share * slope)
    for h in heads.tolist():
        need, heat = light.need_of(PLAIN, np.full(len(at), h), at), shed_by(PLAIN, h, at)
        mean = (need[-1] - need[0]) / (heat[-1] - heat[0])
        assert slope[h] == pytest.approx(mean, rel=1e-9, abs=1e-12)
        under = (need - share * slope[h] * heat).min()
        assert base[h] <= under + 1e-9
        # No further below than what changes over a 96th of the range, and a little for the curves.
        assert base[h] >= under - 1.6 * max(need[-1] - need[0], share * slope[h] * heat[-1]) / 96.0 - 1e-9
        if share == 0.0:
            assert base[h] == pytest.approx(need[0], rel=1e-12)


def test_a_line_under_a_need_that_falls_is_that_of_its_warm_end() -> None:
    # One piece of a steady emitter needs as much at any temperature: what heat takes off a slope is all there is.
    heads = np.array([h for h in every(PLAIN).tolist() if coefficient(PLAIN, h) == 0.0])
    low, high = np.full(len(heads), 22.0), np.full(len(heads), 58.0)
    for slope in (0.0, 3.0, 40.0):
        base = light.base_of(PLAIN, heads, low, high, np.full(len(heads), slope))
        for place, h in enumerate(heads.tolist()):
            need = 100.0 / hardest(PLAIN, h)
            heat = float(shed_by(PLAIN, h, np.array([58.0]))[0])
            assert base[place] == pytest.approx(need - slope * heat, rel=1e-8)
            # Never above, even by rounding.
            assert base[place] <= need - slope * heat * (1.0 + 0.5e-9) or slope == 0.0


def test_a_board_that_has_one_temperature_has_a_flat_line() -> None:
    heads = every(PLAIN)
    at = np.full(len(heads), 40.0)
    need = light.need_of(PLAIN, heads, at)
    assert light.slope_of(PLAIN, heads, at, at).tolist() == [0.0] * len(heads)
    flat = light.base_of(PLAIN, heads, at, at, np.zeros(len(heads)))
    assert flat == pytest.approx(need, rel=1e-12)
    # Less than a micro-watt is no range, half a watt is one.
    heat = np.array([light.heat_at(PLAIN, h, 40.0) for h in heads.tolist()])
    some = light.slope_of(PLAIN, heads, at, at + 0.05)
    assert (np.array([light.heat_at(PLAIN, h, 40.05) for h in heads.tolist()]) - heat < 1.0).all()
    for h in heads.tolist():
        more = light.need_of(PLAIN, np.array([h, h]), np.array([40.0, 40.05]))
        warmer = light.heat_at(PLAIN, h, 40.05) - heat[h]
        assert some[h] == pytest.approx((more[1] - more[0]) / warmer, rel=1e-9, abs=1e-9)
    # A range that ends below where it begins is none.
    assert light.base_of(PLAIN, heads, at, at - 9.0, np.zeros(len(heads))) == pytest.approx(need, rel=1e-12)
    assert light.base_of(PLAIN, heads, at, at - 9.0, np.ones(len(heads))) == pytest.approx(need - heat, rel=1e-8)
