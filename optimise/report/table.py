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
        table.add_column(name, justify="right" if right else "left", header_style="dim")
    return table
