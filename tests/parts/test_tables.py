"""One bad cell, header or file at a time: the exact fault, and nothing else."""

import re
from pathlib import Path

import pytest
from sample_files import TABLES, faults_of, faults_with, spoilt, write

from optimise.parts import Fault, read_catalogue
from optimise.parts.columns import columns_of
from optimise.parts.emitters import Emitter
from optimise.parts.kinds import Battery, Panel

POINT = "a number with a decimal point"
NO_COMMA = "Write a point, not a comma, and no thousands separator."
CORRECT = "Correct the number or its unit."
FILL = "Fill the cell; nothing is assumed for it."
CODE = "a code of at most 80 signs without comma, semicolon or space in front"


def cell(name: str, old: str, new: str, row: int, column: str, read: str, allowed: str, mend: str = "") -> object:
    """Return one case: what is changed in which table, and the only fault that follows."""
    fault = Fault(f"{name}.csv", row, f"column {column}", read, allowed, mend)
    return pytest.param(name, old, new, fault, id=f"{name} {column} {read}"[:60])


HEADERS = [
    cell(
        "emitters",
        "flux [lm]",
        "flux [cd]",
        2,
        "flux",
        'unit "cd"',
        "luminous flux in lm, lumen, klm, kilolumen",
        CORRECT,
    ),
    cell(
        "panels",
        "mass [kg]",
        "mass [cm]",
        1,
        "mass",
        'unit "cm"',
        "mass in a unit such as g",
        "cm is a unit of another kind of quantity: correct the number or its unit.",
    ),
    cell(
        "panels",
        "mass [kg]",
        "mass [kilo]",
        1,
        "mass",
        'unit "kilo"',
        "mass in a unit such as g",
        '"kilo" is not a unit that is known.',
    ),
    cell(
        "panels",
        "material",
        "material [m]",
        1,
        "material",
        'unit "m"',
        "no unit in this column",
        "Take the unit out of the header.",
    ),
    cell("batteries", "peukert", "peukert [%]", 1, "peukert", 'unit "%"', "a plain number", CORRECT),
    cell(
        "panels",
        "material",
        "materiel",
        1,
        '"materiel"',
        "an unknown column",
        ", ".join(columns_of(Panel)) + ", and note",
        'Did you mean "material"?',
    ),
    cell("panels", "height [cm]", "width [m]", 1, "width", "the column twice", "once"),
    cell(
        "emitters",
        "mass [g]",
        "note 2",
        2,
        "mass",
        "no such column",
        "the column, since it is required",
        "Add it to the header.",
    ),
    cell(
        "offers",
        "price [EUR]",
        "price",
        1,
        "price",
        "no currency",
        "a currency code (ISO 4217) in the header, such as price [EUR]",
        "Write the code into the header.",
    ),
    cell(
        "offers",
        "price [EUR]",
        "price [euro]",
        1,
        "price",
        'currency "euro"',
        "a currency code (ISO 4217) in the header, such as price [EUR]",
        "Write the code into the header.",
    ),
    cell(
        "suppliers",
        "order_min [EUR]",
        "order_min [GBP]",
        1,
        "order_min",
        "currency GBP",
        "one currency: EUR",
    ),
]
# A twice-named column also lacks the one it replaced; an unknown one the one that it misspells.
FOLLOWS = {
    "the column twice": "column height",
    "an unknown column": "column material",
}


@pytest.mark.parametrize(("name", "old", "new", "fault"), HEADERS)
def test_bad_header_is_told_by_its_column(tmp_path: Path, name: str, old: str, new: str, fault: Fault) -> None:
    found = faults_with(tmp_path, **{name: spoilt(TABLES[name], old, new)})
    more = {
        Fault(
            fault.file,
            fault.row,
            FOLLOWS[fault.read],
            "no such column",
            "the column, since it is required",
            "Add it to the header.",
        )
        for _ in range(fault.read in FOLLOWS)
    }
    assert set(found) == {fault, *more}


