"""A blank to fill in with what is measured: `measure --from` reads it."""

import shlex
import unicodedata
from collections.abc import Iterator

from optimise.model.build import Build
from optimise.report.terminal import number
from optimise.scenario import Scenario
from optimise.studies.measured import predicted
from optimise.studies.readings import METERS, Reading

_SHARES = (0.7, 1.0, 1.4)
"""Distances, as shares of the job's, at which light is asked for: one apart by a stop to either side."""


def blank_form(build: Build, scenario: Scenario, record: str, light: str | None = None) -> str:
    """Return a file of TOML with a commented blank for everything that can be measured on a build.

    record: the name of its file; light: its name, in a kit. What is expected stands in the comments, in the air of
    the scenario.
    """
    which = "" if light is None else f" --light {shlex.quote(_line(light))}"
    title = f" of: {_line(scenario.title)}" if scenario.title else ""
    head = [
        f"# What was measured on the light{title}",
        "# Take the sign # away before what you measured and fill it in; this file is then for --from of",
        f"#   rushlight measure {shlex.quote(_line(record))}{which} --from FILE",
        "# Several readings of a kind stand in one list: the more, the surer. Any unit of the right kind will do.",
        "# Expected figures are for full light, once it has run for half an hour.",
    ]
    return "\n".join([*head, *_blanks(build, scenario)]) + "\n"


def _line(text: str) -> str:
    return "".join(c if unicodedata.category(c)[0] != "C" and c not in "\u2028\u2029" else " " for c in text)


def _blanks(build: Build, scenario: Scenario) -> Iterator[str]:
    def expected(reading: Reading, unit: str, scale: float = 1.0) -> str:
        return number(predicted(build, scenario, reading) / scale, unit)

    distance = scenario.light.distance
    places = [float(f"{distance * share:.2g}") for share in _SHARES]
    yield from ("", "# Temperature of the air about the light; the board's says nothing without it.")
    yield f'# ambient = " degC"  # the job has {number(scenario.power.ambient, "degC")}'
    yield from ("", "# What each meter may be off to either side (95 %), by its certificate or its maker.")
    yield "# Nothing is assumed of one that is left out. The thermometer's is that of the board over the air."
    for key, meter in METERS.items():
        yield f'# {key} = " {meter.measure.unit or "%"}"  # such as "{meter.example}"'
    yield from ("", "# Light in the dark, the meter flat and straight ahead of the light's middle.")
    lux = [expected(Reading("illuminance", 0.0, place), "lx") for place in places]
    yield "# lux = [" + ", ".join(f'" lx at {place:g} m"' for place in places) + f"]  # expected: {', '.join(lux)}"
    if build.diffuser is not None:
        bare = expected(Reading("bare illuminance", 0.0, places[1]), "lx")
        yield from (
            "",
            "# The same with the diffuser off: tells what the emitters give from what it lets through.",
        )
        yield f'# bare_lux = [" lx at {places[1]:g} m"]  # expected: {bare}'
    yield from ("", "# Current from the supply, and the voltage of the supply while it was read.")
    if build.battery is None:
        yield "# On the mains this is for people licensed or competent to do it; take a meter that plugs in between."
        volts = scenario.power.mains_voltage or 0.0
    else:
        volts = build.battery.voltage * build.choice.battery_series
    amps = expected(Reading("current", 0.0), "A")
    yield f'# current = [" A at {volts:g} V"]  # expected at that voltage: {amps}'
    yield from ("", "# The board beside the emitter in the middle, once it is steady.")
    yield f'# board = [" degC"]  # expected in the job\'s air: {expected(Reading("board temperature", 0.0), "degC")}'
    if build.battery is not None:
        hours, whole = (expected(Reading("runtime", 0.0, to_empty=empty), "min", 60.0) for empty in (False, True))
        share = f"{100.0 * build.battery.usable:.0f} %"
        yield from ("", f"# From full until {share} is used, or, with 'to empty' behind it, until the battery ends it.")
        yield f'# runtime = [" min"]  # expected: {hours}; " min to empty": {whole}'
