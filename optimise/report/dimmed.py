"""The build at the light asked for: its record, and what a person reads of it."""

import math

from pydantic import BaseModel, ConfigDict

from optimise.model.choice import Evaluation
from optimise.model.dimming import Dimmed, dimmed
from optimise.model.market import Market


class DimmedRecord(BaseModel):
    """A build that gives more light than asked, with all drivers turned down alike to what is asked.

    `level` is a share of full light, `drive` one of the current or of the time switched on; power in W with the loss in
    the lead, current in A at the lowest voltage, runtime in h (null on mains), board_temperature in °C, flicker in
    stops (null where it is not known, or where some exposures get no light: `dark`). `missed` says what does not bear
    it.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    level: float
    drive: float
    illuminance: float
    power: float
    current: float | None
    runtime: float | None
    board_temperature: float
    flicker: float | None
    dark: bool
    missed: list[str]


def dimming_of(best: Evaluation | None, market: Market) -> tuple[DimmedRecord | None, tuple[str, ...]]:
    """Return the record of a build at the light asked for, or None with notes on why there is none."""
    found = None if best is None else dimmed(best, market.catalogue, market.scenario)
    if found is None:
        return None, ()
    if not isinstance(found, Dimmed):
        stops = best.figures["above_target"][0] if best is not None else None
        return None, tuple(f"The build gives {stops:.2g} stop more than asked. {why}" for why in found)
    limit = market.scenario.look.flicker_max
    notes: tuple[str, ...] = ()
    if limit is not None and found.flicker is not None and found.flicker > limit * (1.0 + 1e-9):
        notes = (
            "Dimmed to the light asked for, it flickers more than flicker_max, which holds at full light only: ask for "
            "dim_to, or take the light down at the lens.",
        )
    dark = found.flicker is not None and math.isinf(found.flicker)
    return DimmedRecord(
        level=_short(found.level),
        drive=_short(found.drive),
        illuminance=_short(found.lux),
        power=_short(found.watts),
        current=_short(found.current) if math.isfinite(found.current) else None,
        runtime=None if found.runtime is None else _short(found.runtime / 3600.0),
        board_temperature=_short(found.board),
        flicker=None if dark or found.flicker is None else _short(found.flicker),
        dark=dark,
        missed=list(found.missed),
    ), notes


def _short(value: float) -> float:
    """Round to ten significant digits: where the bisection ends is rounding after them."""
    return float(f"{value:.10g}")


def dimmed_lines(record: DimmedRecord) -> list[str]:
    """Return what a person reads of a build at the light asked for."""
    hours = "" if record.runtime is None else f", runtime {record.runtime:.4g} h"
    amperes = "" if record.current is None else f" ({record.current:.4g} A)"
    lines = [
        f"Dimmed to the {record.illuminance:.4g} lx asked for, {record.level:.1%} of full light: {record.power:.4g} W"
        f"{amperes}{hours}, board at {record.board_temperature:.1f} °C."
    ]
    if record.dark:
        lines.append("Dimmed so, some exposures at this shutter get no light at all.")
    elif record.flicker is not None:
        lines.append(f"Flicker then: {record.flicker:.3g} stop.")
    return lines + record.missed
