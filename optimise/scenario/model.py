"""What a scenario may say: one model a section, numbers in canonical units (`optimise.parts.units`)."""

import math
from datetime import date as Day  # noqa: N812 - a section has a key of this name
from decimal import Decimal
from typing import Literal, Self

from pydantic import Field, model_validator

from optimise.parts import units
from optimise.parts.similarity import REFERENCES, reference_of
from optimise.scenario.light import Light
from optimise.scenario.points import Point, Target, targets_of
from optimise.scenario.sections import Section, exposure_time, key

Objective = Literal["cost", "mass", "power"]


class Look(Section):
    """How the light must look."""

    cct_min: float | None = key("Lowest correlated colour temperature.", units.COLOUR_TEMPERATURE, default=None, gt=0)
    cct_max: float | None = key("Highest correlated colour temperature.", units.COLOUR_TEMPERATURE, default=None, gt=0)
    cri_min: float | None = key("Least colour rendering index Ra.", units.NUMBER, default=None, le=100)
    r9_min: float | None = key("Least R9.", units.NUMBER, default=None, le=100)
    duv_min: float | None = key("Lowest Duv.", units.NUMBER, default=None, ge=-0.05, le=0.05)
    duv_max: float | None = key("Highest Duv.", units.NUMBER, default=None, ge=-0.05, le=0.05)
    rf_min: float | None = key("Least fidelity index Rf (TM-30).", units.NUMBER, default=None, ge=0, le=100)
    rg_min: float | None = key("Least gamut index Rg (TM-30).", units.NUMBER, default=None, ge=0, le=200)
    rg_max: float | None = key("Greatest gamut index Rg (TM-30).", units.NUMBER, default=None, ge=0, le=200)
    ssi_min: float | None = key(
        "Least spectral similarity index SSI to ssi_reference, a whole number.",
        units.NUMBER,
        default=None,
        ge=0,
        le=100,
    )
    ssi_reference: str | None = key(f"What SSI is taken to: {REFERENCES}.", default=None)
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
    penumbra_min: float | None = key(
        "Least width of the soft edge that the subject's shadow has on the background.",
        units.LENGTH,
        default=None,
        gt=0,
    )
    background: float | None = key("From the subject to the background.", units.LENGTH, default=None, gt=0, le=1000)
    diffused: bool = key("Whether a diffuser must be fitted.", default=False)
    dots_max: float | None = key(
        "Most that single emitters may show on the diffuser: (greatest − least) / (greatest + least) of its luminance.",
        units.SHARE,
        default=None,
        gt=0,
        lt=1,
    )
    sheets_max: int = key("Most diffusers one behind the other.", units.NUMBER, default=1, ge=1, le=2)
    flicker_max: float | None = key(
        "Most that one exposure may differ from another, whenever the shutter opens, in stops.",
        units.NUMBER,
        default=None,
        gt=0,
        le=10,
    )
    dim_to: float | None = key(
        "Level down to which the light must dim, as a share of full light; flicker_max then holds down to it.",
        units.SHARE,
        default=None,
        gt=0,
        lt=1,
    )
    shutter: float | None = key(
        "Exposure time of one frame, where [light] states an illuminance.",
        units.EXPOSURE_TIME,
        default=None,
        gt=0,
        le=3600,
    )
    shutter_angle: float | None = key(
        "Shutter angle, with frame_rate, where [light] states an illuminance.",
        units.ANGLE,
        default=None,
        gt=0,
        le=360,
    )
    frame_rate: float | None = key(
        "Frames per second, with shutter_angle.", units.FREQUENCY, default=None, gt=0, le=1e5
    )

    @property
    def hue_asked(self) -> bool:
        """Whether colour temperature or Duv is limited."""
        return any(v is not None for v in (self.cct_min, self.cct_max, self.duv_min, self.duv_max))

    @property
    def exposure_time(self) -> float | None:
        """Exposure time of one frame in s, or None where this section states none."""
        return exposure_time(self.shutter, self.shutter_angle, self.frame_rate)

    @model_validator(mode="after")
    def _order(self) -> Self:
        for figure in ("cct", "duv", "rg"):
            low, high = getattr(self, f"{figure}_min"), getattr(self, f"{figure}_max")
            if low is not None and high is not None and low > high:
                raise ValueError(f"{figure}_min|at most {figure}_max|Swap the two.")
        if self.ssi_reference is not None and reference_of(self.ssi_reference) is None:
            raise ValueError(f"ssi_reference|{REFERENCES}|Correct it.")
        if self.ssi_min is not None and self.ssi_reference is None:
            raise ValueError(f"ssi_reference|a reference where ssi_min is set: {REFERENCES}|Add it.")
        if self.penumbra_min is not None and self.background is None:
            raise ValueError("background|a distance where penumbra_min is stated|Add it, such as 1.5 m.")
        if self.shutter is not None and (self.shutter_angle is not None or self.frame_rate is not None):
            raise ValueError("shutter|shutter, or shutter_angle with frame_rate, not both|Take one out.")
        if (self.shutter_angle is None) != (self.frame_rate is None):
            missing = "frame_rate" if self.frame_rate is None else "shutter_angle"
            raise ValueError(f"{missing}|shutter_angle and frame_rate together|Add it.")
        return self


class Power(Section):
    """Where the electricity comes from, for how long, and how warm it is."""

    source: Literal["battery", "mains", "any"] = key("What may feed the light.")
    mains_voltage: float | None = key("Mains voltage.", units.VOLTAGE, default=None, ge=90, le=277)
    mains_frequency: float | None = key("Mains frequency.", units.HERTZ, default=None, ge=16, le=400)
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
        "Greatest voltage that a string, a driver with its string unplugged, or a battery pack may put on what can be "
        "touched.",
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
    emitter_kinds: int = key(
        "Most kinds of emitter in one light: with 2, two whites may be mixed behind a diffuser, and [look] holds for "
        "their mixture at full output.",
        units.NUMBER,
        default=1,
        ge=1,
        le=2,
    )
    time_limit: float | None = key("Longest search.", units.EXPOSURE_TIME, default=None, gt=0)


