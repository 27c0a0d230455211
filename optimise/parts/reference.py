"""The reference of catalogue columns, made from the models so that it cannot drift."""

from collections.abc import Iterator
from inspect import getdoc

from pydantic.fields import FieldInfo

from optimise.parts.columns import REQUIRED, Column, Row, columns_of
from optimise.parts.kinds import TABLES
from optimise.parts.offers import MONEY_COLUMNS
from optimise.parts.units import Measure, shown

_INTRODUCTION = """\
# What a catalogue may say

A catalogue is a folder of CSV files, one for each kind of part. The files in this folder are **invented
demonstration data**: no such product or supplier exists. Put your own in their place.

`emitters.csv`, `drivers.csv`, `panels.csv` and `offers.csv` must be there, with at least one row each. Any other
file may be left out: then there is nothing of its kind to choose from. Without `suppliers.csv` the names of suppliers
are not checked and no delivery charge is known.

This page is made from the models that read the files:
`python -m optimise.parts.reference > catalogue/README.md`.

## How a file is written

- Comma-separated UTF-8 text with a header line. A cell that holds a comma, a quote or a line break stands in double
  quotes. Numbers have a decimal point (`12.5`, never `12,5`) and no thousands separator; a figure is 0, or from 1e-12
  to 1e12 in size in the SI unit. What it is written in changes nothing: 280 mm, 28 cm and 0.28 m are one number.
- Lines that start with `#` are comments. Blank lines are skipped. Columns and rows may stand in any order.
- **Units stand in the header**: `flux [lm]`, `mass [g]`, `length [in]`. The tables below give the unit that messages
  are written in; any other unit of the same kind of quantity is read as well, but where a table lists the only ones.
- **A cell may carry its own unit** behind the number, such as `0.5 in`. A column whose header has no unit needs one
  in every cell. A share is a plain number or per cent: `0.9`, `90 %`, or 90 in a column `efficiency [%]`.
- A column named `note`, or with a name that begins with `note` and a space, is yours and is not read. Any other
  column that is not listed here is refused, since it may be a known one misspelt.
- **A blank cell** means that nothing is stated. Each table says what then holds: a default, a check that is not made
  (and the output says so), or that the cell is required. A figure that safety rests on is never assumed.
- **A tolerance** (`flux_tolerance`, `voltage_tolerance`, `capacity_tolerance`, `mass_tolerance`) says how far a figure
  may be off, to either side, in what is delivered: 0.07 or `7 %`. 0 says that it is exact.
- **A file that a cell names** (`spectrum`, `photometry`) lies in the catalogue's folder or below it, or beside the
  workbook: a path without `..`, parted by `/`, and no link that leads elsewhere. Many emitters may name one file.
- **A spectrum** is IES TM-27 spectral XML (`.spdx`, without a DOCTYPE), or CSV of two columns (`.csv`): wavelength in
  nm, rising, from 400 or below to 700 or above, and the power at it in any measure; a header line and comments may
  stand there. At most 4 MiB and 20,000 values.
- **A photometric file** (column `photometry`) is text by ANSI/IES LM-63 of 1986, 1991, 1995, 2002 or 2019, type A, B or
  C, with `TILT=NONE` or `TILT=INCLUDE`. Its horizontal angle 0 lies along the length of the piece, for types A and B
  its horizontal angles turn towards the length; vertical angle 0 is straight ahead. Only its shape counts: the flux
  is that of the row. Light past 90° goes towards the board.
- A code in the column `part` stands once in the whole catalogue. Case counts.
- Every fault of every file is told at once, with its file, line, column, what was read and what is allowed.

## How a workbook is written

A catalogue may also be one file that ends in `.xlsx`. It has a sheet for each file, by the file's name without `.csv`,
and all that is said on this page holds for it. Faults are told by workbook, sheet, row and column.

- A row whose first cell starts with `#` is a comment. A sheet named `note`, or with a name that begins with `note` and
  a space, is yours and is not read.
- A cell holds text, a number, or a day in the column `until`. A number is taken to the 15 digits that a spreadsheet
  shows; one with a format in per cent is a share, as it is shown: `90 %`.
- **A formula is refused**, and so is what it came to the last time: put the value in its place. An error value, a cell
  that is true or false, a time, and a day in any other column (which a spreadsheet may have made of a code) are not
  taken either.
- Links and macros are never followed. A workbook may have 128 MiB once unpacked, 256 columns, and 200,000 rows a sheet.
- `rushlight check FOLDER --convert FILE.xlsx` makes a workbook of a folder, and `rushlight check FILE.xlsx --convert
  FOLDER` a folder of a workbook, cell by cell; every cell of the workbook is then text.

## How buying is written

- **Money** carries its currency in the header, as an ISO 4217 code: `price [EUR]`. A row whose column `currency` names
  another one is in that; the scenario then states the rate (`[buying]`, `rates`). Amounts have at most two decimals. A
  piece that costs a fraction of a cent is offered by the pack.
- `price` is **for one pack**; `pack`, `quantity_min` and `stock` are in **pieces**, in **metres** where `sold_by` is
  `length` or `reel`, in **sheets** where it is `sheet`. They are plain numbers without a unit.
- Rows of one part, one supplier and one pack are **price breaks**: the whole purchase has the price of one of them. The
  `stock` is one stock: each of the rows states it, and states the same. Another pack is another thing on the shelf,
  with a stock of its own. A part may be bought of several offers together: three from the drawer and a bag of ten.
- `sold_by` `length` is for cables and strips: cut to order from one roll, in steps of `pack` metres. `reel` is for the
  same, in whole reels of `pack` metres, where no piece is joined of two reels. `sheet` is for panels that you cut
  yourself from a stock sheet of `sheet_width` × `sheet_height`; of one sheet, pieces of one panel are cut, in rows and
  columns with the scenario's `kerf` between them.
- A diffuser is a sheet of its own `width` × `height`, from which as many faces are cut as go on it.
- `until` is the last day of an offer. The clock is never looked at: the scenario says on which day you buy.
- Prices are taken **with sales tax** unless the supplier's `prices` are `without tax`; the scenario says whether you
  pay the tax. An order below `order_min` is topped up to it, with things that are not on the bill, and so is one where
  the way to `delivery_free_over` is shorter than what delivery costs.
- What you **own** already is offered by the supplier `own`: its price is blank or 0 and its stock is what lies in the
  drawer. It needs no row in `suppliers.csv`, and neither a scenario's list of suppliers nor its deadline rules it out.
"""

