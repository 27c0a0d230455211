"""An empty catalogue to be filled in: every table with all its columns and units, and an example of each kind."""

from collections.abc import Sequence
from pathlib import Path

from optimise.parts.columns import Column, columns_of
from optimise.parts.faults import Collector
from optimise.parts.kinds import TABLES
from optimise.parts.offers import MONEY_COLUMNS
from optimise.parts.sources import open_source
from optimise.parts.text import csv_text

COMMENT = "# The rows are examples (invented): put your own parts in their place. A blank cell: not stated."


def blank_catalogue(examples: Path, codes: Sequence[str]) -> dict[str, str]:
    """Return the text of each CSV file by its name: header lines of all columns, and the rows of these parts.

    examples: a sound catalogue that has the parts; offers are one for each of them, with their suppliers.
    Raises `InputError` where it cannot be read.
    """
    faults = Collector()
    source = open_source(examples, faults)
    faults.stop_if_any()
    assert source is not None
    suppliers: set[str] = set()
    files: dict[str, str] = {}
    for name, model in TABLES.items():
        found = source.rows(name, faults, frozenset())
        rows = [[cell or "" for cell in row] for _, row in found or () if row is not None]
        rows = [row for row in rows if any(row) and not row[0].lstrip().startswith("#")]
        faults.stop_if_any()
        header, given = rows[0], [dict(zip(rows[0], row, strict=True)) for row in rows[1:]]
        titles = {title.split("[")[0].strip(): title for title in header}
        wanted = suppliers if name == "suppliers" else set(codes)
        kept: list[dict[str, str]] = []
        for row in given:
            code = row[header[0]].strip()
            if code in wanted:
                kept.append(row)
                wanted = wanted - {code}
        if name == "offers":
            suppliers = {row[titles["supplier"]] for row in kept}
        columns = columns_of(model)
        lines = [[titles.get(column, _title(columns[column])) for column in columns]]
        lines += [[row.get(titles.get(column, ""), "") for column in columns] for row in kept]
        files[f"{name}.csv"] = COMMENT + "\n" + csv_text(lines)
    return files


def _title(column: Column) -> str:
    if column.name in MONEY_COLUMNS:
        return f"{column.name} [EUR]"
    unit = None if column.measure is None else column.measure.show_unit
    return f"{column.name} [{unit}]" if unit else column.name