CELLS = [
    cell(
        "emitters",
        "280,24,32",
        "280 g,24,32",
        3,
        "length",
        '"280 g"',
        "length in a unit such as mm",
        "g is a unit of another kind of quantity: correct the number or its unit.",
    ),
    cell(
        "emitters",
        "280,24,32",
        "280 furlog,24,32",
        3,
        "length",
        '"280 furlog"',
        "length in a unit such as mm",
        '"furlog" is not a unit that is known.',
    ),
    cell(
        "emitters",
        ",1000,",
        ",1000 cd,",
        3,
        "flux",
        '"1000 cd"',
        "luminous flux in lm, lumen, klm, kilolumen",
        CORRECT,
    ),
    cell("emitters", "24,32,", "24,-32,", 3, "mass", '"-32"', "at least 0 g"),
    cell("emitters", "1200,42,180", "0,42,180", 5, "length", '"0"', "more than 0 mm"),
    cell(
        "emitters",
        ",1000,",
        ",NaN,",
        3,
        "flux",
        '"NaN"',
        "a finite number, with or without a unit",
        "Write a number.",
    ),
    cell(
        "emitters",
        ",1000,",
        ",inf,",
        3,
        "flux",
        '"inf"',
        "a finite number, with or without a unit",
        "Write a number.",
    ),
    cell("emitters", ",1000,", ",1e999,", 3, "flux", '"1e999"', "a finite number"),
    cell(
        "batteries",
        "14.4,7,",
        "14.4,1e308,",
        2,
        "capacity",
        '"1e308"',
        "0, or a size of 1e-12 to 1e+12 C",
        "Correct the number or its unit.",
    ),
    cell("emitters", "0.7,24,,22", '"0,7",24,,22', 3, "current", '"0,7"', POINT, NO_COMMA),
    cell(
        "emitters",
        ",1000,0.7",
        ",,0.7",
        3,
        "flux",
        "a blank cell",
        "a value, since flux is required",
        FILL,
    ),
    cell(
        "cables",
        "1.5,2,16,",
        "1.5,2,,",
        2,
        "rating",
        "a blank cell",
        "a value, since rating is required",
        FILL,
    ),
    cell(
        "batteries",
        "1.2,14,4",
        "1.2,,4",
        2,
        "current_max",
        "a blank cell",
        "a value, since current_max is required",
        FILL,
    ),
    cell(
        "panels",
        ",yes,",
        ",,",
        2,
        "metal",
        "a blank cell",
        "a value, since metal is required",
        FILL,
    ),
    cell("panels", ",yes,", ",true,", 2, "metal", '"true"', "yes | no"),
    cell("panels", ",yes,", ",Yes,", 2, "metal", '"Yes"', "yes | no"),
    cell("panels", "yes,1,85", "yes,1.5,85", 2, "faces", '"1.5"', "a whole number"),
    cell("panels", "yes,1,85", "yes,3,85", 2, "faces", '"3"', "at most 2"),
    cell("panels", "yes,1,85", "yes,1,185 K", 2, "temperature_max", '"185 K"', "at least 20 °C"),
    cell("batteries", "14,4,2.4", "14,1e9,2.4", 2, "series_max", '"1e9"', "at most 16"),
    cell("emitters", "BAR,module", "BAR,modul", 3, "form", '"modul"', "module | strip | tube"),
    cell(
        "batteries",
        "lead-acid",
        "Lead-acid",
        2,
        "chemistry",
        '"Lead-acid"',
        "li-ion | lifepo4 | nimh | nicd | lead-acid",
    ),
    cell("emitters", "IP20", "20", 3, "ip", '"20"', "IP and two signs of IEC 60529, such as IP44 or IPX4"),
    cell("mounts", "YOKE", '"YO;KE"', 2, "part", '"YO;KE"', CODE),
    cell("mounts", "YOKE", "Y" * 81, 2, "part", f'"{"Y" * 59}…"', CODE),
    cell(
        "diffusers",
        "0.7,55",
        "30 deg,55",
        3,
        "transmittance",
        '"30 deg"',
        "a share, such as 0.9 or 90 %",
        CORRECT,
    ),
    cell("diffusers", "0.7,55", "70,55", 3, "transmittance", '"70"', "at most 1"),
    cell(
        "diffusers",
        "lambertian",
        "wide",
        2,
        "spread",
        '"wide"',
        "a finite number, with or without a unit",
        "Write a number.",
    ),
    cell(
        "offers",
        "4.60",
        "4.605",
        2,
        "price",
        '"4.605"',
        "an amount of whole cents",
        "Give the price of a pack instead of the price of one piece.",
    ),
    cell("offers", "4.60", "-4.60", 2, "price", '"-4.60"', "an amount from 0 to 1000000000"),
    cell(
        "offers",
        "4.60",
        "4.60 EUR",
        2,
        "price",
        '"4.60 EUR"',
        "a plain amount, in the header's currency",
        "Take the currency out of the cell.",
    ),
    cell(
        "offers",
        "4.60",
        '"4,60"',
        2,
        "price",
        '"4,60"',
        "an amount with a decimal point",
        "Write a point, not a comma.",
    ),
    cell(
        "offers",
        "4.60",
        "",
        2,
        "price",
        "a blank cell",
        "a value, since price is required",
        FILL,
    ),
    cell("offers", "4.60,1,", "4.60,0,", 2, "pack", '"0"', "more than 0"),
    cell("offers", ",,40,2,\n", ",,40 m,2,\n", 2, "stock", '"40 m"', "a plain number", CORRECT),
    cell("offers", ",,40,2,\n", ",,-1,2,\n", 2, "stock", '"-1"', "at least 0"),
    cell("offers", "40,2,each", "40,2,metre", 3, "sold_by", '"metre"', "each | length | reel | sheet"),
]


