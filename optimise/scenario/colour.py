"""The limits on colour that a scenario may set, and the light that they are held against."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from optimise.parts import Emitter, units
from optimise.parts.colour import FIGURES, figure_of
from optimise.parts.similarity import similarity
from optimise.parts.units import Measure
from optimise.scenario.model import Look

Light = Mapping[str, float | None]
"""Colour figures of a light by name; None is not known."""


@dataclass(frozen=True)
class ColourLimit:
    """One key of [look] on colour, and the figure that it limits."""

    key: str
    figure: str
    kind: Literal["min", "max"]
    name: str
    """What the margin is called."""
    said: str
    """What the figure is called."""
    missed: str
    """How a part is told of that misses it."""
    measure: Measure

    def keeps(self, achieved: float | None, required: float) -> bool:
        """Whether a figure keeps the limit; one that is not known does not."""
        if achieved is None:
            return False
        return achieved >= required if self.kind == "min" else achieved <= required


def _limit(key: str, figure: str, name: str, said: str, missed: str, measure: Measure = units.NUMBER) -> ColourLimit:
    return ColourLimit(key, figure, "min" if key.endswith("_min") else "max", name, said, missed, measure)


_CCT, _KELVIN = "colour temperature", units.COLOUR_TEMPERATURE

LIMITS = (
    _limit("cct_min", "cct", f"{_CCT}, low", _CCT, "out of range", _KELVIN),
    _limit("cct_max", "cct", f"{_CCT}, high", _CCT, "out of range", _KELVIN),
    _limit("duv_min", "duv", "Duv, low", "Duv", "out of range"),
    _limit("duv_max", "duv", "Duv, high", "Duv", "out of range"),
    _limit("cri_min", "cri", "colour rendering Ra", "Ra", "too low"),
    _limit("r9_min", "r9", "colour rendering R9", "R9", "too low"),
    _limit("rf_min", "rf", "colour fidelity Rf", "Rf", "too low"),
    _limit("rg_min", "rg", "gamut Rg, low", "Rg", "out of range"),
    _limit("rg_max", "rg", "gamut Rg, high", "Rg", "out of range"),
    _limit("ssi_min", "ssi", "spectral similarity SSI", "SSI", "too low"),
)


def asked(look: Look) -> Iterator[tuple[ColourLimit, float]]:
    """Yield the limits that are set, with what each requires."""
    for limit in LIMITS:
        required = getattr(look, limit.key)
        if required is not None:
            yield limit, required


def asks(look: Look) -> bool:
    """Whether any limit on colour is set: where none is, no spectrum is worked out in a search."""
    return next(asked(look), None) is not None


def light_of(emitter: Emitter, look: Look) -> Light:
    """Return the colour figures of an emitter's light, with SSI to the reference that is asked for."""
    return _Seen(emitter, look.ssi_reference)


class _Seen(Light):
    """Figures of an emitter, worked out from its spectrum no sooner than they are looked at."""

    def __init__(self, emitter: Emitter, reference: str | None) -> None:
        self._emitter, self._reference = emitter, reference

    def __getitem__(self, figure: str) -> float | None:
        if figure == "ssi":
            return None if self._reference is None else similarity(self._emitter, self._reference)
        return figure_of(self._emitter, figure)

    def __iter__(self) -> Iterator[str]:
        return iter((*FIGURES, "ssi"))

    def __len__(self) -> int:
        return len(FIGURES) + 1


def refused(light: Light, look: Look, *, measured: bool = False) -> str | None:
    """Return why a light may not be used, or None. measured: whether its figures come from a spectrum."""
    for limit, required in asked(look):
        achieved = light[limit.figure]
        if achieved is None:
            unknown = "not known" if measured or limit.figure == "ssi" else "not stated"
            return f"{limit.said} {unknown}"
        if not limit.keeps(achieved, required):
            return f"{limit.said} {limit.missed}"
    return None
