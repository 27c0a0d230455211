"""What no file may do, whichever reader it is for: read another file, never end, use up the machine, act on a screen.

JSON: RFC 8259, section 6 (no NaN, no infinity) and section 4 (names ought to be unique); TOML 1.0. How many digits
Python turns into a number: its documentation of `sys.set_int_max_str_digits`.
"""

import os
from collections.abc import Callable
from pathlib import Path

import pytest
from sample_files import TABLES, faults_of, spoilt, write

from optimise.parts import Collector, Fault, InputError, read_catalogue
from optimise.parts.calibration import read_calibration
from optimise.parts.faults import MOST_FAULTS, nearest
from optimise.parts.photometry_files import read_photometric_file
from optimise.parts.price_list import read_price_list
from optimise.parts.price_map import PriceMap, read_map
from optimise.parts.spectrum_files import read_spectrum
from optimise.parts.text import MAX_BYTES, MAX_LINES, MAX_TOML, bytes_of, toml_tree
from optimise.parts.workbooks import open_book
from optimise.report.kit import read_build
from optimise.scenario import read_scenario
from optimise.studies.readings import read_measured

MAP = PriceMap("north", "EUR", ".", "", ",", "utf-8-sig", {"part": "a", "price": "b"}, None, {})


def collected(read: Callable[[Path, Collector], object]) -> Callable[[Path], object]:
    def raising(path: Path) -> object:
        faults = Collector()
        value = read(path, faults)
        faults.stop_if_any()
        return value

    return raising


def offers_of(path: Path) -> object:
    (path.parent / "catalogue").mkdir(exist_ok=True)
    return read_catalogue(write(path.parent / "catalogue"), path)


READERS: dict[str, Callable[[Path], object]] = {
    "offers.csv": offers_of,
    "book.xlsx": collected(open_book),
    "job.toml": read_scenario,
    "beam.ies": collected(lambda path, faults: read_photometric_file(path, path.name, faults)),
    "light.csv": collected(lambda path, faults: read_spectrum(path, path.name, faults)),
    "light.spdx": collected(lambda path, faults: read_spectrum(path, path.name, faults)),
    "record.json": read_build,
    "map.toml": read_map,
    "list.csv": lambda path: read_price_list(path, MAP),
    "figures.toml": collected(read_calibration),
    "readings.toml": collected(lambda path, faults: read_measured({}, None, path, "measure", faults)),
}
"""Every reader of a file that a user names, by such a name."""
TOML = ["job.toml", "map.toml", "figures.toml", "readings.toml"]


def told(path: Path) -> tuple[Fault, ...]:
    with pytest.raises(InputError) as caught:
        READERS[path.name](path)
    assert all(str(fault).isprintable() and len(str(fault)) < 2000 for fault in caught.value.faults)
    return caught.value.faults


def of_text(folder: Path, name: str, text: str | bytes) -> tuple[Fault, ...]:
    (folder / name).write_bytes(text if isinstance(text, bytes) else text.encode())
    return told(folder / name)


# --- What is no plain file ----------------------------------------------------------------------------------


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with a name on this system")
@pytest.mark.parametrize("name", READERS)
def test_a_pipe_is_not_waited_for(tmp_path: Path, name: str) -> None:
    os.mkfifo(tmp_path / name)
    (fault,) = told(tmp_path / name)
    assert fault.allowed in {"a plain file", "a folder of CSV files, or a workbook (.xlsx)"}


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="no such device on this system")
@pytest.mark.parametrize("name", READERS)
def test_a_device_without_end_is_not_read(tmp_path: Path, name: str) -> None:
    (tmp_path / name).symlink_to("/dev/zero")
    (fault,) = told(tmp_path / name)
    assert fault.read == "a device or a pipe"


@pytest.mark.parametrize("name", READERS)
def test_a_folder_in_place_of_a_file_is_told(tmp_path: Path, name: str) -> None:
    (tmp_path / name).mkdir()
    assert told(tmp_path / name)[0].allowed == "a readable file"


