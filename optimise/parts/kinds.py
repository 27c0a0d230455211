"""The kinds of part, one model each. Numbers are in the canonical unit of their measure (`units`)."""

from datetime import date
from typing import Any, Literal, Self

from pydantic import PrivateAttr, model_validator

from optimise.parts import units
from optimise.parts.columns import Row, column
from optimise.parts.conductors import CLASS_5_RESISTANCE
from optimise.parts.drivers import Driver
from optimise.parts.part import CODE, IP_CODE, Part, tolerance
from optimise.parts.photometry import Photometry
from optimise.parts.spectrum_files import Spectrum

MAXIMUM_EFFICACY = 683.0
"""lm/W of radiant power at 555 nm (CIE definition of the lumen): no source can give more light a watt."""

LEAST_DRIVE = 0.25
"""Share of the rated current below which an emitter is not run unless its current_min says so."""

_CURRENCY = r"^[A-Z]{3}$"


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
    def heat_density(self) -> float:
        """Heat at the rated point for the area that one piece covers, W/m²."""
        return self.watts * self.heat_share / (self.length * self.width)

    @model_validator(mode="after")
    def _consistent(self) -> Self:
        if self.drive == "ballast":
            if self.power is None:
                raise ValueError("power|a lamp power where drive is ballast|Give the lamp's watts.")
            if self.form != "tube":
                raise ValueError("form|tube where drive is ballast|Correct form or drive.")
        else:
            for name in ("current", "voltage"):
                if getattr(self, name) is None:
                    raise ValueError(f"{name}|a {name} where drive is {self.drive}|Fill the cell.")
            if self.power is not None:
                raise ValueError("power|blank unless drive is ballast|Clear the cell: it is current × voltage.")
        low, high = self.voltage_min, self.voltage_max
        if self.voltage is not None:
            if low is not None and low > self.voltage:
                raise ValueError("voltage_min|at most the voltage|Swap or correct the two.")
            if high is not None and high < self.voltage:
                raise ValueError("voltage_max|at least the voltage|Swap or correct the two.")
        if self.current is not None:
            if self.current_min is not None and self.current_min > self.current:
                raise ValueError("current_min|at most the rated current|Correct one of the two.")
            if self.current_max is not None and self.current_max < self.current:
                raise ValueError("current_max|at least the rated current|Correct one of the two.")
            if self.current_max is not None and self.current_max > 1.5 * self.current:
                raise ValueError("current_max|at most 1.5 times the rated current|Correct one of the two.")
        if self.flux > MAXIMUM_EFFICACY * self.watts:
            raise ValueError(
                f"flux|at most {MAXIMUM_EFFICACY:g} lm/W for its power (the physical limit)|Correct flux or power."
            )
        if self.voltage_tolerance is not None and self.drive != "constant current":
            mend = "Clear the cell: the driver or the lamp sets what it draws."
            raise ValueError(f"voltage_tolerance|blank unless drive is constant current|{mend}")
        brightest = self.flux * (1.0 + (self.flux_tolerance or 0.0))
        if brightest > MAXIMUM_EFFICACY * self.watts * (1.0 - (self.voltage_tolerance or 0.0)):
            name = "voltage_tolerance" if self.flux_tolerance is None else "flux_tolerance"
            limit = f"less, so that the greatest flux stays within {MAXIMUM_EFFICACY:g} lm/W of the least power"
            raise ValueError(f"{name}|{limit} (the physical limit)|Correct it, or flux or voltage.")
        return self


