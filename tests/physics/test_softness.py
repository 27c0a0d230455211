"""Softness: shadows by casting rays, sizes by hand, and what is refused."""

import math

import numpy as np
import pytest

from optimise.physics.softness import apparent_angle, corneal_image, penumbra_width


def test_penumbra_against_rays_past_an_edge() -> None:
    # A face from −0.25 to 0.25 m, an edge at 2 m that covers all below it, a background 1.5 m behind it.
    points = np.linspace(-0.4, 0.4, 16_001)
    passing = points * 2.0 / 1.5  # the lowest point of the face that a place sees is −passing
    seen = np.clip((0.25 + passing) / 0.5, 0.0, 1.0)
    partly = points[(seen > 0.0) & (seen < 1.0)]
    assert float(penumbra_width(0.5, 2.0, 1.5)) == pytest.approx(partly[-1] - partly[0], abs=1e-4)


def test_a_point_throws_a_sharp_shadow_and_so_does_an_edge_on_the_wall() -> None:
    assert float(penumbra_width(0.0, 2.0, 1.5)) == 0.0
    assert float(penumbra_width(0.5, 2.0, 0.0)) == 0.0


def test_shapes_go_together() -> None:
    assert penumbra_width([[0.1], [0.2]], [1.0, 2.0, 4.0], 1.0) == pytest.approx(
        np.array([[0.1, 0.05, 0.025], [0.2, 0.1, 0.05]])
    )
    assert apparent_angle([1.0, 2.0], 0.5) == pytest.approx([90.0, 2 * math.degrees(math.atan(2.0))])


@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda: penumbra_width(-1.0, 1.0, 1.0), "size"),
        (lambda: penumbra_width(1.0, 0.0, 1.0), "distance"),
        (lambda: penumbra_width(1.0, 1.0, -1.0), "behind"),
        (lambda: apparent_angle(1.0, 0.0), "distance"),
        (lambda: corneal_image(1.0, 1.0, 0.0), "radius"),
        (lambda: corneal_image(float("inf"), 1.0), "size"),
    ],
)
def test_what_cannot_be_is_refused(call: object, name: str) -> None:
    with pytest.raises(ValueError, match=name):
        call()  # type: ignore[operator]
