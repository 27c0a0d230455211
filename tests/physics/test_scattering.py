"""A measured beam behind a diffuser: closed forms on axis, a plain sum, the flux kept. Invented tables."""

import math

import numpy as np
import pytest

from optimise.parts.photometry import Photometry
from optimise.physics import scattering
from optimise.physics.beams import axial_intensity, beam_exponent, gridded
from optimise.physics.intensity import flux_ahead, intensity_towards, measured, table_flux
from optimise.physics.scattering import narrowed, scattered, scattered_peak

ANGLES = np.linspace(0.0, 90.0, 181)


def power(exponent: float) -> Photometry:
    return Photometry("C", ANGLES, np.zeros(1), np.maximum(np.cos(np.radians(ANGLES)), 0.0)[None, :] ** exponent)


def lopsided() -> Photometry:
    """A lobe tilted 30° along the piece."""
    down, around = np.linspace(0.0, 90.0, 46), np.linspace(0.0, 360.0, 73)
    v, h = np.radians(down)[None, :], np.radians(around)[:, None]
    cosine = np.sin(v) * np.cos(h) * 0.5 + np.cos(v) * math.sqrt(0.75)
    return Photometry("C", down, around, 500.0 * np.maximum(cosine, 0.0) ** 6)


@pytest.mark.parametrize("spread", [4.0, 15.0, 40.0, 80.0])
@pytest.mark.parametrize("exponent", [1.0, 5.0])
def test_two_cosine_powers_meet_on_axis_in_closed_form(exponent: float, spread: float) -> None:
    # ∫ cos^m (m+1)/2π · cos^n (n+1)/2π over the half-space is (m+1)(n+1) / 2π(m+n+1).
    table = power(exponent)
    n = float(beam_exponent(spread))
    expected = (exponent + 1.0) * (n + 1.0) / (2.0 * math.pi * (exponent + n + 1.0))
    beam = scattered(table, spread)
    # Before what goes back is given to the front again.
    raw = float(beam.towards(0.0, 0.0, 1.0)) * beam.flux / table_flux(table)
    assert raw == pytest.approx(expected, rel=1e-3)


def test_off_axis_it_is_the_sum_of_lobe_times_light() -> None:
    table, spread = lopsided(), 25.0
    n = float(beam_exponent(spread))
    beam = scattered(table, spread)
    # Directions of equal solid angle over the half-space: even steps of the cosine and of the turn.
    ahead = (np.arange(400)[:, None] + 0.5) / 400.0
    around = (np.arange(800)[None, :] + 0.5) * (2.0 * math.pi / 800.0)
    side = np.sqrt(1.0 - ahead**2)
    rays = np.stack([side * np.cos(around), side * np.sin(around), ahead + 0.0 * around])
    for tilt, turn in ((0.0, 0.0), (math.radians(35.0), 0.4), (math.radians(60.0), 2.5)):
        out = np.array([math.sin(tilt) * math.cos(turn), math.sin(tilt) * math.sin(turn), math.cos(tilt)])
        lobe = np.maximum(np.tensordot(out, rays, 1), 0.0) ** n * (n + 1.0) / (2.0 * math.pi)
        expected = float((intensity_towards(table, *rays) * lobe).mean()) * 2.0 * math.pi
        assert float(beam.towards(*out)) * beam.flux == pytest.approx(expected, rel=5e-3, abs=0.05)


@pytest.mark.parametrize("spread", [3.0, 30.0, 110.0])
def test_all_light_ahead_leaves_at_the_front_and_the_peak_is_bounded(spread: float) -> None:
    for table in (power(30.0), lopsided()):
        beam = scattered(table, spread)
        assert table_flux(beam.table) / beam.flux == pytest.approx(1.0, rel=1e-12)
        assert beam.peak <= scattered_peak(table, spread)
        assert beam.flux <= flux_ahead(table) * 1.01
        assert scattered(table, spread) is beam


def test_both_ways_of_summing_agree() -> None:
    vertical = np.radians(np.linspace(0.0, 90.0, 10))
    n = float(beam_exponent(9.0))
    one, other = scattering._by_lobe(lopsided(), n, vertical), scattering._by_beam(lopsided(), n, vertical)
    np.testing.assert_allclose(one, other, atol=2e-3 * other.max())


def test_a_spread_beam_keeps_its_side() -> None:
    beam = scattered(lopsided(), 30.0)
    assert beam.towards(0.5, 0.0, 0.9) > 2.0 * beam.towards(-0.5, 0.0, 0.9)
    assert beam.towards(0.3, 0.4, 0.9) == pytest.approx(float(beam.towards(0.3, -0.4, 0.9)), rel=1e-9)
    assert beam.peak < measured(lopsided()).peak


