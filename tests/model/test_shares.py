"""Ranges of shares against looking at very many shares one by one."""

import math
from collections.abc import Callable

import numpy as np
import plain_parts
import pytest
from scipy.optimize import brentq, minimize_scalar

from optimise.model import shares
from optimise.model.mixture import Floats, white_of
from optimise.model.shares import _edge, _gap, _line, _peak, _within, shares_of, widest_shares
from optimise.parts import Emitter
from optimise.physics.whites import temperature_and_duv
from optimise.scenario.colour import LIMITS
from optimise.scenario.model import Look


def white(cct: float | None, duv: float | None = None, code: str = "e") -> Emitter:
    return plain_parts.EMITTER.model_copy(update={"part": code, "cct": cct, "duv": duv})


def colours(first: Emitter, second: Emitter, of: Floats) -> Floats:
    """Return colour temperature and Duv of mixtures."""
    one, other = white_of(first), white_of(second)
    assert one is not None
    assert other is not None
    return temperature_and_duv(np.outer(1.0 - of, one) + np.outer(of, other))


SHARES = np.linspace(0.0, 1.0, 101)
WARM, COLD = white(2700.0), white(6500.0)


@pytest.mark.parametrize("swapped", [False, True])
@pytest.mark.parametrize(
    ("low", "high"),
    [(None, None), (3500.0, None), (3500.0, 4500.0), (2000.0, 3000.0), (5500.0, 9000.0)],
)
def test_the_widest_range_holds_what_is_within_two_temperatures(
    low: float | None, high: float | None, swapped: bool
) -> None:
    first, second = (COLD, WARM) if swapped else (WARM, COLD)
    cct = colours(first, second, SHARES)[:, 0]
    kept = SHARES[(cct >= (low or 0.0)) & (cct <= (high or math.inf))]
    found = widest_shares(first, second, low, high)
    assert found is not None
    assert found == pytest.approx((kept[0], kept[-1]), abs=0.01)
    for share, temperature in zip(found, colours(first, second, np.array(found))[:, 0], strict=True):
        if 0.0 < share < 1.0:
            assert min(abs(temperature - (low or 0.0)), abs(temperature - (high or 0.0))) < 1e-3


def test_no_range_where_both_are_too_cold_or_too_warm() -> None:
    for first, second in ((WARM, COLD), (COLD, WARM), (COLD, COLD)):
        assert widest_shares(first, second, 7000.0, None) is None
        assert widest_shares(first, second, None, 2500.0) is None
        # Above the one and below the other.
        assert widest_shares(first, second, 4500.0, 3500.0) is None
    assert widest_shares(white(None), COLD, None, None) is None
    assert widest_shares(COLD, white(None), None, None) is None
    # One that lies on a limit itself is within it, alone.
    on = widest_shares(WARM, white(4000.0), 4000.0, None)
    assert on is None or on == pytest.approx((1.0, 1.0), abs=1e-9)
    # Two of one colour: every share or none.
    assert widest_shares(WARM, WARM, 2500.0, 3000.0) == (0.0, 1.0)
    assert widest_shares(WARM, WARM, 2800.0, None) is None


def test_limits_beyond_all_whites_are_those_at_the_ends() -> None:
    # No white is looked for below 1000 K or above 25 000 K: such a limit lets every white in, or none.
    assert widest_shares(WARM, COLD, 1.0, 1e6) == (0.0, 1.0)
    assert widest_shares(WARM, COLD, 1e6, None) is None
    assert widest_shares(WARM, COLD, None, 1.0) is None
    assert not np.array_equal(_line(1500.0), _line(2000.0))
    assert not np.array_equal(_line(25000.0), _line(50000.0))
    assert np.array_equal(_line(1e6), _line(50000.0))
    assert np.array_equal(_line(1.0), _line(500.0))


