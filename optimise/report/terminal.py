"""What a person reads in a terminal."""

import math
from collections.abc import Sequence

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from optimise.model.choice import YES_NO
from optimise.parts import Catalogue, Fault
from optimise.report.bill import print_bill
from optimise.report.colour import LABELS as COLOUR_LABELS
from optimise.report.dimmed import dimmed_lines
from optimise.report.layout import LayoutRecord, layout_lines
from optimise.report.record import Record
from optimise.report.record_parts import ChoiceRecord, ConflictRecord, MarginRecord
from optimise.report.spread import AT_BAD_END, tolerance_line, tolerance_rows
from optimise.report.table import plain, table_of

_UNITS = {"degC": "°C", "": ""}


def number(value: float | None, unit: str, currency: str = "") -> str:
    """Return a figure with its unit; money with two decimals, the rest with four significant digits."""
    if value is None:
        return "no limit"
    if unit and unit == currency:
        return f"{value:.2f} {unit}"
    shown = _UNITS.get(unit, unit)
    if value != 0 and not math.isinf(value):
        decimals = max(0, 3 - math.floor(math.log10(abs(value))))
        text = f"{value:.{min(decimals, 1 if unit == 'degC' else 6)}f}"
        text = text.rstrip("0").rstrip(".") if "." in text else text
    else:
        text = f"{value:g}"
    return f"{text} {shown}".strip()


def print_record(console: Console, record: Record) -> None:
    """Print a record: the answer first, then what to buy, the figures, the margins, proof and cautions."""
    if record.title:
        console.print(Text("Job: ", style="dim") + plain(record.title))
    console.print(Text(answer(record), style="bold"))
    if record.choice is None:
        print_conflict(console, record.status, record.conflict)
    else:
        console.print()
        print_choice(console, record.choice, record.layout)
        print_bill(console, record.bill, record.orders, record.currency)
        print_figures(console, record)
        for line in dimmed_lines(record.dimmed) if record.dimmed is not None else ():
            console.print(plain(line))
        print_margins(console, record)
        print_tightest(console, record.margins)
        _print_tolerances(console, record)
    console.print(Padding(plain(proof_line(record)), (1, 0, 0, 0)))
    print_lines(console, record.cautions, record.notes)


def print_lines(console: Console, cautions: Sequence[str], notes: Sequence[str]) -> None:
    """Print cautions and notes."""
    for title, lines in (("Cautions", cautions), ("Notes", notes)):
        if lines:
            console.print(Text(f"\n{title}", style="bold"))
            for line in lines:
                grid = Table.grid(padding=(0, 1))
                grid.add_row("-", plain(line))
                console.print(grid)


def answer(record: Record) -> str:
    """Return the answer in one sentence."""
    what = {"cost": "cheapest", "mass": "lightest", "power": "thriftiest"}[record.objective]
    end = f" {AT_BAD_END}" if record.worst_case else ""
    if record.status == "impossible":
        return f"Impossible: no build from this catalogue keeps every limit of the scenario{end}."
    if record.choice is None:
        return "Stopped: no build was found in the time allowed, and none was ruled out."
    cost, mass, power, light = (record.figures[n] for n in ("cost", "mass", "power", "illuminance"))
    price = f"{number(cost.value, cost.unit, record.currency)} at the door"
    figures = ", ".join([price, *(number(f.value, f.unit) for f in (mass, power, light))])
    return (
        f"The proven {what} build{end}: {figures}."
        if record.status == "optimal"
        else f"A build{end}, not proven {what}: {figures}."
    )


