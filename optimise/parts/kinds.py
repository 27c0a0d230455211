"""The kinds of part, one model each. Numbers are in the canonical unit of their measure (`units`)."""

from collections.abc import Iterator
from typing import Literal, Self

from pydantic import PrivateAttr

from optimise.parts import units
from optimise.parts.columns import Row, column
from optimise.parts.conductors import CLASS_5_RESISTANCE
from optimise.parts.drivers import Driver
from optimise.parts.emitters import Emitter
from optimise.parts.offers import Offer, Supplier
from optimise.parts.part import IP_CODE, Part, tolerance


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
        "Greatest heat for the area under one emitter, at its rated power or above, that the board bears: for boards "
        "that spread heat badly (wood, foam).",
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
        ge=1,
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

    def broken(self) -> Iterator[str]:
        """Yield each rule between cells that the row breaks, as column|allowed|mend."""
        if self.transmittance + self.reflectance > 1.0 + 1e-9:
            yield "reflectance|at most 1 together with transmittance|Correct one of the two."
        if (self.grid is None) != (self.grid_transmittance is None):
            missing = "grid" if self.grid is None else "grid_transmittance"
            yield f"{missing}|grid and grid_transmittance together|Fill the cell, or clear the other."


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

    def broken(self) -> Iterator[str]:
        """Yield each rule between cells that the row breaks, as column|allowed|mend."""
        if not self.voltage_min <= self.voltage <= self.voltage_max:
            yield "voltage|between voltage_min and voltage_max|Put the three in order."
        if self.peukert > 1 and self.rated_time is None:
            yield "rated_time|a time where peukert is above 1|Give the hours of the rating."


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

    def broken(self) -> Iterator[str]:
        """Yield each rule between cells that the row breaks, as column|allowed|mend."""
        if self.resistance is None and round(self.area * 1e6, 4) not in CLASS_5_RESISTANCE:
            sizes = ", ".join(f"{area:g}" for area in CLASS_5_RESISTANCE)
            yield f"resistance|a resistance where the area is none of {sizes} mm² (IEC 60228 class 5)|Fill the cell."


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
    earth: bool | None = column(
        "Whether it has a contact for the protective earth.",
        blank="check not made: the earth at the plug, where the panel has metal on mains",
    )
    mass: float = column("Mass.", units.MASS, blank="0", default=0.0, ge=0)
    mass_tolerance: float | None = tolerance("mass")


class Mount(Part):
    """What carries the light: a yoke, handle or spigot."""

    load: float = column("Greatest mass it may carry.", units.MASS, gt=0)
    mass: float = column("Mass of its own.", units.MASS, ge=0)
    mass_tolerance: float | None = tolerance("mass")


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
