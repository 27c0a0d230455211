"""What tables in a terminal are made of."""

import unicodedata

from rich.table import Table
from rich.text import Text


def plain(text: str) -> Text:
    """Return text from a user's file, or the name of one, without markup and without signs that are not seen.

    Those are controls, the signs that turn the direction of writing, breaks of lines, and lone surrogates.
    """
    return Text("".join(" " if unicodedata.category(c) in {"Cc", "Cf", "Cs", "Zl", "Zp"} else c for c in text))


def table_of(title: str, *columns: tuple[str, bool]) -> Table:
    """Return an empty table; each column with its name and whether it is set to the right."""
    table = Table(
        title=title or None, title_justify="left", title_style="bold", box=None, pad_edge=False, padding=(0, 2, 0, 0)
    )
    for name, right in columns:
        # What does not fit goes on below: a code that is cut short is none.
        table.add_column(name, justify="right" if right else "left", header_style="dim", overflow="fold")
    return table


def whole_words(table: Table, width: int) -> Table:
    """Return a filled table, set close, whose words stay whole where they fit side by side into a width."""
    table.padding = (0, 1, 0, 0)
    cells = [[str(cell) for cell in (column.header, *column.cells)] for column in table.columns]
    least = [max((len(word) for cell in mine for word in cell.split()), default=0) for mine in cells]
    if sum(least) + len(least) <= width:
        for column, longest, mine in zip(table.columns, least, cells, strict=True):
            column.min_width = longest
            # Columns are made narrower in turn, whatever their least width is, unless they may not be.
            column.no_wrap = longest == max(map(len, mine))
    return table
