"""What is outside the stated domain is refused by its name, in a row of sound values too; its ends are taken."""

import inspect
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from domains import BEAM, OBSERVER, SPOTS, WAVES

from optimise.physics import (
    batteries,
    beams,
    blue_light,
    cavity,
    colour,
    distributions,
    dots,
    emitters,
    exposure,
    faces,
    fields,
    flicker,
    heat,
    leads,
    sheets,
    softness,
    spots,
    whites,
)
from optimise.physics.arrays import LARGEST, SMALLEST, numbers

CELL = {"x": np.zeros(1), "y": np.zeros(1), "pitch_x": 0.01, "pitch_y": 0.01}
POSITIVE = (0.0, -0.5)
NEGATIVE = (-0.5,)
SHARE = (-0.5, 1.5)
SHARE_ABOVE_0 = (0.0, -0.5, 1.5)
Refused = dict[str, tuple[float, ...]]

# Each function with sound arguments, small enough that a bound of 1 in place of 0 would refuse them, and by argument
# what its docstring excludes.
GUARDS: list[tuple[Callable[..., Any], dict[str, Any], Refused]] = [
    (batteries.cold_factor, {"ambient": 0.5, "per_kelvin": 0.005}, {"per_kelvin": NEGATIVE}),
    (
        batteries.discharge_time,
        {"current": 0.5, "capacity": 0.5, "rated_time": 0.5, "peukert": 1.0},
        {"current": POSITIVE, "capacity": POSITIVE, "rated_time": POSITIVE, "peukert": (0.5, 2.5)},
    ),
    (
        batteries.discharge_current,
        {"time": 0.5, "capacity": 0.5, "rated_time": 0.5, "peukert": 1.0},
        {"time": POSITIVE, "capacity": POSITIVE, "rated_time": POSITIVE, "peukert": (0.5, 2.5)},
    ),
    (batteries.resting_voltage, {"taken": 0.5, "full": 14.4, "nominal": 12.8, "empty": 10.0}, {"taken": SHARE}),
    (beams.beam_exponent, {"full_width": 0.5}, {"full_width": (0.0, -0.5, 180.0, 190.0)}),
    (beams.axial_intensity, {"flux": 0.5, "exponent": 0.5}, {"flux": NEGATIVE, "exponent": POSITIVE}),
    (beams.widened_beam, {"full_width": 0.5, "spread": 0.5}, {"full_width": POSITIVE, "spread": POSITIVE}),
    (
        beams.gridded,
        {"exponent": 0.5, "grid": 0.5, "ahead": 0.5},
        {"exponent": POSITIVE, "grid|full_width": (0.0, 180.0), "ahead": SHARE_ABOVE_0},
    ),
    (
        beams.point_factors,
        {"x": 0.0, "y": 0.0, "distance": 0.5, "exponent": 0.5},
        {"distance": POSITIVE, "exponent": POSITIVE},
    ),
    (
        cavity.opposite_factor,
        {"width": 0.5, "height": 0.5, "depth": 0.5},
        {"width": POSITIVE, "height": POSITIVE, "depth": POSITIVE},
    ),
    (
        cavity.box,
        {"width": 0.5, "height": 0.5, "depth": 0.5, "reflectance": 0.5},
        {"width": POSITIVE, "height": POSITIVE, "depth": NEGATIVE, "reflectance": SHARE},
    ),
    (
        cavity.box_transmittance,
        {
            "width": 0.5, "height": 0.5, "depth": 0.5, "reflectance": 0.5, "transmittance": 0.5, "thrown_back": 0.5,
        },
        {"transmittance": SHARE, "thrown_back": (*SHARE, 0.6)},
    ),
    (blue_light.blue_light_weight, {"wavelengths": 0.5}, {"wavelengths": NEGATIVE}),
    (colour.mired, {"temperature": 0.5}, {"temperature": POSITIVE}),
    (
        colour.planckian,
        {"temperature": 1e6, "wavelengths": np.array([1.0, 1e6])},
        {"temperature": (99.5, 1_000_000.5), "wavelengths": (0.5, 1_000_000.5)},
    ),
    (
        colour.isotemperature,
        {"temperature": 999_999.0, "wavelengths": WAVES, "observer": OBSERVER},
        {"temperature": (100.5, 999_999.5)},
    ),
    (cavity.forward_share, {"back": 0.5, "reflectance": 0.5}, {"back": SHARE, "reflectance": SHARE}),
    (
        dots.grid_light,
        {"x": np.zeros(1), "y": np.zeros(1), "pitch_x": 0.5, "pitch_y": 0.5, "depth": 0.5, "exponent": -0.5},
        {"pitch_x": POSITIVE, "pitch_y": POSITIVE, "depth": POSITIVE, "exponent": (-1.0, -2.0)},
    ),
    (
        dots.measured_light,
        {"beam": BEAM, "pitch_x": 0.5, "pitch_y": 0.5, "depth": 0.5, "exponent": 0.5},
        {"pitch_x": POSITIVE, "pitch_y": POSITIVE, "depth": POSITIVE, "exponent": NEGATIVE},
    ),
    (distributions.back_share, {"stated": 0.5, "table": None}, {"stated": SHARE}),
    (
        distributions.open_bounds,
        {"beam": BEAM, "width": 0.5, "height": 0.5, "distance": 0.5},
        {"width|side": NEGATIVE, "height|side": NEGATIVE, "distance": POSITIVE},
    ),
    (
        distributions.emitter_factors,
        {"beam": BEAM, "x": np.zeros(1), "y": np.zeros(1), "distance": 0.5},
        {"distance": POSITIVE},
    ),
    (
        distributions.face_lux,
        {"beam": BEAM, "width": 0.5, "height": 0.5, "distance": 0.5},
        {"width": POSITIVE, "height": POSITIVE, "distance": POSITIVE},
    ),
    (emitters.relative_flux, {"drive": 0.5, "droop": 0.25}, {"drive": NEGATIVE, "droop": (-0.5, 0.5, 0.6)}),
    (
        emitters.junction_temperature,
        {"board": 0.5, "heat": 0.5, "resistance": 0.5},
        {"heat": NEGATIVE, "resistance": NEGATIVE},
    ),
    (
        emitters.forward_voltage,
        {"rated_voltage": 0.5, "current": 0.5, "rated_current": 0.5, "dynamic_resistance": 0.5},
        dict.fromkeys(("rated_voltage", "current", "rated_current", "dynamic_resistance"), NEGATIVE),
    ),
    (
        exposure.exposure_illuminance,
        {"f_number": 0.5, "time": 0.5, "iso": 0.5, "constant": 0.5},
        dict.fromkeys(("f_number", "time", "iso", "constant"), POSITIVE),
    ),
    (exposure.stops, {"illuminance": 0.5, "reference": 0.5}, {"illuminance": POSITIVE, "reference": POSITIVE}),
    (faces.corner_factor, {"width": -0.5, "height": 0.5, "distance": 0.5}, {"distance": POSITIVE}),
    (
        faces.face_factor,
        {"width": 0.5, "height": 0.5, "distance": 0.5},
        {"width": POSITIVE, "height": POSITIVE, "distance": POSITIVE},
    ),
    (
        faces.lux_per_lumen,
        {"width": 0.5, "height": 0.5, "distance": 0.5, "exponent": 0.5},
        {"width": POSITIVE, "height": POSITIVE, "distance": POSITIVE, "exponent": POSITIVE},
    ),
    (
        faces.lit_part,
        {"side": 0.5, "distance": 0.5, "exponent": 0.5, "foot": 0.0},
        {"side": POSITIVE, "distance": POSITIVE, "exponent": POSITIVE},
    ),
    (
        flicker.ripple_residual,
        {"depth": 0.5, "frequency": 0.5, "time": 0.5},
        {"depth": SHARE, "frequency": POSITIVE, "time": POSITIVE},
    ),
    (
        flicker.pwm_extremes,
        {"duty": 0.5, "frequency": 0.5, "time": 0.5},
        {"duty": SHARE_ABOVE_0, "frequency": POSITIVE, "time": POSITIVE},
    ),
    (
        flicker.exposure_extremes,
        {"time": 0.5, "depth": 0.5, "ripple_frequency": 0.5, "duty": 0.5, "pwm_frequency": 0.5},
        {
            "time": POSITIVE, "depth": SHARE, "ripple_frequency": POSITIVE, "duty": SHARE_ABOVE_0,
            "pwm_frequency": POSITIVE,
        },
    ),
    (flicker.change_in_stops, {"low": 0.0, "high": 0.5}, {"low": NEGATIVE, "high": POSITIVE}),
    (
        flicker.waveform_extremes,
        {"levels": [0.5, 0.25], "frequency": 0.5, "time": 0.5},
        {"frequency": POSITIVE, "time": POSITIVE},
    ),
    (flicker.safe_times, {"frequency": 0.5, "longest": 0.5}, {"frequency": POSITIVE, "longest": POSITIVE}),
    (
        flicker.safe_shutter_angles,
        {"frame_rate": 0.5, "frequency": 0.5},
        {"frame_rate": POSITIVE, "frequency": POSITIVE},
    ),
    (flicker.ieee_1789, {"depth": 0.5, "frequency": 0.5}, {"depth": SHARE, "frequency": POSITIVE}),
    (heat.air_properties, {"film": 0.5}, {"film": POSITIVE}),
    (heat.nusselt_vertical, {"rayleigh": 0.5, "prandtl": 0.5}, {"rayleigh": NEGATIVE, "prandtl": POSITIVE}),
    (
        heat.convection_coefficient,
        {"board": 25.0, "ambient": 25.0, "height": 0.5},
        {"height": POSITIVE, "board|film": (-600.0,)},
    ),
    (
        heat.heat_shed,
        {"board": 25.0, "ambient": 25.0, "width": 0.5, "height": 0.5, "faces": 0.5, "emissivity": 0.5},
        {
            "width": POSITIVE, "height": POSITIVE, "faces": NEGATIVE, "emissivity": NEGATIVE, "board|film": (-600.0,),
        },
    ),
    (
        heat.board_temperature,
        {"heat": 0.5, "ambient": 25.0, "width": 0.5, "height": 0.5, "faces": 2.0, "emissivity": 0.5},
        {
            "heat": NEGATIVE, "ambient": (-273.15, -300.0), "width": POSITIVE, "height": POSITIVE, "faces": NEGATIVE,
            "emissivity": NEGATIVE,
        },
    ),
    (leads.conductor_resistance, {"resistance_20": 0.5, "temperature": 0.5}, {"resistance_20": NEGATIVE}),
    (
        leads.load_current,
        {"voltage": 0.5, "resistance": 0.05, "power": 0.5},
        {"voltage": POSITIVE, "resistance": NEGATIVE, "power": NEGATIVE},
    ),
    (
        leads.load_power,
        {"voltage": 0.5, "resistance": 0.5, "current": 0.5},
        {"voltage": POSITIVE, "resistance": NEGATIVE, "current": NEGATIVE},
    ),
    (leads.ambient_factor, {"ambient": 0.5, "conductor_max": 30.5}, {"conductor_max": (30.0, 20.0)}),
    (
        sheets.stacked,
        {"inner": 0.5, "thrown_back": 0.25, "outer": 0.5, "outer_back": 0.25},
        {
            "inner": NEGATIVE, "thrown_back": NEGATIVE, "outer": NEGATIVE, "outer_back": NEGATIVE,
            "inner|transmittance": (0.8,), "outer|transmittance": (0.8,),
        },
    ),
    (
        spots.spot_bounds,
        {"beam": 1.0, "width": 0.5, "height": 0.5, "spots": SPOTS},
        {"width|side": NEGATIVE, "height|side": NEGATIVE},
    ),
    (whites.locus, {"temperature": 1e6}, {"temperature": (99.5, 1_000_000.5)}),
    (whites.temperature_lines, {"temperature": 999_999.0}, {"temperature": (100.5, 999_999.5)}),
    (whites.white, {"temperature": 999_999.0, "duv": 0.0}, {"temperature": (100.5, 999_999.5)}),
    (
        softness.penumbra_width,
        {"size": 0.5, "distance": 0.5, "behind": 0.5},
        {"size": NEGATIVE, "distance": POSITIVE, "behind": NEGATIVE},
    ),
    (softness.apparent_angle, {"size": 0.5, "distance": 0.5}, {"size": NEGATIVE, "distance": POSITIVE}),
    (
        softness.corneal_image,
        {"size": 0.5, "distance": 0.5, "radius": 0.5},
        {"size": NEGATIVE, "distance": POSITIVE, "radius": POSITIVE},
    ),
]  # fmt: skip


