"""A catalogue as it may be delivered: every figure that has a tolerance at one of its ends, or off by a given share.

Why one end of each figure is the bad one for every limit, whatever the other figures are:

- **Flux low.** The light is the flux times factors that do not fall with it: where the share of heat is blank it is
  1 − flux / power / 683 lm/W, so that less light is more heat, a warmer board and junction, and less light again.
  Nothing but light and heat depends on the flux.
- **Voltage high.** Power is current times voltage, and heat is a share of it that is stated or, as above, grows with
  the power. So board and junction are warmer, there is less light, and the supply gives more current: more drop and
  loss in the lead, less voltage left at the light, a greater fuse, a shorter runtime. The string is nearer to the top
  of the driver's window and to the driver's power.
- **Voltage low, for the bottom of the driver's window alone.** That limit rests on `voltage_min` and nothing else does,
  so the bad end has `voltage_min` at its low end beside `voltage` and `voltage_max` at their high ends.
- **Capacity low.** The runtime grows with it (by Peukert's law, its power above 1). What a battery may fly by is the
  energy that it is rated at, which is printed on it and is not off.
- **Mass high.** Whatever carries or limits a mass carries more of it.

Each limit is worst where each of these figures is at its bad end, and no limit needs two ends of one figure at once
(the bottom of the window is the only one that rests on `voltage_min`): so one catalogue at the bad end shows every
limit at its worst, and the opposite one every limit at its best.

One limit is worst at the good end of flux and voltage: that on too much light (`[[point]]`). It would need the board at
that end as well, which the bad end does not know; so an emitter at one end says what light and heat the other end has
over its own (`Emitter.other_end`), and too much light is counted with a board that is never warmer than the true one:
a board's rise is a concave function of its heat (natural convection and radiation), so at a share of the heat it is at
least that share of the rise.
"""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any, TypeVar

from optimise.parts.catalogue import Catalogue
from optimise.parts.emitters import Emitter
from optimise.parts.kinds import PART_KINDS, Battery
from optimise.parts.part import Part

BAD = {"flux": -1.0, "voltage": 1.0, "capacity": -1.0, "mass": 1.0}
"""On which side of what is stated each figure is bad; the lowest voltage of a string is bad on the other side."""

_MASSES = ("mass", "mass_per_length", "mass_per_area")
_P = TypeVar("_P", bound=Part)


def tolerances_of(part: Part) -> dict[str, float | None]:
    """Return the tolerance of each figure of a part that may have one (a share), or None where it is not stated.

    The figures are those of `BAD`: a voltage is an emitter's at constant current, a mass is any of a part's.
    """
    fields = type(part).model_fields
    found = {figure: getattr(part, f"{figure}_tolerance") for figure in BAD if f"{figure}_tolerance" in fields}
    if isinstance(part, Emitter) and part.drive != "constant current":
        del found["voltage"]
    return found


def off(part: _P, shares: Mapping[str, float], lowest_voltage: float | None = None) -> _P:
    """Return a part whose figures are off by `shares`, each above −1, and for these have no tolerance any more.

    lowest_voltage: by what share `voltage_min` is off, where that is another than the voltage's.
    Raises KeyError where the part has no such figure.
    """
    known = tolerances_of(part)
    update: dict[str, Any] = {}
    for figure, share in shares.items():
        if figure not in known:
            raise KeyError(f"{part.part} has no {figure} that may be off")
        update[f"{figure}_tolerance"] = None
        if figure == "flux":
            update["flux"] = getattr(part, figure) * (1.0 + share)
        elif figure == "mass":
            name = next(name for name in _MASSES if name in type(part).model_fields)
            update[name] = getattr(part, name) * (1.0 + share)
        elif figure == "voltage":
            assert isinstance(part, Emitter)
            update |= _voltages(part, share, share if lowest_voltage is None else lowest_voltage)
    other = part.model_copy(update=update)
    if isinstance(other, Battery) and "capacity" in shares:
        return other.holding(1.0 + shares["capacity"])
    return other


def _voltages(part: Emitter, share: float, lowest: float) -> dict[str, float]:
    assert part.voltage is not None
    update = {"voltage": part.voltage * (1.0 + share)}
    if part.voltage_max is not None:
        update["voltage_max"] = part.voltage_max * (1.0 + share)
    if part.voltage_min is not None:
        update["voltage_min"] = part.voltage_min * (1.0 + lowest)
    elif lowest != share:
        update["voltage_min"] = part.voltage * (1.0 + lowest)
    return update


def bad_end(catalogue: Catalogue) -> Catalogue:
    """Return a catalogue at the bad end of all its tolerances: a build that passes with it passes within all of them.

    No part of it has a tolerance any more; money, stock and every figure without a tolerance are as they were.
    """
    return _at(catalogue, 1.0)


def good_end(catalogue: Catalogue) -> Catalogue:
    """Return a catalogue at the good end of all its tolerances: the opposite of `bad_end`."""
    return _at(catalogue, -1.0)


def _at(catalogue: Catalogue, side: float) -> Catalogue:
    def moved(part: Part) -> Part:
        stated = {figure: share for figure, share in tolerances_of(part).items() if share is not None}
        if not stated:
            return part
        shares = {figure: side * BAD[figure] * share for figure, share in stated.items()}
        end = off(part, shares, -side * stated["voltage"] if "voltage" in stated else None)
        if isinstance(part, Emitter) and isinstance(end, Emitter):
            return end.ranging(*_other_end(end, off(part, {figure: -share for figure, share in shares.items()}), side))
        return end

    kinds: dict[str, Any] = {kind: tuple(moved(part) for part in getattr(catalogue, kind)) for kind in PART_KINDS}
    return replace(catalogue, **kinds)


def _other_end(end: Emitter, other: Emitter, side: float) -> tuple[float, float]:
    """Return the light and the heat of `other` over those of `end`, both one emitter at one end of its tolerances.

    The heat at the current at which it is least (side 1), or greatest (side −1).
    """
    shares = other.heat_share / end.heat_share if end.heat_share > 0.0 else 1.0
    if end.drive == "constant current":
        assert end.voltage is not None
        assert end.current is not None
        assert other.voltage is not None
        rises = [end.dynamic_resistance * (i - end.current) for i in (end.lowest_current, end.highest_current)]
        # The ratio of two straight lines is monotonic, so it is extreme at an end of the currents.
        volts = [max(other.voltage + r, 0.0) / max(end.voltage + r, 1e-12) for r in rises]
        shares *= min(1.0, *volts) if side > 0.0 else max(1.0, *volts)
    return other.flux / end.flux, shares


def delivered(catalogue: Catalogue, deviations: Mapping[tuple[str, str], float]) -> Catalogue:
    """Return a catalogue whose figures are off by `deviations`: shares by the part's code and the figure's name.

    Raises KeyError where the catalogue has no such part or the part no such figure.
    """
    by_part: dict[str, dict[str, float]] = {}
    for (code, figure), share in deviations.items():
        by_part.setdefault(code, {})[figure] = share
    unknown = by_part.keys() - {part.part for part in catalogue.parts()}
    if unknown:
        raise KeyError(f"no part {min(unknown)}")
    kinds: dict[str, Any] = {
        kind: tuple(
            off(part, by_part[part.part]) if part.part in by_part else part for part in getattr(catalogue, kind)
        )
        for kind in PART_KINDS
    }
    return replace(catalogue, **kinds)