@pytest.mark.parametrize(("name", "old", "new", "fault"), CELLS)
def test_bad_cell_is_told_by_line_and_column(tmp_path: Path, name: str, old: str, new: str, fault: Fault) -> None:
    assert faults_with(tmp_path, **{name: spoilt(TABLES[name], old, new)}) == (fault,)


ORDER = "Put the three in order."
RULES = [
    cell("emitters", ",,22,26", ",,25,26", 3, "voltage_min", '"25"', "at most the voltage", "Swap or correct the two."),
    cell(
        "emitters", ",,22,26", ",,22,23", 3, "voltage_max", '"23"', "at least the voltage", "Swap or correct the two."
    ),
    cell(
        "emitters",
        "0.1,1.0",
        "0.8,1.0",
        3,
        "current_min",
        '"0.8"',
        "at most the rated current",
        "Correct one of the two.",
    ),
    cell(
        "emitters",
        "0.1,1.0",
        "0.1,0.6",
        3,
        "current_max",
        '"0.6"',
        "at least the rated current",
        "Correct one of the two.",
    ),
    cell(
        "emitters",
        "0.1,1.0",
        "0.1,1.1",
        3,
        "current_max",
        '"1.1"',
        "at most 1.5 times the rated current",
        "Correct one of the two.",
    ),
    cell(
        "emitters",
        "2800,,,36",
        "2800,,,",
        5,
        "power",
        "a blank cell",
        "a lamp power where drive is ballast",
        "Give the lamp's watts.",
    ),
    cell(
        "emitters",
        "TUBE,tube",
        "TUBE,module",
        5,
        "form",
        '"module"',
        "tube where drive is ballast",
        "Correct form or drive.",
    ),
    cell(
        "emitters",
        "1000,0.7,24,",
        "1000,,24,",
        3,
        "current",
        "a blank cell",
        "a current where drive is constant current",
        "Fill the cell.",
    ),
    cell(
        "emitters",
        "500,0.3,24,",
        "500,0.3,,",
        4,
        "voltage",
        "a blank cell",
        "a voltage where drive is constant voltage",
        "Fill the cell.",
    ),
    cell(
        "emitters",
        "0.7,24,,22",
        "0.7,24,17,22",
        3,
        "power",
        '"17"',
        "blank unless drive is ballast",
        "Clear the cell: it is current × voltage.",
    ),
    cell(
        "emitters",
        "ballast,2800",
        "ballast,24589",
        5,
        "flux",
        '"24589"',
        "at most 683 lm/W for its power (the physical limit)",
        "Correct flux or power.",
    ),
    cell(
        "emitters",
        "500,0.3,24,",
        "500,1e-12,1e-12,",
        4,
        "flux",
        '"500"',
        "at most 683 lm/W for its power (the physical limit)",
        "Correct flux or power.",
    ),
    cell("drivers", "dc,10,30", "dc,30.5,30", 2, "input_min", '"30.5"', "at most input_max", "Swap the two."),
    cell("drivers", "20,56,40", "56.5,56,40", 2, "output_min", '"56.5"', "at most output_max", "Swap the two."),
    cell(
        "drivers",
        "20,56,40",
        "20,56,",
        2,
        "power_max",
        "a blank cell",
        "a value where output is constant current",
        "Fill the cell.",
    ),
    cell(
        "drivers",
        "24,24.5,100",
        ",24.5,100",
        4,
        "output_min",
        "a blank cell",
        "a value where output is constant voltage",
        "Fill the cell.",
    ),
    cell("drivers", ",0.3,1.4,", ",1.5,1.4,", 3, "current_min", '"1.5"', "at most current_max", "Swap the two."),
    cell(
        "drivers",
        ",0.3,1.4,",
        ",0.3,,",
        3,
        "current_max",
        "a blank cell",
        "a value where output is constant current",
        "Fill the cell.",
    ),
    cell(
        "drivers",
        "0.7,,,20",
        "0.7,0.1,,20",
        2,
        "current_min",
        '"0.1"',
        "blank where output_current is stated",
        "State one or the other.",
    ),
    cell(
        "drivers",
        "0.7,,,20",
        "0.7,,1.4,20",
        2,
        "current_max",
        '"1.4"',
        "blank where output_current is stated",
        "State one or the other.",
    ),
    cell(
        "drivers",
        "0.93,0.95",
        "0.93,",
        4,
        "power_factor",
        "a blank cell",
        "a power factor where input is ac",
        "Fill the cell.",
    ),
    cell(
        "drivers",
        "0.96,2,36",
        "0.96,,36",
        5,
        "lamps",
        "a blank cell",
        "a value where output is ballast",
        "Fill the cell.",
    ),
    cell(
        "batteries", "12,10.5,14.4", "12,12.5,14.4", 2, "voltage", '"12"', "between voltage_min and voltage_max", ORDER
    ),
    cell("batteries", "12,10.5,14.4", "12,10.5,11", 2, "voltage", '"12"', "between voltage_min and voltage_max", ORDER),
    cell(
        "batteries",
        "7,20,1.2",
        "7,,1.2",
        2,
        "rated_time",
        "a blank cell",
        "a time where peukert is above 1",
        "Give the hours of the rating.",
    ),
    cell(
        "cables",
        "34,60,5.9",
        "34,60,",
        3,
        "resistance",
        "a blank cell",
        "a resistance where the area is none of 0.5, 0.75, 1, 1.5, 2.5, 4, 6, 10, 16 mm² (IEC 60228 class 5)",
        "Fill the cell.",
    ),
]


