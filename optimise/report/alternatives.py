"""Alternatives to the best build: what each does better and worse, in words."""

from collections.abc import Sequence

from rich.console import Console
from rich.table import Table

from optimise.model.choice import Evaluation
from optimise.report.record import AlternativeRecord, Record, make_record
from optimise.report.table import plain
from optimise.report.terminal import number
from optimise.studies.alternatives import Alternative

COMPARED = {
    "cost": ("cheaper", "dearer", -1),
    "mass": ("lighter", "heavier", -1),
    "power": ("less power", "more power", -1),
    "illuminance": ("more light", "less light", 1),
    "runtime": ("longer runtime", "shorter runtime", 1),
    "board_temperature": ("cooler", "hotter", -1),
}
"""Figures that are compared: what they are called where the alternative is better and worse; which way is better."""

ALIKE = 0.002
"""Share by which figures must differ to be told (temperatures: half a kelvin)."""


def make_alternatives(
    best: Evaluation,
    found: Sequence[tuple[str, Alternative | None]],
    scenario_print: str,
) -> list[AlternativeRecord]:
    """Return the records of alternatives to a best build; `found` has what was asked for, and the answer."""
    records = []
    for asked, alternative in found:
        if alternative is None:
            records.append(AlternativeRecord(asked=asked, left_out=[], better=[], worse=[], record=None))
            continue
        result = alternative.result
        assert result.evaluation is not None
        better, worse = differences(best, result.evaluation)
        record = make_record(result, result.objective, scenario_print)
        records.append(
            AlternativeRecord(
                asked=asked, left_out=list(alternative.without), better=better, worse=worse, record=record
            )
        )
    return records


def differences(best: Evaluation, other: Evaluation) -> tuple[list[str], list[str]]:
    """Return what another build does better than the best one, and what worse."""
    better: list[str] = []
    worse: list[str] = []
    for name, (good, bad, sign) in COMPARED.items():
        (mine, unit), (theirs, _) = best.figures[name], other.figures[name]
        if mine is None or theirs is None:
            if mine is not theirs:
                (better if theirs is None else worse).append("runs on mains" if theirs is None else "runs on a battery")
            continue
        change = theirs - mine
        if (abs(change) < (0.5 if unit == "degC" else ALIKE * abs(mine)) and name != "cost") or change == 0.0:
            continue
        money = best.figures["cost"][1]
        if name == "runtime" and abs(change) * 60.0 < 1.0:
            continue
        amount = _amount(abs(change), unit, money)
        (better if change * sign > 0 else worse).append(f"{amount} {good if change * sign > 0 else bad}")
    return better, worse


def _amount(change: float, unit: str, money: str) -> str:
    if unit == "degC":
        return f"{change:.0f} K"
    return f"{change * 60.0:.0f} min" if unit == "h" else number(change, unit, money)


def print_alternatives(console: Console, record: Record, within: float | None) -> None:
    """Print the alternatives of a record, looked for within a share of the best, one below the other."""
    if record.alternatives is None:
        return
    console.print("\nAlternatives", style="bold")
    if not record.alternatives:
        console.print("None.")
    for place, other in enumerate(record.alternatives, start=1):
        if other.record is None or other.record.choice is None:
            near = "" if within is None else f" within {100 * within:g} % of the best"
            console.print(plain(f"{place}. {other.asked}: there is none{near}."))
            continue
        choice, figures = other.record.choice, other.record.figures
        parts = [
            choice.lit_by,
            ", ".join(sorted({c.driver for c in choice.channels})),
            choice.panel,
            choice.sheets or "open",
            choice.supply,
        ]
        left_out = f" (without {', '.join(other.left_out)})" if other.asked == "next best" else ""
        shown = [number(figures[n].value, figures[n].unit, record.currency) for n in _first(record.objective)]
        same = ", the best build itself" if choice == record.choice else ""
        console.print(plain(f"{place}. {other.asked}{left_out}: {', '.join(shown)}{same}"))
        grid = Table.grid(padding=(0, 2))
        for label, lines in (("parts", parts), ("better", other.better), ("worse", other.worse)):
            if lines:
                grid.add_row(f"   {label}", plain("; ".join(lines)))
        console.print(grid)


def _first(objective: str) -> list[str]:
    """Return the figures that head an alternative: the objective and the cost."""
    return list(dict.fromkeys([objective, "cost"]))
