"""Whether the emitters of a build show as dots on its diffuser.

Part of the exact check; it shares only `optimise.physics` with the columns.
"""

import math

from optimise.model import fitting
from optimise.model.build import Build
from optimise.model.face import usable_size
from optimise.parts import Diffuser, Emitter, Panel
from optimise.physics.distributions import bare_beam
from optimise.physics.dots import dot_ripple
from optimise.physics.places import grid_of


def lit_length(emitter: Emitter) -> float:
    """Return the length of the lit line of one piece, m.

    Strips and tubes shine along all of it. So does a module that states no lit area; of one that does, the area is
    taken to have the shape of the piece.
    """
    if emitter.form != "module" or emitter.emitting_area is None:
        return emitter.length
    return min(emitter.length, math.sqrt(emitter.emitting_area * emitter.length / emitter.width))


def ripple_of(emitter: Emitter, panel: Panel, sheet: Diffuser | None, count: int) -> float | None:
    """Return the ripple of dots of so many emitters; None without a diffuser, or where the depth is not stated."""
    columns, rows = fitting.grid(emitter, panel)
    if sheet is None or panel.depth is None:
        return None
    if not 0 < count <= columns * rows:
        return 1.0
    grid = grid_of(count, columns, rows, *usable_size(panel))
    lying = fitting.lies(emitter, panel)
    length = min(lit_length(emitter), grid.pitch_x if lying else grid.pitch_y)
    beam = bare_beam(emitter.beam, emitter.photometric)
    return dot_ripple(beam, grid.pitch_x, grid.pitch_y, panel.depth, sheet.spread, length, lying)


def least_ripple(emitter: Emitter, panel: Panel, sheet: Diffuser) -> float:
    """Return what the ripple of dots never falls below, whatever the number of emitters; 0 where that is not known.

    That of a grid as fine as fits, in both directions at once: with a beam by formula a wider pitch never shows less.
    """
    if panel.depth is None or emitter.photometric is not None:
        return 0.0
    columns, rows = fitting.grid(emitter, panel)
    if columns * rows == 0:
        return 0.0
    width, height = usable_size(panel)
    pitch, lying = (width / columns, height / rows), fitting.lies(emitter, panel)
    length = min(lit_length(emitter), pitch[0] if lying else pitch[1])
    return dot_ripple(bare_beam(emitter.beam, None), *pitch, panel.depth, sheet.spread, length, lying)


def dots(build: Build) -> float | None:
    """Return the ripple of dots of a build (`ripple_of`); None of two kinds, whose dots are not alike."""
    if len(build.kinds) > 1:
        return None
    return ripple_of(build.emitter, build.panel, build.diffuser, build.choice.emitters)
