"""The parts of a build in its record, so that the record is enough to work its figures out again."""

from collections.abc import Sequence
from typing import Any, Literal

from pydantic import ValidationError

from optimise.model.choice import Choice
from optimise.model.exact import build_of
from optimise.parts import Battery, Catalogue, Emitter, Part
from optimise.parts.kinds import PART_KINDS
from optimise.parts.photometry import Photometry
from optimise.parts.units import GREATEST, LEAST
from optimise.report.record_parts import RecordModel

Cell = bool | int | float | str

_NAMES = {kind.__name__: name for name, kind in PART_KINDS.items()}


class IntensityRecord(RecordModel):
    """A table of intensity: angles in degrees, candela by horizontal angle, as ANSI/IES LM-63 has them."""

    kind: Literal["A", "B", "C"]
    vertical: list[float]
    horizontal: list[float]
    candela: list[list[float]]
    digest: str


class PartRecord(RecordModel):
    """One part as its row of the catalogue states it: every column that is not blank, in its canonical unit.

    `kind` is the table of the catalogue. Canonical units are SI with lm, lx, K, °C and degrees of arc; shares are
    fractions. `intensity` is the table of the photometric file that the row names. `rated_capacity`, C, is that of a
    battery which was measured to hold another capacity: what it may fly by.
    """

    kind: str
    columns: dict[str, Cell]
    intensity: IntensityRecord | None = None
    rated_capacity: float | None = None


class UnknownPartError(ValueError):
    """The parts of a record do not make a build."""


def parts_record(choice: Choice, catalogue: Catalogue) -> list[PartRecord]:
    """Return the parts of a choice, each once. Raises KeyError where a code is not in the catalogue."""
    return [_record(part) for part in build_of(choice, catalogue).parts]


def _record(part: Part) -> PartRecord:
    table = part.photometric if isinstance(part, Emitter) else None
    columns: dict[str, Cell] = part.model_dump(exclude_none=True, mode="json")
    rated = part.rated_capacity if isinstance(part, Battery) and part.rated_capacity != part.capacity else None
    return PartRecord(
        kind=_NAMES[type(part).__name__], columns=columns, intensity=_intensity(table), rated_capacity=rated
    )


def _intensity(table: Photometry | None) -> IntensityRecord | None:
    if table is None:
        return None
    return IntensityRecord(
        kind=table.kind,
        vertical=table.vertical.tolist(),
        horizontal=table.horizontal.tolist(),
        candela=table.candela.tolist(),
        digest=table.digest,
    )


def catalogue_of(records: Sequence[PartRecord], currency: str) -> Catalogue:
    """Return a catalogue of nothing but the parts of a record, without offers. Raises `UnknownPartError`."""
    kinds: dict[str, list[Part]] = {name: [] for name in PART_KINDS}
    for record in records:
        if record.kind not in kinds:
            raise UnknownPartError(f"no kind of part is called {record.kind!r}"[:120])
        kinds[record.kind].append(_part(record))
    tables: dict[str, Any] = {name: tuple(sorted(parts, key=lambda p: p.part)) for name, parts in kinds.items()}
    return Catalogue(**tables, offers={}, suppliers=(), currency=currency, fingerprints={}, places={})


def _part(record: PartRecord) -> Part:
    code = str(record.columns.get("part", ""))
    try:
        # The code is only a name here: it need not be one that a table would take.
        part = PART_KINDS[record.kind](**{**record.columns, "part": "part"}).model_copy(update={"part": code})
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(step) for step in first["loc"])
        raise UnknownPartError(f"{record.kind}, {where}: {first['msg']}"[:200]) from None
    if isinstance(part, Emitter) and record.intensity is not None:
        table = record.intensity
        part = part.beaming(
            Photometry(
                kind=table.kind,
                vertical=table.vertical,  # type: ignore[arg-type]
                horizontal=table.horizontal,  # type: ignore[arg-type]
                candela=table.candela,  # type: ignore[arg-type]
                name=str(part.photometry or ""),
                digest=table.digest,
            )
        )
    if isinstance(part, Battery) and record.rated_capacity is not None:
        if not LEAST <= record.rated_capacity <= GREATEST:
            raise UnknownPartError(f"{record.kind}, rated_capacity: {record.rated_capacity:g} C, which no battery has")
        rated = part.model_copy(update={"capacity": record.rated_capacity})
        part = rated.holding(part.capacity / record.rated_capacity)
    return part