def test_a_spread_must_be_an_angle() -> None:
    for wrong in (0.0, 180.0, math.nan):
        with pytest.raises(ValueError, match="must be"):
            scattered(power(1.0), wrong)


@pytest.mark.parametrize("grid", [12.0, 40.0, 90.0])
def test_a_grid_makes_of_a_measured_cosine_what_it_makes_of_the_formula(grid: float) -> None:
    exponent, expected = gridded(1.0, grid, 0.9)
    beam, share = narrowed(measured(power(1.0)), grid, 0.9)
    assert share == pytest.approx(float(expected), rel=1e-3)
    angle = np.radians([0.0, 3.0, 11.0, 25.0, 50.0])
    light = np.asarray(axial_intensity(1.0, exponent)) * np.cos(angle) ** float(exponent)
    found = beam.towards(np.sin(angle), 0.0, np.cos(angle))
    np.testing.assert_allclose(found, light, rtol=2e-3, atol=2e-3 * light[0])


def test_a_grid_lets_through_in_each_direction_and_leaves_the_axis() -> None:
    bare = scattered(lopsided(), 25.0)
    beam, share = narrowed(bare, 50.0, 0.8)
    passes = math.log(0.5) / math.log(math.cos(math.radians(25.0))) - 1.0
    for tilt, turn in ((0.0, 0.0), (20.0, 40.0), (33.0, 180.0), (55.0, 300.0)):
        t, h = math.radians(tilt), math.radians(turn)
        out = math.sin(t) * math.cos(h), math.sin(t) * math.sin(h), math.cos(t)
        expected = 0.8 * float(bare.towards(*out)) * math.cos(t) ** passes
        assert share * float(beam.towards(*out)) == pytest.approx(expected, rel=2e-3)
    assert 0.0 < share < 0.8
    # One that is wider than a cosine takes nothing but what its walls do ahead.
    wide, all_ = narrowed(bare, 150.0, 0.8)
    assert all_ == pytest.approx(0.8, rel=1e-4)
    assert wide.axis == pytest.approx(bare.axis, rel=1e-4)


def test_a_grid_outside_its_domain_is_refused() -> None:
    beam = measured(power(1.0))
    for grid, ahead, name in ((0.0, 0.9, "width"), (180.0, 0.9, "width"), (40.0, 0.0, "ahead"), (40.0, 1.1, "ahead")):
        with pytest.raises(ValueError, match=name):
            narrowed(beam, grid, ahead)
    sideways = Photometry("A", np.linspace(-90.0, 90.0, 7), np.linspace(-90.0, 90.0, 7), np.ones((7, 7)))
    with pytest.raises(ValueError, match="type C"):
        narrowed(measured(sideways), 40.0, 0.9)


def test_a_narrow_grid_is_followed_between_the_angles_of_a_table() -> None:
    # A Lambertian table: behind a grid of 8° it is cos^g, of which the closed form gives the share.
    angles = np.linspace(0.0, 90.0, 181)
    table = Photometry("C", angles, np.zeros(1), np.cos(np.radians(angles))[None, :])
    exponent, share = gridded(1.0, 8.0, 0.9)
    beam, passed = narrowed(measured(table), 8.0, 0.9)
    assert passed == pytest.approx(float(share), rel=1e-3)
    assert beam.peak == pytest.approx(float(axial_intensity(1.0, exponent)), rel=1e-3)


def test_the_peak_of_what_is_scattered_is_bounded_for_light_that_grazes_and_for_light_behind() -> None:
    turns, falls = np.arange(0.0, 361.0, 5.0), np.arange(0.0, 91.0, 2.5)
    grazing = np.zeros((len(turns), len(falls)))
    grazing[[0, -1], -2] = 1.0
    # Half of each lobe is lost behind the sheet, so that what is left is nearly twice as bright for its light.
    table = Photometry("C", falls, turns, grazing)
    lobe = (float(beam_exponent(20.0)) + 1.0) / (2.0 * np.pi)
    assert 1.4 * lobe < scattered(table, 20.0).peak <= scattered_peak(table, 20.0)
    # All around alike: ahead it stays so, with twice the intensity for the half that goes there.
    around = Photometry("C", np.array([0.0, 90.0, 180.0]), np.zeros(1), np.ones((1, 3)))
    assert scattered(around, 20.0).peak <= scattered_peak(around, 20.0)
    assert scattered(around, 20.0).peak >= 0.99 / (2.0 * np.pi)


@pytest.mark.parametrize("spread", [0.0, -1.0])
def test_a_spread_is_above_0(spread: float) -> None:
    with pytest.raises(ValueError, match="spread must be more than 0"):
        scattered(Photometry("C", np.array([0.0, 90.0]), np.zeros(1), np.ones((1, 2))), spread)
