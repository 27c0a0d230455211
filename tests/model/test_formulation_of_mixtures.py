"""The rows of a mixture, worked out by hand: both kinds are there, and each gives its share. Figures are invented."""

from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from optimise.model import formulation as module


@dataclass(frozen=True)
class Few:
    """Three of five channels, at the boards that they may have at all."""

    channels: Any
    flux: Any
    top: Any


SHARES = {
    (0.2, True): [1.0, -4.0, -6.0],
    (0.6, False): [-2.0, 5.0, 8.0],
    (0.3, True): [1.5, -3.0, -9.0],
}
"""By share and whether it is the least: what each channel gives above it."""


@pytest.mark.parametrize("own", [False, True])
def test_both_kinds_are_there_and_give_their_shares(own: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    rows: list[tuple[dict[int, float], float]] = []
    asked: list[tuple[float, bool, Any, Any]] = []

    def parts(problem: object, kept: Few, share: float, *, least: bool) -> Any:
        asked.append((share, least, kept.flux, kept.top))
        return np.array(SHARES[share, least])

    monkeypatch.setattr(module, "parts_of_share", parts)
    monkeypatch.setattr(module, "flux_of", lambda problem, channels, boards: (channels.tolist(), boards.tolist()))
    kept = Few(np.array([0, 2, 4]), "any flux", "any top")
    wide: Any = SimpleNamespace(share_low=0.2, share_high=0.6, own=False, board=30.0, top=50.0)
    narrow: Any = SimpleNamespace(share_low=0.3, share_high=0.6, own=own, board=40.0, top=60.0)
    f: Any = SimpleNamespace(
        problem=SimpleNamespace(
            mix=SimpleNamespace(kind=np.array([0, 9, 1, 9, 0])),
            channels=SimpleNamespace(count=np.array([1, 7, 2, 7, 2])),
            capacity=np.array([5, 2]),
            parts=SimpleNamespace(emitters=("a", "b")),
        ),
        kept=kept,
        channel_vars=[0, 1, 2],
        cell_vars=[10, 11],
        cells=[wide, narrow],
        program=SimpleNamespace(at_least=lambda row, least: rows.append((row, least))),
    )
    module._mixed(f)
    # Some of the first kind, some of the second.
    assert rows[:2] == [({0: 1.0, 2: 1.0}, 1.0), ({1: 1.0}, 1.0)]
    # The least of all shares, and the greatest.
    assert rows[2:4] == [({0: 1.0, 1: -4.0, 2: -6.0}, 0.0), ({0: -2.0, 1: 5.0, 2: 8.0}, 0.0)]
    # Of the narrow cell alone: its least share, lifted by what 5 of the worst emitters miss, 9 / 2 each.
    assert rows[4] == ({0: 1.5, 1: -3.0, 2: -9.0, 11: -22.5}, -22.5)
    # Its greatest share is that of all; on a board of its own it says more: 2 for one emitter, 10 for five.
    assert rows[5:] == ([({0: -2.0, 1: 5.0, 2: 8.0, 11: -10.0}, -10.0)] if own else [])
    at_its_own = ([0, 2, 4], [40.0, 40.0])
    assert [(share, least, flux) for share, least, flux, _ in asked] == [
        (0.2, True, "any flux"),
        (0.6, False, "any flux"),
        (0.3, True, at_its_own),
        *([(0.6, False, at_its_own)] if own else []),
    ]
    assert [top if isinstance(top, str) else top.tolist() for *_, top in asked] == [
        "any top",
        "any top",
        *([[60.0]] * (2 if own else 1)),
    ]


@pytest.mark.parametrize("share", [1.0, 0.5])
def test_a_cell_needs_what_the_hardest_of_its_lights_needs(share: float, monkeypatch: pytest.MonkeyPatch) -> None:
    """A head that gives `share` of its light in a cell needs the more there, with the smaller slope for the whole."""
    cell: Any = SimpleNamespace(head=3, lux_per_lumen=0.8 / share, board=30.0, top=50.0)
    told: list[list[float]] = []

    def base(problem: object, heads: Any, boards: Any, tops: Any, slope: Any) -> Any:
        told.append([*heads, *boards, *tops, *slope])
        return np.array([100.0])

    monkeypatch.setattr(module, "hardest", lambda problem, heads: np.array([0.8]))
    monkeypatch.setattr(module, "base_of", base)
    assert module._need(object(), cell, 1.5) == pytest.approx(100.0 * share)  # type: ignore[arg-type]
    assert told == [[3, 30.0, 50.0, pytest.approx(1.5 / share)]]
