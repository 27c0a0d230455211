"""Names that tell files of the same name apart, and names of records that any file system takes."""

import hashlib
import os
import re
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

LONGEST = 120
"""Signs of a record's name before its ending; most file systems take 255 bytes."""


def short_names(paths: Sequence[Path]) -> list[str]:
    """Return for each path the shortest end of it that no other one has, without a `.toml` at its end.

    The paths must be different ones. The names do not depend on where the common folder of the paths lies.
    """
    split = [_parts(path) for path in paths]
    bare = [(*parts[:-1], parts[-1].removesuffix(".toml")) for parts in split]
    count = Counter(bare)
    split = [whole if count[short] > 1 else short for whole, short in zip(split, bare, strict=True)]
    depths = [1] * len(split)
    while True:
        names = ["/".join(parts[-depth:]) for parts, depth in zip(split, depths, strict=True)]
        times = Counter(names)
        deeper = [i for i, name in enumerate(names) if times[name] > 1 and depths[i] < len(split[i])]
        if not deeper:
            return names
        for i in deeper:
            depths[i] += 1


def _parts(path: Path) -> tuple[str, ...]:
    # A name on disk may be bytes that are no text, or hold signs that move a cursor.
    name = os.fsencode(os.path.abspath(path))  # noqa: PTH100 - links are kept
    if os.sep == "/":
        name = name.replace(b"\\", b"\\\\")
    text = name.decode("utf-8", "backslashreplace")
    shown = "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in text)
    return tuple(shown.replace(os.sep, "/").split("/"))


def record_names(labels: Sequence[tuple[str, ...]]) -> list[str]:
    """Return a readable file name for each label, no two alike even where case does not count.

    What a file system may not take becomes a hyphen; a name that does not tell its label whole ends in a
    fingerprint of the label. Raises ValueError where two labels are the same.
    """
    plain = ["--".join(re.sub(r"[^A-Za-z0-9._-]+", "-", part).lstrip(".") for part in label) for label in labels]
    times = Counter(name.casefold() for name in plain)
    names: list[str] = []
    for name, label in zip(plain, labels, strict=True):
        if name == "--".join(label) and name.count("--") < len(label) and times[name.casefold()] == 1:
            whole = len(name) <= LONGEST
        else:
            whole = False
        mark = hashlib.sha256("\0".join(label).encode()).hexdigest()[:12]
        names.append(name if whole else f"{name[: LONGEST - 13]}-{mark}")
    if len({name.casefold() for name in names}) < len(names):
        raise ValueError("two cases have the same label")
    return names
