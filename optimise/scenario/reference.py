"""The reference of scenario keys, made from the models so that it cannot drift."""

from collections.abc import Iterator

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from optimise.parts.units import Measure, shown
from optimise.scenario.keys import NOT_KEYS
from optimise.scenario.model import KitEntry, KitLimits, Scenario
from optimise.scenario.points import Point

_SIGNS = {"gt": ">", "ge": "≥", "lt": "<", "le": "≤"}


def scenario_reference() -> str:
    """Return a Markdown table of every key: section, key, what is allowed, default, meaning."""
    lines = ["| section | key | allowed | default | meaning |", "| --- | --- | --- | --- | --- |"]
    for name, field in Scenario.model_fields.items():
        if name in NOT_KEYS:
            continue
        model = field.annotation
        if isinstance(model, type) and issubclass(model, BaseModel):
            lines += [_line(f"[{name}]", key, inner) for key, inner in model.model_fields.items()]
        else:
            lines.append(_line("(top)", name, field))
    lines += [_line("[[point]]", name, field) for name, field in Point.model_fields.items()]
    lines += [
        _line("[[kit]]", name, field) for name, field in KitEntry.model_fields.items() if name in {"name", "count"}
    ]
    for name in ("light", "look", "power"):
        lines.append(
            f"| `[kit.{name}]` | | the keys of `[{name}]` | those at the top | What this light asks otherwise. |"
        )
    lines.append(
        "| `[[kit.point]]` | | the keys of `[[point]]` | those at the top | The points of this light instead. |"
    )
    lines += [_line("[kit.limits]", name, field) for name, field in KitLimits.model_fields.items()]
    return "\n".join(lines) + "\n"


def _line(section: str, key: str, field: FieldInfo) -> str:
    allowed = "; ".join(_allowed(key, field))
    return f"| `{section}` | `{key}` | {allowed} | {_default(field)} | {field.description} |"


def _measure(field: FieldInfo) -> Measure | None:
    extra = field.json_schema_extra
    measure = extra.get("measure") if isinstance(extra, dict) else None
    return measure if isinstance(measure, Measure) else None


def _allowed(key: str, field: FieldInfo) -> Iterator[str]:
    measure = _measure(field)
    if key == "budget":
        yield 'amount, as "250 EUR"'
    elif measure is not None and measure.unit:
        yield f"{measure.name} [{measure.show_unit}]"
    elif measure is not None:
        yield measure.name
    words = [w for w in getattr(field.annotation, "__args__", ()) if isinstance(w, str)]
    if words:
        yield " or ".join(f"`{word}`" for word in words)
    elif field.annotation is bool:
        yield "`true` or `false`"
    elif key == "suppliers":
        yield "list of names"
    elif key == "date":
        yield "a day, year-month-day"
    elif key == "rates":
        yield "a table of currencies"
    elif measure is None and key != "budget":
        yield "text"
    for rule in field.metadata:
        for name, word in _SIGNS.items():
            limit = getattr(rule, name, None)
            if limit is not None and measure is not None:
                yield f"{word} {shown(float(limit), measure)}"


def _default(field: FieldInfo) -> str:
    if field.is_required():
        return "required"
    value, measure = field.default, _measure(field)
    if value is None:
        return "none"
    if isinstance(value, bool):
        return f"`{str(value).lower()}`"
    if measure is not None:
        return shown(float(value), measure)
    return f"`{value}`" if value else "empty"


if __name__ == "__main__":
    print(scenario_reference(), end="")
