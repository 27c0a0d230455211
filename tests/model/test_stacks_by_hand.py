"""Figures of two sheets as one, each worked out by hand."""

from dataclasses import replace

import pytest
from plain_parts import EMITTER, SHEETS, catalogue, choice

from optimise.model.stacks import layers_of, sheet_of, stack_of

INNER = SHEETS[0].model_copy(
    update={
        "transmittance": 0.5,
        "reflectance": 0.4,
        "width": 1.2,
        "height": 0.7,
        "mass_per_area": 0.3,
        "mired_shift": 20.0,
        "mass_tolerance": 0.1,
    }
)
OUTER = SHEETS[1].model_copy(
    update={
        "transmittance": 0.8,
        "reflectance": 0.15,
        "width": 0.6,
        "height": 2.0,
        "mass_per_area": 0.05,
        "mired_shift": -50.0,
        "grid": 40.0,
        "grid_transmittance": 0.9,
    }
)


def test_every_figure_of_two_sheets() -> None:
    both = stack_of(INNER, OUTER)
    assert both.part == "cloth + film"
    # Light between the sheets goes to and fro: 1 / (1 − 0.4 · 0.15) times.
    assert both.transmittance == pytest.approx(0.5 * 0.8 / 0.94)
    assert both.reflectance == pytest.approx(0.4 + 0.5**2 * 0.15 / 0.94)
    assert both.spread is None
    assert (both.grid, both.grid_transmittance) == (40.0, 0.9)
    # The largest that both cover, however they lie: 0.7 × 1.2 and 0.6 × 2.
    assert (both.width, both.height) == (0.6, 1.2)
    assert both.mass_per_area == pytest.approx(0.35)
    assert both.mired_shift == -30.0
    assert both.mass_tolerance is None
    assert layers_of(both) == (INNER, OUTER)


def test_what_stands_before_the_emitters() -> None:
    parts = catalogue(EMITTER)
    assert sheet_of(choice("p", None), parts) is None
    assert sheet_of(choice("p", "film"), parts) == SHEETS[1]
    both = sheet_of(replace(choice("p", "cloth"), second_diffuser="film"), parts)
    assert layers_of(both) == SHEETS
    assert layers_of(None) == ()
