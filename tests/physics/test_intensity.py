"""Tables of intensity: angles of directions, symmetry, interpolation, and bounds. All tables are invented."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimise.parts.photometry import Photometry
from optimise.physics.intensity import (
    angles_of,
    direction_of,
    flux_ahead,
    intensity_at,
    intensity_towards,
    measured,
    table_flux,
)

kinds = st.sampled_from(["A", "B", "C"])
RNG = np.random.default_rng(1)


@given(kinds, st.floats(-0.99, 0.99), st.floats(0.0, 2.0 * math.pi))
def test_angles_and_directions_are_inverse(kind: str, ahead: float, turn: float) -> None:
    side = math.sqrt(1.0 - ahead * ahead)
    ray = side * math.cos(turn), side * math.sin(turn), ahead
    assert [float(part) for part in direction_of(kind, *angles_of(kind, *ray))] == pytest.approx(ray, abs=1e-12)
    longer = angles_of(kind, *(3.0 * part for part in ray))
    assert [float(a) for a in longer] == pytest.approx([float(a) for a in angles_of(kind, *ray)], abs=1e-9)


def test_photometric_zero_and_horizontal_are_where_the_standard_has_them() -> None:
    # ANSI/IESNA LM-63-2002, definitions: types B and C have photometric zero at vertical 0, horizontal 0.
    for kind in ("B", "C"):
        assert [float(part) for part in direction_of(kind, 0.0, 0.0)] == pytest.approx([0.0, 0.0, 1.0])
    # Planes of types A and C share a vertical axis, those of type B a horizontal one.
    assert [float(part) for part in direction_of("A", 90.0, 37.0)] == pytest.approx([0.0, 1.0, 0.0])
    assert [float(part) for part in direction_of("B", 37.0, 90.0)] == pytest.approx([1.0, 0.0, 0.0])
    assert [float(part) for part in direction_of("C", 90.0, 0.0)] == pytest.approx([1.0, 0.0, 0.0])


@pytest.mark.parametrize(
    ("kind", "horizontal", "mirrors"),
    [
        ("C", [0.0], [-37.0, 143.0, 217.0, 90.0]),
        ("C", [0.0, 45.0, 90.0], [-37.0, 143.0, 217.0, 323.0]),
        ("C", [0.0, 45.0, 90.0, 180.0], [-37.0, 323.0]),
        ("C", [90.0, 120.0, 270.0], [143.0]),
        ("C", [0.0, 45.0, 90.0, 200.0, 360.0], [397.0]),
        ("A", [0.0, 30.0, 90.0], [-37.0]),
        ("B", [0.0, 30.0, 90.0], [-37.0]),
    ],
)
def test_symmetry_fills_what_a_table_leaves_out(kind: str, horizontal: list[float], mirrors: list[float]) -> None:
    vertical = np.linspace(0.0, 90.0, 4)
    table = Photometry(kind, vertical, np.array(horizontal), RNG.uniform(1.0, 9.0, (len(horizontal), 4)))
    given_ = intensity_at(table, 42.0, 37.0)
    assert given_ > 0.0
    for mirror in mirrors:
        assert intensity_at(table, 42.0, mirror) == pytest.approx(float(given_), rel=1e-12)
    others = {round(float(intensity_at(table, 42.0, h)), 9) for h in (5.0, 60.0, 80.0)}
    assert len(others) == (1 if len(horizontal) == 1 else 3)


def test_a_lopsided_table_is_not_made_even() -> None:
    table = Photometry(
        "C", np.array([0.0, 90.0]), np.array([0.0, 90.0, 180.0, 270.0, 360.0]), RNG.uniform(1, 9, (5, 2))
    )
    around = [round(float(intensity_at(table, 42.0, h)), 9) for h in (37.0, 143.0, 217.0, 323.0)]
    assert len(set(around)) == 4


def test_interpolation_is_linear_in_both_angles_and_dark_beyond() -> None:
    table = Photometry(
        "C", np.array([0.0, 10.0, 90.0]), np.array([0.0, 90.0]), np.array([[8.0, 4.0, 0], [8.0, 2.0, 0]])
    )
    assert intensity_at(table, 5.0, 45.0) == pytest.approx(5.5)
    assert intensity_at(table, 10.0, 30.0) == pytest.approx(4.0 - 2.0 / 3.0)
    assert intensity_at(table, 90.1, 0.0) == 0.0
    assert intensity_towards(table, 1.0, 0.0, -0.1) == 0.0
    half = Photometry("B", np.array([0.0, 90.0]), np.array([-90.0, 90.0]), np.ones((2, 2)))
    assert intensity_towards(half, 0.0, 0.2, 1.0) == 1.0
    assert intensity_towards(half, 0.0, -0.2, 1.0) == 0.0


def test_flux_ahead_leaves_out_what_goes_back() -> None:
    v = np.linspace(0.0, 180.0, 7)
    table = Photometry("C", v, np.zeros(1), np.where(v <= 90.0, 3.0, 3.0)[None, :])
    assert flux_ahead(table) == pytest.approx(6.0 * math.pi)
    assert flux_ahead(table) == pytest.approx(table_flux(table) / 2.0)
    odd = Photometry("C", np.array([0.0, 60.0, 120.0, 180.0]), np.zeros(1), np.array([[5.0, 5.0, 1.0, 1.0]]))
    # Linear between 60° and 120°: 3 cd at 90°.
    front = Photometry("C", np.array([0.0, 60.0, 90.0]), np.zeros(1), np.array([[5.0, 5.0, 3.0]]))
    assert flux_ahead(odd) == pytest.approx(table_flux(front), rel=1e-12)


def test_a_dark_table_is_no_beam() -> None:
    with pytest.raises(ValueError, match="must give light"):
        measured(Photometry("C", np.array([0.0, 90.0]), np.zeros(1), np.zeros((1, 2))))


@st.composite
def tables(draw: st.DrawFn) -> Photometry:
    kind = draw(kinds)
    if kind == "C":
        horizontal = draw(st.sampled_from([[0.0], [0.0, 90.0], [0.0, 50.0, 180.0], [0.0, 100.0, 360.0], [90.0, 270.0]]))
        vertical = draw(st.sampled_from([[0.0, 90.0], [0.0, 20.0, 55.0, 90.0], [0.0, 30.0, 180.0]]))
    else:
        horizontal = draw(st.sampled_from([[0.0, 90.0], [-90.0, -20.0, 35.0, 90.0]]))
        vertical = draw(st.sampled_from([[0.0, 40.0, 90.0], [-90.0, 5.0, 90.0]]))
    values = st.lists(st.floats(0.0, 1000.0), min_size=len(vertical), max_size=len(vertical))
    candela = np.array([draw(values) for _ in horizontal])
    candela[0, 0] += 1.0
    return Photometry(kind, np.array(vertical), np.array(horizontal), candela)


@settings(max_examples=60, deadline=None)
@given(tables(), st.floats(0.05, 1.0))
def test_bounds_hold_in_every_direction(table: Photometry, cosine: float) -> None:
    beam = measured(table)
    least, greatest = beam.bounds(cosine)
    ahead = np.repeat(np.linspace(cosine, 1.0, 15), 24)
    turn = np.tile(np.linspace(0.0, 2.0 * math.pi, 24, endpoint=False), 15)
    side = np.sqrt(1.0 - ahead**2)
    light = beam.towards(side * np.cos(turn), side * np.sin(turn), ahead) * ahead**3
    assert light.max() <= greatest * (1 + 1e-9) + 1e-15
    assert light.min() >= least * (1 - 1e-9) - 1e-15
    assert greatest <= beam.peak * (1 + 1e-12)


def test_a_table_from_90_to_270_is_the_same_on_both_sides_of_that_plane() -> None:
    # ANSI/IESNA LM-63-2002: horizontal 90 to 270 means symmetry about the plane 90–270.
    turns = np.arange(90.0, 271.0, 15.0)
    table = Photometry("C", np.array([0.0, 90.0]), turns, np.outer(1.0 + RNG.random(len(turns)), [1.0, 1.0]))
    asked = np.array([100.0, 137.0, 180.0, 200.0, 262.0])
    mirrored = np.mod(180.0 - asked, 360.0)
    np.testing.assert_allclose(intensity_at(table, 40.0, mirrored), intensity_at(table, 40.0, asked), rtol=1e-12)


@pytest.mark.parametrize("kind", ["A", "B"])
def test_bounds_of_a_table_that_shines_aside_alone_are_not_those_of_ahead(kind: str) -> None:
    angles = np.linspace(-90.0, 90.0, 37)
    aside = np.where(np.abs(angles) >= 60.0, 1.0, 0.0)
    for candela in (np.outer(aside, np.ones(37)), np.outer(np.ones(37), aside)):
        beam = measured(Photometry(kind, angles, angles, candela))  # type: ignore[arg-type]
        least, greatest = beam.bounds(0.0)
        assert least == 0.0
        # I cos³ t of light that begins between 55° and 60° from ahead is at most cos³ 55°.
        assert greatest * beam.flux <= np.cos(np.radians(55.0)) ** 3 * (1.0 + 1e-9)
        assert greatest * beam.flux >= np.cos(np.radians(60.0)) ** 3


def planes(kind: str, vertical: list[float], horizontal: list[float]) -> Photometry:
    """A table whose intensity is 1 cd more for each degree of its horizontal angle."""
    candela = np.tile(1.0 + np.array(horizontal)[:, None] - horizontal[0], (1, len(vertical)))
    return Photometry(kind, np.array(vertical), np.array(horizontal), candela)  # type: ignore[arg-type]


def test_half_a_degree_past_its_last_plane_a_table_is_what_it_is_before_it() -> None:
    quadrant = planes("C", [0.0, 90.0], [0.0, 90.0])
    half = planes("C", [0.0, 90.0], [0.0, 90.0, 180.0])
    side = planes("C", [0.0, 90.0], [90.0, 180.0, 270.0])
    told = [
        (quadrant, {89.5: 90.5, 90.5: 90.5, 179.5: 1.5, 180.5: 1.5, 269.5: 90.5, 270.5: 90.5, 359.5: 1.5}),
        (half, {90.5: 91.5, 179.5: 180.5, 180.5: 180.5, 359.5: 1.5}),
        (side, {89.5: 1.5, 90.5: 1.5, 0.5: 90.5, 269.5: 180.5, 270.5: 180.5, 359.5: 91.5}),
    ]
    for table, at in told:
        for angle, candela in at.items():
            assert intensity_at(table, 45.0, angle) == pytest.approx(candela), angle


def test_beyond_what_it_spans_a_table_is_dark() -> None:
    cone, wedge = planes("C", [10.0, 60.0], [0.0]), planes("B", [-60.0, 60.0], [-30.0, 30.0])
    for table, inside, outside in ((cone, (10.0, 60.0), (9.5, 60.5)), (wedge, (-60.0, 60.0), (-60.5, 60.5))):
        for angle in inside:
            assert intensity_at(table, angle, 0.0) > 0.0
        for angle in outside:
            assert intensity_at(table, angle, 0.0) == 0.0
    assert intensity_at(wedge, 0.0, 30.5) == 0.0
    assert intensity_at(wedge, 0.0, -30.5) == 0.0


def test_what_leaves_ahead_is_all_of_a_table_that_ends_there() -> None:
    # 1 cd up to 60°: 2π (1 − cos 60°) lm; all around it 4π, of which half leaves ahead.
    cone = Photometry("C", np.array([0.0, 30.0, 60.0]), np.zeros(1), np.ones((1, 3)))
    assert flux_ahead(cone) == pytest.approx(math.pi)
    whole = np.array([0.0, 90.0, 180.0, 270.0, 360.0])
    assert flux_ahead(Photometry("C", np.array([0.0, 60.0, 120.0, 180.0]), whole, np.ones((5, 4)))) == pytest.approx(
        2.0 * math.pi
    )
    around = Photometry("B", np.array([-180.0, 0.0, 180.0]), np.array([-90.0, 90.0]), np.ones((2, 3)))
    assert flux_ahead(around) == pytest.approx(4.0 * math.pi)
