"""Text files: reading them with their faults told, TOML, CSV with the line of every row, and writing CSV."""

import csv
import io
import json
import os
import re
import stat
import tomllib
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

from optimise.parts.faults import Collector, Fault, quoted

MAX_BYTES = 32 * 1024 * 1024
MAX_LINES = 300_000
"""Of CSV, comments and blank ones included."""
MAX_TOML = 4 * 1024 * 1024
MAX_STEPS = 32
"""Steps of a dotted key: Python's reader of TOML takes time by the square of them, minutes for some 100,000."""

_STEP = r"""(?:"[^"\n]*"|'[^'\n]*'|[\w-]+)"""
_FAR = re.compile(rf"(?<![\w\"'-])(?:{_STEP}[ \t]*\.[ \t]*){{{MAX_STEPS}}}")

_NAMES = {"utf-8-sig": "UTF-8", "cp1252": "Windows-1252"}


def read_data(path: Path, name: str, faults: Collector) -> bytes | None:
    """Return the bytes of a plain file, or None after adding a fault: it cannot be read, is none, or is too large."""
    try:
        data, size = bytes_of(path)
    except OSError as error:
        read, mend = error.strerror or "nothing", "Check name and rights."
        faults.add(Fault(name, read=read, allowed="a readable file", mend=mend))
        return None
    if data is None:
        faults.add(Fault(name, read="a device or a pipe", allowed="a plain file", mend="Copy it into a file."))
    elif size > MAX_BYTES:
        faults.add(Fault(name, read=f"{size} bytes", allowed=f"at most {MAX_BYTES}", mend="Split the file."))
        return None
    return data


def bytes_of(path: Path) -> tuple[bytes | None, int]:
    """Return the bytes of a file and its size, no more than one byte beyond what is allowed; None of no plain file.

    Raises OSError. It is opened without waiting and looked at when open: a pipe waits for ever, a device never ends.
    """
    with open(path, "rb", opener=_at_once) as file:
        found = os.fstat(file.fileno())
        if not stat.S_ISREG(found.st_mode):
            return None, 0
        data = b"" if found.st_size > MAX_BYTES else file.read(MAX_BYTES + 1)
    return data, max(found.st_size, len(data))


def _at_once(path: str, flags: int) -> int:
    return os.open(path, flags | getattr(os, "O_NONBLOCK", 0))


def stays_within(folder: Path, path: Path) -> bool:
    """Whether a path is in a folder once all links are followed; nothing is opened."""
    try:
        return path.resolve().is_relative_to(folder.resolve())
    except (OSError, RuntimeError, ValueError):  # a link onto itself, which older Pythons tell as a RuntimeError
        return False


def read_text(path: Path, name: str, faults: Collector, encoding: str = "utf-8-sig") -> str | None:
    """Return the text of a file without its byte-order mark, or None after adding a fault.

    encoding: `utf-8-sig` or `cp1252`.
    """
    data = read_data(path, name, faults)
    return None if data is None else decoded(data, name, faults, encoding)


def decoded(data: bytes, name: str, faults: Collector, encoding: str = "utf-8-sig") -> str | None:
    """Return bytes of a file as text without its byte-order mark, or None after adding a fault."""
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
    if len(text) > MAX_TOML:
        faults.add(Fault(name, read=f"{len(text)} signs", allowed=f"at most {MAX_TOML}"))
        return None
    if text.count(".") >= MAX_STEPS and (far := _FAR.search(text)):
        line = text.count("\n", 0, far.start()) + 1
        faults.add(Fault(name, line, read="a key of many steps", allowed=f"fewer than {MAX_STEPS} steps in a key"))
        return None
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # a number of thousands of digits is a plain ValueError
        place = re.search(r"\(at line (\d+)", str(error))
        row = int(place[1]) if place else None
        faults.add(Fault(name, row=row, read=f"broken TOML ({error})", allowed="TOML 1.0", mend=mend))
        return None


def seen(value: Any) -> str:
    """Return a value of TOML as it is told in a fault."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dict):
        return "a section"
    if isinstance(value, list):
        return "a list"
    return quoted(value_text(value))


def value_text(value: Any) -> str:
    """Return a value of TOML that holds no others as text; a whole number of hundreds of digits as one beyond all."""
    # To write such a number out takes time by the square of its digits.
    return str(value) if not isinstance(value, int) or value.bit_length() < 1000 else "1e999" if value > 0 else "-1e999"


def csv_rows(
    text: str, name: str, faults: Collector, delimiter: str = ",", *, comments: bool = True
) -> Iterator[tuple[int, list[str] | None]]:
    """Yield every row with its first line's number; None for the row at which the CSV breaks, the last.

    comments: whether a line that starts with # is one cell, a comment, whatever stands in it.
    """
    start, fresh, cut = 0, True, False
    passed: list[tuple[int, list[str] | None]] = []

    def lines() -> Iterator[str]:
        # Comments are kept from csv: a quote in one would open a cell that swallows what follows.
        nonlocal start, fresh, cut
        for number, line in enumerate(io.StringIO(text, newline=""), 1):
            if number > MAX_LINES:
                start, cut = number, True
                return
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
            if cut:
                faults.add(Fault(name, row=start, read="more lines", allowed=f"at most {MAX_LINES} lines"))
                yield start, None
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
