import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimise.physics.heat import (
    HOTTEST,
    TooHotError,
    air_properties,
    board_temperature,
    convection_coefficient,
    heat_shed,
    nusselt_vertical,
)

# Few examples, for the whole run to stay short; no deadline, for a busy machine to pass too.
quick = settings(max_examples=40, deadline=None)

ambients = st.floats(-40.0, 55.0)
sides = st.floats(0.02, 2.0)
faces = st.sampled_from([1, 2])
emissivities = st.floats(0.0, 1.0)


@quick
@given(ambients, sides, sides, faces, emissivities, st.floats(0.01, 800.0), st.floats(0.01, 200.0))
def test_hotter_board_sheds_more(
    ambient: float, width: float, height: float, face: int, emissivity: float, above: float, more: float
) -> None:
    cooler = heat_shed(ambient + above, ambient, width, height, face, emissivity)
    assert 0.0 < cooler < heat_shed(ambient + above + more, ambient, width, height, face, emissivity)


@quick
@given(ambients, sides, sides, faces, emissivities)
def test_board_as_cool_as_the_air_sheds_nothing(
    ambient: float, width: float, height: float, face: int, emissivity: float
) -> None:
    assert heat_shed(ambient, ambient, width, height, face, emissivity) == 0.0
    assert convection_coefficient(ambient, ambient, height) == 0.0
    assert board_temperature(0.0, ambient, width, height, face, emissivity) == ambient


@quick
@given(ambients, sides, sides, faces, emissivities, st.floats(0.1, 500.0))
def test_board_temperature_undoes_heat_shed(
    ambient: float, width: float, height: float, face: int, emissivity: float, above: float
) -> None:
    heat = heat_shed(ambient + above, ambient, width, height, face, emissivity)
    board = board_temperature(heat, ambient, width, height, face, emissivity)
    assert board == pytest.approx(ambient + above, abs=1e-8)


def test_both_faces_and_double_width_shed_double() -> None:
    one = float(heat_shed(60.0, 25.0, 0.3, 0.4, 1, 0.8))
    assert heat_shed(60.0, 25.0, 0.3, 0.4, 2, 0.8) == pytest.approx(2.0 * one, rel=1e-12)
    assert heat_shed(60.0, 25.0, 0.6, 0.4, 1, 0.8) == pytest.approx(2.0 * one, rel=1e-12)
    # The height does more than add area: a taller plate convects less for each square metre.
    assert one < heat_shed(60.0, 25.0, 0.3, 0.8, 1, 0.8) < 2.0 * one


def test_board_temperature_broadcasts_and_agrees_with_single_calls() -> None:
    heats = np.array([[0.0], [10.0], [40.0]])
    widths = np.array([0.2, 0.5])
    together = board_temperature(heats, 25.0, widths, 0.3, 2, 0.8)
    assert together.shape == (3, 2)
    for i, heat in enumerate(heats.ravel()):
        for j, width in enumerate(widths):
            assert together[i, j] == board_temperature(heat, 25.0, width, 0.3, 2, 0.8)
    assert np.all(together[0] == 25.0)
    assert np.all(np.diff(together, axis=0) > 0.0)
    assert np.all(together[1:, 1] < together[1:, 0])


def test_heat_beyond_the_hottest_board_is_refused() -> None:
    most = float(heat_shed(25.0 + HOTTEST, 25.0, 0.1, 0.1, 1, 0.8))
    assert board_temperature(0.999 * most, 25.0, 0.1, 0.1, 1, 0.8) < 25.0 + HOTTEST
    with pytest.raises(ValueError, match="more than the board can shed"):
        board_temperature([1.0, 1.001 * most], 25.0, 0.1, 0.1, 1, 0.8)