@pytest.mark.parametrize(("name", "old", "new", "fault"), RULES)
def test_cells_that_contradict_each_other_are_told(tmp_path: Path, name: str, old: str, new: str, fault: Fault) -> None:
    assert faults_with(tmp_path, **{name: spoilt(TABLES[name], old, new)}) == (fault,)


def test_all_rules_that_a_row_breaks_are_told_at_once(tmp_path: Path) -> None:
    emitters = spoilt(spoilt(TABLES["emitters"], ",,22,26", ",,25,23"), "0.1,1.0", "0.8,0.6")
    found = faults_with(tmp_path, emitters=emitters)
    assert {fault.row for fault in found} == {3}
    assert {(fault.column, fault.read) for fault in found} == {
        ("column voltage_min", '"25"'),
        ("column voltage_max", '"23"'),
        ("column current_min", '"0.8"'),
        ("column current_max", '"0.6"'),
    }
    drivers = spoilt(TABLES["drivers"], "current,0.7,", "current,,")
    assert {fault.column for fault in faults_with(tmp_path, drivers=drivers)} == {
        "column current_min",
        "column current_max",
    }


def test_rule_between_cells_is_silent_while_one_of_them_is_not_read(tmp_path: Path) -> None:
    # Without its output current the driver would also seem to lack a range of currents.
    found = faults_with(tmp_path, drivers=spoilt(TABLES["drivers"], "current,0.7,", "current,0.7 V,"))
    assert [(fault.row, fault.column, fault.read) for fault in found] == [(2, "column output_current", '"0.7 V"')]


