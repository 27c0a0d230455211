"""Heat of an upright board, against correlations, textbooks and libraries that share no code with it.

Plate table: computed for this project from Churchill & Chu with Incropera's air (Table A.4, value from
memory); the checks against the ht and fluids libraries below are what it rests on.
"""

import numpy as np
import pytest
from fluids.atmosphere import ATMOSPHERE_1976
from ht.conv_free_immersed import Nu_vertical_plate_Churchill
from ht.radiation import q_rad

from optimise.physics.heat import (
    STEFAN_BOLTZMANN,
    ZERO_CELSIUS,
    air_properties,
    board_temperature,
    convection_coefficient,
    heat_shed,
    nusselt_vertical,
)


@pytest.mark.parametrize("prandtl", [0.69, 0.72, 7.0])
@pytest.mark.parametrize("rayleigh", np.logspace(-1, 13, 15).tolist())
def test_nusselt_agrees_with_the_ht_library(rayleigh: float, prandtl: float) -> None:
    # Churchill & Chu (1975), Int. J. Heat Mass Transfer 18:1323, in the ht library (which takes Grashof).
    expected = Nu_vertical_plate_Churchill(prandtl, rayleigh / prandtl)
    assert nusselt_vertical(rayleigh, prandtl) == pytest.approx(expected, rel=1e-12)


def test_textbook_example_of_a_vertical_plate() -> None:
    # Bergman, Lavine, Incropera, DeWitt, Introduction to Heat Transfer, 6th ed. (2011), example 9.2.
    # Seen second-hand: the ht library documents 147.16 at Pr 0.69, Gr 2.63e9 as this example.
    assert nusselt_vertical(0.69 * 2.63e9, 0.69) == pytest.approx(147.16185223770603, rel=1e-12)


def test_textbook_example_with_our_air() -> None:
    # The same example from its inputs (0.71 m tall, 1.02 m wide, 232 °C in 23 °C): value from memory.
    # The figures are computed for this project from those inputs.
    assert convection_coefficient(232.0, 23.0, 0.71) == pytest.approx(7.0, rel=0.005)
    convected = heat_shed(232.0, 23.0, 1.02, 0.71, 1, 0.0)
    assert convected == pytest.approx(1060.0, rel=0.005)
    assert heat_shed(232.0, 23.0, 1.02, 0.71, 1, 1.0) - convected == pytest.approx(2358.0, rel=0.005)


@pytest.mark.parametrize(
    ("emissivity", "hot", "cold", "flux"),
    [(1.0, 400.0, 0.0, 1451.613952), (0.85, 400.0, 305.0, 816.7821722650002)],
)
def test_radiation_agrees_with_the_ht_library(emissivity: float, hot: float, cold: float, flux: float) -> None:
    # ht.radiation.q_rad and its documented figures; Stefan-Boltzmann, constant of CODATA 2018.
    assert q_rad(emissivity, hot, cold) == pytest.approx(flux, rel=1e-8)
    assert emissivity * STEFAN_BOLTZMANN * (hot**4 - cold**4) == pytest.approx(flux, rel=2e-6)


@pytest.mark.parametrize(("hot", "cold"), [(400.0, 305.0), (330.0, 298.15), (298.2, 298.1)])
def test_radiated_part_of_heat_shed_agrees_with_the_ht_library(hot: float, cold: float) -> None:
    board, ambient = hot - ZERO_CELSIUS, cold - ZERO_CELSIUS
    grey = heat_shed(board, ambient, 0.5, 0.4, 2, 0.85)
    bare = heat_shed(board, ambient, 0.5, 0.4, 2, 0.0)
    assert grey - bare == pytest.approx(q_rad(0.85, hot, cold) * 0.4, rel=3e-6)


@pytest.mark.parametrize("kelvin", [250.0, 275.0, 300.0, 325.0, 350.0, 375.0, 400.0, 450.0])
def test_air_agrees_with_the_standard_atmosphere(kelvin: float) -> None:
    # U.S. Standard Atmosphere 1976 (viscosity, conductivity, ideal gas at 101 325 Pa) in the fluids library.
    conductivity, viscosity, prandtl = air_properties(kelvin)
    standard_k = ATMOSPHERE_1976.thermal_conductivity(kelvin)
    standard_mu = ATMOSPHERE_1976.viscosity(kelvin)
    assert conductivity == pytest.approx(standard_k, rel=0.01)
    assert viscosity == pytest.approx(standard_mu / ATMOSPHERE_1976.density(kelvin, 101325.0), rel=0.025)
    # Heat capacity of the same atmosphere, cp = 7/2 R/M = 1004.7 J/(kg K), constant.
    assert prandtl == pytest.approx(1004.7 * standard_mu / standard_k, rel=0.025)


@pytest.mark.parametrize(
    ("size", "board", "coefficient", "convected", "radiated", "total"),
    [
        (0.3, 60.0, 4.976, 174.15, 205.35, 34.16),
        (0.3, 50.0, 4.545, 113.63, 139.62, 22.79),
        (0.6, 50.0, 4.241, 106.02, 139.62, 88.43),
    ],
)
def test_square_plates_at_25_degrees(
    size: float, board: float, coefficient: float, convected: float, radiated: float, total: float
) -> None:
    assert convection_coefficient(board, 25.0, size) == pytest.approx(coefficient, abs=6e-4)
    bare = heat_shed(board, 25.0, size, size, 1, 0.0)
    shed = heat_shed(board, 25.0, size, size, 1, 0.82)
    assert bare / size**2 == pytest.approx(convected, abs=6e-3)
    assert (shed - bare) / size**2 == pytest.approx(radiated, abs=6e-3)
    assert shed == pytest.approx(total, abs=6e-3)


@pytest.mark.parametrize(
    ("heat", "size", "faces", "board"),
    [(30.0, 0.3, 1, 56.444), (30.0, 0.3, 2, 42.535), (60.0, 0.6, 1, 43.002)],
)
def test_temperature_of_square_plates(heat: float, size: float, faces: int, board: float) -> None:
    assert board_temperature(heat, 25.0, size, size, faces, 0.82) == pytest.approx(board, abs=0.1)


def test_combined_coefficient_is_that_of_still_air() -> None:
    # 9 to 13 W/(m² K) for warm painted plates in still air (common practice, no source).
    assert 9.0 <= heat_shed(60.0, 25.0, 1.0, 0.3, 1, 0.82) / 0.3 / 35.0 <= 13.0