@pytest.mark.parametrize(("function", "sound", "refused"), GUARDS, ids=lambda value: getattr(value, "__name__", ""))
def test_what_is_outside_the_domain_is_refused_by_name(
    function: Callable[..., Any], sound: dict[str, Any], refused: Refused
) -> None:
    function(**sound)
    for names, values in refused.items():
        argument, _, told = names.partition("|")
        for value in values:
            with pytest.raises(ValueError, match=rf"\b{told or argument}\b"):
                function(**{**sound, argument: value})
            if isinstance(sound[argument], float) and "float" not in str(
                inspect.signature(function).parameters[argument]
            ):
                # One bad value among good ones is as bad.
                with pytest.raises(ValueError, match=rf"\b{told or argument}\b"):
                    function(**{**sound, argument: [sound[argument], value]})


@pytest.mark.parametrize("levels", [[0.5], [0.5, -0.25], [0.0, 0.0], [[0.5, 0.25]]])
def test_a_waveform_needs_two_levels_and_light(levels: list[float]) -> None:
    with pytest.raises(ValueError, match="levels"):
        flicker.waveform_extremes(levels, 50.0, 0.013)


@pytest.mark.parametrize(
    ("function", "edge"),
    [
        (batteries.resting_voltage, {"taken": 1.0, "full": 14.4, "nominal": 12.8, "empty": 10.0}),
        (beams.gridded, {"exponent": 1.0, "grid": 60.0, "ahead": 1.0}),
        (cavity.forward_share, {"back": 1.0, "reflectance": 1.0}),
        (flicker.ripple_residual, {"depth": 1.0, "frequency": 50.0, "time": 0.01}),
        (flicker.pwm_extremes, {"duty": 1.0, "frequency": 50.0, "time": 0.01}),
        (sheets.stacked, {"inner": 0.5, "thrown_back": 0.5, "outer": 0.5, "outer_back": 0.5}),
        (cavity.box, {"width": 0.5, "height": 0.5, "depth": 0.0, "reflectance": 1.0}),
        (batteries.discharge_time, {"current": 1.0, "capacity": 1.0, "rated_time": 1.0, "peukert": 2.0}),
        (batteries.discharge_current, {"time": 1.0, "capacity": 1.0, "rated_time": 1.0, "peukert": 2.0}),
        (distributions.back_share, {"stated": 1.0, "table": None}),
        (colour.isotemperature, {"temperature": 101.0, "wavelengths": WAVES, "observer": OBSERVER}),
        (whites.temperature_lines, {"temperature": 101.0}),
        (whites.white, {"temperature": 101.0, "duv": 0.0}),
        (whites.white, {"temperature": 4000.0, "duv": 0.05}),
        (whites.white, {"temperature": 4000.0, "duv": -0.05}),
        (dots.grid_light, {**CELL, "depth": 0.01, "exponent": 1e5}),
        (dots.grid_light, {**CELL, "pitch_y": 0.5, "depth": 5e-4, "exponent": 1.0}),
        (colour.chromaticity, {"xyz": [1e-30, 0.0, 0.0]}),
        (colour.uniform_chromaticity, {"xyz": [1e-30, 0.0, 0.0]}),
        (colour.share_for, {"first": [1e-30] * 3, "second": [2e-30, 1e-30, 0.0], "line": [1.0, -1.5, 0.0]}),
        (numbers, {"name": "x", "values": [-LARGEST, LARGEST]}),
        (numbers, {"name": "x", "values": SMALLEST, "above": 0.0}),
    ],
)
def test_the_end_of_a_domain_that_belongs_to_it_is_taken(function: Callable[..., Any], edge: dict[str, Any]) -> None:
    assert np.isfinite(np.asarray(function(**edge))).all()