def proof_line(record: Record) -> str:
    """Return how far an answer is proven, in words."""
    proof = record.proof
    solves = "1 solve" if proof.rounds == 1 else f"{proof.rounds} solves"
    effort = f"{proof.columns} columns, {proof.kept} after screening, {solves}, {proof.seconds:.2f} s"
    unit = {"cost": record.currency, "mass": "kg", "power": "W"}[record.objective]
    if record.status == "optimal":
        limits = f"the limits, {AT_BAD_END}" if record.worst_case else "the limits"
        return f"Proof: no build on the drive levels tried has less {record.objective} within {limits} ({effort})."
    if record.status == "feasible" and not proof.bound:
        return f"Proof: none yet of how much better a build could be ({effort})."
    if record.status == "feasible" and proof.bound is not None and proof.gap is not None:
        bound = number(proof.bound, unit, record.currency)
        return f"Proof: within {proof.gap:.1%}; no build has less {record.objective} than {bound} ({effort})."
    return f"Proof: {record.status} ({effort})."


def print_choice(console: Console, choice: ChoiceRecord, layout: LayoutRecord | None = None) -> None:
    """Print what a light is made of, and how it is laid out where that is known."""
    grid = Table.grid(padding=(0, 2))
    grid.add_row("Emitters", plain(choice.lit_by))
    for c in choice.channels:
        if c.current > 0:
            load = f"{c.series} in series × {c.parallel} in parallel, {number(c.current, 'A')} each"
        else:
            load = f"{c.parallel} lamps"
        of = f" of {c.emitter}" if len(choice.kinds) > 1 else ""
        grid.add_row("Driver", plain(f"{c.number} × {c.driver}, each with {load}{of}"))
    grid.add_row("Panel", plain(choice.panel))
    grid.add_row("Diffuser", plain(choice.sheets or "none"))
    if choice.battery is None:
        grid.add_row("Supply", "mains")
    else:
        pack = f"{choice.battery_series} in series × {choice.battery_parallel} in parallel"
        grid.add_row("Supply", plain(f"{choice.battery_series * choice.battery_parallel} × {choice.battery} ({pack})"))
    grid.add_row("Lead", plain(f"{choice.cable}, fuse {choice.fuse} at the source, {choice.connector}"))
    if choice.mount is not None:
        grid.add_row("Mount", plain(choice.mount))
    for word, line in layout_lines(layout) if layout is not None else ():
        grid.add_row(word, plain(line))
    console.print(grid)


def print_figures(console: Console, record: Record) -> None:
    """Print the figures of a light."""
    columns = [("figure", False), ("value", True)]
    if record.nominal is not None:
        columns = [("figure", False), ("at the bad end", True), ("as stated", True)]
    table = table_of("\nFigures", *columns)
    for name, figure in record.figures.items():
        if figure.value is None and name != "runtime":
            continue
        ends = [figure] if record.nominal is None else [figure, record.nominal[name]]
        table.add_row(plain(label(name, record)), *(number(end.value, end.unit, record.currency) for end in ends))
    console.print(table)


def left(margin: MarginRecord) -> str:
    """Return what is left: kelvins where a share of a temperature would mean nothing, else a share."""
    if margin.unit == "degC":
        return f"{abs(margin.achieved - margin.required):.0f} K"
    return f"{margin.left:.1%}" if margin.left < 2 else f"{margin.left + 1:.1f} × asked"


LABELS = COLOUR_LABELS | {
    "current": "current, battery nearly empty",
    "luminous_flux": "luminous flux, before a diffuser",
    "voltage_drop": "voltage drop, at that current",
    "power": "power drawn, lead included",
    "heat": "heat into the board",
    "flicker": "flicker, exposure against exposure",
    "source_angle": "angle of the face's shorter side",
    "catch_light": "catch-light in an eye, longer side",
    "penumbra": "soft edge on the background",
}
"""What figures are called where their plain name would leave open which one is meant."""


def label(name: str, record: Record) -> str:
    """Return what a person reads for a figure."""
    if name == "current" and record.choice is not None and record.choice.battery is None:
        return "current"
    # What a person calls a point stays as it is.
    return LABELS.get(name, name if " " in name else name.replace("_", " "))


def print_tightest(console: Console, margins: list[MarginRecord]) -> None:
    """Print the limits that bind most, of those that are not met exactly by nature (counts and yes or no)."""
    measured = [m for m in margins if m.unit not in {"", YES_NO} and not by_nature(m)]
    tightest = sorted(measured, key=lambda m: m.left)[:4]
    console.print(plain("Tightest: " + ", ".join(f"{m.name} ({left(m)})" for m in tightest)))


