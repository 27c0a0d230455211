"""What leaves the lit face of a build: lux on the subject for each lumen, and luminance."""

import math

from optimise.model import limits
from optimise.model.limits import Build
from optimise.model.losses import through
from optimise.physics.beams import axial_intensity, beam_exponent, grid_factor, gridded, widened_beam
from optimise.physics.cavity import forward_share
from optimise.physics.faces import lux_per_lumen as face_lux_per_lumen


def leaving(build: Build) -> tuple[float, float]:
    """Return what share of the emitters' light leaves the face, and the beam exponent with which it does."""
    emitter, panel, sheet = build.emitter, build.panel, build.diffuser
    forward = float(forward_share(emitter.back or 0.0, panel.reflectance or 0.0))
    if sheet is None:
        return forward, float(beam_exponent(emitter.beam))
    exponent = 1.0 if sheet.spread is None else float(beam_exponent(widened_beam(emitter.beam, sheet.spread)))
    share = 1.0
    if sheet.grid is not None and sheet.grid_transmittance is not None:
        exponent, share = map(float, gridded(exponent, sheet.grid, sheet.grid_transmittance))
    return forward * through(panel, sheet) * share, exponent


def lux_per_lumen(build: Build, distance: float) -> float:
    """Return the illuminance on the subject, straight ahead at a distance in m, for each lumen of the emitters."""
    emitter, panel = build.emitter, build.panel
    share, exponent = leaving(build)
    if build.diffuser is not None:
        return share * float(face_lux_per_lumen(panel.width, panel.height, distance, exponent))
    columns, rows = limits.grid(emitter, panel)
    count = build.choice.emitters
    if count > columns * rows:
        return 0.0
    side = math.sqrt(panel.usable)
    width, height = panel.width * side, panel.height * side
    lies = limits.lies(emitter, panel)
    return share * grid_factor(count, columns, rows, width, height, distance, exponent, emitter.length, lies)


def luminance(build: Build, flux: float, strongest: float) -> float | None:
    """Return the mean luminance seen from the front, cd/m²: of the lit face, or of the brightest bare emitter.

    flux: of all emitters, lm; strongest: of the brightest one, lm. What a bare emitter throws on the board counts as if
    it came back through its own lit area, which is never too little. None where that area is not stated.
    """
    share, exponent = leaving(build)
    if build.diffuser is not None:
        return float(axial_intensity(share * flux, exponent)) / (build.panel.width * build.panel.height)
    if build.emitter.emitting_area is None:
        return None
    return float(axial_intensity(share * strongest, exponent)) / build.emitter.emitting_area
