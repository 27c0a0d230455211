"""Points before a light that have targets of their own, and a face turned from the light as one of them."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Self

from pydantic import model_validator

from optimise.parts import units
from optimise.scenario.light import Light
from optimise.scenario.sections import Section, key

MOST_POINTS = 12
"""Points of one light: each is looked at for every head."""


class Point(Section):
    """A place before the light, with the face that stands there, and the light that is asked for on it.

    Without any target its illuminance is only told.
    """

    name: str = key("What it is called, such as sofa.", min_length=1, max_length=60)
    across: float = key(
        "How far it is to the right (+) or left (−) of the light's axis, as seen facing the light.",
        units.LENGTH,
        default=0.0,
        ge=-100,
        le=100,
    )
    up: float = key("How far it is above (+) or below (−) the axis.", units.LENGTH, default=0.0, ge=-100, le=100)
    distance: float | None = key(
        "How far it is from the front of the light, along its axis; left out: as far as the subject.",
        units.LENGTH,
        default=None,
        ge=0.05,
        le=100,
    )
    face_bearing: float = key(
        "How far its face is turned to the right (+), as seen facing the light; 0 is parallel to the panel.",
        units.ANGLE,
        default=0.0,
        ge=-180,
        le=180,
    )
    face_tilt: float = key(
        "How far its face is leant back (+) or forward (−).", units.ANGLE, default=0.0, ge=-90, le=90
    )
    illuminance: float | None = key("Least illuminance on its face.", units.ILLUMINANCE, default=None, gt=0, le=1e6)
    illuminance_max: float | None = key(
        "Greatest illuminance on its face.", units.ILLUMINANCE, default=None, gt=0, le=1e6
    )
    stops: float | None = key(
        "The least instead in stops above (+) or below (−) what [light] asks for.",
        units.NUMBER,
        default=None,
        ge=-20,
        le=20,
    )
    stops_max: float | None = key("The greatest instead in such stops.", units.NUMBER, default=None, ge=-20, le=20)

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        for lux, stops in (("illuminance", "stops"), ("illuminance_max", "stops_max")):
            if getattr(self, lux) is not None and getattr(self, stops) is not None:
                raise ValueError(f"{stops}|{lux} or {stops}, not both|Take one of the two out.")
        for least in ("illuminance", "stops"):
            low, high = getattr(self, least), getattr(self, f"{least}_max")
            if low is not None and high is not None and low > high:
                raise ValueError(f"{least}|at most {least}_max|Swap the two.")
        return self

    def pinned(self, target: float) -> "Point":
        """Return the same with what is asked in stops as illuminances, lx, where the light is asked for `target` lx."""
        update = {
            lux: target * float(2.0 ** getattr(self, stops))
            for lux, stops in (("illuminance", "stops"), ("illuminance_max", "stops_max"))
            if getattr(self, stops) is not None
        }
        return self.model_copy(update={**update, "stops": None, "stops_max": None})


@dataclass(frozen=True)
class Target:
    """What is asked of the light on one face, lx; None for no limit on that side."""

    label: str
    """Where it is, as in 'illuminance at sofa'."""
    place: tuple[float, float, float, float, float]
    """To the right and up from the axis, along it, m; bearing and tilt of the face, deg (`physics.fields`)."""
    least: float | None
    most: float | None


def targets_of(light: Light, points: Sequence[Point], target: float) -> tuple[Target, ...]:
    """Return what is asked at each point of a light that is asked for `target` lx, and on its turned face if any."""
    found = [
        Target(
            f"at {point.name}",
            (
                point.across,
                point.up,
                light.distance if point.distance is None else point.distance,
                point.face_bearing,
                point.face_tilt,
            ),
            point.illuminance,
            point.illuminance_max,
        )
        for point in (point.pinned(target) for point in points)
    ]
    if light.asks_of_face:
        place = 0.0, 0.0, light.distance, light.face_bearing, light.face_tilt
        found.append(Target("on the turned face", place, light.face_illuminance, light.face_illuminance_max))
    return tuple(found)