def test_unquoted_decimal_comma_makes_too_many_cells(tmp_path: Path) -> None:
    found = faults_with(tmp_path, mounts=spoilt(TABLES["mounts"], "6,0.34", "6,0,34"))
    mend = "A comma inside a cell needs quotes around the cell; a decimal comma must be a point."
    assert found == (Fault("mounts.csv", 2, "", "4 cells", "at most 3, one for each header", mend),)


def test_blank_cells_behind_the_last_column_are_let_be(tmp_path: Path) -> None:
    assert faults_with(tmp_path, mounts=spoilt(TABLES["mounts"], "6,0.34", "6,0.34,, ,")) == ()


def test_row_that_ends_early_is_blank_behind_its_end(tmp_path: Path) -> None:
    assert faults_with(tmp_path, offers=spoilt(TABLES["offers"], "TUBE,south,7.10,,,,,", "TUBE,south,7.10")) == ()
    found = faults_with(tmp_path, mounts=spoilt(TABLES["mounts"], "6,0.34", "6"))
    assert found == (Fault("mounts.csv", 2, "column mass", "a blank cell", "a value, since mass is required", FILL),)


def test_all_faults_of_one_row_are_told(tmp_path: Path) -> None:
    row = "BAR,modul,constant current,-5,0.7 V,nan,,22,26,0.1,1.0,,24,32,IP20,"
    old = TABLES["emitters"].splitlines()[2]
    found = faults_with(tmp_path, emitters=spoilt(TABLES["emitters"], old, row))
    assert [(fault.row, fault.column, fault.read) for fault in found] == [
        (3, "column current", '"0.7 V"'),
        (3, "column flux", '"-5"'),
        (3, "column form", '"modul"'),
        (3, "column length", "a blank cell"),
        (3, "column voltage", '"nan"'),
    ]


def test_column_without_a_unit_needs_one_in_every_cell(tmp_path: Path) -> None:
    text = spoilt(spoilt(TABLES["mounts"], "mass [kg]", "mass"), "0.34", "340 g")
    assert faults_with(tmp_path, mounts=text) == ()
    allowed, mend = "mass with its unit, such as g", "Write the unit behind the number."
    assert faults_with(tmp_path, mounts=spoilt(text, "340 g", "340")) == (
        Fault("mounts.csv", 2, "column mass", '"340"', allowed, mend),
    )


def test_cell_may_carry_its_own_unit(tmp_path: Path) -> None:
    write(tmp_path, {**TABLES, "emitters": spoilt(TABLES["emitters"], "280,24,32", "11 in,0.5 in,2 oz")})
    bar = read_catalogue(tmp_path).find(Emitter, "BAR")
    assert (bar.length, bar.width) == pytest.approx((0.2794, 0.0127), rel=1e-12)
    assert bar.mass == pytest.approx(0.45359237 / 8, rel=1e-12)