def test_a_folder_that_is_refused_is_not_kept_open(tmp_path: Path) -> None:
    def lowest_free() -> int:
        number = os.open(os.devnull, os.O_RDONLY)
        os.close(number)
        return number

    before = lowest_free()
    with pytest.raises(IsADirectoryError):
        bytes_of(tmp_path)
    assert lowest_free() <= before


@pytest.mark.parametrize("name", READERS)
def test_a_file_beyond_the_limit_is_told_and_not_read(tmp_path: Path, name: str) -> None:
    with (tmp_path / name).open("wb") as file:
        file.truncate(MAX_BYTES + 1)  # a hole takes no room on the disk
    (fault,) = told(tmp_path / name)
    assert (fault.read, fault.allowed) == (f"{MAX_BYTES + 1} bytes", f"at most {MAX_BYTES}")


def test_a_file_that_grows_while_it_is_read_has_the_same_limit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # Some files say that they are empty and are not, such as those of a system's own figures.
    monkeypatch.setattr("optimise.parts.text.MAX_BYTES", 99)
    if not Path("/proc/self/status").exists():
        pytest.skip("no such files on this system")
    (tmp_path / "job.toml").symlink_to("/proc/self/status")
    assert told(tmp_path / "job.toml")[0].allowed == "at most 99"


# --- Files that a cell names, and links ---------------------------------------------------------------------

NAMES = {
    "../outside.ies": "a name that leads out of the folder",
    "/etc/passwd": "a name that leads out of the folder",
    "light/../../outside.ies": "a name that leads out of the folder",
    "light\\a.ies": "a name that leads out of the folder",
    "out.ies": "a name that leads out of the folder",
    "up/outside.ies": "a name that leads out of the folder",
    "zero.ies": "a name that leads out of the folder",
    "pipe.ies": "which is no plain file",
    "folder.ies": "which is no plain file",
    "none.ies": "which is not there",
}


@pytest.mark.parametrize("column", ["photometry", "spectrum"])
@pytest.mark.parametrize("name", NAMES)
def test_no_cell_opens_what_is_not_below_the_tables(tmp_path: Path, column: str, name: str) -> None:
    folder = tmp_path / "catalogue"
    (folder / "folder.ies").mkdir(parents=True)
    (tmp_path / "outside.ies").write_text("secret")
    (folder / "out.ies").symlink_to(tmp_path / "outside.ies")
    (folder / "up").symlink_to(tmp_path)
    (folder / "zero.ies").symlink_to("/dev/zero")
    os.mkfifo(folder / "pipe.ies")
    header, first, *rest = TABLES["emitters"].split("\n")[1:]
    lines = [f"{header},{column}", f"{first},{name}", *(f"{line}," for line in rest if line)]
    (fault,) = faults_of(write(folder, {**TABLES, "emitters": "\n".join(lines)}))
    assert (fault.row, fault.column) == (2, f"column {column}")
    assert fault.read.endswith(NAMES[name])
    assert "secret" not in str(fault)


def test_a_table_that_is_a_link_out_of_the_folder_is_not_read(tmp_path: Path) -> None:
    folder = tmp_path / "catalogue"
    folder.mkdir()
    write(folder)
    (folder / "fuses.csv").rename(tmp_path / "secret.csv")
    (folder / "fuses.csv").symlink_to(tmp_path / "secret.csv")
    (fault,) = faults_of(folder)
    assert (fault.file, fault.read) == ("fuses.csv", "a link that leads out of the folder")
    (folder / "fuses.csv").unlink()
    (tmp_path / "secret.csv").rename(folder / "mine.txt")
    (folder / "fuses.csv").symlink_to("mine.txt")
    assert read_catalogue(folder).fuses


