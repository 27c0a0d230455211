"""What leaves the lit face of a build: lux on the subject for each lumen, and luminance."""

import math

from optimise.model import fitting
from optimise.model.build import Build
from optimise.model.losses import through
from optimise.parts import Panel
from optimise.physics.cavity import forward_share
from optimise.physics.distributions import (
    Beam,
    axis_intensity,
    back_share,
    bare_beam,
    face_lux,
    grid_lux,
    sheet_beam,
)


def leaving(build: Build) -> tuple[float, Beam]:
    """Return what share of the emitters' light leaves the face, and the beam with which it does."""
    emitter, panel, sheet = build.emitter, build.panel, build.diffuser
    table = emitter.photometric
    forward = float(forward_share(back_share(emitter.back, table), panel.reflectance or 0.0))
    if sheet is None:
        return forward, bare_beam(emitter.beam, table)
    beam, share = sheet_beam(emitter.beam, table, sheet.spread, sheet.grid, sheet.grid_transmittance)
    return forward * through(panel, sheet) * share, beam


def usable_size(panel: Panel) -> tuple[float, float]:
    """Return width and height, m, of the part of a panel on which emitters sit."""
    side = math.sqrt(panel.usable)
    return panel.width * side, panel.height * side


def lux_per_lumen(build: Build, distance: float) -> float:
    """Return the illuminance on the subject, straight ahead at a distance in m, for each lumen of the emitters."""
    emitter, panel = build.emitter, build.panel
    share, beam = leaving(build)
    lies = fitting.lies(emitter, panel)
    if build.diffuser is not None:
        return share * face_lux(beam, panel.width, panel.height, distance, lies)
    columns, rows = fitting.grid(emitter, panel)
    count = build.choice.emitters
    if count > columns * rows:
        return 0.0
    return share * grid_lux(beam, count, columns, rows, *usable_size(panel), distance, emitter.length, lies)


def luminance(build: Build, flux: float, strongest: float) -> float | None:
    """Return the mean luminance seen from the front, cd/m²: of the lit face, or of the brightest bare emitter.

    flux: of all emitters, lm; strongest: of the brightest one, lm. What a bare emitter throws on the board counts as if
    it came back through its own lit area, which is never too little. None where that area is not stated.
    """
    share, beam = leaving(build)
    if build.diffuser is not None:
        return axis_intensity(beam) * share * flux / (build.panel.width * build.panel.height)
    if build.emitter.emitting_area is None:
        return None
    return axis_intensity(beam) * share * strongest / build.emitter.emitting_area
