"""How like a light is to one that it must match: the spectral similarity index SSI (SMPTE ST 2122)."""

import re
import warnings
from functools import lru_cache
from typing import Literal

import numpy as np

from optimise.parts.colour import distribution, even, library, library_version
from optimise.parts.emitters import Emitter
from optimise.parts.spectrum_files import Spectrum

ILLUMINANTS = ("A", "C", "D50", "D55", "D65", "D75", "E")
"""CIE illuminants that may be a reference of SSI."""
REFERENCES = f"daylight or tungsten with a temperature, as 'daylight 5600 K', or {', '.join(ILLUMINANTS)}"

_REFERENCE = re.compile(r"(daylight|tungsten|planckian)\s+(\d{4,5}(?:\.\d+)?)\s*K")
_SPANS = {"daylight": (4000.0, 25000.0), "tungsten": (1000.0, 25000.0), "planckian": (1000.0, 25000.0)}


def reference_of(text: str) -> str | tuple[Literal["daylight", "planckian"], float] | None:
    """Return a reference of SSI as it is named: an illuminant, or (kind, K); None where there is no such reference."""
    word = " ".join(text.split())
    if word in ILLUMINANTS:
        return word
    match = _REFERENCE.fullmatch(word)
    if match is None:
        return None
    low, high = _SPANS[match[1]]
    temperature = float(match[2])
    if not low <= temperature <= high:
        return None
    return ("daylight" if match[1] == "daylight" else "planckian"), temperature


def similarity(emitter: Emitter, reference: str) -> float | None:
    """Return SSI to a reference (SMPTE ST 2122:2020), a whole number; None where no spectrum is worked out.

    Raises ValueError where `reference_of` knows no such reference.
    """
    if emitter.measured is None or library_version() is None:
        return None
    return spectral_similarity(emitter.measured, reference)


@lru_cache(maxsize=4096)
def spectral_similarity(spectrum: Spectrum, reference: str, *, rounded: bool = True) -> float:
    """Return SSI of a spectrum to a reference, rounded to a whole number as the standard has it, or not.

    Raises ValueError where `reference_of` knows no such reference.
    """
    meant = reference_of(reference)
    if meant is None:
        raise ValueError(f"no reference {reference!r}")
    colour = library()
    with warnings.catch_warnings(), np.errstate(all="ignore"):
        warnings.simplefilter("ignore")
        shape = colour.SpectralShape(300, 830, 1)
        if isinstance(meant, str):
            ideal = colour.SDS_ILLUMINANTS[meant].copy()
        elif meant[0] == "planckian":
            ideal = colour.sd_blackbody(meant[1], shape)
        else:
            xy = colour.temperature.CCT_to_xy_CIE_D(meant[1])
            ideal = colour.sd_CIE_illuminant_D_series(xy, shape=shape)
        wavelengths, values = even(spectrum.wavelengths, spectrum.values)
        test = distribution(wavelengths, values)
        return float(colour.spectral_similarity_index(test, ideal, round_result=rounded))