_RULES = {
    "emitters": """\
`voltage_min` ≤ `voltage` ≤ `voltage_max`; `current_min` ≤ `current` ≤ `current_max` ≤ 1.5 × `current`. Drive `ballast`
needs form `tube` and `power`; any other drive needs `current` and `voltage` and no `power`. The flux is at most 683 lm
for each watt, the physical limit, and so is the greatest flux for the least power within the tolerances.
`voltage_tolerance` is blank unless drive is `constant current`.""",
    "drivers": """\
`input_min` ≤ `input_max`; `output_min` ≤ `output_max`; `current_min` ≤ `current_max`. Input `ac` needs `power_factor`.
Output `ballast` needs `lamps` and `lamp_power`; any other output needs `output_min`, `output_max` and `power_max`.
Output `constant current` needs `output_current`, or both `current_min` and `current_max`, never all three.
`pwm` is stated only where `dimmable` is `pwm`, `ripple_frequency` only with `ripple`, `ballast` only where output is
`ballast`. A magnetic ballast needs input `ac`; it does not dim, and its ripple is at twice the mains frequency.""",
    "diffusers": """\
`transmittance` and `reflectance` are at most 1 together. `grid` and `grid_transmittance` are stated together; then
`transmittance` and `reflectance` are those of the sheet alone, and `mass_per_area` is that of both.""",
    "batteries": """\
`voltage_min` ≤ `voltage` ≤ `voltage_max`. A `peukert` above 1 needs `rated_time`.""",
    "offers": """\
`part` is a code of one of the other files, `supplier` a name in `suppliers.csv` or `own`. Sold by `each` or `sheet`,
the numbers of pieces are whole. Sold by `sheet` needs both sides of the sheet, and a sheet that holds the panel.""",
}

_SIGNS = {"gt": ">", "ge": "≥", "lt": "<", "le": "≤"}
_TABLE_HEAD = """\
| column | unit | blank | allowed | meaning |
| --- | --- | --- | --- | --- |"""


def catalogue_reference() -> str:
    """Return a Markdown page: how a catalogue is written, then every column of every table."""
    return "\n".join([_INTRODUCTION, *("\n".join(_table(name, kind)) for name, kind in TABLES.items())])


def _table(name: str, kind: type[Row]) -> Iterator[str]:
    yield f"## {name}.csv\n"
    yield f"{' '.join((getdoc(kind) or '').split())}\n"
    yield _TABLE_HEAD
    for title, column in columns_of(kind).items():
        blank = f"**{REQUIRED}**" if column.blank == REQUIRED else column.blank
        allowed = ", ".join(_allowed(column, kind.model_fields[title]))
        yield f"| `{title}` | {_unit(column)} | {blank} | {allowed} | {column.meaning} |"
    if name in _RULES:
        yield f"\nBetween the cells of a row: {_RULES[name]}"
    yield ""


def _unit(column: Column) -> str:
    if column.name in MONEY_COLUMNS:
        return "currency, such as `EUR`"
    measure = column.measure
    if measure is None:
        return ""
    others = [f"`{unit}`" for unit in measure.only if unit not in {"", measure.show_unit}]
    if not measure.unit:
        return " or ".join(["none", *others[:1]])
    unit = f"`{measure.show_unit}`"
    return f"{unit} (or only {', '.join(others)})" if others else unit


def _allowed(column: Column, field: FieldInfo) -> Iterator[str]:
    if column.name in MONEY_COLUMNS:
        yield "≥ 0, at most two decimals"
    elif column.measure is None:
        patterns = [rule.pattern for rule in field.metadata if getattr(rule, "pattern", None) is not None]
        if column.name == "ip":
            yield "`IP` and two signs, such as `IP44` or `IPX4`"
        elif column.name == "currency":
            yield "three capitals, such as `GBP`"
        elif column.name == "until":
            yield "a day, year-month-day"
        elif column.name == "photometry":
            yield "the name of a file in the catalogue's folder, such as `spot.ies`"
        elif patterns:
            yield "at most 80 signs, no comma or semicolon"
        else:
            yield " or ".join(f"`{word}`" for word in column.allowed.split(" | ")) if column.allowed else "text"
    else:
        if field.annotation is int or int in getattr(field.annotation, "__args__", ()):
            yield "whole"
        for rule in field.metadata:
            for name, sign in _SIGNS.items():
                if (limit := getattr(rule, name, None)) is not None:
                    yield f"{sign} {_plain(float(limit), column.measure)}"
        if column.name == "spread":
            yield "or `lambertian`"


def _plain(value: float, measure: Measure) -> str:
    number, _, unit = shown(value, measure).partition(" ")
    return f"{float(number):.12g} {unit}".strip()


if __name__ == "__main__":
    print(catalogue_reference(), end="")
