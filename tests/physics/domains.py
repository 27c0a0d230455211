"""What every public function of `optimise.physics` is called with at the edges of its domain.

For each function, by `module.name`: sound arguments by name. Numbers are replaced by extremes one at a time and in
pairs, arrays also by an empty one; whatever is no number stays as it is.
"""

import importlib
import inspect
import pkgutil
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from optimise import physics
from optimise.parts.photometry import Photometry
from optimise.physics.intensity import measured
from optimise.physics.places import grid_of

TABLE = Photometry(
    "C",
    np.linspace(0.0, 180.0, 19),
    np.array([0.0, 90.0]),
    np.outer([900.0, 1000.0], np.maximum(np.cos(np.radians(np.linspace(0.0, 180.0, 19))), 0.02)),
)
"""Invented."""
BEAM = measured(TABLE)
WAVES = np.arange(380.0, 781.0, 5.0)
BELL = np.exp(-(((WAVES - 555.0) / 60.0) ** 2))
OBSERVER = np.stack([np.roll(BELL, 8), BELL, np.roll(BELL, -18)], axis=1)
WHITE = np.array([0.95, 1.0, 1.09])
WARM = np.array([1.1, 1.0, 0.35])
GRID = grid_of(5, 3, 3, 0.3, 0.3)
POINT = np.array([[0.1, 0.2, 1.0]])
SPOTS = ((0.1, 0.2, 1.0, 10.0, -5.0),)
STRING = (0.3, np.array([0.0, 0.0]), np.array([0.2, 0.0]))
LIT = {"beam": 1.5, "width": 0.3, "height": 0.2, "distance": 1.0}
PLACED = {"beam": 1.5, "count": 5, "columns_max": 3, "rows_max": 3, "width": 0.3, "height": 0.2}

