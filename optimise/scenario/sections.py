"""What every section of a scenario is made of."""

from typing import Any

from pydantic import BaseModel, ConfigDict, Field

from optimise.parts.units import Measure


def key(meaning: str, measure: Measure | None = None, *, default: Any = ..., **bounds: Any) -> Any:
    """Declare a key of a section; `default` left out means that the key is required."""
    extra: Any = {"measure": measure}
    return Field(default, description=meaning, json_schema_extra=extra, **bounds)


def exposure_time(shutter: float | None, shutter_angle: float | None, frame_rate: float | None) -> float | None:
    """Return the exposure time of one frame in s, stated as such or as an angle in degrees; None where neither is."""
    if shutter is not None:
        return shutter
    if shutter_angle is not None and frame_rate is not None:
        return shutter_angle / 360.0 / frame_rate
    return None


class Section(BaseModel):
    """A table of a scenario file, frozen; its fields are its keys."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)
