"""Tolerances in words: what limits have left at both ends of them, and how many made lights keep them."""

from optimise.report.record import Record
from optimise.report.record_parts import EndRecord, MarginRecord

AT_BAD_END = "at the bad end of all tolerances"


def tolerance_rows(margins: list[MarginRecord]) -> list[tuple[str, str, str, str]]:
    """Return (limit, left at the bad end, left at the good end, share that keeps it) of every limit that moves."""
    return [
        (margin.name, _left(margin.worst, margin.unit), _left(margin.best, margin.unit), _share(margin.share))
        for margin in margins
        if margin.worst is not None and margin.best is not None
    ]


def tolerance_line(record: Record) -> str | None:
    """Return how many of the made lights keep every limit; None where none were drawn."""
    told = record.tolerances
    if told is None or told.share is None:
        return None
    return f"Of {told.draws} made lights (drawn from seed {told.seed}), {_share(told.share)} keep every limit."


def _share(share: float | None) -> str:
    """Return a share with one decimal, rounded so that only all are 100 % and only none are 0 %."""
    if share is None:
        return ""
    if 0.0 < share < 1.0:
        share = min(max(share, 0.001), 0.999)
    return f"{share:.1%}"


def _left(end: EndRecord, unit: str) -> str:
    """Return what is left, or by how much it is missed: kelvins for temperatures, else a share of what is asked."""
    if end.left is None or end.achieved is None or end.required is None:
        return "missed"
    if unit == "degC":
        text = f"{abs(end.achieved - end.required):.0f} K"
    else:
        text = f"{abs(end.left):.1%}" if end.left < 2 else f"{end.left + 1:.1f} × asked"
    return text if end.left > -5e-4 else f"missed by {text}"
