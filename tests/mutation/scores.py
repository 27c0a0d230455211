"""What is known of mutants: results of trials, those explained, and the score of both."""

import json
import math
import tomllib
from collections.abc import Iterable, Mapping
from itertools import groupby
from pathlib import Path
from typing import Any

KEY = ("file", "function", "text", "before", "after", "nth")
EXPLAINED = Path(__file__).with_name("explained")
"""Files of explained mutants: one a package, of model one a module."""

Key = tuple[Any, ...]


def last(results: Path) -> dict[Key, dict[str, Any]]:
    """Return the latest record of each mutant."""
    if not results.exists():
        return {}
    lines = results.read_text(encoding="utf-8").splitlines()
    return {tuple(record[name] for name in KEY): record for record in map(json.loads, lines)}


def _listed() -> list[dict[str, Any]]:
    files = sorted(EXPLAINED.glob("*.toml"))
    return [entry for file in files for entry in tomllib.loads(file.read_text(encoding="utf-8"))["mutant"]]


def entries() -> list[Key]:
    """Return every mutant that is explained, as often as it is."""
    return [tuple(entry.get(name, 0) for name in KEY) for entry in _listed()]


def explained() -> dict[Key, str]:
    """Return why a mutant needs no test that notices it, by mutant."""
    return {tuple(entry.get(name, 0) for name in KEY): entry["reason"] for entry in _listed()}


def interval(noticed: int, number: int, z: float = 1.96) -> tuple[float, float]:
    """Return Wilson's 95 % interval of a share (Wilson 1927)."""
    if not number:
        return 0.0, 1.0
    share, square = noticed / number, z * z / number
    middle = (share + square / 2.0) / (1.0 + square)
    half = z / (1.0 + square) * math.sqrt(share * (1.0 - share) / number + square / (4.0 * number))
    return middle - half, middle + half


def show(mutants: Iterable[Any], done: Mapping[Key, Mapping[str, Any]], reasons: Mapping[Key, str]) -> None:
    """Print the score of each file and of all: noticed of tried, and of those tried that are not explained."""
    total = [0, 0, 0, 0]
    for file, some in groupby(sorted(mutants, key=lambda m: m.file), key=lambda m: m.file):
        keys = [mutant.key for mutant in some]
        known = [done[key] for key in keys if key in done and key not in reasons]
        noticed = sum(record["outcome"] != "survived" for record in known)
        row = [len(keys), len(known), noticed, sum(key in reasons for key in keys)]
        total = [a + b for a, b in zip(total, row, strict=True)]
        _row(file, row)
    _row("all", total)


def _row(name: str, row: list[int]) -> None:
    number, tried, noticed, equal = row
    plain = noticed / (tried + equal) if tried + equal else math.nan
    net = noticed / tried if tried else math.nan
    low, high = interval(noticed, tried)
    print(
        f"{name:40} {number:5} mutants {tried:5} tried {noticed:5} noticed {equal:4} explained: "
        f"{plain:6.1%} of all, {net:6.1%} without the explained ({low:.1%} to {high:.1%})"
    )