@pytest.mark.parametrize(
    ("arguments", "text"),
    [
        ((-1.0, 25.0, 0.3, 0.3, 1, 0.8), "heat must be at least 0"),
        ((1.0, 25.0, 0.0, 0.3, 1, 0.8), "width must be more than 0"),
        ((1.0, 25.0, 0.3, 0.0, 1, 0.8), "height must be more than 0"),
        ((1.0, 25.0, 0.3, 0.3, 1, -0.1), "emissivity must be at least 0"),
    ],
)
def test_board_temperature_refuses_what_lies_outside(
    arguments: tuple[float, float, float, float, int, float], text: str
) -> None:
    with pytest.raises(ValueError, match=text):
        board_temperature(*arguments)


@quick
@given(st.floats(0.0, 1e12), st.floats(1.001, 10.0), st.floats(0.1, 100.0))
def test_nusselt_rises_with_rayleigh_and_prandtl(rayleigh: float, times: float, prandtl: float) -> None:
    nusselt = nusselt_vertical(rayleigh, prandtl)
    assert nusselt <= nusselt_vertical(rayleigh * times, prandtl)
    assert nusselt <= nusselt_vertical(rayleigh, prandtl * times)


def test_nusselt_of_still_air_is_the_conduction_limit() -> None:
    assert nusselt_vertical(0.0, 0.7) == pytest.approx(0.825**2, rel=1e-12)
    with pytest.raises(ValueError, match="rayleigh must be at least 0"):
        nusselt_vertical(-1.0, 0.7)
    with pytest.raises(ValueError, match="prandtl must be more than 0"):
        nusselt_vertical(1.0, 0.0)


def test_air_is_held_at_the_ends_of_its_table_and_straight_within() -> None:
    low, at_250, at_450, high = (np.array(air_properties(t)) for t in (100.0, 250.0, 450.0, 900.0))
    assert np.array_equal(low, at_250)
    assert np.array_equal(high, at_450)
    between = (np.array(air_properties(300.0)) + np.array(air_properties(350.0))) / 2.0
    assert np.array(air_properties(325.0)) == pytest.approx(between, rel=1e-12)
    with pytest.raises(ValueError, match="film must be more than 0"):
        air_properties(0.0)


def test_air_is_on_straight_lines_between_the_rows_of_the_table() -> None:
    # Incropera & DeWitt, table A.4, at 250, 300, 350, 400 and 450 K (values from memory).
    rows = np.array(
        [
            (22.3e-3, 11.44e-6, 0.720),
            (26.3e-3, 15.89e-6, 0.707),
            (30.0e-3, 20.92e-6, 0.700),
            (33.8e-3, 26.41e-6, 0.690),
            (37.3e-3, 32.39e-6, 0.686),
        ]
    )
    at_rows = np.column_stack(air_properties([200.0, 250.0, 300.0, 350.0, 400.0, 450.0, 500.0]))
    np.testing.assert_allclose(at_rows, rows[[0, 0, 1, 2, 3, 4, 4]], rtol=1e-12)
    between = np.column_stack(air_properties([275.0, 325.0, 375.0, 425.0]))
    np.testing.assert_allclose(between, (rows[1:] + rows[:-1]) / 2.0, rtol=1e-12)


def test_what_needs_more_than_1500_k_is_too_hot() -> None:
    board = (25.0, 0.1, 0.1, 2.0, 0.9)
    most = float(heat_shed(1525.0, *board))
    assert board_temperature(most, *board) == pytest.approx(1525.0, rel=1e-9)
    assert board_temperature(most - 0.5, *board) == pytest.approx(1525.0, rel=1e-3)
    with pytest.raises(TooHotError):
        board_temperature([1.0, most * 1.0001], *board)


def test_nothing_is_at_0_k() -> None:
    for call in (
        lambda cold: convection_coefficient(cold, -273.15, 0.5),
        lambda cold: heat_shed(cold, -273.15, 0.5, 0.5, 2.0, 0.9),
    ):
        with pytest.raises(ValueError, match="film"):
            call(-273.15)
        assert np.isfinite(call(-272.9))
