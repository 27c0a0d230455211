"""Records read back from files, with one clear fault where a file is none."""

import hashlib
import json
import math
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from optimise.parts import Collector, Fault, InputError
from optimise.parts.text import read_text, seen
from optimise.report.record_parts import RecordModel

BUILT = "Write it by: build SCENARIO --json FILE."
"""How to make the record of a build."""


def read_stored(path: Path, known: Mapping[str, type[RecordModel]], mend: str = BUILT) -> tuple[RecordModel, str]:
    """Return the record of a file and the SHA-256 of its text; `known` has a model for each schema that will do.

    mend: how to make such a file. Raises `InputError`.
    """

    def refuse(read: str, allowed: str, mend: str = "") -> InputError:
        return InputError([Fault(path.name, read=read, allowed=allowed, mend=mend)])

    faults = Collector()
    text = read_text(path, path.name, faults)
    faults.stop_if_any()
    assert text is not None
    try:
        tree = json.loads(
            text, parse_constant=_finite, parse_float=_finite, parse_int=_whole, object_pairs_hook=_each_once
        )
    except (ValueError, RecursionError) as error:
        raise refuse(f"broken JSON ({error})"[:120], "a record as --json writes it") from None
    schema = tree.get("schema") if isinstance(tree, dict) else None
    if not isinstance(schema, str) or schema not in known:
        raise refuse("no schema" if schema is None else f"schema {seen(schema)}", " or ".join(known), mend)
    try:
        record = known[schema].model_validate(tree)
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(step) for step in first["loc"])
        raise refuse(f"{where}: {first['msg']}"[:200], "a whole record", "Write it anew with this version.") from None
    if lacks := record.lacks():
        raise refuse(f"no figure {', '.join(lacks)}", "a whole record", mend)
    return record, hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


@contextmanager
def worked_out(file: str) -> Iterator[None]:
    """Have a build of a record that no formula holds for told as `InputError`; file: what faults call the record."""
    try:
        yield
    except (ValueError, ArithmeticError) as error:
        read = f"a build that cannot be worked out ({error})"
        raise InputError([Fault(file, read=read, allowed="one that works")]) from None


def _finite(number: str) -> float:
    """Return a number of JSON. Raises ValueError for one that is none by RFC 8259, or beyond all floats."""
    value = float(number)
    if not math.isfinite(value):
        raise ValueError(f"the number {number[:40]}")
    return value


def _whole(number: str) -> int:
    """Return a whole number of JSON. Raises ValueError for one that not every reader keeps (RFC 8259, section 6)."""
    value = int(number)
    if abs(value) >= 2**53:
        raise ValueError(f"the number {number[:40]}")
    return value


def _each_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """Return an object of JSON. Raises ValueError where a name stands twice: readers differ in which one counts."""
    found = dict(pairs)
    if len(found) < len(pairs):
        raise ValueError("a name twice in one object")
    return found
