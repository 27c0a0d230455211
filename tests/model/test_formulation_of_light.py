"""The row of light: what channels give less what their heat takes away, worked out by hand. Figures are invented."""

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from optimise.model import formulation as module

FLUX = np.array([10.0, 6.0, 8.0])
HEAT = np.array([9.0, 2.0, 1.0, 9.0, 4.0])
"""Of five channels, of which the second, third and fifth are kept."""


@pytest.mark.parametrize(
    ("slope", "needs", "wanted"),
    [
        # 10 − 2 · 1.5 = 7, and 8 − 4 · 1.5 = 2; needs 6 and 4 · 1.25 = 5: what is above 6 counts for 6.
        (1.5, (6.0, 4.0), {0: 6.0, 2: 2.0, 10: -6.0, 11: -5.0}),
        # Less than one lumen is a need, and may be what is given.
        (1.5, (6.0, 0.4), {0: 6.0, 2: 2.0, 10: -6.0, 11: -0.5}),
        (1.9, (6.0, 4.0), {0: 6.0, 2: pytest.approx(0.4), 10: -6.0, 11: -5.0}),
        # Nothing is needed, or nothing is given: the line says nothing.
        (1.5, (6.0, 0.0), None),
        (1.5, (-1.0, 4.0), None),
        (2.0, (6.0, 4.0), None),
        (3.0, (6.0, 4.0), None),
        # Without a slope the row always stands.
        (0.0, (20.0, 0.0), {0: 10.0, 2: 8.0, 10: -20.0, 11: 0.0}),
        (0.0, (6.0, 4.0), {0: 6.0, 2: 6.0, 10: -6.0, 11: -5.0}),
    ],
)
def test_what_channels_give_less_what_their_heat_takes(
    slope: float, needs: tuple[float, float], wanted: dict[int, Any] | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    rows: list[tuple[dict[int, float], float]] = []
    f: Any = SimpleNamespace(
        problem=SimpleNamespace(channels=SimpleNamespace(heat=HEAT)),
        kept=SimpleNamespace(channels=np.array([1, 2, 4])),
        channel_vars=[0, 1, 2],
        program=SimpleNamespace(at_least=lambda row, least: rows.append((row, least))),
    )
    cells: Any = [
        (10, SimpleNamespace(need=needs[0], tighten=0.0)),
        (11, SimpleNamespace(need=needs[1], tighten=0.25)),
    ]
    asked: list[float] = []

    def need(problem: object, cell: Any, slope: float) -> float:
        asked.append(slope)
        return float(cell.need)

    monkeypatch.setattr(module, "_need", need)
    module._lit(f, np.array([0, 2]), cells, FLUX, slope)
    assert rows == ([] if wanted is None else [(wanted, 0.0)])
    assert asked == [slope, slope]
