"""Spectra from files: what is read, and the exact fault of what is not."""

import hashlib
import os
import random
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from spectra import as_csv, as_tm27, illuminant

from optimise.parts.beside import file_beside
from optimise.parts.faults import Collector, Fault
from optimise.parts.spectrum_files import MAX_BYTES, MAX_POINTS, MOST_TOLD, Spectrum, read_spectrum

POINTS = [(wave, 1.0 + wave / 1000.0) for wave in range(380, 785, 5)]
LINES = as_csv(POINTS).splitlines()


def read(folder: Path, text: str | bytes, name: str = "a.csv") -> tuple[Spectrum | None, list[Fault]]:
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    faults = Collector()
    return read_spectrum(path, name, faults), faults.faults


def only(folder: Path, text: str | bytes, name: str = "a.csv") -> Fault:
    spectrum, faults = read(folder, text, name)
    assert spectrum is None
    (fault,) = faults
    assert fault.file == name
    return fault


def changed(number: int, line: str) -> str:
    """Return the sound CSV with another line, counted as an editor does."""
    return "\n".join([*LINES[: number - 1], line, *LINES[number:]])


@pytest.mark.parametrize("name", ["a.csv", "a.spdx", "a.SPDX"])
def test_both_forms_give_what_was_written(tmp_path: Path, name: str) -> None:
    text = as_csv(illuminant("FL2")) if name.endswith("csv") else as_tm27(illuminant("FL2"))
    spectrum, faults = read(tmp_path, text, name)
    assert (faults, spectrum is None) == ([], False)
    assert spectrum is not None
    assert list(zip(spectrum.wavelengths, spectrum.values, strict=True)) == illuminant("FL2")
    assert spectrum.digest == hashlib.sha256(text.encode()).hexdigest()
    assert (spectrum.largest_step, spectrum.cut) == (5.0, False)


def test_a_csv_may_have_comments_blank_lines_and_no_header(tmp_path: Path) -> None:
    text = "# measured, by no one\n\n" + "\r\n".join(f" {w} , {v:.3e} " for w, v in POINTS)
    spectrum, faults = read(tmp_path, b"\xef\xbb\xbf" + text.encode())
    assert faults == []
    assert spectrum is not None
    assert spectrum.values[0] == pytest.approx(1.38)


def test_a_quantity_may_be_in_capitals(tmp_path: Path) -> None:
    assert read(tmp_path, as_tm27(POINTS, "Flux"), "a.spdx")[1] == []


def test_a_later_edition_and_any_namespace_are_read(tmp_path: Path) -> None:
    text = as_tm27(POINTS).replace("IESTM2714", "IESTM2720").replace('xmlns="iestm2714"', 'xmlns="urn:other"')
    assert read(tmp_path, text, "a.spdx")[1] == []


def test_a_spectrum_that_ends_in_the_light_is_known_to(tmp_path: Path) -> None:
    for low, high, cut in [(380, 780, False), (385, 780, True), (380, 775, True), (300, 900, False)]:
        spectrum = read(tmp_path, as_csv((w, 1.0) for w in range(low, high + 5, 5)))[0]
        assert spectrum is not None
        assert spectrum.cut is cut
    fading = read(tmp_path, as_csv((w, 0.005 if w < 410 else 1.0) for w in range(400, 785, 5)))[0]
    assert fading is not None
    assert not fading.cut


def test_noise_below_nothing_counts_as_nothing(tmp_path: Path) -> None:
    spectrum, faults = read(tmp_path, changed(2, "380,-0.0178"))  # 1 % of the peak, 1.78
    assert faults == []
    assert spectrum is not None
    assert spectrum.values[0] == 0.0
    fault = only(tmp_path, changed(2, "380,-0.0179"))
    assert (fault.row, fault.column, fault.read) == (2, "value", "-0.0179")


@pytest.mark.parametrize(
    ("line", "column", "seen", "allowed"),
    [
        ("390", "", "1 cell", "two: wavelength in nm, and value"),
        ("390;1", "", "1 cell", "two: wavelength in nm, and value"),
        ("390,1,2", "", "3 cells", "two: wavelength in nm, and value"),
        ("0.390,1", "wavelength", '"0.390"', "a wavelength in nm, from 100 to 5000"),
        ("385,1", "wavelength", '"385"', "more than the one before, 385"),
        ("390,one", "value", '"one"', "a finite number, with or without a unit"),
        ("390,1e999", "value", '"1e999"', "a finite number"),
        ("390,1e31", "value", '"1e31"', "at most 1e+30"),
        ("390,nan", "value", '"nan"', "a finite number, with or without a unit"),
        ("390,", "value", '""', "a finite number, with or without a unit"),
        ("390 nm,1", "wavelength", '"390 nm"', "a plain number"),
    ],
)
def test_a_fault_of_a_line_is_told_by_it(tmp_path: Path, line: str, column: str, seen: str, allowed: str) -> None:
    fault = only(tmp_path, changed(4, line))
    assert (fault.row, fault.column, fault.read, fault.allowed) == (4, column, seen, allowed)


