"""The light of two kinds of emitter behind one diffuser: its chromaticity, and what is known of its quality.

Part of the exact check; X, Y, Z add (Grassmann's law; CIE 15:2018, 7), in proportion to the flux of each kind.
"""

from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from optimise.model.choice import YES_NO, Margin
from optimise.parts import Diffuser, Emitter
from optimise.parts.colour import FIGURES, figure_of_spectrum, is_white, mixed_spectrum, tristimulus_of, worked_out
from optimise.parts.similarity import spectral_similarity
from optimise.parts.spectrum_files import Spectrum
from optimise.physics.distributions import back_share, sheet_beam
from optimise.physics.whites import temperature_and_duv, white
from optimise.scenario.colour import Light, light_of
from optimise.scenario.model import Look

Floats = NDArray[np.float64]
Source = Literal["spectrum", "stated", "locus"]
"""What a chromaticity rests on: a spectrum; a colour temperature with its Duv; one that is taken to be on the locus."""

HUE = ("cct", "duv")
"""Figures of a mixture that follow from the chromaticities of its kinds alone."""


def source_of(emitter: Emitter) -> Source | None:
    """Return what the chromaticity of a kind rests on; None where it has no colour temperature."""
    if not is_white(emitter):
        return None
    if worked_out(emitter):
        return "spectrum"
    return "locus" if emitter.duv is None else "stated"


@lru_cache(maxsize=4096)
def _stated(cct: float, duv: float) -> tuple[float, float, float]:
    x, y, z = white(cct, duv).tolist()
    return x, y, z


def white_of(emitter: Emitter) -> tuple[float, float, float] | None:
    """Return X, Y, Z of each lumen of a kind; None where its chromaticity is not known."""
    source = source_of(emitter)
    if source is None:
        return None
    if source == "spectrum":
        assert emitter.measured is not None
        return tristimulus_of(emitter.measured)
    assert emitter.cct is not None
    return _stated(emitter.cct, emitter.duv or 0.0)


def one_beam(kinds: Sequence[Emitter], sheet: Diffuser | None) -> bool:
    """Whether kinds of emitter leave as one beam of one colour: behind a diffuser that makes them alike.

    Bare, or where a sheet keeps something of different beams, shadows and edges are coloured. What a filter does to
    one of several lights is not known.
    """
    if sheet is None or sheet.mired_shift != 0.0:
        return False
    if sheet.spread is not None and any(kind.photometric is not None for kind in kinds):
        return False  # no two tables leave as one formula
    grid = sheet.grid, sheet.grid_transmittance
    beams = [sheet_beam(kind.beam, kind.photometric, sheet.spread, *grid) for kind in kinds]
    back = {back_share(kind.back, kind.photometric) for kind in kinds}
    return len(back) == 1 and all(isinstance(beam[0], float) and beam == beams[0] for beam in beams)


def mix_margins(kinds: Sequence[Emitter], sheet: Diffuser | None, most: int) -> Iterator[Margin]:
    """Yield the margins of kinds of emitter in one light, of which there may be so many; none where there is one."""
    if len(kinds) > 1:
        yield Margin("kinds of emitter", "max", most, len(kinds), "", "scenario")
        yield Margin("kinds leave as one beam", "min", 1.0, float(one_beam(kinds, sheet)), YES_NO, "common practice")


def light_of_kinds(kinds: Sequence[Emitter], fluxes: Sequence[float], look: Look) -> Light:
    """Return the colour figures of a light: of its one kind, or of the mixture of several, each with its flux in lm."""
    if len(kinds) == 1:
        return light_of(kinds[0], look)
    return Mixture(kinds, fluxes, look.ssi_reference)


def spectrum_of(kinds: Sequence[Emitter], fluxes: Sequence[float]) -> Spectrum | None:
    """Return the summed spectrum of kinds, each with its flux in lm; None where that of one is not known."""
    lights: list[tuple[Spectrum, float]] = []
    for kind, flux in zip(kinds, fluxes, strict=True):
        if kind.measured is None or not worked_out(kind):
            return None
        lights.append((kind.measured, flux))
    return mixed_spectrum(lights) if sum(fluxes) > 0.0 else None


class Mixture(Mapping[str, float | None]):
    """Colour figures of a mixture, worked out no sooner than they are looked at; None is not known."""

    def __init__(self, kinds: Sequence[Emitter], fluxes: Sequence[float], reference: str | None) -> None:
        self.kinds, self.fluxes, self._reference = tuple(kinds), tuple(fluxes), reference
        self._hue: dict[str, float | None] | None = None

    def __getitem__(self, figure: str) -> float | None:
        if figure in HUE:
            if self._hue is None:
                self._hue = self._worked_out()
            return self._hue[figure]
        spectrum = spectrum_of(self.kinds, self.fluxes)
        if figure == "ssi":
            known = spectrum is not None and self._reference is not None
            return spectral_similarity(spectrum, self._reference or "") if known and spectrum is not None else None
        return None if spectrum is None else figure_of_spectrum(spectrum, figure)

    def _worked_out(self) -> dict[str, float | None]:
        whites = [white_of(kind) for kind in self.kinds]
        if not sum(self.fluxes) > 0.0 or any(each is None for each in whites):
            return dict.fromkeys(HUE)
        total = np.array(self.fluxes) @ np.array(whites)
        cct, duv = temperature_and_duv(total).tolist()
        return {"cct": cct, "duv": duv} if np.isfinite(cct) else dict.fromkeys(HUE)

    def __iter__(self) -> Iterator[str]:
        return iter((*FIGURES, "ssi"))

    def __len__(self) -> int:
        return len(FIGURES) + 1
