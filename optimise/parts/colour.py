"""What colour an emitter's light is: worked out from its spectrum where it has one, else as its row states it.

This is the only place that knows colour-science, an optional extra. It is imported where a spectrum is first used and
not before: it takes about a second. Distributions are made anew for every call of it, since some of its functions
re-shape the one they are given, and a second figure would then be that of another spectrum.
"""

import math
import re
import warnings
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from optimise.parts.kinds import Emitter
from optimise.parts.spectrum_files import Spectrum

INSTALL = "pip install 'rushlight[spectra]'"

ILLUMINANTS = ("A", "C", "D50", "D55", "D65", "D75", "E")
"""CIE illuminants that may be a reference of SSI."""
REFERENCES = f"daylight or tungsten with a temperature, as 'daylight 5600 K', or {', '.join(ILLUMINANTS)}"
FARTHEST = 0.05
"""|Duv| beyond which a correlated colour temperature means nothing (CIE 15:2018, 9.5)."""

_REFERENCE = re.compile(r"(daylight|tungsten|planckian)\s+(\d{4,5}(?:\.\d+)?)\s*K")
_SPANS = {"daylight": (4000.0, 25000.0), "tungsten": (1000.0, 25000.0), "planckian": (1000.0, 25000.0)}

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Colour:
    """Colour figures of one light; None is not known."""

    cct: float | None
    """Correlated colour temperature, K (Ohno 2013)."""
    duv: float | None
    cri: float | None
    """General colour rendering index Ra (CIE 13.3)."""
    r9: float | None
    rf: float | None
    """Fidelity index (ANSI/IES TM-30-20)."""
    rg: float | None
    measured: bool
    """Whether all figures are worked out from a spectrum, rather than stated."""


FIGURES = ("cct", "duv", "cri", "r9", "rf", "rg")

NOTABLE = {"duv": 0.002, "cri": 3.0, "r9": 10.0, "rf": 3.0, "rg": 3.0}
"""By how much a stated figure may differ from that of the spectrum before it is told (common practice, no source)."""
NOTABLE_MIRED = 5.0
"""The same for colour temperatures, in mired: half of the least filter that is seen (common practice, no source)."""


@cache
def library_version() -> str | None:
    """Return the version of colour-science, None where it is not installed."""
    from importlib.metadata import PackageNotFoundError, version  # here, since it takes some ms to import

    try:
        return version("colour-science")
    except PackageNotFoundError:
        return None


def spectra_worked_out_by(emitters: Iterable[Emitter]) -> str | None:
    """Return the version of colour-science where one of these emitters has a spectrum and it is installed."""
    return library_version() if any(emitter.measured is not None for emitter in emitters) else None


def worked_out(emitter: Emitter) -> bool:
    """Whether an emitter's colour figures are those of its spectrum."""
    return emitter.measured is not None and library_version() is not None


def colour_of(emitter: Emitter) -> Colour:
    """Return the colour figures of an emitter: all from its spectrum, or all as stated."""
    if emitter.measured is not None and library_version() is not None:
        return colour_of_spectrum(emitter.measured)
    return Colour(emitter.cct, emitter.duv, emitter.cri, emitter.r9, emitter.rf, emitter.rg, measured=False)


def differences(emitter: Emitter) -> list[tuple[str, float, float | None]]:
    """Return (figure, stated, worked out) where the two differ notably."""
    if not worked_out(emitter):
        return []
    colour, found = colour_of(emitter), list[tuple[str, float, float | None]]()
    for name in FIGURES:
        stated, seen = getattr(emitter, name), getattr(colour, name)
        if stated is None:
            continue
        if seen is None:
            apart = True
        elif name == "cct":
            apart = abs(1e6 / stated - 1e6 / seen) > NOTABLE_MIRED
        else:
            apart = abs(stated - seen) > NOTABLE[name]
        if apart:
            found.append((name, stated, seen))
    return found


@lru_cache(maxsize=4096)
def colour_of_spectrum(spectrum: Spectrum) -> Colour:
    """Return the colour figures of a spectrum; those that mean nothing for it are None.

    CCT and Duv by Ohno (LEUKOS 10, 2013), Ra and R9 by CIE 13.3-1995, Rf and Rg by ANSI/IES TM-30-20 (as CIE
    224:2017), all of 380 nm to 780 nm; where the spectrum ends within, the rest counts as nothing.
    """
    return _figures(*on_grid(spectrum.wavelengths, spectrum.values))


def colour_of_mixture(lights: Iterable[tuple[Spectrum, float]]) -> Colour:
    """Return the colour figures of spectra mixed, each with its luminous flux in lm: those of the summed spectrum.

    Raises ValueError where there is no light, or a flux is below 0.
    """
    mixed = [(*on_grid(spectrum.wavelengths, spectrum.values), flux) for spectrum, flux in lights]
    if not all(flux >= 0.0 for _, _, flux in mixed):
        raise ValueError("a flux is not below 0")
    # The finest of their grids: all of 5 nm stay so, as each would alone.
    finest = max((grid for grid, _, _ in mixed), key=len, default=np.zeros(0))
    total = np.zeros(len(finest))
    for grid, power, flux in mixed:
        total += np.interp(finest, grid, power) * (flux / tristimulus(grid, power)[1])
    if not total.any():
        raise ValueError("there is no light")
    return _figures(finest, total)


