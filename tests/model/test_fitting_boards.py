"""How many emitters fit on a board, against laying them out one by one. Invented parts."""

import math
from random import Random

import pytest
from plain_parts import EMITTER, PANEL

from optimise.model.fitting import common_grid, common_lies, grid, lies, place_size
from optimise.parts import Emitter, Panel


def piece(length: float, width: float) -> Emitter:
    return EMITTER.model_copy(update={"length": length, "width": width})


def board(width: float, height: float, usable: float = 1.0) -> Panel:
    return PANEL.model_copy(update={"width": width, "height": height, "usable": usable})


def laid(room: float, size: float) -> int:
    """Lay pieces side by side until the next one sticks out by more than rounding."""
    number = 0
    while (number + 1) * size <= room * (1.0 + 1e-10):
        number += 1
    return number


@pytest.mark.parametrize("seed", range(20))
def test_the_better_of_two_ways_to_lay_them(seed: int) -> None:
    rng = Random(seed)
    emitter = piece(rng.uniform(0.02, 0.2), rng.uniform(0.02, 0.2))
    panel = board(rng.uniform(0.1, 0.9), rng.uniform(0.1, 0.9), rng.choice([0.25, 0.64, 1.0]))
    side = math.sqrt(panel.usable)
    across = laid(panel.width * side, emitter.length), laid(panel.height * side, emitter.width)
    up = laid(panel.width * side, emitter.width), laid(panel.height * side, emitter.length)
    most = max(math.prod(across), math.prod(up))
    assert grid(emitter, panel) == (across if math.prod(across) == most else up)
    assert lies(emitter, panel) == (math.prod(across) == most)
    assert common_grid([emitter], panel) == grid(emitter, panel)
    assert common_lies([emitter], panel) == lies(emitter, panel)


@pytest.mark.parametrize("number", [1, 3, 6, 7])
def test_what_fits_exactly_fits(number: int) -> None:
    # 0.3 / 0.1 is a hair below 3 in floating point, and so is a side of 0.7 × 0.7 by the root of its share.
    for each in (0.1, 0.3, 0.7, 1.0 / 3.0):
        panel = board(each * number * (1.0 - 1e-13), each * (1.0 - 1e-13))
        assert grid(piece(each, each), panel) == (number, 1)
        assert common_grid([piece(each, each)], panel) == (number, 1)
        narrow = board(each * number * (1.0 - 1e-9), each)
        assert grid(piece(each, each), narrow)[0] == number - 1


def test_a_piece_that_is_too_long_either_way_does_not_fit() -> None:
    assert math.prod(grid(piece(1.0, 0.05), board(0.8, 0.25))) == 0
    # Upright it does: a tube of 0.7 m on a board that is 0.8 m high.
    assert grid(piece(0.7, 0.1), board(0.25, 0.8)) == (2, 1)
    assert not lies(piece(0.7, 0.1), board(0.25, 0.8))
    assert common_grid([piece(0.7, 0.1)], board(0.25, 0.8)) == (2, 1)
    assert not common_lies([piece(0.7, 0.1)], board(0.25, 0.8))


def test_a_place_for_several_kinds_is_as_long_as_the_longest_and_as_wide_as_the_widest() -> None:
    kinds = [piece(0.2, 0.03), piece(0.1, 0.05)]
    assert place_size(kinds) == (0.2, 0.05)
    # 4 × 5 places of 0.2 m × 0.05 m on 0.8 m × 0.25 m; upright 16 × 1.
    assert common_grid(kinds, board(0.8, 0.25)) == (4, 5)
    assert common_lies(kinds, board(0.8, 0.25))
    # Standing up, the board takes them upright: 5 × 4.
    assert common_grid(kinds, board(0.25, 0.8)) == (5, 4)
    assert not common_lies(kinds, board(0.25, 0.8))
