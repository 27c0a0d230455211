"""What a scenario may say of the light it asks for, and of the subject."""

from typing import Any, Self

from pydantic import model_validator

from optimise.parts import units
from optimise.scenario.sections import Section, exposure_time, key


class Light(Section):
    """How much light, and where."""

    illuminance: float | None = key("Illuminance on the subject.", units.ILLUMINANCE, default=None, gt=0, le=1e6)
    iso: float | None = key("Exposure index the camera is set to.", units.NUMBER, default=None, gt=0, le=1e7)
    f_number: float | None = key("Aperture (T-stop if the lens has one).", units.NUMBER, default=None, gt=0, le=256)
    shutter: float | None = key("Exposure time of one frame.", units.EXPOSURE_TIME, default=None, gt=0, le=3600)
    shutter_angle: float | None = key("Shutter angle, with frame_rate.", units.ANGLE, default=None, gt=0, le=360)
    frame_rate: float | None = key(
        "Frames per second, with shutter_angle.", units.FREQUENCY, default=None, gt=0, le=1e5
    )
    stops: float = key("Stops above (+) or below (−) the exposure named.", units.NUMBER, default=0.0, ge=-20, le=20)
    meter_constant: float = key(
        "Incident-light calibration constant C of the meter (ISO 2720).",
        units.METER_CONSTANT,
        default=250.0,
        ge=100,
        le=1000,
    )
    distance: float = key("From the front of the light to the subject.", units.LENGTH, ge=0.05, le=100)
    subject_width: float | None = key(
        "Width of the subject, flat and parallel to the panel, its middle straight ahead.",
        units.LENGTH,
        default=None,
        gt=0,
        le=100,
    )
    subject_height: float | None = key("Height of the subject.", units.LENGTH, default=None, gt=0, le=100)
    uniformity_min: float | None = key(
        "Least illuminance on the subject over its mean, among 9 × 9 points with the edges.",
        units.SHARE,
        default=None,
        gt=0,
        lt=1,
    )
    edge_stops_max: float | None = key(
        "Most that the subject's edge may differ from its middle, in stops.", units.NUMBER, default=None, gt=0, le=20
    )
    face_bearing: float = key(
        "How far a face at the subject's middle is turned aside, to the right (+) as seen facing the light; its "
        "illuminance is a figure.",
        units.ANGLE,
        default=0.0,
        ge=-180,
        le=180,
    )
    face_tilt: float = key("How far it is leant back (+) or forward (−).", units.ANGLE, default=0.0, ge=-90, le=90)
    face_illuminance: float | None = key(
        "Least illuminance on that face.", units.ILLUMINANCE, default=None, gt=0, le=1e6
    )
    face_illuminance_max: float | None = key(
        "Greatest illuminance on that face.", units.ILLUMINANCE, default=None, gt=0, le=1e6
    )

    @property
    def turned(self) -> bool:
        """Whether a face that is turned from the light is stated."""
        return self.face_bearing != 0.0 or self.face_tilt != 0.0

    @property
    def asks_of_face(self) -> bool:
        """Whether a limit is set on the light on that face."""
        return self.face_illuminance is not None or self.face_illuminance_max is not None

    @property
    def subject(self) -> tuple[float, float] | None:
        """Width and height of the subject in m (0 for one not stated), or None where it is a point."""
        if self.subject_width is None and self.subject_height is None:
            return None
        return self.subject_width or 0.0, self.subject_height or 0.0

    @property
    def asks_evenness(self) -> bool:
        """Whether a limit is set on how even the light is."""
        return self.uniformity_min is not None or self.edge_stops_max is not None

    def asking(self, illuminance: float) -> "Light":
        """Return the same with an illuminance, lx, in place of what is asked for; its shutter stays, for flicker."""
        gone: dict[str, Any] = dict.fromkeys(("iso", "f_number"))
        return self.model_copy(update={**gone, "stops": 0.0, "illuminance": illuminance})

    @property
    def exposure_time(self) -> float | None:
        """Exposure time of one frame in s, or None where the scenario states none."""
        return exposure_time(self.shutter, self.shutter_angle, self.frame_rate)

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        exposure = ("iso", "f_number", "shutter", "shutter_angle", "frame_rate")
        given = [name for name in exposure if getattr(self, name) is not None]
        if self.illuminance is not None:
            if given or self.stops != 0:
                name = given[0] if given else "stops"
                raise ValueError(f"{name}|either illuminance or an exposure, not both|Take one of the two out.")
            return self
        for name in ("iso", "f_number"):
            if getattr(self, name) is None:
                raise ValueError(f"{name}|illuminance, or an exposure (iso, f_number and a shutter)|Add it.")
        if self.shutter is not None and (self.shutter_angle is not None or self.frame_rate is not None):
            raise ValueError("shutter|shutter, or shutter_angle with frame_rate, not both|Take one out.")
        if self.exposure_time is None:
            raise ValueError("shutter|shutter, or shutter_angle with frame_rate|Add it.")
        return self

    @model_validator(mode="after")
    def _of_a_subject(self) -> Self:
        for name in ("uniformity_min", "edge_stops_max"):
            if getattr(self, name) is not None and self.subject is None:
                raise ValueError(f"{name}|set where the subject has a size|Add subject_width, subject_height or both.")
        return self

    @model_validator(mode="after")
    def _of_a_face(self) -> Self:
        low, high = self.face_illuminance, self.face_illuminance_max
        for name in ("face_illuminance", "face_illuminance_max"):
            if getattr(self, name) is not None and not self.turned:
                raise ValueError(f"{name}|set where a face is turned|Add face_bearing or face_tilt.")
        if low is not None and high is not None and low > high:
            raise ValueError("face_illuminance|at most face_illuminance_max|Swap the two.")
        return self