@pytest.mark.parametrize("sides", [(0.0, 0.5), (0.5, 0.0), (-0.5, 0.5), (0.5, -0.5)])
@pytest.mark.parametrize("beam", [1.0, 0.5])
def test_a_face_without_sides_and_a_point_behind_it_are_refused(beam: float, sides: tuple[float, float]) -> None:
    before = np.array([[0.1, 0.2, 0.5]])
    assert fields.face_field(beam, 0.5, 0.5, before).shape == (1,)
    with pytest.raises(ValueError, match=r"width|height"):
        fields.face_field(beam, *sides, before)
    for behind in (0.0, -0.5):
        with pytest.raises(ValueError, match="distance"):
            fields.face_field(beam, 0.5, 0.5, [[0.1, 0.2, 0.5], [0.1, 0.2, behind]])
        with pytest.raises(ValueError, match="distance"):
            fields.open_field(beam, [[0.0]], [[0.0]], [1.0], [[0.1, 0.2, behind]])


def test_the_wider_pitch_decides_how_shallow_a_box_may_be() -> None:
    with pytest.raises(ValueError, match="depth must be at least a thousandth"):
        dots.grid_light(**{**CELL, "pitch_y": 0.5}, depth=4.9e-4, exponent=1.0)
    with pytest.raises(ValueError, match="exponent must be at most"):
        dots.grid_light(**CELL, depth=0.01, exponent=100_000.5)


def test_an_observer_that_sees_one_colour_alone_tells_no_temperatures() -> None:
    line = np.outer(WAVES == 555.0, [1.0, 1.0, 1.0])
    with pytest.raises(ValueError, match="observer must tell colours apart"):
        colour.isotemperature(3000.0, WAVES, line)


def test_one_pair_of_sheets_that_lets_nothing_out_is_refused_among_others() -> None:
    with pytest.raises(ValueError, match="must not both be 1"):
        sheets.stacked([0.5, 0.0], [0.5, 1.0], [0.5, 0.0], [0.5, 1.0])