SOUND: dict[str, Mapping[str, Any]] = {
    "arrays.numbers": {"name": "figure", "values": 1.0, "least": 0.0, "above": -1.0},
    "batteries.cold_factor": {"ambient": -10.0, "per_kelvin": 0.01},
    "batteries.discharge_time": {"current": 2.0, "capacity": 36000.0, "rated_time": 72000.0, "peukert": 1.2},
    "batteries.discharge_current": {"time": 3600.0, "capacity": 36000.0, "rated_time": 72000.0, "peukert": 1.2},
    "batteries.resting_voltage": {"taken": 0.3, "full": 14.0, "nominal": 12.0, "empty": 10.0},
    "batteries.flight_rule": {"chemistry": "li-ion", "watt_hours": 99.0, "voltage": 12.0},
    "beams.beam_exponent": {"full_width": 90.0},
    "beams.axial_intensity": {"flux": 100.0, "exponent": 2.0},
    "beams.widened_beam": {"full_width": 40.0, "spread": 30.0},
    "beams.gridded": {"exponent": 1.0, "grid": 50.0, "ahead": 0.9},
    "beams.point_factors": {"x": 0.1, "y": 0.1, "distance": 1.0, "exponent": 1.5, "dx": 0.1, "dy": 0.0},
    "blue_light.blue_light_weight": {"wavelengths": 450.0},
    "blue_light.blue_light_per_lumen": {"wavelengths": WAVES, "values": BELL, "efficiency": BELL},
    "cavity.opposite_factor": {"width": 0.3, "height": 0.2, "depth": 0.1},
    "cavity.box": {"width": 0.3, "height": 0.2, "depth": 0.1, "reflectance": 0.9},
    "cavity.box_transmittance": {
        "width": 0.3,
        "height": 0.2,
        "depth": 0.1,
        "reflectance": 0.9,
        "transmittance": 0.6,
        "thrown_back": 0.3,
    },
    "cavity.forward_share": {"back": 0.2, "reflectance": 0.8},
    "colour.mired": {"temperature": 5600.0},
    "colour.filtered_temperature": {"temperature": 5600.0, "shift": 30.0},
    "colour.filtered_light": {"figures": {"cct": 5600.0, "cri": 95.0}, "shift": 30.0},
    "colour.tristimulus": {"flux": 100.0, "x": 0.33, "y": 0.33},
    "colour.chromaticity": {"xyz": WHITE},
    "colour.uniform_chromaticity": {"xyz": WHITE},
    "colour.planckian": {"temperature": 3000.0, "wavelengths": WAVES},
    "colour.isotemperature": {"temperature": 3000.0, "wavelengths": WAVES, "observer": OBSERVER},
    "colour.share_for": {"first": WHITE, "second": WARM, "line": np.array([1.0, -1.0, 0.0])},
    "distributions.bare_beam": {"full_width": 90.0, "table": None},
    "distributions.back_share": {"stated": 0.2, "table": None},
    "distributions.face_beam": {"full_width": 40.0, "table": None, "spread": 30.0},
    "distributions.sheet_beam": {"full_width": 40.0, "table": None, "spread": 30.0, "grid": 40.0, "ahead": 0.9},
    "distributions.axis_intensity": {"beam": 1.5},
    "distributions.peak_intensity": {"beam": 1.5},
    "distributions.sheet_peak": {"full_width": 40.0, "table": None, "spread": 30.0, "grid": 40.0, "ahead": 0.9},
    "distributions.open_bounds": LIT,
    "distributions.emitter_factors": {
        "beam": 1.5,
        "x": np.array([0.1]),
        "y": np.array([0.1]),
        "distance": 1.0,
        "dx": 0.1,
        "dy": 0.0,
    },
    "distributions.grid_lux": {**PLACED, "distance": 1.0, "length": 0.05},
    "distributions.face_lux": LIT,
    "distributions.share_behind": {"table": TABLE},
    "dots.sheet_exponent": {"spread": 30.0},
    "dots.grid_light": {
        "x": np.array([0.01]),
        "y": np.array([0.0]),
        "pitch_x": 0.05,
        "pitch_y": 0.04,
        "depth": 0.03,
        "exponent": 1.0,
        "length_x": 0.01,
        "length_y": 0.0,
    },
    "dots.measured_light": {"beam": BEAM, "pitch_x": 0.05, "pitch_y": 0.04, "depth": 0.03, "exponent": 0.5},
    "dots.dot_ripple": {
        "beam": 1.5,
        "pitch_x": 0.05,
        "pitch_y": 0.04,
        "depth": 0.03,
        "spread": 40.0,
        "length": 0.01,
    },
    "dots.depth_for": {"pitch_x": 0.05, "pitch_y": 0.04, "ripple": 0.1, "exponent": 1.0},
    "emitters.relative_flux": {"drive": 0.7, "droop": 0.2},
    "emitters.temperature_factor": {"junction": 60.0, "per_kelvin": -0.003},
    "emitters.junction_temperature": {"board": 50.0, "heat": 2.0, "resistance": 5.0},
    "emitters.forward_voltage": {
        "rated_voltage": 12.0,
        "current": 0.4,
        "rated_current": 0.5,
        "dynamic_resistance": 1.0,
        "per_kelvin": -0.002,
        "junction": 60.0,
    },
    "evenness.subject_grid": {"width": 0.5, "height": 0.4, "distance": 1.0},
    "evenness.evenness_of": {
        "lux": np.array([1.0, 2.0, 1.5]),
        "weights": np.array([0.25, 0.5, 0.25]),
        "edge": np.array([True, False, True]),
    },
    "evenness.face_evenness": {**LIT, "lying": True, "subject": (0.5, 0.4)},
    "evenness.grid_evenness": {**PLACED, "distance": 1.0, "length": 0.05, "lying": True, "subject": (0.5, 0.4)},
    "exposure.exposure_illuminance": {"f_number": 2.8, "time": 0.02, "iso": 800.0, "constant": 250.0},
    "exposure.stops": {"illuminance": 200.0, "reference": 100.0},
    "faces.corner_factor": {"width": 0.3, "height": 0.2, "distance": 1.0},
    "faces.face_factor": {"width": 0.3, "height": 0.2, "distance": 1.0, "dx": 0.1, "dy": 0.0},
    "faces.check_near": {"width": 0.3, "height": 0.2, "distance": 1.0},
    "faces.lit_part": {"side": 0.3, "distance": 1.0, "exponent": 1.5, "foot": 0.1},
    "faces.lux_per_lumen": {"width": 0.3, "height": 0.2, "distance": 1.0, "exponent": 1.5, "dx": 0.1, "dy": 0.0},
    "fields.facing": {"bearing": 10.0, "tilt": 5.0},
    "fields.rectangle_factor": {"width": 0.3, "height": 0.2, "points": POINT},
    "fields.face_field": {"beam": 1.5, "width": 0.3, "height": 0.2, "points": POINT},
    "fields.open_field": {
        "beam": 1.5,
        "x": np.array([[0.1]]),
        "y": np.array([[0.1]]),
        "weights": np.array([1.0]),
        "points": POINT,
    },
    "fitting.student_quantile": {"freedom": 3, "confidence": 0.95},
    "fitting.coverage_factor": {"freedom": 3.0, "confidence": 0.95},
    "fitting.expanded": {"parts": ((0.1, 3.0), (0.2, 5.0)), "confidence": 0.95},
    "fitting.fit_logs": {"design": np.array([[1.0], [1.0], [1.0]]), "logs": np.array([0.1, 0.0, 0.2])},
    "flicker.ripple_residual": {"depth": 0.1, "frequency": 100.0, "time": 0.02},
    "flicker.pwm_extremes": {"duty": 0.4, "frequency": 1000.0, "time": 0.02},
    "flicker.exposure_extremes": {
        "time": 0.02,
        "depth": 0.1,
        "ripple_frequency": 100.0,
        "duty": 0.4,
        "pwm_frequency": 1000.0,
    },
    "flicker.change_in_stops": {"low": 0.9, "high": 1.1},
    "flicker.flicker": {"time": 0.02, "ripple": (0.1, 100.0), "switching": (0.4, 1000.0)},
    "flicker.waveform_extremes": {"levels": np.array([0.0, 1.0, 2.0]), "frequency": 100.0, "time": 0.013},
    "flicker.safe_times": {"frequency": 100.0, "longest": 0.1},
    "flicker.safe_shutter_angles": {"frame_rate": 25.0, "frequency": 100.0},
    "flicker.ieee_1789": {"depth": 0.1, "frequency": 100.0},
    "heat.air_properties": {"film": 300.0},
    "heat.nusselt_vertical": {"rayleigh": 1e6, "prandtl": 0.7},
    "heat.convection_coefficient": {"board": 60.0, "ambient": 25.0, "height": 0.3},
    "heat.heat_shed": {"board": 60.0, "ambient": 25.0, "width": 0.3, "height": 0.3, "faces": 1.0, "emissivity": 0.9},
    "heat.board_temperature": {
        "heat": 20.0,
        "ambient": 25.0,
        "width": 0.3,
        "height": 0.3,
        "faces": 1.0,
        "emissivity": 0.9,
    },
    "intensity.angles_of": {"kind": "C", "along": 0.1, "across": 0.2, "ahead": 1.0},
    "intensity.direction_of": {"kind": "C", "vertical": 30.0, "horizontal": 40.0},
    "intensity.intensity_at": {"table": TABLE, "vertical": 30.0, "horizontal": 40.0},
    "intensity.intensity_towards": {"table": TABLE, "along": 0.1, "across": 0.2, "ahead": 1.0},
    "intensity.table_flux": {"table": TABLE},
    "intensity.flux_ahead": {"table": TABLE},
    "intensity.measured": {"table": TABLE},
    "leads.conductor_resistance": {"resistance_20": 0.0133, "temperature": 60.0},
    "leads.load_current": {"voltage": 12.0, "resistance": 0.1, "power": 60.0},
    "leads.load_power": {"voltage": 12.0, "resistance": 0.1, "current": 5.0},
    "leads.ambient_factor": {"ambient": 40.0, "conductor_max": 60.0},
    "places.grid_of": {"count": 5, "columns_max": 3, "rows_max": 3, "width": 0.3, "height": 0.2},
    "places.grid_places": {"grid": GRID},
    "places.grid_points": {"count": 5, "columns_max": 3, "rows_max": 3, "width": 0.3, "height": 0.2, "length": 0.05},
    "scattering.scattered_peak": {"table": TABLE, "spread": 30.0},
    "scattering.scattered": {"table": TABLE, "spread": 30.0},
    "scattering.narrowed": {"beam": BEAM, "grid": 40.0, "ahead": 0.9},
    "sheets.stacked": {"inner": 0.6, "thrown_back": 0.3, "outer": 0.5, "outer_back": 0.4},
    "softness.penumbra_width": {"size": 0.3, "distance": 1.0, "behind": 1.0},
    "softness.apparent_angle": {"size": 0.3, "distance": 1.0},
    "softness.corneal_image": {"size": 0.3, "distance": 1.0, "radius": 0.0078},
    "spots.face_spots": {"beam": 1.5, "width": 0.3, "height": 0.2, "lying": True, "spots": SPOTS},
    "spots.grid_spots": {**PLACED, "length": 0.05, "lying": True, "spots": SPOTS},
    "spots.spot_bounds": {"beam": 1.5, "width": 0.3, "height": 0.2, "spots": SPOTS},
    "whites.locus": {"temperature": 3000.0},
    "whites.temperature_lines": {"temperature": 3000.0},
    "whites.white": {"temperature": 3000.0, "duv": 0.002},
    "whites.temperature_and_duv": {"xyz": WHITE},
    "wiring.serpentine": {"x": np.array([0.0, 0.1]), "y": np.array([0.0, 0.1]), "upright": False},
    "wiring.string_wire": {"x": np.array([0.0, 0.1]), "y": np.array([0.0, 0.1]), "length": 0.05, "lying": True},
    "wiring.run_wire": {"strings": [STRING, STRING]},
    "intensity.MeasuredBeam.towards": {"self": BEAM, "along": 0.1, "across": 0.2, "ahead": 1.0},
    "intensity.MeasuredBeam.bounds": {"self": BEAM, "cosine": 0.5},
}


def public_functions() -> dict[str, Callable[..., Any]]:
    """Return every public function of every module of physics, and of its classes, by `module.name`."""
    found: dict[str, Callable[..., Any]] = {}
    for module_info in pkgutil.iter_modules(physics.__path__):
        module = importlib.import_module(f"{physics.__name__}.{module_info.name}")
        for name, value in vars(module).items():
            plain = inspect.unwrap(value) if callable(value) else value
            if name.startswith("_") or getattr(plain, "__module__", None) != module.__name__:
                continue
            if inspect.isfunction(plain):
                found[f"{module_info.name}.{name}"] = value
            elif inspect.isclass(plain) and not getattr(plain, "_is_protocol", False):
                for method, of_class in vars(plain).items():
                    if inspect.isfunction(of_class) and not method.startswith("_"):
                        found[f"{module_info.name}.{name}.{method}"] = of_class
    return found