class Panel(Part):
    """The board that carries the emitters and sheds their heat."""

    width: float = column("Width of the board and of the light that leaves it.", units.LENGTH, gt=0, le=5)
    height: float = column("Height (the upright side when in use).", units.LENGTH, gt=0, le=5)
    usable: float = column(
        "Share of the area on which emitters may sit (a centred rectangle of the same shape).",
        units.SHARE,
        blank="0.9",
        default=0.9,
        gt=0,
        le=1,
    )
    material: str = column("What it is made of, in words.")
    metal: bool = column("Whether metal can be touched: decides the protective earth on mains.")
    depth: float | None = column(
        "Depth of the box before the board, from the emitters to the diffuser at its front, with walls all round.",
        units.SMALL_LENGTH,
        blank="not counted: what the walls take from the light; check not made: dots on the diffuser; left out where "
        "the scenario limits those",
        ge=0,
        le=5,
    )
    reflectance: float | None = column(
        "Share of the light on them that board and walls reflect.",
        units.SHARE,
        blank="not counted: what the walls take from the light; light towards the board is counted as lost",
        ge=0,
        le=1,
    )
    faces: int = column(
        "Number of faces that shed heat to the air (1 with a diffuser or a wall on one side).",
        units.NUMBER,
        blank="1",
        default=1,
        ge=1,
        le=2,
    )
    emissivity: float = column(
        "Emissivity of the faces for thermal radiation.",
        units.SHARE,
        blank="0.8 (painted or anodised; bare bright metal is far lower: state it)",
        default=0.8,
        ge=0,
        le=1,
    )
    thermal_resistance: float | None = column(
        "Measured thermal resistance from board to air; replaces the calculated one.",
        units.THERMAL_RESISTANCE,
        blank="calculated from natural convection and radiation",
        gt=0,
    )
    temperature_max: float | None = column(
        "Greatest temperature of the board.",
        units.TEMPERATURE,
        blank="check not made: board temperature (the touch limit still holds)",
        ge=20,
        le=250,
    )
    heat_density_max: float | None = column(
        "Greatest heat for the area under one emitter, at its rated power, that the board bears: for boards that "
        "spread heat badly (wood, foam).",
        units.HEAT_DENSITY,
        blank="check not made: the spot under each emitter, with a caution unless the board is metal",
        gt=0,
    )
    mass: float = column("Mass.", units.MASS, ge=0)
    ip: str | None = column(
        "Ingress protection code (IEC 60529) of the finished housing.",
        blank="left out where the scenario asks for an IP code",
        pattern=IP_CODE,
    )
    mass_tolerance: float | None = tolerance("mass")


class Diffuser(Part):
    """A sheet or cloth before the emitters; one sheet is cut to the size of the panel."""

    transmittance: float = column("Share of the light that leaves at the front.", units.SHARE, gt=0, le=1)
    reflectance: float = column(
        "Share of the light that it throws back into the box.",
        units.SHARE,
        blank="0: light that comes again from the box is not counted",
        default=0.0,
        ge=0,
        lt=1,
    )
    spread: float | None = column(
        "Full width at half maximum that it gives a narrow beam, in degrees; blank or lambertian = fully diffusing.",
        units.ANGLE,
        blank="lambertian",
        gt=0,
        le=120,
    )
    grid: float | None = column(
        "Full width at half maximum to which a grid of black cells before the sheet narrows its light.",
        units.ANGLE,
        blank="no grid",
        ge=5,
        le=120,
    )
    grid_transmittance: float | None = column(
        "Share of the light straight ahead that the grid lets through.",
        units.SHARE,
        blank="allowed where grid is blank",
        gt=0,
        le=1,
    )
    width: float = column("Width of the sheet.", units.LENGTH, gt=0)
    height: float = column("Height of the sheet.", units.LENGTH, gt=0)
    mass_per_area: float = column("Mass per area.", units.MASS_PER_AREA, ge=0)
    mired_shift: float = column(
        "Shift of the colour temperature, above 0 for warmer.",
        units.MIRED,
        blank="0: no filter",
        default=0.0,
        ge=-500,
        le=500,
    )
    mass_tolerance: float | None = tolerance("mass per area")

    @model_validator(mode="after")
    def _consistent(self) -> Self:
        if self.transmittance + self.reflectance > 1.0 + 1e-9:
            raise ValueError("reflectance|at most 1 together with transmittance|Correct one of the two.")
        if (self.grid is None) != (self.grid_transmittance is None):
            missing = "grid" if self.grid is None else "grid_transmittance"
            raise ValueError(f"{missing}|grid and grid_transmittance together|Fill the cell, or clear the other.")
        return self


