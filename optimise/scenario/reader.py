"""Reading a scenario from a TOML file, with every fault told by its key."""

import re
import tomllib
from collections.abc import Iterator
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from optimise.parts import units
from optimise.parts.faults import Collector, Fault, nearest, quoted
from optimise.parts.text import read_text
from optimise.parts.units import Measure, UnitError
from optimise.scenario.model import Scenario

_WORDS = {"gt": "more than", "ge": "at least", "lt": "less than", "le": "at most"}


def read_scenario(path: Path) -> Scenario:
    """Read a scenario. Raises `InputError` with all faults of the file."""
    faults = Collector()
    text = read_text(path, path.name, faults)
    faults.stop_if_any()
    assert text is not None
    return read_text_of_scenario(text, path.name)


def read_text_of_scenario(text: str, name: str) -> Scenario:
    """Read a scenario from the text of a file of some name. Raises `InputError` with all faults."""
    faults = Collector()
    try:
        tree = tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # a number of thousands of digits is a plain ValueError
        place = re.search(r"\(at line (\d+)", str(error))
        faults.add(
            Fault(
                name,
                row=int(place[1]) if place else None,
                read=f"broken TOML ({error})",
                allowed="TOML 1.0",
                mend='Text and quantities stand in quotes: distance = "2.5 m".',
            )
        )
        faults.stop_if_any()
    lines = _lines(text)
    currency: list[str] = []
    values = _section(tree, Scenario, "", name, lines, currency, faults)
    refused = {fault.column.removeprefix("key ").split(".")[0] for fault in faults.faults}
    if len(set(currency)) > 1:
        read = " and ".join(sorted(set(currency)))
        allowed = "rates in one currency, that of the budget"
        faults.add(Fault(name, lines.get("buying.rates"), "key buying.rates", read, allowed))
    scenario: Scenario | None = None
    try:
        scenario = Scenario(**values, currency=currency[0] if currency else None, text=text)
    except ValidationError as error:
        for problem in error.errors():
            # A rule between keys says nothing while one of its section is not read.
            rule = problem["type"] == "value_error"
            if rule and not problem["loc"]:
                faults.faults.extend([] if refused else _rule_faults(problem, tree, name, lines))
            elif problem["type"] != "missing" and not (rule and problem["loc"][0] in refused):
                faults.add(_model_fault(problem, tree, name, lines))
    faults.stop_if_any()
    assert scenario is not None, "a refused scenario has at least one fault"
    return scenario


def _lines(text: str) -> dict[str, int]:
    """Map dotted keys to lines; good enough for messages, TOML's own parser does the reading."""
    found: dict[str, int] = {}
    prefix = ""
    for number, line in enumerate(text.split("\n"), 1):
        if match := re.match(r"\s*\[\s*([\w.-]+)\s*\]", line):
            prefix = match[1] + "."
            found.setdefault(match[1], number)
        elif match := re.match(r"\s*([\w.-]+)\s*=", line):
            found.setdefault(prefix + match[1], number)
    return found


def _section(
    tree: dict[str, Any],
    model: type[BaseModel],
    prefix: str,
    file: str,
    lines: dict[str, int],
    currency: list[str],
    faults: Collector,
) -> dict[str, Any]:
    values: dict[str, Any] = {}
    known = {name: field for name, field in model.model_fields.items() if name not in {"currency", "text"}}
    for name, value in tree.items():
        where = prefix + name
        field = known.get(name)

        def tell(read: str, allowed: str, mend: str = "", where: str = where) -> None:
            faults.add(Fault(file, lines.get(where), f"key {where}", read, allowed, mend))

        if field is None:
            tell("an unknown key", ", ".join(known), nearest(name, known))
        elif isinstance(field.annotation, type) and issubclass(field.annotation, BaseModel):
            if isinstance(value, dict):
                values[name] = _section(value, field.annotation, where + ".", file, lines, currency, faults)
            else:
                tell(_seen(value), f"a section, [{where}]")
        else:
            try:
                values[name] = _value(value, name, field, currency)
            except UnitError as error:
                tell(_seen(value), error.allowed, error.mend)
    for name, field in known.items():
        if field.is_required() and name not in tree:
            nested = isinstance(field.annotation, type) and issubclass(field.annotation, BaseModel)
            faults.add(
                Fault(
                    file,
                    lines.get(prefix.rstrip(".")),
                    f"key {prefix}{name}",
                    "no such key",
                    f"a section, [{name}]" if nested else "the key, since it is required",
                    f"Add it: {(field.description or '').rstrip('.')}.",
                )
            )
    return values


def _seen(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dict):
        return "a section"
    if isinstance(value, list):
        return "a list"
    return quoted(_text(value))


def _text(value: Any) -> str:
    # Decimal writes what int would not: a number of more than 4300 digits.
    return str(Decimal(value) if isinstance(value, int) else value)