class KitLimits(Section):
    """What one light of a kit must not exceed, beside the limits of the whole kit."""

    mass: float | None = key("Most that this light with its supply and lead may weigh.", units.MASS, default=None, gt=0)
    power: float | None = key("Most power that it draws.", units.POWER, default=None, gt=0)
    width: float | None = key("Greatest width of its panel.", units.LENGTH, default=None, gt=0)
    height: float | None = key("Greatest height of its panel.", units.LENGTH, default=None, gt=0)
    ip: str | None = key("Its least ingress protection code.", default=None, pattern=r"^IP([0-6X])([0-9X])$")
    mount: bool = key("Whether a mount must carry it.", default=True)


class KitEntry(Section):
    """One light of a kit, or several equal ones: what it asks otherwise than the sections at the top.

    A section has only the keys that differ; it is checked as a whole once it is laid over the one at the top.
    """

    name: str = key("What it is called, such as key or fill.", min_length=1, max_length=60)
    count: int = key("How many equal ones.", units.NUMBER, default=1, ge=1, le=12)
    light: Light = key("How much light, and where.", default=None)
    look: Look = key("How it must look.", default=None)
    power: Power = key("What feeds it.", default=None)
    limits: KitLimits = key("What it alone must not exceed.", default=None)


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
    points: tuple[Point, ...] = Field((), description="Points with targets of their own.")
    kit: "tuple[KitLight, ...]" = Field((), description="Lights bought in one basket; none: one light.")
    currency: str | None = Field(None, exclude=True, description="Currency of the budget; read from its text.")
    text: str = Field("", exclude=True, repr=False, description="The file that it was read from.")
    fingerprint: str = Field("", exclude=True, repr=False, description="SHA-256 of that file, as it was read.")

    @property
    def exposure_time(self) -> float | None:
        """Exposure time of one frame in s, or None where the scenario states none."""
        return self.light.exposure_time or self.look.exposure_time

    @property
    def frame_rate(self) -> float | None:
        """Frames per second, or None where the scenario states none."""
        return self.light.frame_rate or self.look.frame_rate

    @property
    def source_size_min(self) -> float:
        """Least shorter side of the lit face in m, from the ways of asking for a size as such."""
        size = self.look.source_size_min or 0.0
        if self.look.source_angle_min is not None:
            half = math.radians(self.look.source_angle_min) / 2
            size = max(size, 2 * self.light.distance * math.tan(half))
        return size

    @property
    def penumbra_size_min(self) -> float:
        """Least shorter side of the lit face in m for the soft edge asked for; 0 where none is."""
        if self.look.penumbra_min is None or self.look.background is None:
            return 0.0
        return self.look.penumbra_min * self.light.distance / self.look.background

    def targets(self, target: float) -> tuple[Target, ...]:
        """Return what is asked of the light at points and on a turned face, where `target` lx are asked ahead."""
        return targets_of(self.light, self.points, target)

    def limited_targets(self, target: float) -> tuple[Target, ...]:
        """Return those `targets` that set a limit."""
        return tuple(t for t in self.targets(target) if t.least is not None or t.most is not None)

    def pinned(self, target: float) -> "Scenario":
        """Return the same with points in lx, where `target` lx are asked ahead: they stay if that changes."""
        return self.model_copy(update={"points": tuple(point.pinned(target) for point in self.points)})

    @property
    def light_is_limited(self) -> bool:
        """Whether there can be too much light anywhere."""
        most = [self.light.face_illuminance_max]
        most += [p.illuminance_max if p.stops_max is None else p.stops_max for p in self.points]
        return any(limit is not None for limit in most)

    @model_validator(mode="after")
    def _together(self) -> Self:
        wrong = []
        stated = [name for name in ("shutter", "shutter_angle", "frame_rate") if getattr(self.look, name) is not None]
        if self.light.exposure_time is not None and stated:
            wrong.append(f"look.{stated[0]}|the shutter once: [light] states it already|Take it out.")
        if self.look.flicker_max is not None:
            if self.exposure_time is None:
                wrong.append("look.shutter|a shutter where flicker_max is stated|Add it, such as 1/50 s.")
            if self.power.mains and self.power.mains_frequency is None:
                source = self.power.source
                allowed = f"a frequency where look.flicker_max is stated and source is {source}"
                wrong.append(f"power.mains_frequency|{allowed}|Add it, such as 50 Hz.")
        if self.search.emitter_kinds > 1 and not self.look.hue_asked:
            allowed = "1, or a window of the mixture's colour: [look] cct_min or cct_max, duv_min or duv_max"
            wrong.append(f"search.emitter_kinds|{allowed}|State the window, or take emitter_kinds out.")
        if self.search.emitter_kinds > 1 and self.look.dots_max is not None:
            allowed = "1 where look.dots_max is stated: the dots of two kinds are not worked out"
            wrong.append(f"search.emitter_kinds|{allowed}|Take one of the two out.")
        if wrong:
            raise ValueError("\n".join(wrong))
        return self


class KitLight(Section):
    """A light of a kit, or several equal ones, with the whole of its job.

    The job has no limit on cost, and on mass and power only its own: those of the scenario hold for the whole kit.
    """

    name: str
    count: int
    job: Scenario
    own_circuit: bool = False
    """Whether it hangs on a mains circuit of its own."""


Scenario.model_rebuild()
