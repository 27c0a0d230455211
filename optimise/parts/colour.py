"""What colour an emitter's light is: worked out from its spectrum where it has one, else as its row states it.

This is the only place that knows colour-science, an optional extra. It is imported where a spectrum is first used and
not before: it takes about a second. Distributions are made anew for every call of it, since some of its functions
re-shape the one they are given, and a second figure would then be that of another spectrum.
"""

import math
import warnings
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from optimise.parts.emitters import Emitter
from optimise.parts.spectrum_files import Spectrum

INSTALL = "pip install 'rushlight[spectra]'"

FARTHEST = 0.05
"""|Duv| beyond which a correlated colour temperature means nothing (CIE 15:2018, 9.5)."""

Floats = NDArray[np.float64]
Pair = tuple[float | None, float | None]


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


def figure_of(emitter: Emitter, figure: str) -> float | None:
    """Return one of `FIGURES` of an emitter, as `colour_of` does, working out no more than it takes.

    Raises KeyError where there is no such figure.
    """
    if emitter.measured is None or library_version() is None:
        stated: dict[str, float | None] = {name: getattr(emitter, name) for name in FIGURES}
        return stated[figure]
    return figure_of_spectrum(emitter.measured, figure)


def figure_of_spectrum(spectrum: Spectrum, figure: str) -> float | None:
    """Return one of `FIGURES` of a spectrum, working out no more than it takes. Raises KeyError for any other name."""
    place, work = _WORK[figure]
    return work(spectrum)[place]


def is_white(emitter: Emitter) -> bool:
    """Whether an emitter has a colour temperature that means something."""
    cct, duv = figure_of(emitter, "cct"), figure_of(emitter, "duv")
    return cct is not None and 1000.0 <= cct <= 25000.0 and abs(duv or 0.0) <= FARTHEST


def colour_of_spectrum(spectrum: Spectrum) -> Colour:
    """Return the colour figures of a spectrum; those that mean nothing for it are None.

    CCT and Duv by Ohno (LEUKOS 10, 2013), Ra and R9 by CIE 13.3-1995, Rf and Rg by ANSI/IES TM-30-20 (as CIE
    224:2017), all of 380 nm to 780 nm; where the spectrum ends within, the rest counts as nothing.
    """
    return Colour(*_white_of(spectrum), *_rendering_of(spectrum), *_fidelity_of(spectrum), measured=True)


def colour_of_mixture(lights: Iterable[tuple[Spectrum, float]]) -> Colour:
    """Return the colour figures of spectra mixed, each with its luminous flux in lm: those of the summed spectrum.

    Raises ValueError where there is no light, or a flux is below 0.
    """
    return colour_of_spectrum(mixed_spectrum(lights))


def mixed_spectrum(lights: Iterable[tuple[Spectrum, float]]) -> Spectrum:
    """Return the sum of spectra, each with its luminous flux in lm, from 380 nm to 780 nm.

    Raises ValueError where there is no light, or a flux is below 0.
    """
    given = list(lights)
    mixed = [(*on_grid(spectrum.wavelengths, spectrum.values), flux) for spectrum, flux in given]
    if not all(flux >= 0.0 for _, _, flux in mixed):
        raise ValueError("a flux is not below 0")
    # The finest of their grids: all of 5 nm stay so, as each would alone.
    finest = max((grid for grid, _, _ in mixed), key=len, default=np.zeros(0))
    total = np.zeros(len(finest))
    for grid, power, flux in mixed:
        total += np.interp(finest, grid, power) * (flux / tristimulus(grid, power)[1])
    if not total.any():
        raise ValueError("there is no light")
    whole = math.fsum(flux for _, _, flux in mixed)
    # Two mixtures are equal where their lights and shares are.
    digest = " + ".join(f"{flux / whole!r} {spectrum.digest}" for spectrum, flux in given)
    name = " + ".join(spectrum.name for spectrum, _ in given)
    return Spectrum(name, digest, tuple(finest.tolist()), tuple(total.tolist()))


@lru_cache(maxsize=4096)
def tristimulus_of(spectrum: Spectrum) -> tuple[float, float, float] | None:
    """Return X, Y, Z of each lumen of a spectrum (CIE 1931, 2°); None where it has no correlated colour temperature."""
    if _white_of(spectrum)[0] is None:
        return None
    x, y, z = tristimulus(*on_grid(spectrum.wavelengths, spectrum.values))
    return x / y, 1.0, z / y


