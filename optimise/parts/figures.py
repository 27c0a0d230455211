"""Figures of parts that measuring a built light can tell, and parts with such a figure in place of the stated one."""

from dataclasses import dataclass
from typing import Any, TypeVar

from optimise.parts import units
from optimise.parts.emitters import Emitter
from optimise.parts.kinds import Battery, Diffuser, Panel
from optimise.parts.part import Part
from optimise.parts.units import Measure

MEASURABLE: dict[type[Part], tuple[str, Measure]] = {
    Emitter: ("flux", units.FLUX),
    Diffuser: ("transmittance", units.SHARE),
    Panel: ("thermal_resistance", units.THERMAL_RESISTANCE),
    Battery: ("capacity", units.CHARGE),
}
"""The one figure of each kind of part; no rating is among them."""

MEASURES = dict(MEASURABLE.values())
"""The measure of each figure."""

_P = TypeVar("_P", bound=Part)


@dataclass(frozen=True)
class Calibrated:
    """One figure of one part as a built light was measured to have it, canonical."""

    part: str
    figure: str
    value: float
    stated: float | None
    """What the parts stated when it was measured; None for nothing."""
    low: float | None
    high: float | None
    """Ends of its 95 % interval; None where the readings gave none."""
    readings: int
    behind: tuple[str, ...] = ()
    """Of a flux that is one factor with the sheets before it: these sheets."""
    heat: float | None = None
    """Of a thermal resistance: the heat with which it was measured, W."""
    predicted: float | None = None
    """Of a thermal resistance: what was predicted for that heat, K/W."""
    catalogue: float | None = None
    """What the catalogue states now."""


@dataclass(frozen=True)
class Calibration:
    """Figures that were measured, and the SHA-256 of the file that they come from."""

    figures: tuple[Calibrated, ...]
    fingerprint: str


def measurable(part: Part) -> float | None:
    """Return the figure of `MEASURABLE` of a part, None where none is stated. Raises KeyError for other kinds."""
    value: float | None = getattr(part, MEASURABLE[type(part)][0])
    return value


def with_measured(part: _P, value: float) -> _P:
    """Return a part with its figure of `MEASURABLE` replaced; nothing else is any better for it.

    What a battery may fly by stays the energy that it is rated at, and an emitter that gives more light than is stated
    has the heat of the stated one: where its share of heat is blank, more light would be less heat.
    """
    if isinstance(part, Battery):
        return part.holding(value / part.capacity)
    update: dict[str, Any] = {MEASURABLE[type(part)][0]: value}
    if isinstance(part, Emitter) and part.heat_fraction is None and value > part.flux:
        update["heat_fraction"] = part.heat_share
    return part.model_copy(update=update)
