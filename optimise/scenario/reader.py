"""Reading a scenario from a TOML file, with every fault told by its key."""

import hashlib
from pathlib import Path

from pydantic import ValidationError

from optimise.parts.faults import Collector, Fault
from optimise.parts.text import decoded, read_data, toml_tree
from optimise.scenario.keys import lines_of, model_faults, section_values
from optimise.scenario.kit import kit_of
from optimise.scenario.model import Scenario
from optimise.scenario.point_reader import points_of


def read_scenario(path: Path) -> Scenario:
    """Read a scenario. Raises `InputError` with all faults of the file."""
    faults = Collector()
    data = read_data(path, path.name, faults)
    text = None if data is None else decoded(data, path.name, faults)
    faults.stop_if_any()
    assert data is not None
    assert text is not None
    read = read_text_of_scenario(text, path.name)
    return read.model_copy(update={"fingerprint": hashlib.sha256(data).hexdigest()})


def read_text_of_scenario(text: str, name: str) -> Scenario:
    """Read a scenario from the text of a file of some name. Raises `InputError` with all faults."""
    faults = Collector()
    tree = toml_tree(text, name, faults, 'Text and quantities stand in quotes: distance = "2.5 m".')
    faults.stop_if_any()
    assert tree is not None
    lines = lines_of(text)
    currency: list[str] = []
    entries, points = tree.pop("kit", None), tree.pop("point", [])
    values = section_values(tree, Scenario, "", name, lines, currency, faults)
    refused = {fault.column.removeprefix("key ").split(".")[0] for fault in faults.faults}
    if len(set(currency)) > 1:
        read = " and ".join(sorted(set(currency)))
        allowed = "rates in one currency, that of the budget"
        faults.add(Fault(name, lines.get("buying.rates"), "key buying.rates", read, allowed))
    values["points"] = points_of(points, "", name, lines, faults)
    scenario: Scenario | None = None
    try:
        scenario = Scenario(**values, currency=currency[0] if currency else None, text=text)
    except ValidationError as error:
        for problem in error.errors():
            # A rule between keys says nothing while one of its section is unread, between sections while any is.
            rule = problem["type"] == "value_error"
            silent = bool(refused) if not problem["loc"] else problem["loc"][0] in refused
            if problem["type"] != "missing" and not (rule and silent):
                faults.faults.extend(model_faults(problem, tree, name, lines))
    kit = () if entries is None else kit_of(entries, values, scenario, name, lines, faults)
    if entries is not None and scenario is not None and scenario.search.emitter_kinds > 1:
        key = "search.emitter_kinds"
        allowed = "1 where there is a [[kit]]: two whites are mixed in a light by itself only"
        faults.add(
            Fault(name, lines.get(key), f"key {key}", '"2"', allowed, "Take it out, or write a scenario for each.")
        )
    faults.stop_if_any()
    assert scenario is not None, "a refused scenario has at least one fault"
    return scenario.model_copy(update={"kit": kit})
