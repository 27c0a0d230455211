"""Drivers: what feeds emitters, how it dims them, and how its light ripples."""

from typing import Literal, Self

from pydantic import model_validator

from optimise.parts import units
from optimise.parts.columns import column
from optimise.parts.part import IP_CODE, Part, tolerance


class Driver(Part):
    """What feeds emitters: an LED driver, a constant-voltage supply, or a ballast."""

    input: Literal["dc", "ac"] = column("What it is fed with: dc (battery) or ac (mains).")
    input_min: float = column("Lowest input voltage at which it works.", units.VOLTAGE, gt=0)
    input_max: float = column("Highest input voltage it bears.", units.VOLTAGE, gt=0)
    output: Literal["constant current", "constant voltage", "ballast"] = column("What it gives.")
    output_current: float | None = column(
        "Output current (constant current), or the most it gives (constant voltage).",
        units.CURRENT,
        blank="constant current: current_min and current_max instead; constant voltage: power_max alone limits",
        gt=0,
    )
    current_min: float | None = column(
        "Least output current it can be set to.", units.CURRENT, blank="not adjustable", gt=0
    )
    current_max: float | None = column(
        "Greatest output current it can be set to.", units.CURRENT, blank="not adjustable", gt=0
    )
    output_min: float | None = column(
        "Lowest output voltage.", units.VOLTAGE, blank="allowed for output ballast only", gt=0
    )
    output_max: float | None = column(
        "Highest output voltage (constant voltage: the same as output_min unless adjustable).",
        units.VOLTAGE,
        blank="allowed for output ballast only",
        gt=0,
    )
    power_max: float | None = column(
        "Greatest output power.", units.POWER, blank="allowed for output ballast only", gt=0
    )
    efficiency: float = column("Output power as a share of input power.", units.SHARE, gt=0, le=1)
    power_factor: float | None = column(
        "Power factor on mains.", units.SHARE, blank="allowed for input dc only", gt=0, le=1
    )
    lamps: int | None = column(
        "Number of lamps a ballast feeds, all of them fitted.",
        units.NUMBER,
        blank="allowed unless output is ballast",
        ge=1,
        le=8,
    )
    lamp_power: float | None = column(
        "Power of each lamp a ballast is made for.",
        units.POWER,
        blank="allowed unless output is ballast",
        gt=0,
    )
    mass: float = column("Mass.", units.MASS, ge=0)
    ip: str | None = column(
        "Ingress protection code (IEC 60529).",
        blank="left out where the scenario asks for an IP code",
        pattern=IP_CODE,
    )
    mass_tolerance: float | None = tolerance("mass")

    @model_validator(mode="after")
    def _consistent(self) -> Self:
        if self.input_min > self.input_max:
            raise ValueError("input_min|at most input_max|Swap the two.")
        if self.input == "ac" and self.power_factor is None:
            raise ValueError("power_factor|a power factor where input is ac|Fill the cell.")
        if self.output == "ballast":
            needed: tuple[str, ...] = ("lamps", "lamp_power")
        else:
            needed = ("output_min", "output_max", "power_max")
            if self.output == "constant current" and self.output_current is None:
                needed += ("current_min", "current_max")
        for name in needed:
            if getattr(self, name) is None:
                raise ValueError(f"{name}|a value where output is {self.output}|Fill the cell.")
        if self.output_min is not None and self.output_max is not None and self.output_min > self.output_max:
            raise ValueError("output_min|at most output_max|Swap the two.")
        for name in ("current_min", "current_max"):
            if self.output_current is not None and getattr(self, name) is not None:
                raise ValueError(f"{name}|blank where output_current is stated|State one or the other.")
        if self.current_min is not None and self.current_max is not None and self.current_min > self.current_max:
            raise ValueError("current_min|at most current_max|Swap the two.")
        return self
