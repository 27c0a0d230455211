"""The lights of a record: what no formula holds for is refused in words, and at once."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from optimise.parts import InputError
from optimise.report.kit import read_build
from optimise.report.lamp import lamps_of

SMALL = Path(__file__).parents[1] / "fuzz" / "corpus" / "record" / "small.json"


def tiny(tree: Any) -> None:
    for part in tree["parts"]:
        if part["kind"] == "emitters":
            part["columns"].update(length=1e-9, width=1e-9)


def many(tree: Any) -> None:
    tiny(tree)
    tree["choice"]["channels"][0]["parallel"] = 100_000


def lengthless(tree: Any) -> None:
    for part in tree["parts"]:
        if part["kind"] == "emitters":
            part["columns"]["length"] = 5e-324


@pytest.mark.parametrize(
    ("spoil", "told"),
    [
        (many, "read a build of 100000 emitters; allowed: at most 5000"),
        (lengthless, "read a build that cannot be worked out"),
    ],
)
def test_a_build_that_has_no_layout_is_refused(tmp_path: Path, spoil: Callable[[Any], None], told: str) -> None:
    tree = json.loads(SMALL.read_text())
    tree.pop("layout", None)
    spoil(tree)
    path = tmp_path / "record.json"
    path.write_text(json.dumps(tree))
    record, _ = read_build(path)
    with pytest.raises(InputError, match=told):
        lamps_of(record, "record.json")


def test_tiny_pieces_have_their_places(tmp_path: Path) -> None:
    tree = json.loads(SMALL.read_text())
    tiny(tree)
    path = tmp_path / "record.json"
    path.write_text(json.dumps(tree))
    record, _ = read_build(path)
    (lamp,) = lamps_of(record, "record.json")
    assert lamp.layout is not None
