"""What is left on every limit, as bars with the number beside them."""

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from optimise.model.choice import YES_NO
from optimise.report.drawing import bar
from optimise.report.record_parts import MarginRecord
from optimise.report.terminal import by_nature, left, number


@dataclass(frozen=True)
class Row:
    """One limit."""

    name: str
    required: str
    achieved: str
    left: str
    bar: Markup | None
    """None where a limit is kept or not, or met exactly by choosing the part."""
    source: str


def used(margin: MarginRecord) -> float:
    """Return how much of a limit is used, 1 at the limit: what is achieved of a most, what is needed of what there is.

    Follows from `left`, so that temperatures count from the air's.
    """
    return 1.0 - margin.left if margin.kind == "max" else 1.0 / max(1.0 + margin.left, 1e-9)


def rows_of(margins: Sequence[MarginRecord], currency: str) -> list[Row]:
    """Return the limits, the tightest first, those without a measure last."""
    ranked = sorted(margins, key=lambda m: (not _measured(m), m.left if _measured(m) else 0.0))
    return [_row(margin, currency) for margin in ranked]


def _measured(margin: MarginRecord) -> bool:
    return margin.unit not in {"", YES_NO} and not by_nature(margin)


def _row(margin: MarginRecord, currency: str) -> Row:
    if margin.unit == YES_NO:
        return Row(margin.name, "yes", "yes" if margin.achieved else "no", "", None, margin.source)
    sign = "≥ " if margin.kind == "min" else "≤ "
    return Row(
        name=margin.name,
        required=sign + number(margin.required, margin.unit, currency),
        achieved=number(margin.achieved, margin.unit, currency),
        left=left(margin),
        bar=bar(used(margin)) if _measured(margin) else None,
        source=margin.source,
    )
