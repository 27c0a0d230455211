"""The light of a build about its subject: how even it is, and what a face turned from the light gets of it.

Part of the exact check; it shares only `optimise.physics` with the columns.
"""

import math

from optimise.model import fitting
from optimise.model.build import Build
from optimise.model.face import leaving, usable_size
from optimise.physics.evenness import Evenness, face_evenness, grid_evenness
from optimise.physics.fields import face_field, facing, open_field
from optimise.physics.places import grid_points
from optimise.scenario import Scenario


def evenness(build: Build, scenario: Scenario) -> Evenness | None:
    """Return how even the light on the subject is, None where its size is not stated."""
    emitter, panel, light = build.emitter, build.panel, scenario.light
    if light.subject is None:
        return None
    lying = fitting.lies(emitter, panel)
    _, beam = leaving(build)
    if build.diffuser is not None:
        return face_evenness(beam, panel.width, panel.height, light.distance, lying, light.subject)
    columns, rows = fitting.grid(emitter, panel)
    count = build.choice.emitters
    if count > columns * rows:
        return Evenness(0.0, 0.0, math.inf)
    size = usable_size(panel)
    return grid_evenness(beam, count, columns, rows, *size, light.distance, emitter.length, lying, light.subject)


def field_figures(
    build: Build, scenario: Scenario, found: Evenness | None, flux: float
) -> dict[str, tuple[float | None, str]]:
    """Return the figures of the field, for `flux` lm of all emitters; none where the scenario states no subject."""
    through = flux * leaving(build)[0]
    figures: dict[str, tuple[float | None, str]] = {}
    if found is not None:
        figures["mean_illuminance"] = (found.mean * through, "lx")
        figures["least_illuminance"] = (found.least * through, "lx")
        figures["uniformity"] = (found.share, "")
        figures["edge_to_middle"] = (found.edge if math.isfinite(found.edge) else None, "stop")
    if scenario.light.turned:
        figures["face_illuminance"] = (_on_face(build, scenario) * through, "lx")
    return figures


def _on_face(build: Build, scenario: Scenario) -> float:
    """Return the lux for each lumen that leaves the panel on a face at the subject's middle, turned as is stated."""
    emitter, panel, light = build.emitter, build.panel, scenario.light
    middle, normal = (0.0, 0.0, light.distance), facing(light.face_bearing, light.face_tilt)
    lying = fitting.lies(emitter, panel)
    _, beam = leaving(build)
    if build.diffuser is not None:
        return float(face_field(beam, panel.width, panel.height, middle, normal, lying)[0])
    columns, rows = fitting.grid(emitter, panel)
    count = build.choice.emitters
    if count > columns * rows:
        return 0.0
    x, y, weights = grid_points(count, columns, rows, *usable_size(panel), emitter.length, lying)
    return float(open_field(beam, x, y, weights, middle, normal, lying)[0])