# --- Texts --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", [name for name in READERS if name not in {"book.xlsx", "beam.ies"}])
@pytest.mark.parametrize(
    ("data", "read"),
    [
        ("a = 1".encode("utf-16"), "UTF-16 text"),
        (b"a = 1\nb\x00 = 2", "a NUL byte"),
        (b"a = 1\n\xed\xa0\x80 = 2", "byte 0xed, which is not UTF-8"),
        (b"a = 1\n\xff\xfe = 2", "byte 0xff, which is not UTF-8"),
        ("é = 1\n".encode() + "é = 2".encode("latin-1"), "byte 0xe9, which is not UTF-8"),
    ],
    ids=["utf-16", "nul", "lone surrogate", "late mark", "mixed"],
)
def test_what_is_no_text_is_told_by_its_line(tmp_path: Path, name: str, data: bytes, read: str) -> None:
    (fault,) = of_text(tmp_path, name, data)
    assert fault.read == read
    assert fault.row == (None if "UTF-16" in read else 2)


@pytest.mark.parametrize("name", TOML)
@pytest.mark.parametrize(
    ("text", "read"),
    [
        ("." + ".".join(["a"] * 100_000) + " = 1", "a key of many steps"),
        ("[" + " . ".join(['"a b"'] * 100_000) + "]", "a key of many steps"),
        ("a = " + "[" * 10_000, "broken TOML"),
        ("a = " + "{a = " * 10_000, "broken TOML"),
        ("a = " + "9" * 5000, "broken TOML"),
        ("a = 1\na = 2", "broken TOML"),
    ],
    ids=["dotted key", "dotted section", "lists", "tables", "digits", "twice"],
)
def test_toml_that_would_take_for_ever_or_is_none_is_refused(tmp_path: Path, name: str, text: str, read: str) -> None:
    # Python's reader takes time by the square of a dotted key: 7 s for 20,000 steps, minutes for what stands here.
    (fault,) = of_text(tmp_path, name, text)
    assert fault.read.startswith(read)