def _figures(grid: Floats, power: Floats) -> Colour:
    colour = _library()
    x, y, z = tristimulus(grid, power)
    nothing = Colour(None, None, None, None, None, None, measured=True)
    total = x + 15.0 * y + 3.0 * z
    if not math.isfinite(total) or total <= 0.0 or y <= 0.0:
        return nothing
    with warnings.catch_warnings(), np.errstate(all="ignore"):
        warnings.simplefilter("ignore")
        try:
            uv = np.array([4.0 * x / total, 6.0 * y / total])
            cct, duv = (float(v) for v in colour.temperature.uv_to_CCT_Ohno2013(uv))
        except Exception:  # what is too far from the locus fails in many ways, which all mean that there is no CCT
            return nothing
        if not (1000.0 <= cct <= 25000.0 and abs(duv) <= FARTHEST):
            return nothing
        cri = colour.colour_rendering_index(_distribution(grid, power), additional_data=True)
        fidelity = colour.quality.colour_fidelity_index_ANSIIESTM3018(_distribution(grid, power), additional_data=True)
    return Colour(
        cct=cct,
        duv=duv,
        cri=_finite(cri.Q_a),
        r9=_finite(cri.Q_as[9].Q_a),
        rf=_finite(fidelity.R_f),
        rg=_finite(fidelity.R_g),
        measured=True,
    )


def _finite(value: Any) -> float | None:
    return float(value) if math.isfinite(float(value)) else None


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
    colour = _library()
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
        wavelengths, values = _even(spectrum.wavelengths, spectrum.values)
        test = _distribution(wavelengths, values)
        return float(colour.spectral_similarity_index(test, ideal, round_result=rounded))


def tristimulus(grid: Floats, power: Floats) -> tuple[float, float, float]:
    """Return X, Y, Z (CIE 1931, 2°) of power on an even grid of whole nm; Y in lm where power is in W/nm."""
    observer = _observer()[np.searchsorted(_observer()[:, 0], grid), 1:]
    step = float(grid[1] - grid[0])
    x, y, z = (683.002 * step * math.fsum(power * observer[:, i]) for i in range(3))
    return x, y, z


def efficiency(wavelengths: Floats) -> Floats:
    """Return V(λ), the luminous efficiency for photopic vision (CIE 1924), at wavelengths in nm; 0 outside."""
    observer = _observer()
    return np.asarray(np.interp(wavelengths, observer[:, 0], observer[:, 2], left=0.0, right=0.0))


@cache
def _observer() -> Floats:
    """Return wavelength, x̄, ȳ, z̄ of the CIE 1931 2° observer, from 360 nm to 830 nm by 1 nm."""
    observer = _library().MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    return np.column_stack([np.array(observer.wavelengths), np.array(observer.values)])


@cache
def _library() -> Any:
    with warnings.catch_warnings():
        # It warns on import of what it cannot draw without another library, which nothing here asks for.
        warnings.simplefilter("ignore")
        import colour
    return colour


def _distribution(wavelengths: Floats, values: Floats) -> Any:
    colour = _library()
    # Left alone, an even grid would be curved between its points, as no table of a lamp with lines is meant.
    pairs = dict(zip(wavelengths.tolist(), values.tolist(), strict=True))
    return colour.SpectralDistribution(pairs, interpolator=colour.LinearInterpolator)


def _even(wavelengths: tuple[float, ...], values: tuple[float, ...]) -> tuple[Floats, Floats]:
    """Return a spectrum as it is where its steps are 1 nm or 5 nm on whole steps, else at every whole nm between."""
    waves, power = np.array(wavelengths), np.array(values)
    for step in (1.0, 5.0):
        if np.all(np.diff(waves) == step) and waves[0] % step == 0.0:
            return waves, power
    # Between two lines of a spectrum a curve may swing below nothing: straight lines do not (CIE 167:2005).
    whole = np.arange(math.ceil(waves[0]), math.floor(waves[-1]) + 1, dtype=np.float64)
    return whole, np.interp(whole, waves, power)


def on_grid(wavelengths: tuple[float, ...], values: tuple[float, ...]) -> tuple[Floats, Floats]:
    """Return a spectrum from 380 nm to 780 nm, on its own grid of 1 nm or 5 nm or at every nm; 0 where it says nothing.

    wavelengths: nm, rising; values: as many.
    """
    waves, power = _even(wavelengths, values)
    step = float(waves[1] - waves[0])
    grid = np.arange(380.0, 780.0 + step / 2, step)
    full = np.zeros(len(grid))
    inside = (waves >= 380.0) & (waves <= 780.0)
    full[np.searchsorted(grid, waves[inside])] = power[inside]
    return grid, full