@pytest.mark.parametrize("text", ["", "\n \n,,\n", "# only a comment\n", "\ufeff"])
@pytest.mark.parametrize("name", ["emitters", "mounts"])
def test_empty_file_is_told(tmp_path: Path, name: str, text: str) -> None:
    assert faults_with(tmp_path, **{name: text}) == (
        Fault(f"{name}.csv", None, "", "an empty file", "a header line and rows", "Write a header."),
    )


@pytest.mark.parametrize("name", ["emitters", "drivers", "panels", "offers"])
def test_needed_table_of_a_header_alone_is_told(tmp_path: Path, name: str) -> None:
    header = "".join(line for line in TABLES[name].splitlines(True) if line.startswith("part"))
    assert faults_with(tmp_path, **{name: header}) == (
        Fault(f"{name}.csv", None, "", "a header and no rows", "at least one row"),
    )


def test_other_table_of_a_header_alone_holds_nothing(tmp_path: Path) -> None:
    write(tmp_path, {**TABLES, "mounts": "part,load [kg],mass [kg]\n"})
    assert read_catalogue(tmp_path).mounts == ()


def test_latin_1_file_is_told_by_line_and_byte(tmp_path: Path) -> None:
    text = spoilt(TABLES["panels"], "aluminium, painted", "ahşap"[:2] + "\xe9").encode("latin-1")
    fault = Fault("panels.csv", 2, "", "byte 0xe9, which is not UTF-8", "UTF-8 text", "Save the file as UTF-8.")
    assert faults_with(tmp_path, panels=text) == (fault,)
    assert faults_with(tmp_path, panels=b"\xef\xbb\xbf" + text) == (fault,)


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le-sig", "utf-16-be-sig"])
def test_utf_16_file_is_told(tmp_path: Path, encoding: str) -> None:
    marked = encoding.endswith("-sig")
    text = ("\ufeff" if marked else "") + TABLES["panels"]
    found = faults_with(tmp_path, panels=text.encode(encoding.removesuffix("-sig")))
    assert found == (Fault("panels.csv", None, "", "UTF-16 text", "UTF-8 text", "Save the file as UTF-8."),)


def test_nul_byte_is_told_by_line(tmp_path: Path) -> None:
    found = faults_with(tmp_path, mounts=spoilt(TABLES["mounts"], "YOKE", "YO\x00KE"))
    assert found == (Fault("mounts.csv", 2, "", "a NUL byte", "text"),)


def test_byte_order_mark_is_let_be(tmp_path: Path) -> None:
    assert faults_with(tmp_path, **{name: b"\xef\xbb\xbf" + text.encode() for name, text in TABLES.items()}) == ()


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_lines_are_counted_whatever_ends_them(tmp_path: Path, end: str) -> None:
    text = spoilt(TABLES["emitters"], "TUBE,tube", "TUBE,tub").replace("\n", end)
    assert [(fault.row, fault.read) for fault in faults_with(tmp_path, emitters=text)] == [(5, '"tub"')]
    whole = {name: table.replace("\n", end) for name, table in TABLES.items()}
    assert faults_with(tmp_path, **whole) == ()


@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_row_with_line_breaks_is_told_by_its_first_line(tmp_path: Path, end: str) -> None:
    text = """\
part,load [kg],mass [kg],note
YOKE,6,0.34,"one
# two, not a comment

four"
ARM,x,0.5,
# a comment

HOOK,"7
",y,
"""
    found = faults_with(tmp_path, mounts=text.replace("\n", end))
    assert [(fault.row, fault.column, fault.read) for fault in found] == [
        (6, "column load", '"x"'),
        (9, "column mass", '"y"'),
    ]


def test_comments_and_blank_lines_are_skipped_and_counted(tmp_path: Path) -> None:
    text = """\
# a comment, with a "quote

  # another,"that opens a cell
"# one that a spreadsheet has quoted, with a comma",,
part,load [kg],mass [kg]
,,
#YOKE,5,5
YOKE,6,0.34

ARM,x,0.5
"""
    found = faults_with(tmp_path, mounts=text)
    assert [(fault.row, fault.column, fault.read) for fault in found] == [(10, "column load", '"x"')]


