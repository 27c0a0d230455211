import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimise.physics.exposure import exposure_illuminance, stops

# Few examples, for the whole run to stay short; no deadline, for a busy machine to pass too.
quick = settings(max_examples=40, deadline=None)

numbers_f = st.floats(0.7, 64.0)
times = st.floats(1e-4, 10.0)
isos = st.floats(10.0, 1e5)


@quick
@given(numbers_f, times, isos)
def test_each_stop_doubles_the_light(f_number: float, time: float, iso: float) -> None:
    base = exposure_illuminance(f_number, time, iso)
    assert stops(exposure_illuminance(f_number * 2**0.5, time, iso), base) == pytest.approx(1.0)
    assert stops(exposure_illuminance(f_number, time / 2, iso), base) == pytest.approx(1.0)
    assert stops(exposure_illuminance(f_number, time, iso * 2), base) == pytest.approx(-1.0)


@quick
@given(numbers_f, times, isos, st.floats(100.0, 1000.0))
def test_light_is_proportional_to_the_constant(f_number: float, time: float, iso: float, constant: float) -> None:
    usual = float(exposure_illuminance(f_number, time, iso, 250.0))
    assert exposure_illuminance(f_number, time, iso, constant) == pytest.approx(usual * constant / 250.0, rel=1e-12)


@quick
@given(st.floats(0.1, 1e5), st.floats(0.1, 1e5))
def test_stops_up_are_stops_down_the_other_way(one: float, other: float) -> None:
    assert stops(one, other) == pytest.approx(-float(stops(other, one)), abs=1e-12)
    assert stops(one, one) == 0.0


@pytest.mark.parametrize(
    ("arguments", "name"),
    [
        ((0.0, 1.0, 1.0, 1.0), "f_number"),
        ((1.0, 0.0, 1.0, 1.0), "time"),
        ((1.0, 1.0, 0.0, 1.0), "iso"),
        ((1.0, 1.0, 1.0, 0.0), "constant"),
    ],
)
def test_exposure_refuses_zeros(arguments: tuple[float, float, float, float], name: str) -> None:
    with pytest.raises(ValueError, match=f"{name} must be more than 0"):
        exposure_illuminance(*arguments)


def test_stops_refuse_darkness() -> None:
    with pytest.raises(ValueError, match="illuminance must be more than 0"):
        stops(0.0, 1.0)
    with pytest.raises(ValueError, match="reference must be more than 0"):
        stops(1.0, 0.0)


def test_exposure_broadcasts() -> None:
    assert exposure_illuminance([[2.8], [4.0]], [1 / 48, 1 / 50, 1 / 60], 800.0).shape == (2, 3)
    assert stops([[1.0], [2.0]], [1.0, 2.0, 4.0]).shape == (2, 3)