def test_all_faults_are_told_at_once_and_at_most_so_many(tmp_path: Path) -> None:
    text = "\n".join([LINES[0], "380,x", "y,2", *LINES[3:]])
    assert [(f.row, f.column) for f in read(tmp_path, text)[1]] == [(2, "value"), (3, "wavelength")]
    faults = read(tmp_path, "\n".join(f"{w},x" for w in range(380, 780)))[1]
    assert len(faults) == MOST_TOLD + 1
    assert faults[-1].read == "350 faults more"


@pytest.mark.parametrize(
    ("text", "seen"),
    [
        ("", "0 values"),
        ("wavelength,value\n", "0 values"),
        ("\n".join(LINES[:15]), "14 values"),
        (as_csv([(w, 1.0) for w in range(405, 781)]), "wavelengths from 405 nm to 780 nm"),
        (as_csv([(w, 1.0) for w in range(380, 700)]), "wavelengths from 380 nm to 699 nm"),
        (as_csv([(w, 0.0) for w in range(380, 781)]), "values that give no light"),
        (as_csv([(w, 1e-31) for w in range(380, 781)]), "values that give no light"),
        (as_csv([(float(w), 1.0 if w < 390 else 0.0) for w in range(380, 781)]), "values that give no light"),
    ],
)
def test_what_is_no_spectrum_as_a_whole_is_refused(tmp_path: Path, text: str, seen: str) -> None:
    fault = only(tmp_path, text)
    assert (fault.row, fault.read) == (None, seen)


def test_a_header_in_another_unit_is_refused(tmp_path: Path) -> None:
    fault = only(tmp_path, changed(1, "wavelength [um],value"))
    assert (fault.row, fault.read, fault.allowed) == (1, '"wavelength [um]"', "wavelength in nm")


def test_sizes_are_limited(tmp_path: Path) -> None:
    assert only(tmp_path, b"#" * (MAX_BYTES + 1)).allowed == f"at most {MAX_BYTES}"
    many = as_csv((380.0 + i / 50.0, 1.0) for i in range(MAX_POINTS + 5))
    assert only(tmp_path, many).read == "more values"
    many = as_tm27((380.0 + i / 50.0, 1.0) for i in range(MAX_POINTS + 5))
    assert only(tmp_path, many, "a.spdx").read == "more values"


def test_other_endings_and_encodings_are_refused(tmp_path: Path) -> None:
    assert only(tmp_path, "x", "a.txt").read == 'a file that ends in ".txt"'
    assert only(tmp_path, as_csv(POINTS).encode("utf-16")).read == "UTF-16 text"
    fault = only(tmp_path, as_tm27(POINTS).replace("measured", "mesur\xe9").encode("latin-1"), "a.spdx")
    assert (fault.row, fault.read) == (6, "byte 0xe9, which is not UTF-8")


TM27 = as_tm27(POINTS)
BOMB = """<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">]>\n"""


@pytest.mark.parametrize(
    ("old", "new", "row", "seen"),
    [
        ("<IESTM2714", BOMB + "<IESTM2714", 2, "a document type (DOCTYPE)"),
        ("<IESTM2714", '<!DOCTYPE x SYSTEM "file:///etc/hosts"><IESTM2714', 2, "a document type (DOCTYPE)"),
        ("<IESTM2714", '<!DOCTYPE x SYSTEM "http://127.0.0.1:9/x.dtd"><IESTM2714', 2, "a document type (DOCTYPE)"),
        ("&amp;", "&nbsp;", 6, "broken XML (undefined entity)"),
        ("</Manufacturer>", "", 11, "broken XML (mismatched tag)"),
        ("IESTM2714 xmlns", "Spectrum xmlns", 2, 'the root element "Spectrum"'),
        ("relative", "transmittance", 13, 'the spectral quantity "transmittance"'),
        (' wavelength="380"', "", 16, "SpectralData without a wavelength"),
        ("  <Header>", '<SpectralData wavelength="380">1</SpectralData><Header>', 3, "SpectralData out of its place"),
        ("</IESTM2714>", "<SpectralDistribution/></IESTM2714>", 98, "a second spectral distribution"),
        ("Invented</D", "x" * 10_001 + "</D", 7, "a very long text"),
        ("Invented</D", "<a>" * 20 + "</D", 7, "elements within elements"),
    ],
)
def test_a_fault_of_xml_is_told_by_its_line(tmp_path: Path, old: str, new: str, row: int, seen: str) -> None:
    text = TM27.replace("IESTM2714", "Spectrum") if new.startswith("Spectrum") else TM27.replace(old, new, 1)
    assert text != TM27
    fault = only(tmp_path, text, "a.spdx")
    assert (fault.row, fault.read) == (row, seen)