@pytest.mark.parametrize("head", ["", "# Invented for the tests.\n", "sep=;\n"])
def test_semicolons_are_told(tmp_path: Path, head: str) -> None:
    text = head + TABLES["mounts"].replace(",", ";").replace(".", ",")
    mend = "Save the file as comma-separated with decimal points."
    allowed = "cells parted by commas, numbers with a decimal point"
    row = 2 if head.startswith("#") else 1
    assert faults_with(tmp_path, mounts=text) == (
        Fault("mounts.csv", row, "", "cells parted by semicolons", allowed, mend),
    )


def test_broken_quotes_are_told_by_the_line_where_the_row_begins(tmp_path: Path) -> None:
    found = faults_with(tmp_path, mounts=TABLES["mounts"] + 'ARM,"7,0.4\nHOOK,8,0.5\n')
    assert [(fault.file, fault.row, fault.column, fault.allowed) for fault in found] == [
        ("mounts.csv", 3, "", "CSV (RFC 4180)")
    ]
    assert found[0].read.startswith("broken CSV (")


def test_broken_quotes_in_the_first_row_are_the_only_fault(tmp_path: Path) -> None:
    found = faults_with(tmp_path, emitters='part,"form\n')
    assert [(fault.row, fault.allowed) for fault in found] == [(1, "CSV (RFC 4180)")]


def test_offers_are_not_blamed_for_parts_behind_a_break_in_a_file(tmp_path: Path) -> None:
    text = spoilt(TABLES["emitters"], "STRIP,strip", 'STRIP,"strip" ')
    found = faults_with(tmp_path, emitters=text)
    assert [(fault.file, fault.row) for fault in found] == [("emitters.csv", 4)]


def test_directory_in_place_of_a_file_is_told(tmp_path: Path) -> None:
    write(tmp_path)
    (tmp_path / "mounts.csv").unlink()
    (tmp_path / "mounts.csv").mkdir()
    (fault,) = faults_of(tmp_path)
    assert (fault.file, fault.row, fault.allowed, fault.mend) == (
        "mounts.csv",
        None,
        "a readable file",
        "Check name and rights.",
    )


def test_header_of_many_blanks_is_refused_at_once(tmp_path: Path) -> None:
    # A pattern that may part the blanks in many ways would take minutes over this.
    (first, *_) = faults_with(tmp_path, mounts=f"{' ' * 5000}],{' ' * 5000}a [ ] b\n")
    assert (first.row, first.read) == (1, "an unknown column")


def test_blanks_around_names_units_and_cells_are_let_be(tmp_path: Path) -> None:
    text = re.sub(r",", " , ", TABLES["batteries"]).replace("[V]", "[ V ]")
    write(tmp_path, {**TABLES, "batteries": text})
    assert read_catalogue(tmp_path).find(Battery, "CELL").voltage == 12.0


def test_control_signs_and_long_texts_are_tamed_in_messages(tmp_path: Path) -> None:
    (fault,) = faults_with(tmp_path, mounts=spoilt(TABLES["mounts"], "6,", f"\x1b[31m{'9' * 500},"))
    assert "\x1b" not in str(fault)
    assert len(str(fault)) < 250


def test_file_of_too_many_rows_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("optimise.parts.tables.MAX_ROWS", 2)
    found = faults_with(tmp_path, panels=TABLES["panels"] + "A,40,30,wood,no,1,85,1\nB,40,30,wood,no,1,85,1\n")
    # The two rows beyond the limit in other tables are told too: each file for itself.
    assert Fault("panels.csv", 4, "", "more rows", "at most 2 rows") in found
    assert {fault.read for fault in found} == {"more rows"}


def test_file_of_too_many_bytes_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("optimise.parts.text.MAX_BYTES", 999)
    assert faults_with(tmp_path, mounts=TABLES["mounts"] + "#" * 1000) == (
        Fault("mounts.csv", None, "", f"{len(TABLES['mounts']) + 1000} bytes", "at most 999", "Split the file."),
    )