def test_toml_has_a_size(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("optimise.parts.text.MAX_TOML", 20)
    assert MAX_TOML < MAX_BYTES
    (fault,) = of_text(tmp_path, "job.toml", "title = 'abcdefghijkl'")
    assert (fault.read, fault.allowed) == ("22 signs", "at most 20")


def test_dots_in_plain_text_are_no_steps_of_a_key() -> None:
    faults = Collector()
    text = 'a = "1. one, 2. two ... 3.14 and so on, e.g. this; i.e. that."\n' + "b.c.d.e = 1\n# " + "." * 500
    assert toml_tree(text, "t", faults)
    assert not faults.faults


@pytest.mark.parametrize("name", TOML)
@pytest.mark.parametrize("value", ["nan", "-inf", "1e999", "0x" + "f" * 50_000, "07:32:00", "{a=[{}]}", "[[[[]]]]"])
def test_a_value_that_no_key_takes_is_told_in_short(tmp_path: Path, name: str, value: str) -> None:
    # The time to write a number out goes by the square of its digits: half a minute for a million.
    keys = {
        "job.toml": "title = {0}\nlight = {0}\n[limits]\nbudget = {0}\n[look]\ncri_min = {0}",
        "map.toml": "supplier = {0}\ncurrency = {0}\ncolumns = {0}\n[parts]\na = {0}",
        "figures.toml": "schema = {0}\n[[figure]]\npart = {0}\nfigure = 'flux'\nvalue = {0}\nbehind = {0}",
        "readings.toml": "ambient = {0}\nlux = [{0}]\nboard = {0}",
    }[name]
    assert len(of_text(tmp_path, name, keys.format(value))) >= 2


@pytest.mark.parametrize("name", TOML)
def test_a_key_of_control_signs_or_of_thousands_is_told_in_short(tmp_path: Path, name: str) -> None:
    found = of_text(tmp_path, name, f'"\\u001b[31m\\u009b\\u202e" = 1\n{"k" * 5000} = 1')
    assert {fault.column[:12] for fault in found} >= {"key \\x1b[31m", "key kkkkkkkk"}
    assert all(len(fault.column) <= 160 for fault in found)


@pytest.mark.parametrize(
    ("text", "read"),
    [
        ('{"schema": NaN}', "the number NaN"),
        ('{"schema": [Infinity]}', "the number Infinity"),
        ('{"schema": -1e999}', "the number -1e999"),
        ('{"schema": 9007199254740992}', "the number 9007199254740992"),
        ('{"schema": ' + "9" * 5000 + "}", "broken JSON"),
        ('{"schema": "rushlight-record/1", "schema": "rushlight-kit/1"}', "a name twice"),
        ('{"schema": ["\\u001b[2J", "\\ud800"]}', "a list"),
        ('{"schema": "rushlight-record/1", "\\u001b[2J": 1}', "Field required"),
        ("[" * 100_000, "broken JSON"),
        ('{"a":' * 100_000, "broken JSON"),
        ("\ufeff\ufeff{}", "broken JSON"),
    ],
)
def test_json_that_is_none_is_refused(tmp_path: Path, text: str, read: str) -> None:
    (fault,) = of_text(tmp_path, "record.json", text)
    assert read in fault.read


# --- Tables -------------------------------------------------------------------------------------------------


def with_table(folder: Path, name: str, text: str | bytes) -> tuple[Fault, ...]:
    return faults_of(write(folder, {**TABLES, name: text}))


def test_a_line_of_ten_million_signs_is_refused(tmp_path: Path) -> None:
    (fault,) = with_table(tmp_path, "mounts", TABLES["mounts"] + "x" * 10_000_000)
    assert (fault.file, fault.row) == ("mounts.csv", 3)
    assert "field limit" in fault.read


def test_a_header_of_thousands_of_columns_is_refused_as_a_whole(tmp_path: Path) -> None:
    (fault,) = with_table(tmp_path, "mounts", ",".join(f"c{n}" for n in range(50_000)) + "\n")
    assert (fault.row, fault.read, fault.allowed) == (1, "50000 columns", "at most 256")


@pytest.mark.parametrize("line", ["\n", "# a comment\n", ",\n"])
def test_lines_without_end_are_refused(tmp_path: Path, line: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("optimise.parts.text.MAX_LINES", 500)
    assert MAX_LINES > 2 * 100_000
    found = with_table(tmp_path, "mounts", TABLES["mounts"] + line * 500)
    assert found == (Fault("mounts.csv", 501, "", "more lines", "at most 500 lines"),)
    assert not with_table(tmp_path, "mounts", TABLES["mounts"] + line * 498)


def test_a_file_of_nothing_but_faults_is_told_up_to_a_number(tmp_path: Path) -> None:
    found = with_table(tmp_path, "mounts", TABLES["mounts"] + "A,x,y\n" * 3000)
    assert len(found) == MOST_FAULTS + 1
    assert [fault.allowed for fault in found if "not read" in fault.mend] == ["fewer"]


def test_a_hint_among_thousands_of_codes_is_one_that_begins_alike() -> None:
    codes = [f"{letter}-{n:05}" for letter in ("LED", "DRV") for n in range(5000)]
    assert nearest("LED-00012x", codes) == 'Did you mean "LED-00012"?'
    assert nearest("XXX-00012", codes) == ""
    assert nearest("x" * 5000, ["x" * 4999]) == ""


def test_ends_of_lines_may_be_mixed_and_signs_of_direction_are_shown(tmp_path: Path) -> None:
    mixed = TABLES["mounts"].replace("\n", "\r\n", 1) + "ARM,5,0.5\rPOLE,4,0.4\r\n"
    assert {part.part for part in read_catalogue(write(tmp_path, {**TABLES, "mounts": mixed})).mounts} == {
        *("YOKE", "ARM", "POLE")
    }
    (fault,) = with_table(tmp_path, "mounts", spoilt(TABLES["mounts"], "load [kg]", "\u200fload [kg]"))[:1]
    assert "\\u200f" in str(fault)
