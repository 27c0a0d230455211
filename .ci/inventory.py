"""A bill of materials without addresses, and the licences of all that runs: `inventory.py MADE LOCK BOM LICENCES`.

MADE is CycloneDX JSON of an environment that was made from the lock.
"""

import json
import re
import sys
import tomllib
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
RUNS = ("cluster", "drawing", "parquet", "pdf", "spectra", "workbook")
"""The extras that a user installs; all others are for tests and development."""

READ = {
    # Of what names no licence in a form that the tool knows: as their own licence files and metadata have it.
    "axe-playwright-python": "MIT",
    "partd": "BSD-3-Clause",
    "protobuf": "BSD-3-Clause",
}
SAID = {
    "License :: OSI Approved :: Apache Software License": "Apache-2.0",
    "License :: OSI Approved :: BSD License": "BSD",
    "License :: OSI Approved :: GNU Lesser General Public License v2 or later (LGPLv2+)": "LGPL-2.1-or-later",
    "License :: OSI Approved :: Mozilla Public License 2.0 (MPL 2.0)": "MPL-2.0",
}


def plain(name: str) -> str:
    """Return a name as packages are compared by (PEP 503)."""
    return re.sub(r"[-_.]+", "-", re.split(r"[\[<>=!~; ]", name)[0]).lower()


def licences(component: dict[str, Any]) -> list[str]:
    """Return the licences of a component, each once."""
    found = []
    for entry in component.get("licenses", []):
        held = entry.get("license", {})
        name = held.get("id") or entry.get("expression") or SAID.get(held.get("name", ""))
        if name and name not in found and not (name == "BSD" and any("BSD" in other for other in found)):
            found.append(name)
    return found or [READ[plain(component["name"])]]


def without_addresses(tree: Any) -> Any:
    """Return a tree without what leads elsewhere, and without prose: both say nothing of what is built in."""
    if isinstance(tree, dict):
        dropped = {"externalReferences", "description"}
        return {key: without_addresses(value) for key, value in tree.items() if key not in dropped}
    return [without_addresses(value) for value in tree] if isinstance(tree, list) else tree


def graph_of(lock: str) -> dict[str, set[str]]:
    """Return by name what each package of a lock asks for; the environment alone would add what others might use."""
    below: dict[str, set[str]] = {}
    name = ""
    for line in lock.splitlines():
        if line[:1].isalnum():
            name = plain(line)
            below.setdefault(name, set())
        elif "# via " in line:
            for user in line.split("# via ")[1].split(", "):
                below.setdefault("rushlight" if "pyproject.toml" in user else plain(user), set()).add(name)
    return below


def needed(below: dict[str, set[str]], roots: list[str]) -> set[str]:
    """Return the names of roots and of all that they ask for."""
    found: set[str] = set()
    left = {plain(root) for root in roots}
    while left:
        name = left.pop()
        found.add(name)
        left |= below[name] - found
    return found


def table(bom: dict[str, Any], below: dict[str, set[str]]) -> str:
    """Return the licences of what runs as a table, with what each is for."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    asked = {"rushlight": project["dependencies"]} | {name: project["optional-dependencies"][name] for name in RUNS}
    by_use = {use: needed(below, roots) for use, roots in asked.items()}
    lines = [
        "# Licences of what runs",
        "",
        "Made by `.ci/lock` from the metadata of the packages in `requirements.lock`. `rushlight` is what is always",
        "installed, the other uses are extras. Rushlight itself is under the MIT licence (`LICENSE`).",
        "",
        "| package | version | licence | for |",
        "| --- | --- | --- | --- |",
    ]
    for component in sorted(bom["components"], key=lambda part: plain(part["name"])):
        uses = [use for use, names in by_use.items() if plain(component["name"]) in names]
        if uses:
            uses = uses[:1] if uses[0] == "rushlight" else uses
            told = " or ".join(licences(component))
            lines.append(f"| {plain(component['name'])} | {component['version']} | {told} | {', '.join(uses)} |")
    return "\n".join(lines) + "\n"


def main(made: Path, lock: Path, bom_path: Path, licences_path: Path) -> None:
    """Write the bill of materials and the list of licences anew."""
    bom = without_addresses(json.loads(made.read_text(encoding="utf-8")))
    below = graph_of(lock.read_text(encoding="utf-8"))
    for component in bom["components"]:
        if not component.get("licenses"):
            known = READ[plain(component["name"])]
            component["licenses"] = [{"license": {"acknowledgement": "concluded", "id": known}}]
    places = {plain(component["name"]): component["bom-ref"] for component in bom["components"]}
    places["rushlight"] = bom["metadata"]["component"]["bom-ref"]
    bom["dependencies"] = [
        {"ref": places[name], "dependsOn": sorted(places[other] for other in below[name])} for name in sorted(below)
    ]
    bom_path.write_text(json.dumps(bom, indent=1, sort_keys=True, ensure_ascii=False) + "\n", encoding="utf-8")
    licences_path.write_text(table(bom, below), encoding="utf-8")


if __name__ == "__main__":
    main(*(Path(name) for name in sys.argv[1:]))
