"""Records read back from files, with one clear fault where a file is none."""

import hashlib
import json
from collections.abc import Mapping
from pathlib import Path

from pydantic import ValidationError

from optimise.parts import Collector, Fault, InputError
from optimise.parts.text import read_text
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
        tree = json.loads(text)
    except (ValueError, RecursionError):
        raise refuse("broken JSON", "a record as --json writes it") from None
    schema = tree.get("schema") if isinstance(tree, dict) else None
    if not isinstance(schema, str) or schema not in known:
        raise refuse(f"schema {schema!r}"[:60], " or ".join(known), mend)
    try:
        record = known[schema].model_validate(tree)
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(step) for step in first["loc"])
        raise refuse(f"{where}: {first['msg']}"[:200], "a whole record", "Write it anew with this version.") from None
    return record, hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()
