"""What a build with measured figures tells of them."""

import math
from collections.abc import Iterator

from optimise.model.choice import Evaluation
from optimise.parts import units
from optimise.parts.figures import MEASURES, Calibrated, Calibration

FAR = 1.2
"""By how many times a board's heat may be off that of its measurement without a note (common practice, no source)."""


def calibration_notes(calibration: Calibration | None, best: Evaluation | None = None) -> Iterator[str]:
    """Yield a note for each measured figure, and for each that a build uses otherwise than it was measured."""
    for one in () if calibration is None else calibration.figures:
        measure = MEASURES[one.figure]
        name, value = one.figure.replace("_", " "), units.shown(one.value, measure)
        stated = "none" if one.catalogue is None else units.shown(one.catalogue, measure)
        span = ""
        if one.low is not None and one.high is not None:
            span = f", between {units.shown(one.low, measure)} and {units.shown(one.high, measure)}"
        yield f"Calibrated: the {name} of {one.part} is {value} as measured{span} (in the catalogue: {stated})."
        if one.stated is not None and (one.catalogue is None or not math.isclose(one.stated, one.catalogue)):
            yield f"{one.part}: when it was measured, its {name} was {units.shown(one.stated, measure)}."
        if best is not None:
            yield from _otherwise(one, best)


def _otherwise(one: Calibrated, best: Evaluation) -> Iterator[str]:
    choice = best.choice
    if one.behind and one.part in choice.kinds and choice.sheets != one.behind:
        yield (
            f"{one.part}: its flux was measured behind {', '.join(one.behind)} as one factor with it; this build has "
            f"{', '.join(choice.sheets) or 'no diffuser'}, and what was the sheet's is now taken for the emitter's."
        )
    if one.figure == "thermal_resistance" and one.part == choice.panel:
        if one.predicted is not None and one.value < one.predicted:
            yield (
                f"{one.part}: {one.value:.3g} K/W as measured is less than the {one.predicted:.3g} K/W predicted: true "
                "only as the light hung then."
            )
        if one.heat is not None and not 1.0 / FAR <= best.heat / one.heat <= FAR:
            yield (
                f"{one.part}: measured with {one.heat:.3g} W of heat, and has {best.heat:.3g} W here; in still air a "
                "board sheds less for each kelvin when it is cooler."
            )
