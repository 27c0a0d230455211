"""How a field of a part is declared: unit, bounds, meaning, and what goes missing when its cell is blank."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Any, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator
from pydantic.fields import FieldInfo

from optimise.parts.units import Measure

REQUIRED = "required"


@dataclass(frozen=True)
class Column:
    """What the column reference and the reader know of one column."""

    name: str
    measure: Measure | None
    """None for words, codes and yes/no."""
    meaning: str
    blank: str
    """`required`, or what a blank cell means: the default, or the check that is not made."""
    allowed: str
    """The words or the range allowed."""


def column(
    meaning: str,
    measure: Measure | None = None,
    *,
    blank: str = REQUIRED,
    default: Any = None,
    **bounds: Any,
) -> Any:
    """Declare a field: `bounds` are pydantic's own (gt, ge, lt, le, pattern …), in the canonical unit."""
    extra: Any = {"measure": measure, "blank": blank}
    given: dict[str, Any] = dict(bounds)
    if blank != REQUIRED:
        given["default"] = default
    return Field(description=meaning, json_schema_extra=extra, **given)


class Row(BaseModel):
    """A row of a table, frozen; every concrete kind is a subclass whose fields are its columns."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    def broken(self) -> Iterator[str]:
        """Yield each rule between cells that the row breaks, as column|allowed|mend."""
        yield from ()

    @model_validator(mode="after")
    def _rules(self) -> Self:
        if found := list(self.broken()):
            raise ValueError("\n".join(found))
        return self


def _extra(field: FieldInfo) -> Mapping[str, Any]:
    extra = field.json_schema_extra
    assert isinstance(extra, dict), "fields of a row are declared with column()"
    return extra


def _allowed(field: FieldInfo) -> str:
    signs = {"gt": ">", "ge": "≥", "lt": "<", "le": "≤"}
    bounds = [
        f"{signs[name]} {getattr(rule, name):g}"
        for rule in field.metadata
        for name in signs
        if getattr(rule, name, None) is not None
    ]
    words = getattr(field.annotation, "__args__", ())
    options: list[str] = []
    for word in words:
        options += [w for w in getattr(word, "__args__", (word,)) if isinstance(w, str)]
    if field.annotation is bool or bool in words:
        options = ["yes", "no"]
    return " | ".join(options) if options else ", ".join(bounds)


@cache
def columns_of(kind: type[Row]) -> Mapping[str, Column]:
    """Return the columns of a kind by name, in the order of their declaration."""
    columns = {
        name: Column(
            name=name,
            measure=_extra(field)["measure"],
            meaning=field.description or "",
            blank=_extra(field)["blank"],
            allowed=_allowed(field),
        )
        for name, field in kind.model_fields.items()
    }
    return MappingProxyType(columns)