def by_nature(margin: MarginRecord) -> bool:
    """Whether a limit is met exactly by choosing the part: a fixed driver's own current, a lamp's own power."""
    return margin.left == 0.0 and margin.source == "catalogue"


def print_margins(console: Console, record: Record) -> None:
    """Print every margin."""
    table = table_of(
        f"\nMargins, {AT_BAD_END}" if record.worst_case else "\nMargins",
        ("limit", False),
        ("required", True),
        ("achieved", True),
        ("left", True),
        ("rule", False),
    )
    for margin in record.margins:
        if margin.unit == YES_NO:
            table.add_row(plain(margin.name), "yes", "yes" if margin.achieved else "no", "", plain(margin.source))
            continue
        sign = "≥ " if margin.kind == "min" else "≤ "
        table.add_row(
            plain(margin.name),
            sign + number(margin.required, margin.unit, record.currency),
            number(margin.achieved, margin.unit, record.currency),
            left(margin),
            plain(margin.source),
        )
    console.print(table)


def _print_tolerances(console: Console, record: Record) -> None:
    if record.tolerances is None:
        return
    columns = [("limit", False), ("left, bad end", True), ("left, good end", True), ("lights that keep it", True)]
    drawn = record.tolerances.share is not None
    table = table_of("\nMargins over the tolerances", *(columns if drawn else columns[:3]))
    for limit, *ends in tolerance_rows(record.margins):
        table.add_row(plain(limit), *(ends if drawn else ends[:2]))
    if table.row_count:
        console.print(table)
    line = tolerance_line(record)
    if line is not None:
        console.print(plain(line))


def print_conflict(console: Console, status: str, conflict: Sequence[ConflictRecord] | None) -> None:
    """Print which limits stand against each other, where that is why there is no answer."""
    if status != "impossible":
        return
    if conflict is None:
        console.print("Stopped before the limits in conflict were found.")
        return
    if not conflict:
        console.print(
            "No build exists even without the limits that can be given up: the parts do not go together, or the "
            "supply or a rule of safety (earth, fuse, touch, driver's window) rules them out. The notes count the "
            "parts left out."
        )
        return
    console.print()
    if len(conflict) == 1:
        console.print("This limit alone allows no build:")
    else:
        console.print("These limits are in conflict: together they allow no build; without any one, the others do.")
    table = table_of("", ("limit", False), ("asked", True))
    for item in conflict:
        table.add_row(plain(item.limit), plain(item.asked))
    console.print(table)


def print_faults(console: Console, faults: tuple[Fault, ...]) -> None:
    """Print every fault of an input."""
    count = "One thing is" if len(faults) == 1 else f"{len(faults)} things are"
    console.print(Text(f"{count} wrong with the input; nothing was solved or written.", style="bold"))
    for fault in faults:
        console.print(plain(fault.place), style="bold")
        for label, text in (("read", fault.read), ("allowed", fault.allowed), ("mend", fault.mend)):
            if text:
                grid = Table.grid(padding=(0, 1))
                grid.add_row(f"  {label}:", plain(text))
                console.print(grid)


def print_catalogue(console: Console, name: str, catalogue: Catalogue) -> None:
    """Print what a sound catalogue holds."""
    table = table_of("", ("kind", False), ("parts", True))
    for kind in (
        "emitters", "drivers", "panels", "diffusers", "batteries", "cables", "fuses", "connectors", "mounts"
    ):  # fmt: skip
        table.add_row(kind, str(len(getattr(catalogue, kind))))
    offers = sum(len(rows) for rows in catalogue.offers.values())
    console.print(plain(f"{name}: sound; {len(catalogue.parts())} parts, {offers} offers in {catalogue.currency}."))
    console.print(table)
    unsold = [part.part for part in catalogue.parts() if part.part not in catalogue.offers]
    if unsold:
        console.print(plain(f"No one offers: {', '.join(unsold)}."))
