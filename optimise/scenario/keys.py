"""The keys of a scenario: from what TOML gives to canonical values, every fault told by its key."""

import re
from collections.abc import Iterator
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from optimise.parts import units
from optimise.parts.faults import Collector, Fault, nearest
from optimise.parts.text import seen, value_text
from optimise.parts.units import Measure, UnitError
from optimise.scenario.model import Scenario

_WORDS = {"gt": "more than", "ge": "at least", "lt": "less than", "le": "at most"}

NOT_KEYS = {"currency", "text", "fingerprint", "kit", "points"}
"""Fields of a scenario that are not keys of its file with a value of their own."""


def lines_of(text: str) -> dict[str, int]:
    """Map dotted keys to lines; good enough for messages, TOML's own parser does the reading."""
    found: dict[str, int] = {}
    prefix = ""
    lights = 0
    points: dict[str, int] = {}
    for number, line in enumerate(text.split("\n"), 1):
        if re.match(r"\s*\[\[\s*kit\s*\]\]", line):
            lights += 1
            prefix = f"{light_key(lights)}."
            found.setdefault("kit", number)
            found.setdefault(light_key(lights), number)
        elif match := re.match(r"\s*\[\[\s*(kit\s*\.\s*)?point\s*\]\]", line):
            light = f"{light_key(lights)}." if match[1] else ""
            points[light] = points.get(light, 0) + 1
            name = light + point_key(points[light])
            prefix = f"{name}."
            found.setdefault(f"{light}point", number)
            found.setdefault(name, number)
        elif match := re.match(r"\s*\[\s*([\w.-]+)\s*\]", line):
            name = re.sub(r"^kit\b", light_key(lights), match[1]) if lights else match[1]
            prefix = name + "."
            found.setdefault(name, number)
        elif match := re.match(r"\s*([\w.-]+)\s*=", line):
            found.setdefault(prefix + match[1], number)
    return found


def light_key(number: int) -> str:
    """Return how the n-th light of a kit is named among the keys, from 1."""
    return f"kit[{number}]"


def point_key(number: int) -> str:
    """Return how the n-th point of a light is named among its keys, from 1."""
    return f"point[{number}]"


def section_values(
    tree: dict[str, Any],
    model: type[BaseModel],
    prefix: str,
    file: str,
    lines: dict[str, int],
    currency: list[str],
    faults: Collector,
    *,
    partly: bool = False,
) -> dict[str, Any]:
    """Return the canonical values of the keys of a section, and of the sections in it; add what is wrong to `faults`.

    partly: whether keys that are required may be left out, since another section holds them. currency: is given every
    currency that is named.
    """
    values: dict[str, Any] = {}
    known = {name: field for name, field in model.model_fields.items() if name not in NOT_KEYS}
    for name, value in tree.items():
        where = prefix + name
        field = known.get(name)

        def tell(read: str, allowed: str, mend: str = "", where: str = where) -> None:
            faults.add(Fault(file, lines.get(where), f"key {where}", read, allowed, mend))

        if field is None:
            tell("an unknown key", ", ".join(known), nearest(name, known))
        elif isinstance(field.annotation, type) and issubclass(field.annotation, BaseModel):
            if isinstance(value, dict):
                values[name] = section_values(
                    value, field.annotation, where + ".", file, lines, currency, faults, partly=partly
                )
            else:
                tell(seen(value), f"a section, [{where}]")
        else:
            try:
                values[name] = _value(value, name, field, currency)
            except UnitError as error:
                tell(seen(value), error.allowed, error.mend)
    for name, field in known.items():
        if field.is_required() and name not in tree and not partly:
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
        return units.convert(value_text(value), measure, None)
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


def model_faults(
    problem: Any, tree: dict[str, Any], file: str, lines: dict[str, int], model: Any = Scenario, prefix: str = ""
) -> Iterator[Fault]:
    """Yield the faults that a model found in the values of a tree of keys, all of which begin with `prefix`.

    A rule between sections may tell several: a line for each, section.key|allowed|mend.
    """
    if problem["loc"] or problem["type"] != "value_error":
        yield model_fault(problem, tree, file, lines, model, prefix)
        return
    for line in str(problem["msg"]).removeprefix("Value error, ").split("\n"):
        where, allowed, mend = line.split("|")
        section, key = where.split(".")
        value = tree.get(section, {}).get(key)
        read = "no such key" if value is None else seen(value)
        row = next((lines[name] for name in (prefix + where, prefix + section, prefix[:-1]) if name in lines), None)
        yield Fault(file, row, f"key {prefix}{where}", read, allowed, mend)


def model_fault(problem: Any, tree: dict[str, Any], file: str, lines: dict[str, int], model: Any, prefix: str) -> Fault:
    """Return the fault that a model found in one value, or by a rule between the values of one section."""
    place = [str(step) for step in problem["loc"]]
    message = str(problem["msg"]).removeprefix("Value error, ")
    mend = ""
    context = problem.get("ctx", {})
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
    line = lines.get(prefix + where) or lines.get((prefix + ".".join(place[:-1])).rstrip("."))
    return Fault(file, line, f"key {prefix}{where}", "no such key" if value is None else seen(value), allowed, mend)
