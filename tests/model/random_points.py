"""Random points with targets of their own, and whether they are kept: worked out a second time, spot by spot."""

import math
from collections.abc import Callable, Sequence
from random import Random

import numpy as np

from optimise.parts import Diffuser, Emitter, Panel
from optimise.physics.distributions import Beam, bare_beam, emitter_factors
from optimise.physics.fields import face_field, facing
from optimise.physics.places import grid_points
from optimise.scenario import Scenario
from optimise.scenario.light import Light
from optimise.scenario.points import Point


def random_points(rng: Random, light: Light) -> tuple[Point, ...]:
    """Return points with limits that some heads keep and some do not."""
    assert light.illuminance is not None
    points = []
    for index in range(rng.choice([1, 1, 2, 3])):
        far = light.distance * rng.choice([1.0, rng.uniform(0.5, 1.6)])
        across, up = (far * rng.choice([0.0, rng.uniform(-0.8, 0.8)]) for _ in range(2))
        bearing, tilt = (rng.choice([0.0, rng.uniform(-70.0, 70.0)]) for _ in range(2))
        away = math.hypot(across, up, far)
        towards = facing(bearing, tilt) @ np.array([-across, -up, -far]) / away
        # What a small panel straight ahead would give there, and how far that is off for others.
        share = max(float(towards), 0.02) * (far / away) * (light.distance / away) ** 2
        asked: dict[str, float] = {}
        if rng.random() < 0.7:
            asked["illuminance"] = light.illuminance * share * rng.uniform(0.5, 1.3)
        if rng.random() < 0.6 or not asked:
            asked["illuminance_max"] = light.illuminance * share * rng.choice([1.0, 1.1, 1.3, 1.8, 3.0])
        if asked.get("illuminance", 0.0) > asked.get("illuminance_max", math.inf):
            del asked["illuminance"]
        if rng.random() < 0.4:
            named = {"illuminance": "stops", "illuminance_max": "stops_max"}
            asked = {named[key]: math.log2(lux / light.illuminance) for key, lux in asked.items()}
        place = {"across": across, "up": up, "distance": None if far == light.distance else far}
        points.append(Point(name=f"p{index}", **place, face_bearing=bearing, face_tilt=tilt, **asked))
    return tuple(points)


def limits_of(scenario: Scenario) -> list[tuple[Point, float | None, float | None]]:
    """Return each point, and the face that is turned, with the least and the most lux asked there."""
    light = scenario.light
    target = light.illuminance or math.nan
    found = []
    for point in scenario.points:
        least = point.illuminance if point.stops is None else target * 2.0**point.stops
        most = point.illuminance_max if point.stops_max is None else target * 2.0**point.stops_max
        found.append((point, least, most))
    if light.face_illuminance is not None or light.face_illuminance_max is not None:
        face = Point(name="face", face_bearing=light.face_bearing, face_tilt=light.face_tilt)
        found.append((face, light.face_illuminance, light.face_illuminance_max))
    return found


def spot_light(
    emitter: Emitter,
    panel: Panel,
    diffuser: Diffuser | None,
    beam: Beam | None,
    grid: tuple[int, int],
    lying: bool,
    scenario: Scenario,
) -> Callable[[Point, int], float]:
    """Return the lux per lumen that leaves the panel, on a point's face with so many emitters.

    Of an open board: for each place along each emitter what a parallel plane would get there, turned to the face.
    """

    def light(point: Point, count: int) -> float:
        place = point.across, point.up, point.distance or scenario.light.distance
        normal = facing(point.face_bearing, point.face_tilt)
        if diffuser is not None:
            assert beam is not None
            return float(face_field(beam, panel.width, panel.height, place, normal, lying)[0])
        share = math.sqrt(panel.usable)
        x, y, weights = grid_points(count, *grid, panel.width * share, panel.height * share, emitter.length, lying)
        bare = bare_beam(emitter.beam, emitter.photometric)
        parallel = emitter_factors(bare, x, y, place[2], lying, place[0], place[1])
        slope = ((x - place[0]) * normal[0] + (y - place[1]) * normal[1]) / place[2] - normal[2]
        return float(np.mean((parallel * np.maximum(slope, 0.0)) @ weights))

    return light


def kept(
    lux: Sequence[tuple[float, float]],
    asked: Sequence[tuple[Point, float | None, float | None]],
    slack: float,
) -> bool:
    """Whether every face gets enough and none too much; lux: what it gets, and what it may get at the most."""
    return all(
        (least is None or low >= least * (1.0 - slack)) and (most is None or high <= most * (1.0 + slack))
        for (low, high), (_, least, most) in zip(lux, asked, strict=True)
    )
