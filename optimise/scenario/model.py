"""What a scenario may say: one model a section, numbers in canonical units (`optimise.parts.units`)."""

import math
from datetime import date as Day  # noqa: N812 - a section has a key of this name
from decimal import Decimal
from typing import Any, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

from optimise.parts import units
from optimise.parts.units import Measure

Objective = Literal["cost", "mass", "power"]


def key(meaning: str, measure: Measure | None = None, *, default: Any = ..., **bounds: Any) -> Any:
    """Declare a key of a section; `default` left out means that the key is required."""
    extra: Any = {"measure": measure}
    return Field(default, description=meaning, json_schema_extra=extra, **bounds)


class Section(BaseModel):
    """A table of a scenario file, frozen; its fields are its keys."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


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
        "How far a face at the subject's middle is turned aside from the light; its illuminance is a figure.",
        units.ANGLE,
        default=0.0,
        ge=-180,
        le=180,
    )
    face_tilt: float = key("How far it is leant back (+) or forward (−).", units.ANGLE, default=0.0, ge=-90, le=90)

    @property
    def turned(self) -> bool:
        """Whether a face that is turned from the light is stated."""
        return self.face_bearing != 0.0 or self.face_tilt != 0.0

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
        """Return the same with an illuminance, lx, in place of what is asked for."""
        gone: dict[str, Any] = dict.fromkeys(("iso", "f_number", "shutter", "shutter_angle", "frame_rate"))
        return self.model_copy(update={**gone, "stops": 0.0, "illuminance": illuminance})

    @property
    def exposure_time(self) -> float | None:
        """Exposure time of one frame in s, or None where the scenario states none."""
        if self.shutter is not None:
            return self.shutter
        if self.shutter_angle is not None and self.frame_rate is not None:
            return self.shutter_angle / 360.0 / self.frame_rate
        return None

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


class Look(Section):
    """How the light must look."""

    cct_min: float | None = key("Lowest correlated colour temperature.", units.COLOUR_TEMPERATURE, default=None, gt=0)
    cct_max: float | None = key("Highest correlated colour temperature.", units.COLOUR_TEMPERATURE, default=None, gt=0)
    cri_min: float | None = key("Least colour rendering index Ra.", units.NUMBER, default=None, le=100)
    r9_min: float | None = key("Least R9.", units.NUMBER, default=None, le=100)
    source_size_min: float | None = key(
        "Least size of the lit face (its shorter side).", units.LENGTH, default=None, gt=0
    )
    source_angle_min: float | None = key(
        "Least angle under which the subject sees the shorter side of the lit face.",
        units.ANGLE,
        default=None,
        gt=0,
        lt=180,
    )
    diffused: bool = key("Whether a diffuser must be fitted.", default=False)

    @model_validator(mode="after")
    def _order(self) -> Self:
        if self.cct_min is not None and self.cct_max is not None and self.cct_min > self.cct_max:
            raise ValueError("cct_min|at most cct_max|Swap the two.")
        return self


class Power(Section):
    """Where the electricity comes from, for how long, and how warm it is."""

    source: Literal["battery", "mains", "any"] = key("What may feed the light.")
    mains_voltage: float | None = key("Mains voltage.", units.VOLTAGE, default=None, ge=90, le=277)
    circuit: float | None = key("Rating of the mains circuit.", units.CURRENT, default=None, gt=0, le=125)
    runtime: float | None = key("Least running time from battery.", units.DURATION, default=None, gt=0, le=1e7)
    lead_length: float = key("Length of the lead from supply to light.", units.LENGTH, gt=0, le=200)
    ambient: float = key("Air temperature.", units.TEMPERATURE, default=25.0, ge=-40, le=55)

    @property
    def mains(self) -> bool:
        """Whether mains may feed the light."""
        return self.source != "battery"

    @property
    def battery(self) -> bool:
        """Whether a battery may feed the light."""
        return self.source != "mains"

    @model_validator(mode="after")
    def _complete(self) -> Self:
        if self.mains and self.mains_voltage is None:
            raise ValueError(f"mains_voltage|a voltage where source is {self.source}|Add it, such as 230 V.")
        if self.battery and self.runtime is None:
            raise ValueError(f"runtime|a time where source is {self.source}|Add it, such as 90 min.")
        return self


class Limits(Section):
    """What the build must not exceed."""

    budget: int | None = key("Most that all parts may cost, with currency.", default=None)
    mass: float | None = key("Most that everything carried may weigh.", units.MASS, default=None, gt=0)
    power: float | None = key("Most power drawn from the supply.", units.POWER, default=None, gt=0)
    width: float | None = key("Greatest width of the panel.", units.LENGTH, default=None, gt=0)
    height: float | None = key("Greatest height of the panel.", units.LENGTH, default=None, gt=0)
    ip: str | None = key("Least ingress protection code, such as IP44.", default=None, pattern=r"^IP([0-6X])([0-9X])$")
    suppliers: tuple[str, ...] | None = key("Only these suppliers (and own).", default=None)
    suppliers_max: int | None = key("Most suppliers to order from; own is none.", units.NUMBER, default=None, ge=0)
    deadline: float | None = key("Longest lead time of any part.", units.DAYS, default=None, ge=0)
    mount: bool = key("Whether a mount must carry the light.", default=True)


class Buying(Section):
    """How what is on offer becomes what is paid."""

    date: Day | None = key(
        "Day on which it is bought, as 2031-01-31: what is not on offer any more is left out.", default=None
    )
    tax: Literal["paid", "reclaimed"] = key(
        "Whether prices count with sales tax (paid) or without it (reclaimed).", default="paid"
    )
    rates: tuple[tuple[str, Decimal], ...] = key(
        'What a unit of each other currency costs in the currency of the budget, as { GBP = "1.17 EUR" }.', default=()
    )
    kerf: float = key(
        "What a cut between two pieces of a sheet takes away.", units.SMALL_LENGTH, default=0.003, ge=0, le=0.05
    )


class Travel(Section):
    """How it travels."""

    mode: Literal["road", "air"] = key("road, or air as passenger baggage.", default="road")
    approval: bool = key("Whether the airline approves batteries above 100 Wh and up to 160 Wh.", default=False)


class Safety(Section):
    """Limits of safe practice; the defaults are stated with their sources in the README."""

    voltage_drop: float = key(
        "Greatest voltage drop in the lead as a share of the nominal voltage.",
        units.SHARE,
        default=0.03,
        gt=0,
        le=0.2,
    )
    continuous_factor: float = key(
        "Rating of the fuse over the current of a load that runs for hours.",
        units.NUMBER,
        default=1.25,
        ge=1,
        le=3,
    )
    touch_temperature: float = key(
        "Greatest temperature of the board, which can be touched.",
        units.TEMPERATURE,
        default=60.0,
        ge=30,
        le=120,
    )
    string_voltage: float = key(
        "Greatest voltage that a string, or a driver with its string unplugged, may put on what can be touched.",
        units.VOLTAGE,
        default=60.0,
        gt=0,
        le=1000,
    )


class Search(Section):
    """What is best, and how long to look for it."""

    objective: Objective = key("What to make least.", default="cost")
    drive_step: float = key(
        "Step between the drive currents tried, as a share of the rated current; the least and the greatest that "
        "emitter and driver allow are tried as well.",
        units.SHARE,
        default=0.1,
        ge=0.01,
        le=1,
    )
    time_limit: float | None = key("Longest search.", units.EXPOSURE_TIME, default=None, gt=0)


class Scenario(Section):
    """One job: what the light must do and must not exceed."""

    title: str = key("A line that names the job.", default="", max_length=200)
    note: str = key("Anything else.", default="")
    light: Light = key("How much light, and where.")
    look: Look = key("How it must look.", default=Look())
    power: Power = key("What feeds it.")
    limits: Limits = key("What it must not exceed.", default=Limits())
    buying: Buying = key("How it is bought.", default=Buying())
    travel: Travel = key("How it travels.", default=Travel())
    safety: Safety = key("Safe practice.", default=Safety())
    search: Search = key("What is best.", default=Search())
    currency: str | None = Field(None, exclude=True, description="Currency of the budget; read from its text.")
    text: str = Field("", exclude=True, repr=False, description="The file that it was read from.")

    @property
    def source_size_min(self) -> float:
        """Least shorter side of the lit face in m, from both ways of asking for softness."""
        size = self.look.source_size_min or 0.0
        if self.look.source_angle_min is not None:
            half = math.radians(self.look.source_angle_min) / 2
            size = max(size, 2 * self.light.distance * math.tan(half))
        return size
