"""What is said of readings and of the factors fitted to them: cautions, what a factor holds, how sure it is."""

from collections.abc import Iterator, Mapping, Sequence

from optimise.model.build import Build
from optimise.model.stacks import layers_of
from optimise.report.terminal import number
from optimise.scenario import Scenario
from optimise.studies.measured import Compared, Factors, Fitted
from optimise.studies.meters import OWN, covered, meter_of
from optimise.studies.readings import METERS, Measured

DISAGREES = 0.1
"""Share by which a reading of light is off its fit where a note asks to look again (common practice, no source)."""

LIGHT = ("illuminance", "bare illuminance")


def factor_name(name: str) -> str:
    """Return what a person reads as the name of a factor."""
    return "flux × transmittance" if name == "light" else name


def cautions_of(build: Build, measured: Measured) -> Iterator[str]:
    """Yield what to mind when measuring such a build."""
    if build.battery is None:
        yield (
            "Mains: measuring on mains parts is for people licensed or competent to do it; keep covers on, take "
            "current and power by a meter that plugs in between, and let local codes decide."
        )
    elif any(reading.quantity == "current" for reading in measured.readings):
        yield "Current: with the fuse in circuit, or by a clamp; an ammeter across a battery is a short circuit."
    if any(reading.quantity == "board temperature" for reading in measured.readings):
        yield "Heat: fix the sensor before switching on; the board may burn."
    if any(reading.quantity == "runtime" for reading in measured.readings):
        yield "Running time: stay with it, stop at the battery's cut-off, and let it cool before it is charged."
    yield "Bright light: put the meter in its place before switching on, and do not look into the source."
    yield "Readings are those of one light as it was made, on one day: they are no test report and no certificate."


def notes_of(
    build: Build,
    scenario: Scenario,
    measured: Measured,
    rows: Sequence[Compared],
    factors: Factors,
    fitted: Sequence[Fitted],
    heat: float,
) -> Iterator[str]:
    """Yield what was taken for granted, what a factor holds besides, and how sure all that is."""
    names = {one.name: one for one in fitted}
    ambient = scenario.power.ambient
    if measured.ambient is None:
        yield f"How warm the air was is not said: taken as {number(ambient, 'degC')}, that of the job."
    if any(r.quantity == "current" and r.where is None for r in measured.readings):
        volts = scenario.power.mains_voltage if build.battery is None else None
        told = number(volts, "V") if volts is not None else "the battery's nominal one"
        yield f"The voltage at which the current was read is not said: taken as {told}."
    if "light" in names:
        yield (
            "With no reading without the diffuser, flux and transmittance are one factor, that of the whole light; "
            "distance, aim and meter are in it too."
        )
    elif any(r.quantity == "bare illuminance" for r in measured.readings) and "transmittance" not in names:
        yield "With no reading behind the diffuser, nothing is known of its transmittance."
    if len(build.kinds) > 1 and ("flux" in names or "light" in names):
        yield "The two kinds of emitter are one to a meter: the factor is that of both, the flux that of the first."
    if len(layers_of(build.diffuser)) > 1 and ("transmittance" in names or "light" in names):
        yield "The two sheets are one to a meter: what is off in the one cannot be told from the other."
    if "transmittance" in names and build.panel.depth is not None and build.panel.reflectance is not None:
        yield "What the walls of the box take is counted with the diffuser on alone: a fault of it is in transmittance."
    if "input power" in names:
        yield (
            "The driver's efficiency, the emitters' voltage and the meter are one factor, the input power; the board's "
            "heat is taken to go with it. It is never a calibration: fuse and cable go by what the catalogue states."
        )
    elif "thermal resistance" in names:
        yield "With no reading of the current, the board's heat is the predicted one; what it is off is in K/W."
    if thermal := names.get("thermal resistance"):
        yield (
            f"The thermal resistance is that at {number(heat, 'W')} of heat, as the light hung: in still air a board "
            "sheds less for each kelvin when it is cooler."
        )
        if thermal.factor < 1.0:
            yield (
                f"{build.panel.part}: {number(thermal.value, 'K/W')} is less than the {number(thermal.stated, 'K/W')} "
                "predicted. A draught, a cold wall or a sensor that does not touch the board does that: be sure."
            )
    if "usable energy" in names:
        yield "Capacity, usable share and what the cold leaves are one factor, told as the capacity."
    yield from _doubts(rows, ambient)
    yield from _sureness(rows, fitted, measured.meters)


def _doubts(rows: Sequence[Compared], ambient: float) -> Iterator[str]:
    """Yield what a reader should mistrust in the readings."""
    for row in rows:
        zero = ambient if row.reading.quantity == "board temperature" else 0.0
        ratio = (row.reading.value - zero) / (row.predicted - zero)
        if not 0.5 <= ratio <= 2.0:
            yield f"{_named(row)}: measured is {ratio:.3g} times predicted; look at the unit, the place and the aim."
    light = [row for row in rows if row.reading.quantity in LIGHT]
    off = [row for row in light if abs(row.fitted / row.reading.value - 1.0) > DISAGREES]
    if off:
        yield (
            f"{', '.join(_named(row) for row in off)}: more than {100 * DISAGREES:.0f} % off what one factor makes of "
            "all: stray light, a wrong distance, or a meter not straight ahead."
        )


def _sureness(rows: Sequence[Compared], fitted: Sequence[Fitted], meters: Mapping[str, float]) -> Iterator[str]:
    """Yield what readings and meters let one know, and what they do not."""
    told = [_named(row) for row in rows if covered(row, meters)]
    if told:
        yield f"Within what the meter can tell: {', '.join(told)}."
    used = dict.fromkeys(key for row in rows if (key := meter_of(row.reading)) is not None)
    silent = [METERS[key].name for key in used if key not in meters]
    if silent:
        whose = " and ".join(f"the {name}" for name in silent)
        yield f"What {whose} may be off is not stated: no deviation and no range has it in."
    alone = [factor_name(one.name) for one in fitted if one.half_width is None]
    if alone:
        yield f"No reading to spare for {', '.join(alone)}: how sure it is cannot be told. Measure again, or elsewhere."
    by_meter = [one for one in fitted if one.meters is not None]
    once = [factor_name(one.name) for one in by_meter if one.scatter is None]
    if once:
        yield f"No reading to spare for {', '.join(once)}: the range is what the meters leave open, without scatter."
    scattered = [factor_name(one.name) for one in fitted if one.scatter is not None and one.meters is None]
    if scattered:
        yield f"By the scatter of the readings alone: the range of {', '.join(scattered)}."
    if by_meter:
        yield (
            "A meter is taken to be off by one share in all its readings (the thermometer by as many kelvin), and what "
            "is stated of it to be normal, at 95 %; ranges are linear and add as squares (JCGM 100:2008, 4.3.4, 5.1.2)"
            ". Clocks, distances and the voltage beside a current count as exact."
        )
    if any(one.name == "transmittance" and OWN[one.name] in meters for one in fitted):
        yield "The transmittance is a ratio of readings of one meter: what the lux meter is off is not in it."


def _named(row: Compared) -> str:
    reading = row.reading
    where = (
        "" if reading.where is None else f" at {number(reading.where, 'V' if reading.quantity == 'current' else 'm')}"
    )
    return f"{reading.quantity}{where}"