class Battery(Part):
    """A battery as bought; never loose cells to be soldered into packs."""

    chemistry: Literal["li-ion", "lifepo4", "nimh", "nicd", "lead-acid"] = column("Chemistry.")
    voltage: float = column("Nominal voltage.", units.VOLTAGE, gt=0)
    voltage_min: float = column("Voltage at which it is empty (cut-off).", units.VOLTAGE, gt=0)
    voltage_max: float = column("Voltage when full.", units.VOLTAGE, gt=0)
    capacity: float = column("Rated capacity at 25 °C.", units.CHARGE, gt=0)
    rated_time: float | None = column(
        "Discharge time at which the capacity is rated.",
        units.DURATION,
        blank="allowed where peukert is blank or 1",
        gt=0,
    )
    peukert: float = column(
        "Peukert exponent.",
        units.NUMBER,
        blank="1: capacity is taken as the same at any current, with a note",
        default=1.0,
        ge=1,
        le=2,
    )
    current_max: float = column("Greatest continuous discharge current.", units.CURRENT, gt=0)
    usable: float = column(
        "Share of the capacity that is used before recharging.",
        units.SHARE,
        blank="0.8 (common practice, no source)",
        default=0.8,
        gt=0,
        le=1,
    )
    capacity_per_kelvin: float = column(
        "Relative loss of capacity per kelvin below 25 °C.",
        units.PER_KELVIN,
        blank="0, with a note when it is cold",
        default=0.0,
        ge=0,
        le=0.05,
    )
    temperature_min: float | None = column(
        "Lowest ambient temperature at which it may be discharged.",
        units.TEMPERATURE,
        blank="check not made: battery in the cold",
        ge=-60,
        le=40,
    )
    series_max: int = column(
        "Number that may be put in series, by the maker's word.",
        units.NUMBER,
        blank="1",
        default=1,
        ge=1,
        le=16,
    )
    parallel_max: int = column(
        "Number that may be put in parallel, by the maker's word.",
        units.NUMBER,
        blank="1",
        default=1,
        ge=1,
        le=16,
    )
    mass: float = column("Mass.", units.MASS, ge=0)
    ip: str | None = column(
        "Ingress protection code (IEC 60529).",
        blank="left out where the scenario asks for an IP code",
        pattern=IP_CODE,
    )
    capacity_tolerance: float | None = tolerance("capacity")
    mass_tolerance: float | None = tolerance("mass")
    _rated_capacity: float | None = PrivateAttr(default=None)
    """C, where `capacity` is not the rated one any more."""

    @property
    def watt_hours(self) -> float:
        """Rated energy of one battery, Wh: what the transport rules count."""
        return self.voltage * self.rated_capacity / 3600.0

    @property
    def rated_capacity(self) -> float:
        """Capacity that is printed on it, C, whatever it holds."""
        return self.capacity if self._rated_capacity is None else self._rated_capacity

    def holding(self, share: float) -> Self:
        """Return the battery with `share` of its capacity; the energy that it is rated at is still the same."""
        other = self.model_copy(update={"capacity": self.capacity * share})
        other._rated_capacity = self.rated_capacity
        return other

    @model_validator(mode="after")
    def _consistent(self) -> Self:
        if not self.voltage_min <= self.voltage <= self.voltage_max:
            raise ValueError("voltage|between voltage_min and voltage_max|Put the three in order.")
        if self.peukert > 1 and self.rated_time is None:
            raise ValueError("rated_time|a time where peukert is above 1|Give the hours of the rating.")
        return self


class Cable(Part):
    """Flexible cord for the lead, sold by length; its `part` is one size and make."""

    area: float = column("Cross-section of one conductor.", units.AREA, gt=0)
    cores: int = column("Number of conductors.", units.NUMBER, ge=2, le=5)
    rating: float = column("Current rating in air at 30 °C.", units.CURRENT, gt=0)
    voltage_max: float = column("Rated voltage.", units.VOLTAGE, gt=0)
    conductor_max: float = column(
        "Conductor temperature to which the rating belongs.",
        units.TEMPERATURE,
        blank="60 °C (ordinary flexible cord)",
        default=60.0,
        ge=50,
        le=250,
    )
    resistance: float | None = column(
        "Resistance of one conductor per length at 20 °C.",
        units.RESISTANCE_PER_LENGTH,
        blank="IEC 60228 class 5 for a standard area; required for any other",
        gt=0,
    )
    mass_per_length: float = column("Mass per length.", units.MASS_PER_LENGTH, ge=0)
    mass_tolerance: float | None = tolerance("mass per length")

    @property
    def ohms_per_metre(self) -> float:
        """Resistance of one conductor per metre at 20 °C, ohm/m."""
        return self.resistance if self.resistance is not None else CLASS_5_RESISTANCE[round(self.area * 1e6, 4)]

    @model_validator(mode="after")
    def _consistent(self) -> Self:
        if self.resistance is None and round(self.area * 1e6, 4) not in CLASS_5_RESISTANCE:
            sizes = ", ".join(f"{area:g}" for area in CLASS_5_RESISTANCE)
            raise ValueError(
                f"resistance|a resistance where the area is none of {sizes} mm² (IEC 60228 class 5)|Fill the cell."
            )
        return self


class Fuse(Part):
    """The fuse at the source: in the lead at the battery, or in the mains plug."""

    rating: float = column("Rated current.", units.CURRENT, gt=0)
    voltage_max: float = column("Rated voltage.", units.VOLTAGE, gt=0)
    supply: Literal["dc", "ac"] = column("The supply it is made to break.")
    kind: str = column("Form, in words: blade, cartridge, plug fuse.")
    mass: float = column("Mass, with its holder if it has one.", units.MASS, blank="0", default=0.0, ge=0)
    mass_tolerance: float | None = tolerance("mass")


