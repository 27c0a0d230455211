"""Text files: reading them with their faults told, TOML, CSV with the line of every row, and writing CSV."""

import csv
import io
import json
import re
import tomllib
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

from optimise.parts.faults import Collector, Fault

MAX_BYTES = 32 * 1024 * 1024

_NAMES = {"utf-8-sig": "UTF-8", "cp1252": "Windows-1252"}


def read_data(path: Path, name: str, faults: Collector) -> bytes | None:
    """Return the bytes of a file, or None after adding a fault: it cannot be read, or is too large."""
    try:
        size = path.stat().st_size
        if size > MAX_BYTES:
            faults.add(Fault(name, read=f"{size} bytes", allowed=f"at most {MAX_BYTES}", mend="Split the file."))
            return None
        return path.read_bytes()
    except OSError as error:
        faults.add(
            Fault(
                name,
                read=error.strerror or "nothing",
                allowed="a readable file",
                mend="Check name and rights.",
            )
        )
        return None


def read_text(path: Path, name: str, faults: Collector, encoding: str = "utf-8-sig") -> str | None:
    """Return the text of a file without its byte-order mark, or None after adding a fault.

    encoding: `utf-8-sig` or `cp1252`.
    """
    data = read_data(path, name, faults)
    if data is None:
        return None
    wanted = _NAMES[encoding]
    mend = f"Save the file as {wanted}."
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        faults.add(Fault(name, read="UTF-16 text", allowed=f"{wanted} text", mend=mend))
        return None
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError as error:
        byte = error.object[error.start]
        line = error.object[: error.start].count(b"\n") + 1
        read = f"byte 0x{byte:02x}, which is not {wanted}"
        faults.add(Fault(name, row=line, read=read, allowed=f"{wanted} text", mend=mend))
        return None
    if "\x00" in text:
        faults.add(Fault(name, row=text[: text.index("\x00")].count("\n") + 1, read="a NUL byte", allowed="text"))
        return None
    return text


def toml_tree(text: str, name: str, faults: Collector, mend: str = "") -> dict[str, Any] | None:
    """Return what a text of TOML holds, or None after adding a fault with the line at which it breaks."""
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # a number of thousands of digits is a plain ValueError
        place = re.search(r"\(at line (\d+)", str(error))
        row = int(place[1]) if place else None
        faults.add(Fault(name, row=row, read=f"broken TOML ({error})", allowed="TOML 1.0", mend=mend))
        return None


def csv_rows(
    text: str, name: str, faults: Collector, delimiter: str = ",", *, comments: bool = True
) -> Iterator[tuple[int, list[str] | None]]:
    """Yield every row with its first line's number; None for the row at which the CSV breaks, the last.

    comments: whether a line that starts with # is one cell, a comment, whatever stands in it.
    """
    start, fresh = 0, True
    passed: list[tuple[int, list[str] | None]] = []

    def lines() -> Iterator[str]:
        # Comments are kept from csv: a quote in one would open a cell that swallows what follows.
        nonlocal start, fresh
        for number, line in enumerate(io.StringIO(text, newline=""), 1):
            if comments and fresh and line.lstrip().startswith("#"):
                passed.append((number, [line.rstrip("\r\n")]))
                continue
            if fresh:
                start, fresh = number, False
            yield line

    reader = csv.reader(lines(), strict=True, delimiter=delimiter)
    while True:
        fresh = True
        row: list[str] | None = None
        try:
            row = next(reader)
        except StopIteration:
            yield from passed
            return
        except csv.Error as error:
            faults.add(Fault(name, row=start, read=f"broken CSV ({error})", allowed="CSV (RFC 4180)"))
        yield from passed
        passed.clear()
        yield start, row
        if row is None:
            return


def csv_text(rows: Iterable[Sequence[str]]) -> str:
    """Return rows as CSV text, each ended by a line feed.

    The library's own writer leaves a lone carriage return bare where lines end in a line feed, and a reader then
    takes it for the end of the row.
    """
    return "".join(",".join(_quoted(cell) for cell in row) + "\n" for row in rows)


def _quoted(cell: str) -> str:
    return '"' + cell.replace('"', '""') + '"' if any(sign in cell for sign in ',"\r\n') else cell


def toml_text(text: str) -> str:
    """Return text as a basic string of TOML: a JSON string is one, but for the delete character and lone surrogates."""
    told = text.encode("utf-8", "replace").decode("utf-8")
    return json.dumps(told, ensure_ascii=False).replace("\x7f", "\\u007f")
