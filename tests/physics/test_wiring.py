"""Wires through emitters on a board: known lengths, and against trying every way."""

from itertools import pairwise, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimise.physics.places import grid_of, grid_places
from optimise.physics.wiring import run_wire, serpentine, string_wire

quick = settings(max_examples=40, deadline=None)
places = st.tuples(st.floats(-1.0, 1.0), st.floats(-1.0, 1.0))


def test_rows_are_gone_through_to_and_fro() -> None:
    x, y = grid_places(grid_of(6, 3, 2, 0.3, 0.2))
    assert serpentine(x, y, upright=False).tolist() == [0, 1, 2, 5, 4, 3]
    assert serpentine(x, y, upright=True).tolist() == [0, 3, 4, 1, 2, 5]


@quick
@given(st.integers(1, 12), st.integers(1, 12), st.data(), st.booleans())
def test_every_place_is_passed_once_and_in_a_full_grid_every_step_is_a_pitch(
    columns: int, rows: int, data: st.DataObject, upright: bool
) -> None:
    grid = grid_of(data.draw(st.integers(1, columns * rows)), columns, rows, 0.6, 0.4)
    x, y = grid_places(grid)
    order = serpentine(x, y, upright)
    assert sorted(order.tolist()) == list(range(grid.count))
    if not grid.short:
        steps = np.hypot(np.diff(x[order]), np.diff(y[order]))
        along = np.isclose(steps, grid.pitch_y if upright else grid.pitch_x)
        across = np.isclose(steps, grid.pitch_x if upright else grid.pitch_y)
        assert (along | across).all()


def test_known_wires() -> None:
    # Four in series on a square: three sides, and the fourth back to where it is fed.
    x, y = np.array([0.0, 0.1, 0.1, 0.0]), np.array([0.0, 0.0, 0.1, 0.1])
    string = string_wire(x, y, 0.0, lying=True)
    assert string[0] == pytest.approx(0.3, rel=1e-12)
    assert run_wire([string]) == (pytest.approx(0.4, rel=1e-12), (False,))
    # Four in parallel: two wires along three sides, and nothing to bridge.
    each = [string_wire(x[i : i + 1], y[i : i + 1], 0.0, lying=True) for i in range(4)]
    assert run_wire(each)[0] == pytest.approx(0.6, rel=1e-12)
    # Two strings that a serpentine goes through to and fro: the second is fed from its other end.
    first, second = (string_wire(x[i], y[i], 0.0, lying=True) for i in ([0, 1], [2, 3]))
    assert run_wire([first, second]) == (pytest.approx(0.1 + 0.1 + 0.1 + 0.1 + 0.1, rel=1e-12), (False, True))
    # Two tubes of 0.6 m side by side: a wire at either end of them, and one back along a tube.
    tubes = [string_wire(np.zeros(1), np.array([y]), 0.6, lying=True) for y in (0.0, 0.1)]
    assert run_wire(tubes)[0] == pytest.approx(0.1 + 0.1 + 0.6, rel=1e-12)
    # Two strips of 0.5 m in series side by side: one short bridge, and both poles at the same side.
    strips = string_wire(np.zeros(2), np.array([0.0, 0.1]), 0.5, lying=True)
    assert strips[0] == pytest.approx(0.1, rel=1e-12)
    assert run_wire([strips])[0] == pytest.approx(0.2, rel=1e-12)


@quick
@given(st.lists(places, min_size=1, max_size=5), st.floats(0.0, 0.5), st.booleans())
def test_the_wire_of_a_string_is_the_least_of_all_ways_to_turn_its_pieces(
    middles: list[tuple[float, float]], length: float, lying: bool
) -> None:
    x, y = np.array(middles).T
    half = np.array([length / 2, 0.0] if lying else [0.0, length / 2])
    least = min(
        sum(
            float(np.hypot(*((b - s * half) - (a + t * half))))
            for (a, t), (b, s) in pairwise(zip(np.array(middles), turns, strict=True))
        )
        for turns in product((-1, 1), repeat=len(middles))
    )
    wire, start, end = string_wire(x, y, length, lying)
    assert wire == pytest.approx(least, abs=1e-8)
    for pole, middle in ((start, middles[0]), (end, middles[-1])):
        assert np.hypot(*(pole - middle)) == pytest.approx(length / 2, abs=1e-12)


@quick
@given(st.lists(st.tuples(places, places, st.floats(0.0, 2.0)), min_size=1, max_size=5))
def test_the_wire_of_a_run_is_the_least_of_all_ways_to_feed_its_strings(
    drawn: list[tuple[tuple[float, float], tuple[float, float], float]],
) -> None:
    strings = [(own, np.array(a), np.array(b)) for a, b, own in drawn]

    def joined(turned: tuple[bool, ...]) -> float:
        poles = [(b, a) if back else (a, b) for (_, a, b), back in zip(strings, turned, strict=True)]
        return sum(float(np.hypot(*(p - q))) for one, two in pairwise(poles) for p, q in zip(one, two, strict=True))

    wire, turned = run_wire(strings)
    closing = min(float(np.hypot(*(a - b))) for _, a, b in strings)
    own = sum(length for length, _, _ in strings) + closing
    every = product((False, True), repeat=len(strings))
    assert wire == pytest.approx(own + min(joined(way) for way in every), abs=1e-7)
    assert wire == pytest.approx(own + joined(turned), abs=1e-7)


def test_strings_that_begin_where_they_end_stay_as_they_are() -> None:
    places = [np.array([step, 0.0]) for step in (0.0, 0.1, 0.2, 0.3)]
    wire, turned = run_wire([(0.05, place, place) for place in places])
    # Four strings of 50 mm, and twice 0.3 m from the first to the last.
    assert wire == pytest.approx(4 * 0.05 + 2 * 0.3, rel=1e-12)
    assert turned == (False, False, False, False)


def test_a_piece_of_less_than_no_length_is_refused() -> None:
    with pytest.raises(ValueError, match="length must be at least 0"):
        string_wire(np.array([0.0, 0.1]), np.zeros(2), -0.1, lying=True)
