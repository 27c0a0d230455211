"""The knapsack bound on sets that are easy to follow: what packs save, what goes on without end, the last step."""

import numpy as np
import pytest

from optimise.model.covering import Group, least_covering, price_in_pieces


def group(steps: list[int], weight: list[float], first: list[float], more: float) -> Group:
    return Group(np.array(steps), np.array([weight], dtype=np.float64), np.array(first, dtype=np.float64), more)


def test_a_dear_driver_that_two_of_which_come_cheap_is_of_use() -> None:
    # 4 steps for 20; of the other driver 4 steps for 12 + 10, 8 steps for 24 + 12.
    plain, packs = group([4], [15.0], [0.0], 5.0), group([4], [12.0], [0.0, 10.0, 12.0], np.inf)
    found = least_covering([plain, packs], 1, 12)[0]
    assert found.tolist() == [0, *[20.0] * 4, *[36.0] * 4, *[56.0] * 4]


def test_what_is_followed_piece_by_piece_goes_on_at_the_price_of_one_more() -> None:
    # Each gives 3 steps and weighs 2; drivers weigh 5, 9, 12, 15.
    found = least_covering([group([3], [2.0], [0.0, 5.0, 9.0], 3.0)], 1, 12)[0]
    assert found.tolist() == [0, *[7.0] * 3, *[13.0] * 3, *[18.0] * 3, *[23.0] * 3]
    # Each gives one step: 2 + 5, then 2 + 3 more and more.
    single = least_covering([group([1], [2.0], [0.0, 5.0], 3.0)], 1, 6)[0]
    assert single.tolist() == [0.0, 7.0, 12.0, 17.0, 22.0, 27.0, 32.0]


def test_light_channels_are_followed_to_the_end() -> None:
    # A tenth each, with drivers of 1, 2, 3: three of them light 9 steps for 3.3, where the other takes 5.
    cheap, other = group([3], [0.1], [0.0, 1.0, 2.0, 3.0], np.inf), group([9], [5.0], [0.0], 0.0)
    found = least_covering([other, cheap], 1, 9)[0]
    assert found == pytest.approx([0, *[1.1] * 3, *[2.2] * 3, *[3.3] * 3])


@pytest.mark.parametrize("steps", [5, 7, 12])
def test_a_channel_that_lights_all_by_itself(steps: int) -> None:
    alone = group([steps], [4.0], [0.0], 1.0)
    assert least_covering([alone], 1, steps)[0].tolist() == [0.0] + [5.0] * steps
    both = [alone, group([1], [0.5], [0.0], 0.5)]
    assert least_covering(both, 1, steps)[0].tolist() == [min(float(n), 5.0) for n in range(steps + 1)]
    special = group([steps], [4.0], [0.0, 1.0], np.inf)
    assert least_covering([special], 1, steps)[0].tolist() == [0.0] + [5.0] * steps


def test_nothing_that_can_be_had_lights_nothing() -> None:
    assert least_covering([], 2, 3).tolist() == [[0.0, np.inf, np.inf, np.inf]] * 2
    assert least_covering([group([2], [1.0], [0.0], np.inf)], 1, 3).tolist() == [[0.0, np.inf, np.inf, np.inf]]


def test_prices_of_load_are_looked_at_one_by_one() -> None:
    # At the first price the first channel is the lighter, at the second the other.
    weight = np.array([[1.0, 5.0], [6.0, 2.0]])
    for first, more in (([0.0], 1.0), ([0.0, 1.0, 2.0, 3.0], np.inf)):
        two = Group(np.array([2, 3]), weight, np.array(first), more)
        found = least_covering([two], 2, 6)
        assert found[0].tolist() == [0, 2.0, 2.0, 4.0, 4.0, 6.0, 6.0]
        assert found[1].tolist() == [0, 3.0, 3.0, 3.0, 6.0, 6.0, 6.0]


@pytest.mark.parametrize(
    ("worth", "first", "more"),
    [
        # Three cost 13, at 3.9 a piece 11.7: not worth following at nine tenths of 13, but at all of it.
        (0.9, [0.0], 3.9),
        (1.0, [0.0, 5.0, 9.0, 13.0], 3.2),
    ],
)
def test_pieces_are_followed_where_their_price_falls_far_enough(worth: float, first: list[float], more: float) -> None:
    prices = np.array([0.0, 5.0, 9.0, 13.0, 16.2, 19.5])
    known, rest = price_in_pieces(prices, 3, worth)
    assert known.tolist() == first
    assert rest == pytest.approx(more)
