"""The light of a build on single faces before it, wherever they stand: part of the exact check."""

from optimise.model import fitting
from optimise.model.build import Build
from optimise.model.face import leaving, usable_size
from optimise.physics.spots import Spot, face_spots, grid_spots


def spots_of(build: Build, spots: tuple[Spot, ...]) -> tuple[float, ...]:
    """Return the lux on each spot for each lumen of the emitters."""
    emitter, panel = build.emitter, build.panel
    share, beam = leaving(build)
    lying = fitting.lies(emitter, panel)
    if build.diffuser is not None:
        found = face_spots(beam, panel.width, panel.height, lying, spots)
    else:
        columns, rows = fitting.grid(emitter, panel)
        count = build.choice.emitters
        if count > columns * rows:
            return (0.0,) * len(spots)
        found = grid_spots(beam, count, columns, rows, *usable_size(build.panel), emitter.length, lying, spots)
    return tuple(share * each for each in found)