_UNKNOWN: Pair = (None, None)


def _white(grid: Floats, power: Floats) -> Pair:
    """Return CCT, K, and Duv."""
    colour = library()
    x, y, z = tristimulus(grid, power)
    total = x + 15.0 * y + 3.0 * z
    if not math.isfinite(total) or total <= 0.0 or y <= 0.0:
        return _UNKNOWN
    with warnings.catch_warnings(), np.errstate(all="ignore"):
        warnings.simplefilter("ignore")
        try:
            uv = np.array([4.0 * x / total, 6.0 * y / total])
            cct, duv = (float(v) for v in colour.temperature.uv_to_CCT_Ohno2013(uv))
        except Exception:  # what is too far from the locus fails in many ways, which all mean that there is no CCT
            return _UNKNOWN
    return (cct, duv) if 1000.0 <= cct <= 25000.0 and abs(duv) <= FARTHEST else _UNKNOWN


def _rendering(grid: Floats, power: Floats) -> Pair:
    """Return Ra and R9 of a light that has a CCT."""
    with warnings.catch_warnings(), np.errstate(all="ignore"):
        warnings.simplefilter("ignore")
        found = library().colour_rendering_index(distribution(grid, power), additional_data=True)
    return _finite(found.Q_a), _finite(found.Q_as[9].Q_a)


def _fidelity(grid: Floats, power: Floats) -> Pair:
    """Return Rf and Rg of a light that has a CCT."""
    with warnings.catch_warnings(), np.errstate(all="ignore"):
        warnings.simplefilter("ignore")
        quality = library().quality
        found = quality.colour_fidelity_index_ANSIIESTM3018(distribution(grid, power), additional_data=True)
    return _finite(found.R_f), _finite(found.R_g)


@lru_cache(maxsize=4096)
def _white_of(spectrum: Spectrum) -> Pair:
    return _white(*on_grid(spectrum.wavelengths, spectrum.values))


@lru_cache(maxsize=4096)
def _rendering_of(spectrum: Spectrum) -> Pair:
    if _white_of(spectrum)[0] is None:
        return _UNKNOWN
    return _rendering(*on_grid(spectrum.wavelengths, spectrum.values))


@lru_cache(maxsize=4096)
def _fidelity_of(spectrum: Spectrum) -> Pair:
    if _white_of(spectrum)[0] is None:
        return _UNKNOWN
    return _fidelity(*on_grid(spectrum.wavelengths, spectrum.values))


_WORK = {
    "cct": (0, _white_of),
    "duv": (1, _white_of),
    "cri": (0, _rendering_of),
    "r9": (1, _rendering_of),
    "rf": (0, _fidelity_of),
    "rg": (1, _fidelity_of),
}
"""Which of a pair each figure is: a search that asks for colour temperatures alone works out no more than those."""


def _finite(value: Any) -> float | None:
    return float(value) if math.isfinite(float(value)) else None


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
    observer = library().MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    return np.column_stack([np.array(observer.wavelengths), np.array(observer.values)])


@cache
def library() -> Any:
    """Return colour-science, imported on the first call. Raises ImportError where it is not installed."""
    with warnings.catch_warnings():
        # It warns on import of what it cannot draw without another library, which nothing here asks for.
        warnings.simplefilter("ignore")
        import colour
    return colour


def distribution(wavelengths: Floats, values: Floats) -> Any:
    """Return a distribution of the library, new with each call."""
    colour = library()
    # Left alone, an even grid would be curved between its points, as no table of a lamp with lines is meant.
    pairs = dict(zip(wavelengths.tolist(), values.tolist(), strict=True))
    return colour.SpectralDistribution(pairs, interpolator=colour.LinearInterpolator)


def even(wavelengths: tuple[float, ...], values: tuple[float, ...]) -> tuple[Floats, Floats]:
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
    waves, power = even(wavelengths, values)
    step = float(waves[1] - waves[0])
    grid = np.arange(380.0, 780.0 + step / 2, step)
    full = np.zeros(len(grid))
    inside = (waves >= 380.0) & (waves <= 780.0)
    full[np.searchsorted(grid, waves[inside])] = power[inside]
    return grid, full