@pytest.mark.parametrize(
    "look",
    [
        Look(duv_min=-0.001),
    ],
)
def test_ranges_hold_exactly_what_keeps_the_limits(look: Look) -> None:
    """Both whites lie on the locus; the chord between them sags below it, in the middle the most."""
    cct, duv = colours(WARM, COLD, SHARES).T
    kept = (cct >= (look.cct_min or 0.0)) & (cct <= (look.cct_max or math.inf))
    kept &= (duv >= (-1.0 if look.duv_min is None else look.duv_min)) & (
        duv <= (1.0 if look.duv_max is None else look.duv_max)
    )
    ranges = shares_of(WARM, COLD, look)
    inside = np.zeros(len(SHARES), dtype=bool)
    for low, high in ranges:
        assert 0.0 <= low <= high <= 1.0
        inside |= (low <= SHARES) & (high >= SHARES)
    assert kept.any()
    assert np.array_equal(kept, inside)
    starts = np.flatnonzero(np.diff(np.r_[False, kept].astype(int)) == 1)
    assert len(ranges) == len(starts)
    # Each end is where a limit is reached, to a millionth; a little outside of it is out.
    for low, high in ranges:
        for edge, outside in ((low, low - 1e-6), (high, high + 1e-6)):
            if 0.0 < edge < 1.0:
                there = colours(WARM, COLD, np.array([outside]))[0]
                assert not (
                    (look.cct_min or 0.0) <= there[0] <= (look.cct_max or math.inf)
                    and (-1.0 if look.duv_min is None else look.duv_min) <= there[1]
                    and there[1] <= (1.0 if look.duv_max is None else look.duv_max)
                )


def test_quality_that_cannot_be_worked_out_is_in_no_range() -> None:
    assert shares_of(WARM, COLD, Look(cri_min=1.0)) == ()
    assert shares_of(WARM, white(None), Look()) == ()
    assert shares_of(WARM, COLD, Look()) == ((0.0, 1.0),)
    assert shares_of(WARM, COLD, Look(cct_min=7000.0)) == ()


def test_what_is_left_on_a_limit_of_hue() -> None:
    limits = {limit.key: limit for limit in LIMITS}
    achieved = np.array([-0.002, 0.001, np.nan])
    assert _gap(achieved, limits["duv_min"], -0.001) == pytest.approx([-0.001, 0.002, -math.inf])
    assert _gap(achieved, limits["duv_max"], -0.001) == pytest.approx([0.001, -0.002, -math.inf])


