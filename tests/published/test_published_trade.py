"""Facts of the trade about tubes and low voltage; each is common practice, no source, unless it says more."""

import numpy as np
import numpy.typing as npt
import pytest

from optimise.physics.leads import load_current

TUBE_POWER = 40.0
"""W; a 4 ft fluorescent tube is taken as 40 W. Common practice, no source."""
MAINS = 240.0


def branch_currents(ends: list[tuple[int, int]], conductances: list[float]) -> npt.NDArray[np.float64]:
    """Currents in A of resistive branches by nodal analysis; node 0 at 0 V, node 1 at mains voltage."""
    nodes = 1 + max(max(pair) for pair in ends)
    incidence = np.zeros((len(ends), nodes))
    for branch, (start, end) in enumerate(ends):
        incidence[branch, start], incidence[branch, end] = 1.0, -1.0
    weighted = np.diag(conductances) @ incidence
    matrix = incidence.T @ weighted
    potential = np.zeros(nodes)
    potential[1] = MAINS
    # Least squares, because an open branch may leave a node that nothing holds.
    free = np.linalg.lstsq(matrix[2:, 2:], -matrix[2:, 1] * MAINS, rcond=None)[0]
    potential[2:] = free
    return np.asarray(weighted @ potential)


PARALLEL = [(1, 0)] * 4
SERIES = [(1, 2), (2, 3), (3, 4), (4, 0)]
TUBE_CONDUCTANCE = TUBE_POWER / MAINS**2


def test_four_tubes_draw_under_0_7_ampere_at_240_volt() -> None:
    power = 4 * TUBE_POWER
    assert load_current(MAINS, 0.0, power) == pytest.approx(2 / 3, rel=1e-12)
    assert load_current(MAINS, 0.0, power) < 0.7


def test_twelve_volt_needs_twenty_times_the_current() -> None:
    # Definition of power.
    assert load_current(12.0, 0.0, 160.0) / load_current(MAINS, 0.0, 160.0) == pytest.approx(20.0, rel=1e-12)


def test_same_lead_loses_far_more_at_twelve_volt() -> None:
    # The loss R I² of the same lead goes up by more than 20², since its drop makes the load draw still more.
    resistance = 0.05
    low, high = load_current(12.0, resistance, 60.0), load_current(MAINS, resistance, 60.0)
    assert resistance * low**2 > 400.0 * resistance * high**2


def test_tubes_in_parallel_draw_what_their_powers_say() -> None:
    currents = branch_currents(PARALLEL, [TUBE_CONDUCTANCE] * 4)
    assert currents.sum() == pytest.approx(float(load_current(MAINS, 0.0, 4 * TUBE_POWER)), rel=1e-12)


@pytest.mark.parametrize("failed", range(4))
def test_tubes_in_parallel_stay_lit_when_one_fails(failed: int) -> None:
    conductances = [TUBE_CONDUCTANCE] * 4
    before = branch_currents(PARALLEL, conductances)
    conductances[failed] = 0.0
    after = branch_currents(PARALLEL, conductances)
    others = [tube for tube in range(4) if tube != failed]
    assert after[failed] == 0.0
    assert after[others] == pytest.approx(before[others], rel=1e-12)
    assert after.sum() == pytest.approx(float(load_current(MAINS, 0.0, 3 * TUBE_POWER)), rel=1e-12)


@pytest.mark.parametrize("failed", range(4))
def test_tubes_in_series_all_go_out_when_one_fails(failed: int) -> None:
    conductances = [TUBE_CONDUCTANCE] * 4
    assert branch_currents(SERIES, conductances) == pytest.approx(np.full(4, TUBE_POWER / MAINS / 4.0), rel=1e-9)
    conductances[failed] = 0.0
    assert np.abs(branch_currents(SERIES, conductances)).max() < 1e-12
