"""Emitters: what gives the light. Numbers are in the canonical unit of their measure (`units`)."""

from collections.abc import Iterator
from typing import Any, Literal, Self

from pydantic import PrivateAttr

from optimise.parts import units
from optimise.parts.columns import column
from optimise.parts.part import IP_CODE, Part, tolerance
from optimise.parts.photometry import Photometry
from optimise.parts.spectrum_files import Spectrum

MAXIMUM_EFFICACY = 683.0
"""lm/W of radiant power at 555 nm (CIE definition of the lumen): no source can give more light a watt."""

LEAST_DRIVE = 0.25
"""Share of the rated current below which an emitter is not run unless its current_min says so."""


def _quality(meaning: str, figure: str, **bounds: Any) -> Any:
    return column(meaning, units.NUMBER, blank=f"left out where the scenario asks for {figure}", **bounds)


class Emitter(Part):
    """A light source: an LED module, a piece of LED strip, or a fluorescent tube."""

    form: Literal["module", "strip", "tube"] = column("What it looks like.")
    drive: Literal["constant current", "constant voltage", "ballast"] = column("What must feed it.")
    flux: float = column(
        "Luminous flux of one piece at its rated current and 25 °C junction (tube: rated).", units.FLUX, gt=0
    )
    current: float | None = column(
        "Rated current of one piece.", units.CURRENT, blank="allowed for drive ballast only", gt=0
    )
    voltage: float | None = column(
        "Voltage of one piece at its rated current.",
        units.VOLTAGE,
        blank="allowed for drive ballast only",
        gt=0,
    )
    power: float | None = column(
        "Lamp power of a tube.", units.POWER, blank="current × voltage; required for drive ballast", gt=0
    )
    voltage_min: float | None = column(
        "Lowest voltage of one piece at its rated current, over the maker's spread.",
        units.VOLTAGE,
        blank="check not made: low end of the spread against the driver's window",
        gt=0,
    )
    voltage_max: float | None = column(
        "Highest voltage of one piece at its rated current, over the maker's spread.",
        units.VOLTAGE,
        blank="check not made: high end of the spread against the driver's window",
        gt=0,
    )
    voltage_per_kelvin: float = column(
        "Change of the voltage of one piece per kelvin of junction temperature (negative for LEDs).",
        units.VOLTAGE_PER_KELVIN,
        blank="0; check not made: string voltage at a cold start",
        default=0.0,
        le=0,
    )
    dynamic_resistance: float = column(
        "Slope of voltage over current near the rated point.",
        units.RESISTANCE,
        blank="0: the voltage is taken as the same below the rated current",
        default=0.0,
        ge=0,
    )
    current_min: float | None = column(
        "Least current at which it may run.",
        units.CURRENT,
        blank="a quarter of the rated current",
        gt=0,
    )
    current_max: float | None = column(
        "Greatest current at which it may run.", units.CURRENT, blank="the rated current", gt=0
    )
    beam: float = column(
        "Full width of the beam at half of the greatest intensity.",
        units.ANGLE,
        blank="120 degrees (Lambertian)",
        default=120.0,
        ge=1,
        le=170,
    )
    photometry: str | None = column(
        "Photometric file (ANSI/IES LM-63): its intensity, scaled to the flux, takes the place of the beam; its "
        "horizontal angle 0 lies along the length of the piece.",
        blank="the beam's formula",
    )
    back: float | None = column(
        "Share of its light that goes towards the board; about half for a bare tube. A photometric file that goes past "
        "90 degrees decides it.",
        units.SHARE,
        blank="0; for tubes the output says that it is not counted",
        ge=0,
        le=1,
    )
    length: float = column("Length of one piece.", units.SMALL_LENGTH, gt=0)
    width: float = column("Width of one piece, clearance included.", units.SMALL_LENGTH, gt=0)
    mass: float = column("Mass of one piece.", units.MASS, ge=0)
    cct: float | None = column(
        "Correlated colour temperature.",
        units.COLOUR_TEMPERATURE,
        blank="left out where the scenario asks for a range",
        ge=1000,
        le=25000,
    )
    cri: float | None = _quality("General colour rendering index Ra.", "a least Ra", le=100)
    r9: float | None = _quality("Special colour rendering index R9 (deep red).", "a least R9", le=100)
    duv: float | None = _quality("Distance from the Planckian locus, Duv: greenish above 0.", "Duv", ge=-0.05, le=0.05)
    rf: float | None = _quality("Fidelity index Rf (ANSI/IES TM-30).", "Rf", ge=0, le=100)
    rg: float | None = _quality("Gamut index Rg (ANSI/IES TM-30).", "Rg", ge=0, le=200)
    spectrum: str | None = column(
        "File of its spectrum: IES TM-27 (.spdx) or two columns of CSV; its colour figures are then worked out.",
        blank="colour figures as stated; checks not made: SSI, blue light",
    )
    emitting_area: float | None = column(
        "Area of the lit surface of one piece.",
        units.AREA,
        blank="checks not made where no diffuser is fitted: luminance, blue light; dots on a diffuser are those of a "
        "piece lit all along",
        gt=0,
    )
    case_max: float | None = column(
        "Greatest temperature of the case (where it sits on the board).",
        units.TEMPERATURE,
        blank="check not made: case temperature",
        ge=20,
        le=250,
    )
    flux_per_kelvin: float = column(
        "Relative change of flux per kelvin of junction temperature above 25 °C (negative).",
        units.PER_KELVIN,
        blank="0: flux is not corrected for temperature",
        default=0.0,
        ge=-0.02,
        le=0,
    )
    droop: float = column(
        "Relative gain of efficacy when the current falls towards nothing (flux ∝ x(1 + droop(1 − x))).",
        units.SHARE,
        blank="0: flux is taken as proportional to current",
        default=0.0,
        ge=0,
        lt=0.5,
    )
    heat_fraction: float | None = column(
        "Share of the electrical power that becomes heat in the board.",
        units.SHARE,
        blank="1 − efficacy / 683 lm/W, the most that physics allows",
        ge=0,
        le=1,
    )
    resistance_junction_case: float | None = column(
        "Thermal resistance from junction to case, per watt of heat.",
        units.THERMAL_RESISTANCE,
        blank="0 in the flux; check not made: junction temperature",
        ge=0,
    )
    warm_up: float | None = column(
        "Time until it gives its full light after switching on.",
        units.MINUTES,
        blank="not stated; for tubes the notes say that it takes some minutes",
        ge=0,
    )
    ip: str | None = column(
        "Ingress protection code (IEC 60529), such as IP65.",
        blank="left out where the scenario asks for an IP code",
        pattern=IP_CODE,
    )
    flux_tolerance: float | None = tolerance("flux")
    voltage_tolerance: float | None = tolerance(
        "voltage", "; voltage_min and voltage_max are off by as much; drive constant current only"
    )
    mass_tolerance: float | None = tolerance("mass")
    _photometric: Photometry | None = PrivateAttr(default=None)
    """What the file that `photometry` names holds, once read."""
    _measured: Spectrum | None = PrivateAttr(default=None)
    """The spectrum of the file that `spectrum` names, once read."""
    _other_end: tuple[float, float] = PrivateAttr(default=(1.0, 1.0))

    @property
    def other_end(self) -> tuple[float, float]:
        """What pieces may give of light, and do of heat at the least, over its own figures: 1 where these are exact."""
        return self._other_end

    def ranging(self, light: float, heat: float) -> Self:
        """Return the emitter with its `other_end`."""
        other = self.model_copy()
        other._other_end = light, heat
        return other

    @property
    def photometric(self) -> Photometry | None:
        """Its table of intensity, None where the catalogue names none."""
        return self._photometric

    @property
    def measured(self) -> Spectrum | None:
        """Its spectrum, None where the catalogue names none."""
        return self._measured

    def beaming(self, table: Photometry) -> Self:
        """Return the emitter with a table of intensity in place of its beam."""
        other = self.model_copy(update={"photometry": self.photometry or table.name or "table"})
        other._photometric = table
        return other

    def shining(self, spectrum: Spectrum) -> Self:
        """Return the emitter with the spectrum of its file."""
        other = self.model_copy()
        other._measured = spectrum
        return other

    @property
    def watts(self) -> float:
        """Electrical power of one piece at its rated point, W."""
        if self.power is not None:
            return self.power
        assert self.current is not None
        assert self.voltage is not None
        return self.current * self.voltage

    @property
    def lowest_current(self) -> float:
        """Least current at which it may run, A (0 where it has no rated current)."""
        return self.current_min if self.current_min is not None else LEAST_DRIVE * (self.current or 0.0)

    @property
    def highest_current(self) -> float:
        """Greatest current at which it may run, A (0 where it has no rated current)."""
        return self.current_max if self.current_max is not None else self.current or 0.0

    @property
    def heat_share(self) -> float:
        """Share of electrical power that becomes heat in the board."""
        if self.heat_fraction is not None:
            return self.heat_fraction
        return 1.0 - self.flux / self.watts / MAXIMUM_EFFICACY

    @property
    def area(self) -> float:
        """What one piece covers of a board, m²."""
        return self.length * self.width

    @property
    def heat_density(self) -> float:
        """Heat at the rated point for the area that one piece covers, W/m²."""
        return self.watts * self.heat_share / self.area

    def broken(self) -> Iterator[str]:
        """Yield each rule between cells that the row breaks, as column|allowed|mend."""
        if self.drive == "ballast":
            if self.power is None:
                yield "power|a lamp power where drive is ballast|Give the lamp's watts."
            if self.form != "tube":
                yield "form|tube where drive is ballast|Correct form or drive."
        else:
            for name in ("current", "voltage"):
                if getattr(self, name) is None:
                    yield f"{name}|a {name} where drive is {self.drive}|Fill the cell."
            if self.power is not None:
                yield "power|blank unless drive is ballast|Clear the cell: it is current × voltage."
        low, high = self.voltage_min, self.voltage_max
        if self.voltage is not None:
            if low is not None and low > self.voltage:
                yield "voltage_min|at most the voltage|Swap or correct the two."
            if high is not None and high < self.voltage:
                yield "voltage_max|at least the voltage|Swap or correct the two."
        if self.current is not None:
            if self.current_min is not None and self.current_min > self.current:
                yield "current_min|at most the rated current|Correct one of the two."
            if self.current_max is not None and self.current_max < self.current:
                yield "current_max|at least the rated current|Correct one of the two."
            if self.current_max is not None and self.current_max > 1.5 * self.current:
                yield "current_max|at most 1.5 times the rated current|Correct one of the two."
        if self.voltage_tolerance is not None and self.drive != "constant current":
            mend = "Clear the cell: the driver or the lamp sets what it draws."
            yield f"voltage_tolerance|blank unless drive is constant current|{mend}"
        if self.power is not None or (self.current is not None and self.voltage is not None):
            yield from self._too_bright()

    def _too_bright(self) -> Iterator[str]:
        """Yield where its light is more than its power can give, as stated or at the bright end of its tolerances."""
        if self.flux > MAXIMUM_EFFICACY * self.watts:
            yield f"flux|at most {MAXIMUM_EFFICACY:g} lm/W for its power (the physical limit)|Correct flux or power."
            return
        brightest = self.flux * (1.0 + (self.flux_tolerance or 0.0))
        if brightest > MAXIMUM_EFFICACY * self.watts * (1.0 - (self.voltage_tolerance or 0.0)):
            name = "voltage_tolerance" if self.flux_tolerance is None else "flux_tolerance"
            limit = f"less, so that the greatest flux stays within {MAXIMUM_EFFICACY:g} lm/W of the least power"
            yield f"{name}|{limit} (the physical limit)|Correct it, or flux or voltage."