@pytest.mark.parametrize("name", ["cri_min", "rg_max"])
def test_quality_is_looked_at_share_by_share(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """A figure that is 90 less 160 times the square of the distance from a half: 80 at a quarter and three quarters."""
    asked: list[tuple[object, ...]] = []

    class Hill(dict[str, float | None]):
        def __init__(self, kinds: object, fluxes: tuple[float, float], reference: str | None) -> None:
            asked.append((kinds, reference))
            assert sum(fluxes) == pytest.approx(1.0)
            figure = 90.0 - 160.0 * (fluxes[1] - 0.5) ** 2
            super().__init__(cri=figure, rg=None if fluxes[1] < 0.1 else figure)

    monkeypatch.setattr(shares, "Mixture", Hill)
    look = Look(**{name: 80.0}, ssi_reference="daylight 5600 K")
    monkeypatch.setattr(shares, "worked_out", lambda emitter: True)
    wanted = {"cri_min": [(0.25, 0.75)], "rg_max": [(0.1, 0.25), (0.75, 1.0)]}[name]
    shares._shares.cache_clear()
    found = shares_of(WARM, COLD, look)
    assert len(found) == len(wanted)
    for mine, known in zip(found, wanted, strict=True):
        # By 32 steps and 14 halvings of one.
        assert mine == pytest.approx(known, abs=1.0 / 32 / 2**14 + 2e-9)
        assert mine[0] <= known[0] <= known[1] <= mine[1]
    assert set(asked) == {((WARM, COLD), "daylight 5600 K")}
    # 33 points, up to three edges, and the points between two where nothing is known, each perhaps a peak.
    assert len(asked) <= 33 + 3 * 14 + 2 * 16
    # Only where both can be worked out.
    for known_one in (WARM, COLD):
        monkeypatch.setattr(shares, "worked_out", lambda emitter, known_one=known_one: emitter is known_one)
        shares._shares.cache_clear()
        assert shares_of(WARM, COLD, look) == ()
    shares._shares.cache_clear()


@pytest.mark.parametrize(
    ("here", "there", "wanted"),
    [
        (0.0, -1.0, (0.0, 0.0)),
        (-1.0, 0.0, (1.0, 1.0)),
        (0.0, 0.0, (0.0, 1.0)),
        (0.0, 1.0, (0.0, 1.0)),
        (1.0, 0.0, (0.0, 1.0)),
        (-1.0, -1.0, None),
        (1.0, -3.0, (0.0, 0.25)),
        (-1.0, 3.0, (0.25, 1.0)),
    ],
)
def test_a_white_on_a_limit_itself_is_within_it(
    here: float, there: float, wanted: tuple[float, float] | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    """How far each of two whites lies beyond one line, in any measure."""
    monkeypatch.setattr(shares, "_line", lambda temperature: np.array([1.0, 0.0, 0.0]))
    monkeypatch.setattr(shares, "white_of", lambda emitter: (here if emitter is WARM else there, 1.0, 1.0))
    assert widest_shares(WARM, COLD, 3000.0, None) == wanted
    monkeypatch.setattr(shares, "white_of", lambda emitter: (-here if emitter is WARM else -there, 1.0, 1.0))
    assert widest_shares(WARM, COLD, None, 3000.0) == wanted


def test_no_more_is_looked_at_than_points_edges_and_peaks() -> None:
    looked: list[float] = []

    def counted(curve: Callable[[Floats], Floats]) -> Callable[[Floats], Floats]:
        return lambda s: (looked.extend(s.tolist()), curve(s))[1]

    for curve, number in (
        (lambda s: 0.04 - (s - 0.43) ** 2, 9 + 2 * 20),  # a hill above nought: two edges, no peak to look for
        (lambda s: s - 0.371, 9 + 20),
        (lambda s: -np.abs(s - 0.5), 9 + 2 * 20),  # one that just reaches it at a point
        (lambda s: np.ones_like(s), 9),
        (lambda s: -1.0 - (s - 0.43) ** 2, 9 + 2 + 20),  # one peak that does not
    ):
        looked.clear()
        _within(counted(curve), 0.0, 1.0, 9, 20)
        assert len(looked) == number


@pytest.mark.parametrize("top", [0.11, 0.29, 0.37, 0.64, 0.83])
def test_a_peak_that_reaches_the_limit_ends_the_search_for_it(top: float) -> None:
    """A needle of a hundredth on either side: found by whichever of the two points falls into it first."""
    looked: list[float] = []

    def needle(s: Floats) -> Floats:
        looked.extend(s.tolist())
        return 1e-4 - (s - top) ** 2

    peak, height = _peak(needle, 0.0, 1.0, 40)
    assert height == pytest.approx(1e-4 - (peak - top) ** 2)
    assert height >= 0.0
    first = next(number for number, share in enumerate(looked) if abs(share - top) <= 0.01)
    assert len(looked) == max(first + 1, 3)


Curve = Callable[[Floats], Floats]
CURVES: dict[str, tuple[Curve, list[tuple[float, float]]]] = {
    # Each with its ranges by its roots.
    "always": (lambda s: np.ones_like(s), [(0.0, 1.0)]),
    "never": (lambda s: -1.0 - s, []),
    "rising": (lambda s: s - 0.371, [(0.371, 1.0)]),
    "rising before the second point": (lambda s: s - 0.05, [(0.05, 1.0)]),
    "falling after the last but one": (lambda s: 0.98 - s, [(0.0, 0.98)]),
    "falling": (lambda s: 0.371 - s, [(0.0, 0.371)]),
    "a hill": (lambda s: 0.04 - (s - 0.43) ** 2, [(0.23, 0.63)]),
    "a valley": (lambda s: (s - 0.43) ** 2 - 0.04, [(0.0, 0.23), (0.63, 1.0)]),
    "a needle": (lambda s: 1e-6 - (s - 0.4321) ** 2, [(0.4311, 0.4331)]),
    "waves": (lambda s: np.sin(2.5 * math.tau * s), [(0.0, 0.2), (0.4, 0.6), (0.8, 1.0)]),
    "a needle at the first point": (lambda s: 1e-6 - s**2, [(0.0, 0.001)]),
    "a needle at the last point": (lambda s: 1e-6 - (s - 1.0) ** 2, [(0.999, 1.0)]),
    "two needles": (
        lambda s: np.maximum(1e-6 - (s - 0.2111) ** 2, 1e-6 - (s - 0.7111) ** 2),
        [(0.2101, 0.2121), (0.7101, 0.7121)],
    ),
}  # fmt: skip


@pytest.mark.parametrize("points", [9, 33])
@pytest.mark.parametrize("name", CURVES)
def test_ranges_of_curves_whose_roots_are_known(name: str, points: int) -> None:
    curve, wanted = CURVES[name]
    found = _within(curve, 0.0, 1.0, points, 40)
    assert len(found) == len(wanted)
    for mine, known in zip(found, wanted, strict=True):
        assert mine == pytest.approx(known, abs=1e-9)


def test_with_few_halvings_a_range_is_told_too_wide_never_too_narrow() -> None:
    for curve, wanted in CURVES.values():
        for (low, high), (first, last) in zip(_within(curve, 0.0, 1.0, 9, 6), wanted, strict=True):
            assert low <= first + 1e-12
            assert high >= last - 1e-12
            # By half of the first bracket six times over: 1/8 of all, or of what the peak was looked for in.
            assert first - low <= 0.125 / 2**6 + 1e-12 or first == 0.0
            assert high - last <= 0.125 / 2**6 + 1e-12 or last == 1.0


def test_a_range_between_two_shares_and_a_range_of_one() -> None:
    assert _within(lambda s: s - 0.371, 0.3, 0.4, 9, 40)[0] == pytest.approx((0.371, 0.4), abs=1e-9)
    assert _within(lambda s: s - 0.371, 0.5, 0.5, 9, 40) == [(0.5, 0.5)]
    assert _within(lambda s: s - 0.371, 0.2, 0.2, 9, 40) == []
    assert _within(lambda s: s * 0.0, 0.0, 1.0, 3, 5) == [(0.0, 1.0)]
    # A peak that only just reaches the limit counts.
    assert len(_within(lambda s: -np.abs(s - 0.5), 0.0, 1.0, 3, 5)) == 1


def test_an_edge_is_where_the_curve_crosses() -> None:
    def cubic(s: Floats) -> Floats:
        return 0.2 - s**3

    root = brentq(lambda s: 0.2 - s**3, 0.0, 1.0, xtol=1e-14)
    edge = _edge(cubic, 0.1, 1.0, 40)
    assert edge == pytest.approx(root, abs=1e-11)
    assert edge >= root
    down = _edge(lambda s: -cubic(s), 1.0, 0.1, 40)
    assert down == pytest.approx(root, abs=1e-11)
    assert down <= root
    # One halving: the middle is bad, and is told; or it is good, and the bad end is.
    assert _edge(lambda s: 0.3 - s, 0.0, 1.0, 1) == 0.5
    assert _edge(lambda s: 0.7 - s, 0.0, 1.0, 1) == 1.0
    assert _edge(lambda s: 0.5 - s, 0.0, 1.0, 1) == 1.0


@pytest.mark.parametrize("top", [0.1, 0.37, 0.5, 0.9])
def test_a_peak_is_where_scipy_finds_it(top: float) -> None:
    looked = []

    def hill(s: Floats) -> Floats:
        looked.extend(s.tolist())
        return -1.0 - (s - top) ** 2 - (s - top) ** 4

    best = minimize_scalar(lambda s: -float(hill(np.array([s]))[0]), bounds=(0.0, 1.0), method="bounded").x
    looked.clear()
    peak, height = _peak(hill, 0.0, 1.0, 30)
    assert peak == pytest.approx(best, abs=1e-5)
    assert height == pytest.approx(-1.0, abs=1e-9)
    # Two looks and one for each round, as the golden section has it.
    assert len(looked) == 2 + 30
    looked.clear()
    _, height = _peak(lambda s: hill(s) + 2.0, 0.0, 1.0, 30)
    # One that reaches nought is enough: after the first round at the latest.
    assert height >= 0.0
    assert len(looked) == 3
    golden = (math.sqrt(5.0) - 1.0) / 2.0
    assert looked[:2] == pytest.approx([1.0 - golden, golden])
