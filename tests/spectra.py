"""Spectra as files: those of CIE illuminants, and the structure of IES TM-27 around any."""

import warnings
from collections.abc import Iterable, Sequence
from pathlib import Path

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import colour

from optimise.parts.spectrum_files import Spectrum

Points = Sequence[tuple[float, float]]


def illuminant(name: str) -> Points:
    """Return wavelength, nm, and value of a CIE illuminant, as colour-science keeps CIE's tables."""
    table = colour.SDS_ILLUMINANTS[name].copy()
    return list(zip(table.wavelengths.tolist(), table.values.tolist(), strict=True))


def spectrum_of(name: str) -> Spectrum:
    """Return the spectrum of a CIE illuminant as reading its file would."""
    waves, values = zip(*illuminant(name), strict=True)
    return Spectrum(f"{name}.csv", f"of {name}", waves, values)


def as_csv(points: Iterable[tuple[float, float]]) -> str:
    """Return a spectrum as two columns of CSV."""
    return "wavelength [nm],value\n" + "".join(f"{wave!r},{value!r}\n" for wave, value in points)


def as_tm27(points: Iterable[tuple[float, float]], quantity: str = "relative") -> str:
    """Return a spectrum in the structure of IES TM-27-14; everything said in its header is invented."""
    data = "".join(f'    <SpectralData wavelength="{wave!r}">{value!r}</SpectralData>\n' for wave, value in points)
    return f"""\
<?xml version="1.0" encoding="UTF-8"?>
<IESTM2714 xmlns="iestm2714" version="1.0">
  <Header>
    <Manufacturer>Invented for the tests</Manufacturer>
    <CatalogNumber>NONE-1</CatalogNumber>
    <Description>Written for the tests &amp; measured by no one</Description>
    <DocumentCreator>Invented</DocumentCreator>
    <UniqueIdentifier>NONE-1</UniqueIdentifier>
    <ReportDate>2031-01-31</ReportDate>
    <DocumentCreationDate>2031-01-31</DocumentCreationDate>
  </Header>
  <SpectralDistribution>
    <SpectralQuantity>{quantity}</SpectralQuantity>
    <BandwidthFWHM>2.0</BandwidthFWHM>
    <BandwidthCorrected>true</BandwidthCorrected>
{data}  </SpectralDistribution>
</IESTM2714>
"""


def write_illuminant(folder: Path, name: str, ending: str = ".csv") -> str:
    """Write the spectrum of a CIE illuminant into `spectra` of a folder; return the name that a cell gives it."""
    (folder / "spectra").mkdir(exist_ok=True)
    text = as_csv(illuminant(name)) if ending == ".csv" else as_tm27(illuminant(name))
    (folder / "spectra" / f"{name}{ending}").write_text(text, encoding="utf-8")
    return f"spectra/{name}{ending}"
