"""The box behind a diffuser: against bounces followed one by one, quadrature, and what must hold of any box."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import nquad

from optimise.physics.cavity import box, box_transmittance, forward_share, opposite_factor

SIDES = st.floats(0.05, 3.0)
SHARES = st.floats(0.0, 1.0)


@pytest.mark.parametrize(("w", "h", "d"), [(1.0, 1.0, 1.0), (0.6, 0.3, 0.1), (0.5, 0.4, 2.0)])
def test_the_factor_against_quadrature(w: float, h: float, d: float) -> None:
    # Over all pairs of points; the differences of places have triangular weights.
    def integrand(x: float, y: float) -> float:
        return 4.0 * (w - x) * (h - y) * d * d / (np.pi * (x * x + y * y + d * d) ** 2)

    value, _ = nquad(integrand, [[0.0, w], [0.0, h]])
    assert float(opposite_factor(w, h, d)) == pytest.approx(value / (w * h), rel=1e-7)


def bounced(w: float, h: float, d: float, r: float, start: list[float], rounds: int = 20_000) -> float:
    """Return what leaves by a black opening of light that starts from board, walls or opening, bounce by bounce."""
    ahead = float(opposite_factor(w, h, d))
    out = w * h * (1 - ahead) / (2 * (w + h) * d)
    board, walls, opening = start
    left = 0.0
    for _ in range(rounds):
        left += board * ahead + walls * out
        board, walls, opening = (
            r * (walls * out + opening * ahead),
            r * (board * (1 - ahead) + opening * (1 - ahead) + walls * (1 - 2 * out)),
            0.0,
        )
        if board + walls < 1e-14:
            break
    return left


@given(SIDES, SIDES, SIDES, st.floats(0.0, 0.98))
@settings(max_examples=40, deadline=None)
def test_a_box_against_bounces_followed_one_by_one(w: float, h: float, d: float, r: float) -> None:
    reaching, shown = box(w, h, d, r)
    assert float(reaching) == pytest.approx(bounced(w, h, d, r, [1.0, 0.0, 0.0]), abs=1e-9)
    assert float(shown) == pytest.approx(bounced(w, h, d, r, [0.0, 0.0, 1.0]), abs=1e-9)


@given(SIDES, SIDES, st.floats(0.0, 3.0), SHARES, st.floats(0.05, 1.0), SHARES)
@settings(max_examples=80, deadline=None)
def test_no_box_gives_more_than_it_gets(w: float, h: float, d: float, r: float, through: float, share: float) -> None:
    back = (1.0 - through) * share
    value = float(box_transmittance(w, h, d, r, through, back))
    assert 0.0 <= value <= through / (1.0 - back) * (1 + 1e-9) + 1e-12 if back < 1 else True
    assert value <= 1.0 + 1e-9


@given(SIDES, SIDES, st.floats(0.01, 3.0), st.floats(0.0, 0.99), st.floats(0.1, 0.9))
@settings(max_examples=40, deadline=None)
def test_whiter_walls_and_a_shallower_box_lose_less(w: float, h: float, d: float, r: float, through: float) -> None:
    value = float(box_transmittance(w, h, d, r, through, 0.0))
    assert float(box_transmittance(w, h, d, r + 0.01, through, 0.0)) >= value - 1e-12
    assert float(box_transmittance(w, h, d * 0.9, r, through, 0.0)) >= value - 1e-9


def test_without_walls_nothing_is_lost_on_the_way() -> None:
    reaching, shown = box(0.5, 0.4, [0.0, 1e-7], 0.3)
    assert reaching == pytest.approx([1.0, 1.0], abs=1e-5)
    assert shown == pytest.approx([0.3, 0.3], abs=1e-5)


@pytest.mark.parametrize(
    ("back", "reflectance", "share"), [(0.0, 0.0, 1.0), (0.5, 0.0, 0.5), (0.5, 0.9, 0.95), (1.0, 1.0, 1.0)]
)
def test_what_goes_back_comes_forward_as_the_board_reflects(back: float, reflectance: float, share: float) -> None:
    assert float(forward_share(back, reflectance)) == pytest.approx(share)


@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda: opposite_factor(1.0, 1.0, 0.0), "depth"),
        (lambda: box(0.0, 1.0, 0.1, 0.5), "width"),
        (lambda: box(1.0, 1.0, -0.1, 0.5), "depth"),
        (lambda: box(1.0, 1.0, 0.1, 1.5), "reflectance"),
        (lambda: box_transmittance(1.0, 1.0, 0.1, 0.5, 0.7, 0.4), "together"),
        (lambda: forward_share(1.2, 0.5), "back"),
    ],
)
def test_what_cannot_be_is_refused(call: object, name: str) -> None:
    with pytest.raises(ValueError, match=name):
        call()  # type: ignore[operator]


def test_a_box_that_nothing_leaves_gives_nothing() -> None:
    # Perfect mirrors all round, and a sheet that throws all of it back.
    assert float(box_transmittance(0.5, 0.5, 0.5, 1.0, 0.0, 1.0)) == 0.0
    assert float(box_transmittance(0.5, 0.5, 0.0, 1.0, 0.0, 1.0)) == 0.0
