"""A supplier's own price list: read as its mapping says, and not otherwise. All names are invented."""

import re
from pathlib import Path

import pytest
from sample_files import TABLES, faults_of, spoilt, write

from optimise.parts import Fault, InputError, read_catalogue
from optimise.parts.price_list import Offers, plain_number, read_price_list
from optimise.parts.price_map import read_map

MAP = """\
supplier = "north"
currency = "EUR"
decimal = ","
thousands = "."
delimiter = ";"
encoding = "cp1252"

[columns]
price = "Preis €"
part = "Artikel"
lead_time = "Lieferzeit"
pack = "VPE"
stock = "Lager"

[parts]
"B/1" = "BAR"
"#2" = "TUBE"
"gone" = "STRIP"

[units]
lead_time = "week"
"""
LIST = """\
Lager;Artikel;Text;Preis €;VPE;Lieferzeit
1.200;B/1;"A bar; long";1.234,50;10;2
;X9;not ours;abc;1;
40;#2;a tube;7,1;;1,5
"""


def read(folder: Path, text: str = LIST, mapping: str = MAP, encoding: str = "cp1252") -> Offers:
    (folder / "list.csv").write_bytes(text.encode(encoding))
    (folder / "map.toml").write_text(mapping, encoding="utf-8")
    return read_price_list(folder / "list.csv", read_map(folder / "map.toml"))


def faults(folder: Path, text: str = LIST, mapping: str = MAP, encoding: str = "cp1252") -> tuple[Fault, ...]:
    with pytest.raises(InputError) as caught:
        read(folder, text, mapping, encoding)
    return caught.value.faults


def test_a_list_becomes_rows_of_offers(tmp_path: Path) -> None:
    offers = read(tmp_path)
    assert offers.text.splitlines() == [
        "part,supplier,price [EUR],pack,stock,lead_time [week]",
        "BAR,north,1234.50,10,1200,2",
        "TUBE,north,7.1,,40,1.5",
    ]
    assert (offers.rows, offers.skipped, offers.absent) == (2, 1, ("gone",))


def test_the_rows_are_sound_offers_of_a_catalogue(tmp_path: Path) -> None:
    text = read(tmp_path).text
    (tmp_path / "catalogue").mkdir()
    folder = write(tmp_path / "catalogue", {**TABLES, "offers": text})
    assert faults_of(folder) == ()
    (bar,), (tube,) = (read_catalogue(folder).offers[code] for code in ("BAR", "TUBE"))
    assert (bar.price, bar.pack, bar.stock, bar.lead_time) == (123450, 10, 1200, 14 * 86400)
    assert (tube.price, tube.lead_time) == (710, 10.5 * 86400)


def test_without_parts_their_codes_are_ours(tmp_path: Path) -> None:
    mapping = re.sub(r"\[parts\](?s:.*?)\n\n", "", MAP)
    text = LIST.replace("#2", "T2").replace("abc", "1")
    assert [line.split(",")[0] for line in read(tmp_path, text, mapping).text.splitlines()[1:]] == ["B/1", "X9", "T2"]
    (fault,) = faults(tmp_path, LIST.replace("abc", "1"), mapping)
    assert (fault.row, fault.column, fault.read) == (4, 'column "Artikel"', '"#2"')


@pytest.mark.parametrize("delimiter", [",", "tab"])
def test_other_separators_as_stated(tmp_path: Path, delimiter: str) -> None:
    sign = {"tab": "\t"}.get(delimiter, delimiter)
    mapping = MAP.replace('";"', f'"{delimiter}"').replace('decimal = ","', 'decimal = "."')
    mapping = mapping.replace('thousands = "."', 'thousands = "\'"').replace("cp1252", "utf-8")
    rows = [["Artikel", "Preis €", "Lager", "VPE", "Lieferzeit"], ["B/1", "1'234.50", "3", "1", "2"]]
    text = "\n".join(sign.join(row) for row in rows)
    assert read(tmp_path, text, mapping, "utf-8").text.splitlines()[1] == "BAR,north,1234.50,1,3,2"


