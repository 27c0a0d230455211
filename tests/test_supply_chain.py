"""What is depended on: bounds, lock, bill of materials, licences and reasons say the same, without a network."""

import importlib.util
import json
import re
import tomllib
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from packaging.requirements import Requirement
from packaging.version import Version

ROOT = Path(__file__).parents[1]
CI = ROOT / ".ci"
LOCK = (CI / "requirements.lock").read_text(encoding="utf-8")
BOM: dict[str, Any] = json.loads((CI / "bom.json").read_text(encoding="utf-8"))
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
EXTRAS: dict[str, list[str]] = {
    "rushlight": PROJECT["project"]["dependencies"],
    **PROJECT["project"]["optional-dependencies"],
}
DEPENDENCIES = sorted({Requirement(line) for lines in EXTRAS.values() for line in lines}, key=str)


def inventory() -> ModuleType:
    spec = importlib.util.spec_from_file_location("inventory", CI / "inventory.py")
    assert spec is not None
    assert spec.loader is not None
    made = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(made)
    return made


INVENTORY = inventory()
LOCKED = {INVENTORY.plain(name): Version(version) for name, version in re.findall(r"^(\S+)==(\S+)", LOCK, re.MULTILINE)}


@pytest.mark.parametrize("wanted", DEPENDENCIES, ids=str)
def test_every_dependency_has_a_lower_bound_and_is_locked_within_it(wanted: Requirement) -> None:
    assert any(part.operator == ">=" for part in wanted.specifier)
    assert LOCKED[INVENTORY.plain(wanted.name)] in wanted.specifier


def test_a_dependency_has_one_bound_wherever_it_is_asked_for() -> None:
    assert len({INVENTORY.plain(wanted.name) for wanted in DEPENDENCIES}) == len(DEPENDENCIES)


def test_every_locked_release_has_its_hashes() -> None:
    blocks = re.split(r"^(?=\S+==)", LOCK, flags=re.MULTILINE)[1:]
    assert len(blocks) == len(LOCKED) > 50
    assert all(re.search(r"--hash=sha256:[0-9a-f]{64}\b", block) for block in blocks)


@pytest.mark.parametrize("name", sorted(path.name for path in CI.iterdir() if path.is_file()))
def test_no_address_is_told(name: str) -> None:
    text = (CI / name).read_text(encoding="utf-8")
    schema = '"$schema": "http://cyclonedx.org/schema/bom-1.6.schema.json"'
    assert "://" not in text.replace(schema, "")
    assert not re.search(r"--(extra-)?index-url|--find-links|--index ", text)


def test_the_bill_of_materials_is_that_of_the_lock() -> None:
    assert (BOM["bomFormat"], BOM["specVersion"]) == ("CycloneDX", "1.6")
    parts = {INVENTORY.plain(part["name"]): Version(part["version"]) for part in BOM["components"]}
    assert parts == LOCKED
    for part in BOM["components"]:
        assert part["purl"].startswith("pkg:")
        assert INVENTORY.plain(part["purl"].split("@")[0].split("/")[-1]) == INVENTORY.plain(part["name"])
    # Made twice of the same, it is the same.
    assert "serialNumber" not in BOM
    assert "timestamp" not in BOM["metadata"]
    assert BOM["metadata"]["component"]["version"] == PROJECT["project"]["version"]
    assert BOM["metadata"]["component"]["licenses"][0]["license"]["id"] == PROJECT["project"]["license"]


def test_the_bill_of_materials_knows_what_asks_for_what() -> None:
    graph = INVENTORY.graph_of(LOCK)
    assert graph["rushlight"] == {INVENTORY.plain(wanted.name) for wanted in DEPENDENCIES}
    names = {part["bom-ref"]: INVENTORY.plain(part["name"]) for part in BOM["components"]}
    names[BOM["metadata"]["component"]["bom-ref"]] = "rushlight"
    told = {names[entry["ref"]]: {names[ref] for ref in entry["dependsOn"]} for entry in BOM["dependencies"]}
    assert told == graph
    assert INVENTORY.needed(graph, ["rushlight"]) == {*LOCKED, "rushlight"}


def test_every_part_of_what_runs_has_its_licence_told() -> None:
    table = (CI / "licences.md").read_text(encoding="utf-8")
    assert table == INVENTORY.table(BOM, INVENTORY.graph_of(LOCK)), "make it anew by .ci/lock"
    rows = {cells[1]: cells for line in table.splitlines() if len(cells := [c.strip() for c in line.split("|")]) == 6}
    for extra in ("rushlight", *INVENTORY.RUNS):
        for line in EXTRAS[extra]:
            row = rows[INVENTORY.plain(line)]
            assert Version(row[2]) == LOCKED[row[1]]
            assert row[3]
            assert row[4] == "rushlight" or extra in row[4].split(", ")
    assert set(INVENTORY.RUNS) == set(EXTRAS) - {"rushlight", "test", "browser", "benchmark", "mutation", "dev"}


def test_a_part_without_a_licence_is_told() -> None:
    part = {"name": "nameless", "version": "1", "bom-ref": "nameless==1"}
    with pytest.raises(KeyError, match="nameless"):
        INVENTORY.licences(part)


def reasons() -> dict[str, str]:
    """Return by name what DEVELOPERS.md says of a dependency: the brackets behind it, or behind its list."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    paragraph = " ".join(re.search(r"^Dependencies, and why:(.*?)\n\n", text, re.DOTALL | re.MULTILINE)[1].split())  # type: ignore[index]
    found: dict[str, str] = {}
    for names, reason in re.findall(r"([^()]*)\(([^()]*)\)", paragraph):
        for name in re.findall(r"[a-z0-9][a-z0-9-]*", names):
            found.setdefault(name, reason)
    return found


@pytest.mark.parametrize("extra", EXTRAS)
def test_every_dependency_has_a_reason(extra: str) -> None:
    told = reasons()
    for line in EXTRAS[extra]:
        assert len(told.get(INVENTORY.plain(line), "")) > 4, line
    assert len(told[INVENTORY.plain(PROJECT["build-system"]["requires"][0])]) > 4
