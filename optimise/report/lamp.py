"""What the sheet knows of one light: its record, and its parts and job as the record holds them."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from optimise.model import exact
from optimise.model.build import Build, Strings
from optimise.model.face import lux_per_lumen
from optimise.model.operating import Operating, operating, strings_of
from optimise.parts import Catalogue, Fault, InputError
from optimise.parts.tolerance import bad_end
from optimise.report.dimmed import DimmedRecord
from optimise.report.kit import KitLightRecord, KitRecord
from optimise.report.layout import LayoutRecord, layout_record
from optimise.report.parts_record import PartRecord, UnknownPartError, catalogue_of, parts_record
from optimise.report.record import Record
from optimise.report.record_parts import ChoiceRecord, FigureRecord, MarginRecord, choice_of
from optimise.report.stored import worked_out
from optimise.scenario import Scenario, read_text_of_scenario

MEND = "Write the record anew with this version, or name the catalogue that it was made from: --catalogue PATH."

MOST_PLACES = 5000
"""Emitters that are given places on a board: to weigh every grid of them takes time by the square of their number."""


@dataclass(frozen=True)
class Lamp:
    """One light of the page; of a kit, `count` equal ones."""

    key: str
    """A letter that no other light of the page has."""
    name: str
    count: int
    choice: ChoiceRecord
    figures: Mapping[str, FigureRecord]
    margins: Sequence[MarginRecord]
    dimmed: DimmedRecord | None
    layout: LayoutRecord | None
    build: Build
    scenario: Scenario

    def figure(self, name: str) -> float | None:
        """Return the value of a figure of the record; None where it has none."""
        found = self.figures.get(name)
        return None if found is None else found.value

    def at(self, ambient: float) -> "Lamp":
        """Return the light in air of another temperature, °C; its record stays that of the job."""
        power = self.scenario.power.model_copy(update={"ambient": ambient})
        return replace(self, scenario=self.scenario.model_copy(update={"power": power}))

    @cached_property
    def strings(self) -> list[Strings]:
        """What each entry of the channels does electrically."""
        return strings_of(self.build, self.scenario)

    @cached_property
    def state(self) -> Operating:
        """What the build comes to at full light."""
        return operating(self.build, self.strings, self.scenario)

    @property
    def mains(self) -> bool:
        """Whether it hangs on the mains."""
        return self.choice.battery is None


def lamps_of(record: Record | KitRecord, file: str, catalogue: Catalogue | None = None) -> list[Lamp]:
    """Return the lights of a record, with the parts that it holds, or else those of a catalogue.

    file: what faults call the record. Raises `InputError` where the record has no build, or its parts are nowhere.
    """
    scenario = read_text_of_scenario(record.inputs.job, f"{file}, inputs.job")
    if isinstance(record, Record):
        if record.choice is None:
            raise _refused(file, f"a record of a job that is {record.status}", "a record with a build")
        build = _build(record.choice, record.parts, record, file, catalogue)
        return [_lamp("a", "", 1, record, record.choice, build, scenario, file)]
    if not record.lights:
        raise _refused(file, f"a record of a kit that is {record.status}", "a record with lights")
    jobs = {entry.name: entry.job for entry in scenario.kit}
    found: list[Lamp] = []
    for key, light in zip(_letters(), record.lights, strict=False):
        if light.name not in jobs:
            raise _refused(file, f"a light called {light.name!r}"[:80], "lights of the job in inputs.job")
        build = _build(light.choice, light.parts, record, file, catalogue)
        found.append(_lamp(key, light.name, light.count, light, light.choice, build, jobs[light.name], file))
    return found


def _lamp(
    key: str,
    name: str,
    count: int,
    record: Record | KitLightRecord,
    choice: ChoiceRecord,
    build: Build,
    scenario: Scenario,
    file: str,
) -> Lamp:
    if record.layout is None and build.choice.emitters > MOST_PLACES:
        raise _refused(file, f"a build of {build.choice.emitters} emitters", f"at most {MOST_PLACES}")
    with worked_out(file):
        layout = record.layout or layout_record(build)
    lamp = Lamp(
        key=key,
        name=name,
        count=count,
        choice=choice,
        figures=record.figures,
        margins=record.margins,
        dimmed=record.dimmed,
        layout=layout,
        build=build,
        scenario=scenario,
    )
    with worked_out(file):
        lux = lamp.state.flux * lux_per_lumen(build, scenario.light.distance)
    if not (lux > 0.0 and math.isfinite(lamp.state.lead.nominal_current)):
        raise _refused(
            file, "a build whose parts give no light, or whose lead cannot carry its power", "one that works"
        )
    return lamp


def _letters() -> Iterator[str]:
    return iter("abcdefghijklmnopqrstuvwxyz")


def _refused(file: str, read: str, allowed: str, mend: str = "") -> InputError:
    return InputError([Fault(file, read=read, allowed=allowed, mend=mend)])


def _build(
    choice: ChoiceRecord,
    parts: list[PartRecord] | None,
    record: Record | KitRecord,
    file: str,
    catalogue: Catalogue | None,
) -> Build:
    mine = choice_of(choice)
    try:
        if parts is None and catalogue is None:
            raise _refused(file, "no parts", "the parts of the build, as the catalogue states them", MEND)
        kept = parts_record(mine, catalogue) if parts is None and catalogue is not None else parts or []
        alone = catalogue_of(kept, record.currency)
        return exact.build_of(mine, bad_end(alone) if record.worst_case else alone)
    except UnknownPartError as error:
        raise _refused(file, str(error), "the parts of the build, as the catalogue states them", MEND) from None
    except KeyError as error:
        read = f"no part {error.args[0]!r}"[:120]
        raise _refused(file, read, "the parts of the build, as the catalogue states them", MEND) from None