def _value(value: Any, name: str, field: FieldInfo, currency: list[str]) -> Any:
    extra = field.json_schema_extra
    measure = extra.get("measure") if isinstance(extra, dict) else None
    if name == "budget":
        if not isinstance(value, str):
            raise UnitError('an amount with its currency, in quotes, such as "250 EUR"')
        cents, code = units.money(value)
        if code is None:
            raise UnitError('an amount with its currency (ISO 4217), such as "250 EUR"')
        currency.append(code)
        return cents
    if isinstance(measure, Measure):
        if isinstance(value, bool) or not isinstance(value, str | int | float):
            raise UnitError(f"{measure.name}, a quantity in quotes")
        if name == "shutter" and isinstance(value, str) and (match := re.match(r"\s*1\s*/\s*", value)):
            number, unit = units.split(value[match.end() :])
            if number < 1e-9 or unit != "s":
                raise UnitError('an exposure time such as "1/50 s"')
            return 1.0 / number
        if name == "frame_rate" and isinstance(value, str) and value.rstrip().endswith("fps"):
            value = value.rstrip().removesuffix("fps") + " 1/s"
        return units.convert(_text(value), measure, None)
    if field.annotation is bool and not isinstance(value, bool):
        raise UnitError("true | false")
    if name == "date":
        return _day(value)
    if name == "rates":
        return _rates(value, currency)
    if name == "suppliers":
        if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
            raise UnitError('a list of names, such as ["own", "north"]')
        return tuple(value)
    if not isinstance(value, str | bool):
        raise UnitError("text in quotes")
    return value


def _day(value: Any) -> date:
    allowed = "a day, such as 2031-01-31"
    if isinstance(value, datetime) or not isinstance(value, str | date):
        raise UnitError(allowed)
    try:
        return date.fromisoformat(value) if isinstance(value, str) else value
    except ValueError:
        raise UnitError(allowed) from None


def _rates(value: Any, currency: list[str]) -> tuple[tuple[str, Decimal], ...]:
    allowed = 'currencies with what one unit costs, such as { GBP = "1.17 EUR" }'
    if not isinstance(value, dict):
        raise UnitError(allowed)
    rates: list[tuple[str, Decimal]] = []
    for code, text in value.items():
        match = re.fullmatch(r"\s*(\d{1,9}(?:\.\d{1,12})?)\s*([A-Z]{3})\s*", text) if isinstance(text, str) else None
        if re.fullmatch(r"[A-Z]{3}", code) is None or match is None or Decimal(match[1]) <= 0:
            raise UnitError(allowed)
        currency.append(match[2])
        rates.append((code, Decimal(match[1])))
    return tuple(sorted(rates))


def _rule_faults(problem: Any, tree: dict[str, Any], file: str, lines: dict[str, int]) -> Iterator[Fault]:
    """Yield what a rule between sections tells: a line for each fault, section.key|allowed|mend."""
    for line in str(problem["msg"]).removeprefix("Value error, ").split("\n"):
        where, allowed, mend = line.split("|")
        section, key = where.split(".")
        value = tree.get(section, {}).get(key)
        read = "no such key" if value is None else _seen(value)
        yield Fault(file, lines.get(where) or lines.get(section), f"key {where}", read, allowed, mend)


def _model_fault(problem: Any, tree: dict[str, Any], file: str, lines: dict[str, int]) -> Fault:
    place = [str(step) for step in problem["loc"]]
    message = str(problem["msg"]).removeprefix("Value error, ")
    mend = ""
    context = problem.get("ctx", {})
    model: Any = Scenario
    field: FieldInfo | None = None
    for step in place:
        field = model.model_fields.get(step) if model is not None else None
        annotation = field.annotation if field is not None else None
        model = annotation if isinstance(annotation, type) and issubclass(annotation, BaseModel) else None
    if message.count("|") == 2:
        name, allowed, mend = message.split("|")
        place.append(name)
    elif bound := next((key for key in _WORDS if key in context), None):
        extra = field.json_schema_extra if field is not None else None
        measure = extra.get("measure") if isinstance(extra, dict) else None
        limit = context[bound]
        shown = units.shown(float(limit), measure) if isinstance(measure, Measure) else str(limit)
        allowed = f"{_WORDS[bound]} {shown}"
    elif problem["type"] == "literal_error":
        allowed = str(context["expected"]).replace("'", "").replace(" or ", " | ").replace(", ", " | ")
    elif problem["type"] in {"int_from_float", "int_parsing"}:
        allowed = "a whole number"
    elif problem["type"] == "string_pattern_mismatch":
        allowed = "IP and two signs of IEC 60529, such as IP44 or IPX4"
    else:
        allowed = message
    where = ".".join(place)
    value: Any = tree
    for step in place:
        value = value.get(step) if isinstance(value, dict) else None
    line = lines.get(where) or lines.get(".".join(place[:-1]))
    return Fault(file, line, f"key {where}", "no such key" if value is None else _seen(value), allowed, mend)
