"""Drivers: what feeds emitters, how it dims them, and how its light ripples."""

from collections.abc import Iterator
from typing import Literal

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
    dimmable: Literal["no", "current", "pwm"] | None = column(
        "How it dims: not at all, by less current, or by switching the full current on and off (PWM).",
        blank="not stated; not worked out: power, runtime and flicker when dimmed",
    )
    dim_min: float | None = column(
        "Lowest level to which it dims, as a share of full light.",
        units.SHARE,
        blank="check not made: the lowest level",
        gt=0,
        le=1,
    )
    pwm: float | None = column(
        "Frequency at which it switches when dimmed.",
        units.HERTZ,
        blank="allowed unless dimmable is pwm; there, check not made: flicker when dimmed",
        gt=0,
    )
    ripple: float | None = column(
        "Ripple of the light at full output: (greatest − least) / (greatest + least), taken as a sine; 0 is none.",
        units.SHARE,
        blank="check not made: flicker at full output",
        ge=0,
        le=1,
    )
    ripple_frequency: float | None = column(
        "Frequency of the ripple.",
        units.HERTZ,
        blank="twice that of the mains, which the scenario states; needed where input is dc and there is a ripple",
        gt=0,
    )
    ballast: Literal["magnetic", "electronic"] | None = column(
        "What kind of ballast it is; a magnetic one ripples at twice the mains frequency.",
        blank="not stated; must be blank unless output is ballast",
    )
    isolated: bool | None = column(
        "Whether its output is separated from the mains for safety (SELV); where input is ac and there is no ballast.",
        blank="check not made: that strings which can be touched are separated from the mains",
    )
    mass: float = column("Mass.", units.MASS, ge=0)
    ip: str | None = column(
        "Ingress protection code (IEC 60529).",
        blank="left out where the scenario asks for an IP code",
        pattern=IP_CODE,
    )
    mass_tolerance: float | None = tolerance("mass")

    @property
    def on_mains_strings(self) -> bool:
        """Whether it feeds strings from the mains, which must not come near it."""
        return self.input == "ac" and self.output != "ballast"

    def broken(self) -> Iterator[str]:
        """Yield each rule between cells that the row breaks, as column|allowed|mend."""
        if self.input_min > self.input_max:
            yield "input_min|at most input_max|Swap the two."
        if self.input == "ac" and self.power_factor is None:
            yield "power_factor|a power factor where input is ac|Fill the cell."
        if self.output == "ballast":
            needed: tuple[str, ...] = ("lamps", "lamp_power")
        else:
            needed = ("output_min", "output_max", "power_max")
            if self.output == "constant current" and self.output_current is None:
                needed += ("current_min", "current_max")
        for name in needed:
            if getattr(self, name) is None:
                yield f"{name}|a value where output is {self.output}|Fill the cell."
        if self.output_min is not None and self.output_max is not None and self.output_min > self.output_max:
            yield "output_min|at most output_max|Swap the two."
        for name in ("current_min", "current_max"):
            if self.output_current is not None and getattr(self, name) is not None:
                yield f"{name}|blank where output_current is stated|State one or the other."
        if self.current_min is not None and self.current_max is not None and self.current_min > self.current_max:
            yield "current_min|at most current_max|Swap the two."
        if self.isolated is not None and not self.on_mains_strings:
            yield "isolated|blank where input is dc or output is ballast|Clear the cell."
        yield from self._unsteady()

    def _unsteady(self) -> Iterator[str]:
        """Yield the broken rules of dimming, ripple and ballast."""
        if self.dimmable != "pwm" and self.pwm is not None:
            yield "pwm|blank unless dimmable is pwm|Write pwm into dimmable, or clear the cell."
        if self.dimmable == "no" and self.dim_min is not None:
            yield "dim_min|blank where dimmable is no|Clear one of the two."
        if self.ripple_frequency is not None and self.ripple is None:
            yield "ripple|a share where ripple_frequency is stated|State it, or clear the frequency."
        if self.ripple and self.ripple_frequency is None and self.input == "dc":
            yield "ripple_frequency|a frequency where input is dc and there is a ripple|Fill the cell."
        if self.ballast is not None and self.output != "ballast":
            yield "ballast|blank unless output is ballast|Clear the cell."
        elif self.ballast == "magnetic":
            if self.input != "ac":
                yield "ballast|electronic where input is dc|A magnetic ballast needs alternating current."
            if self.ripple_frequency is not None:
                yield "ripple_frequency|blank for a magnetic ballast|It is twice that of the mains."
            if self.dimmable not in {None, "no"}:
                yield "dimmable|no, or blank, for a magnetic ballast|Correct one of the two."

    def rippling(self, mains_frequency: float | None) -> tuple[float, float] | None:
        """Return depth and frequency of the ripple at full output, Hz; None where one of them is not known."""
        if self.ripple is None:
            return None
        frequency = self.ripple_frequency
        if frequency is None and self.input == "ac" and mains_frequency is not None:
            frequency = 2.0 * mains_frequency
        if self.ripple == 0.0:
            return 0.0, frequency or 1.0
        return None if frequency is None else (self.ripple, frequency)

    def switching(self, level: float) -> tuple[float, float] | None:
        """Return duty and frequency of its switching at a level of light above 0; None where that is not known."""
        if level >= 1.0 or self.dimmable in {"no", "current"}:
            return 1.0, 1.0
        if self.dimmable is None or self.pwm is None:
            return None
        return level, self.pwm