class Connector(Part):
    """What joins lead and supply: a mated pair for a battery, a plug for mains."""

    rating: float = column("Rated current.", units.CURRENT, gt=0)
    voltage_max: float = column("Rated voltage.", units.VOLTAGE, gt=0)
    supply: Literal["dc", "ac"] = column("The supply it is made for.")
    mass: float = column("Mass.", units.MASS, blank="0", default=0.0, ge=0)
    mass_tolerance: float | None = tolerance("mass")


class Mount(Part):
    """What carries the light: a yoke, handle or spigot."""

    load: float = column("Greatest mass it may carry.", units.MASS, gt=0)
    mass: float = column("Mass of its own.", units.MASS, ge=0)
    mass_tolerance: float | None = tolerance("mass")


class Offer(Row):
    """One supplier's price for one part in one pack; rows alike but for price and quantity_min are price breaks."""

    part: str = column("The part offered.", pattern=CODE)
    supplier: str = column("Who sells it; `own` is what lies in the drawer.", pattern=CODE)
    price: int = column("Price of one pack, in the currency that the header names: price [EUR]. Blank or 0 for own.")
    pack: float = column(
        "Pieces in a pack; sold by length: the step in which it is cut, in metres; by reel: metres on one reel; by "
        "sheet: sheets in a pack.",
        units.NUMBER,
        blank="1",
        default=1.0,
        gt=0,
    )
    quantity_min: float = column(
        "Least number of pieces (or metres, or sheets) to which this price applies.",
        units.NUMBER,
        blank="0",
        default=0.0,
        ge=0,
    )
    stock: float | None = column("Pieces (or metres, or sheets) that can be had.", units.NUMBER, blank="no limit", ge=0)
    lead_time: float | None = column(
        "Time until delivery.", units.DAYS, blank="left out where the scenario has a deadline", ge=0
    )
    sold_by: Literal["each", "length", "reel", "sheet"] = column(
        "each: by the piece. length: cut to order from one roll (cables, strips). reel: whole reels, pieces never "
        "joined (cables, strips). sheet: stock sheets of which panels are cut.",
        blank="each",
        default="each",
    )
    sheet_width: float | None = column(
        "Width of the stock sheet, where sold by sheet.", units.LENGTH, blank="allowed but for sold_by sheet", gt=0
    )
    sheet_height: float | None = column(
        "Height of the stock sheet, where sold by sheet.", units.LENGTH, blank="allowed but for sold_by sheet", gt=0
    )
    until: date | None = column(
        "Last day on which the offer holds, as 2031-01-31.",
        blank="no end; with a date here and none in the scenario, the end is not checked, which the notes say",
    )
    currency: str | None = column(
        "Currency of this row's price (ISO 4217); the scenario states its rate.",
        blank="that of the header",
        pattern=_CURRENCY,
    )

    @model_validator(mode="after")
    def _consistent(self) -> Self:
        for name in ("sheet_width", "sheet_height"):
            if self.sold_by == "sheet" and getattr(self, name) is None:
                raise ValueError(f"{name}|a length where sold_by is sheet|Give both sides of the stock sheet.")
            if self.sold_by != "sheet" and getattr(self, name) is not None:
                raise ValueError(f"{name}|blank where sold_by is {self.sold_by}|Write sheet into sold_by, or clear it.")
        return self


class Supplier(Row):
    """Who sells, and what delivery costs."""

    supplier: str = column("Name.", pattern=CODE)
    delivery: int = column("Delivery charge of an order.", blank="0", default=0)
    delivery_free_over: int | None = column("Order value from which delivery is free.", blank="never free")
    order_min: int = column(
        "Least order value; a smaller order is topped up to it, with what is not on the bill.", blank="0", default=0
    )
    currency: str | None = column(
        "Currency of this row's charges (ISO 4217); the scenario states its rate.",
        blank="that of the header",
        pattern=_CURRENCY,
    )
    tax: float = column(
        "Sales tax on all that is sold, as a share of the price without it.",
        units.SHARE,
        blank="0; prices are the same with and without",
        default=0.0,
        ge=0,
        lt=1,
    )
    prices: Literal["with tax", "without tax"] = column(
        "Whether prices and charges of this supplier have the tax in them.", blank="with tax", default="with tax"
    )


PART_KINDS: dict[str, type[Part]] = {
    "emitters": Emitter,
    "drivers": Driver,
    "panels": Panel,
    "diffusers": Diffuser,
    "batteries": Battery,
    "cables": Cable,
    "fuses": Fuse,
    "connectors": Connector,
    "mounts": Mount,
}
"""Kinds of part by the name of their file."""

TABLES: dict[str, type[Row]] = {**PART_KINDS, "offers": Offer, "suppliers": Supplier}
"""All tables of a catalogue by the name of their file."""

MONEY_COLUMNS = frozenset({"price", "delivery", "delivery_free_over", "order_min"})
"""Columns that hold money, in whole cents once read."""