def test_all_faults_are_told_at_once_in_their_words(tmp_path: Path) -> None:
    text = LIST.replace("1.234,50", "1,234.50").replace("7,1;;1,5", "7,123;0;-1") + "5;B/1;x;;1;2;more\n1;B/1;x;;1;2\n"
    found = [(fault.file, fault.row, fault.column, fault.read) for fault in faults(tmp_path, text)]
    assert found == [
        ("list.csv", 2, 'column "Preis €"', '"1,234.50"'),
        ("list.csv", 4, 'column "Lieferzeit"', '"-1"'),
        ("list.csv", 4, 'column "Preis €"', '"7.123"'),
        ("list.csv", 4, 'column "VPE"', '"0"'),
        ("list.csv", 5, "", "7 cells"),
        ("list.csv", 6, 'column "Preis €"', "a blank cell"),
    ]


def test_a_number_that_does_not_fit_says_what_would(tmp_path: Path) -> None:
    (fault,) = faults(tmp_path, LIST.replace("1.234,50", "12.34"))
    assert fault.allowed == 'a plain number with "," before decimals, "." between thousands'


@pytest.mark.parametrize(
    ("text", "decimal", "thousands", "number"),
    [
        ("1.234,5", ",", ".", "1234.5"),
        ("1234,5", ",", ".", "1234.5"),
        ("1.234", ",", ".", "1234"),
        ("1.23", ",", ".", None),
        ("1.2345", ",", ".", None),
        ("12.34.567", ",", ".", None),
        ("1,234", ",", "", "1.234"),
        ("1,234", ".", "", None),
        ("1,234.00", ".", ",", "1234.00"),
        ("1\u00a0234\u202f567", ".", " ", "1234567"),
        ("-1'000.5", ".", "'", "-1000.5"),
        ("4,60 €", ",", ".", None),
        (",5", ",", "", None),
        ("5,", ",", "", None),
        ("1e5", ".", "", None),
        ("٣", ".", "", None),
        ("", ".", "", None),
    ],
)
def test_a_number_is_read_by_its_separators_alone(text: str, decimal: str, thousands: str, number: str | None) -> None:
    assert plain_number(text, decimal, thousands) == number


@pytest.mark.parametrize(
    ("old", "new", "key", "read"),
    [
        ('supplier = "north"', "", "supplier", "no such key"),
        ('supplier = "north"', "supplier = 3", "supplier", '"3"'),
        ('"north"', '"own"', "supplier", '"own"'),
        ('"EUR"', '"euro"', "currency", '"euro"'),
        ('decimal = ","', 'decimal = "."', "thousands", '"."'),
        ('decimal = ","', 'decimal = ";"', "decimal", '";"'),
        ("thousands", "thousand", "thousands", "no such key"),
        ('";"', '"|"', "delimiter", '"|"'),
        ("cp1252", "latin", "encoding", '"latin"'),
        ('price = "Preis €"', "", "columns.price", "no such key"),
        ('pack = "VPE"', 'pak = "VPE"', "columns.pak", "an unknown column"),
        ('"VPE"', '"Lager"', "columns", '"Lager" for more than one column'),
        ('"BAR"', "1", "parts.B/1", '"1"'),
        ('lead_time = "week"', "", "units.lead_time", "no such key"),
        ('"week"', '"kg"', "units.lead_time", '"kg"'),
        ('"week"', '"week"\npack = "m"', "units.pack", '"m"'),
        ("[columns]", "[colums]", "columns", "no such section"),
    ],
)
def test_a_mapping_that_leaves_something_open_is_refused(
    tmp_path: Path, old: str, new: str, key: str, read: str
) -> None:
    found = faults(tmp_path, mapping=spoilt(MAP, old, new))
    assert (f"key {key}", read) in [(fault.column, fault.read) for fault in found]
    assert {fault.file for fault in found} == {"map.toml"}


def test_broken_files_are_told(tmp_path: Path) -> None:
    assert faults(tmp_path, mapping="a = = 1")[0].row == 1
    assert faults(tmp_path, mapping=MAP.replace("cp1252", "utf-8"))[0].row == 1
    assert faults(tmp_path, LIST + '"open;')[-1].read.startswith("broken CSV")
    assert faults(tmp_path, "")[0].read == "no such column"
    (fault,) = faults(tmp_path, LIST.replace("Preis €", "Preise €", 1))
    assert (fault.row, fault.read, fault.mend) == (1, "no such column", 'Did you mean "Preise €"?')
    (fault,) = faults(tmp_path, LIST.replace("Text", "VPE"))
    assert fault.read == "the column 2 times"
    (fault,) = faults(tmp_path, LIST.replace("B/1", "B1").replace("#2", "2"))
    assert fault.read == "no row of an offer"
    assert fault.mend.startswith("3 rows were skipped")