def test_what_tm27_requires_is_missed(tmp_path: Path) -> None:
    text = TM27.replace("    <SpectralQuantity>relative</SpectralQuantity>\n", "")
    assert only(tmp_path, text, "a.spdx").read == "no element SpectralQuantity"
    reads = [fault.read for fault in read(tmp_path, '<IESTM2714 xmlns="iestm2714"/>', "a.spdx")[1]]
    assert reads == ["no element SpectralData", "no element SpectralDistribution", "no element SpectralQuantity"]


def test_a_value_of_xml_is_told_by_its_own_line(tmp_path: Path) -> None:
    fault = only(tmp_path, TM27.replace(">1.385<", ">\nmuch\n<"), "a.spdx")
    assert (fault.row, fault.column, fault.read) == (17, "value", '"much"')


@pytest.mark.parametrize(
    "name",
    [
        "/etc/passwd",
        "../a.csv",
        "spectra/../../a.csv",
        "spectra\\a.csv",
        "C:a.csv",
        "",
        ".",
        "a\x00.csv",
        "a\n.csv",
        "x" * 201,
    ],
)
def test_a_name_that_leads_out_is_no_file(tmp_path: Path, name: str) -> None:
    assert file_beside(tmp_path, name) is None


def test_a_link_that_leads_out_is_no_file(tmp_path: Path) -> None:
    inner = tmp_path / "catalogue"
    inner.mkdir()
    (tmp_path / "secret.csv").write_text("380,1")
    (inner / "out.csv").symlink_to(tmp_path / "secret.csv")
    (inner / "up").symlink_to(tmp_path)
    (inner / "round.csv").symlink_to(inner / "round.csv")
    (inner / "real.csv").write_text("380,1")
    (inner / "in.csv").symlink_to(inner / "real.csv")
    assert file_beside(inner, "out.csv") is None
    assert file_beside(inner, "up/secret.csv") is None
    looped = file_beside(inner, "round.csv")
    assert looped is None or not looped.is_file()
    assert file_beside(inner, "in.csv") == inner / "in.csv"
    assert file_beside(inner, "spectra/none.csv") == inner / "spectra" / "none.csv"


def spoil(data: bytes, rng: random.Random) -> bytes:
    """Return a file with bytes changed, cut, doubled or moved."""
    spoilt = bytearray(data)
    for _ in range(rng.randint(1, 8)):
        at, to = sorted(rng.randrange(len(spoilt) + 1) for _ in range(2))
        how = rng.randrange(5)
        if how == 0:
            spoilt[at:to] = b""
        elif how == 1:
            spoilt[at:at] = spoilt[at : min(to, at + 500)]
        elif how == 2 and at < len(spoilt):
            spoilt[at] = rng.randrange(256)
        elif how == 3:
            spoilt[at:at] = rng.choice(
                [b"<", b"&", b"]]>", b"<!--", b"<![CDATA[", b"<?x", b"1e308", b"-", b",", b'"', b"\n"]
            )
        else:
            spoilt[at:at] = rng.choice(
                [b"<!DOCTYPE a>", b"<!ENTITY a 'b'>", b"\xff\xfe", b"\x00", b"&#x10FFFF;", b"<a/>"]
            )
    return bytes(spoilt)


def never_breaks(folder: Path, rounds: int, seed: int) -> None:
    rng = random.Random(seed)
    sources = [("f.csv", as_csv(POINTS).encode()), ("f.spdx", TM27.encode())]
    for _ in range(rounds):
        name, data = rng.choice(sources)
        spectrum, faults = read(folder, spoil(data, rng), name)
        assert (spectrum is None) == bool(faults)
        assert len(faults) <= MOST_TOLD + 1


def test_spoilt_files_are_read_or_told(tmp_path: Path) -> None:
    never_breaks(tmp_path, 100, 1)


@pytest.mark.long
def test_many_spoilt_files_are_read_or_told(tmp_path: Path) -> None:
    never_breaks(tmp_path, 40_000, int(os.environ.get("SEED", "2")))


@given(data=st.binary(max_size=300), name=st.sampled_from(["h.csv", "h.spdx"]))
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_bytes_are_told(tmp_path: Path, data: bytes, name: str) -> None:
    spectrum, faults = read(tmp_path, data, name)
    assert spectrum is None
    assert faults
