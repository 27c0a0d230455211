"""Every way in which a study shows a build: each is looked at by the judge."""

import time
from collections.abc import Iterator, Mapping
from typing import Any

from dangers import BAIT
from judge import Asked, dangers_of
from worlds import World

from optimise.model.bench import Bench
from optimise.model.choice import Choice
from optimise.model.search import Result
from optimise.report.alternatives import make_alternatives
from optimise.report.front import make_front
from optimise.report.record import make_record
from optimise.report.record_parts import RecordModel
from optimise.report.repricing import RepriceRecord, earlier_record, make_reprice
from optimise.scenario import Scenario
from optimise.studies.alternatives import KINDS
from optimise.studies.alternatives import Asked as AskedFor
from optimise.studies.desk import Desk
from optimise.studies.front import front
from optimise.studies.reasons import eases, mends
from optimise.studies.repricing import best_now, spans
from optimise.studies.till import Till

Told = Mapping[str, Any]


def asked_by(scenario: Scenario) -> Asked:
    """Return what a scenario asks that a study has changed."""
    power, safety, look = scenario.power, scenario.safety, scenario.look
    return Asked(
        ambient=power.ambient,
        lead=power.lead_length,
        runtime=None if power.runtime is None else power.runtime / 3600.0,
        mains=power.mains_voltage if power.mains else None,
        circuit=power.circuit,
        ip=scenario.limits.ip,
        mount=scenario.limits.mount,
        air=scenario.travel.mode == "air",
        approval=scenario.travel.approval,
        drop=safety.voltage_drop,
        continuous=safety.continuous_factor,
        touch=safety.touch_temperature,
        open_string=safety.string_voltage,
        flicker=look.flicker_max,
        shutter=scenario.exposure_time,
        frequency=power.mains_frequency,
    )


def builds_in(told: Any) -> Iterator[Told]:
    """Yield every record of a build in what JSON tells, however deep."""
    if isinstance(told, dict):
        if told.get("choice") and "figures" in told:
            yield told
        for value in told.values():
            yield from builds_in(value)
    elif isinstance(told, list):
        for value in told:
            yield from builds_in(value)


def assert_sound(told: RecordModel, world: World, *, asked: Asked | None = None, any_part: bool = False) -> None:
    """Assert that builds are shown, each of them sound and without the tempting part.

    asked: what is asked, where that is not what the world's job asks; any_part: whether the part may be safe then.
    """
    found = list(builds_in(told.model_dump(mode="json", by_alias=True)))
    assert found
    for build in found:
        assert any_part or BAIT not in str(build["choice"])
        assert dangers_of(build, world.files, asked) == []


def front_of(world: World, axes: tuple[str, ...]) -> RecordModel:
    """Return the record of a front."""
    bench = Bench(world.catalogue, world.scenario, axes)
    whole = front(bench, axes)
    assert whole.complete
    return make_front(bench, whole, whole, "", 0.0)


def others_of(world: World, without: tuple[str, ...]) -> list[RecordModel]:
    """Return the records of the next best builds, of those with other parts, and of those without some."""
    best = world.search().evaluation
    assert best is not None
    desk = Desk(world.catalogue, world.scenario)
    answers = list(AskedFor(3, KINDS, without, None).answers(desk, best))
    return [told.record for told in make_alternatives(best, answers, "") if told.record is not None]


def eased(world: World) -> Iterator[tuple[RecordModel, Asked]]:
    """Yield each build that easing a limit of a possible job would buy, with what is asked then."""
    best = world.search().evaluation
    assert best is not None
    for ease in eases(Desk(world.catalogue, world.scenario), best, 0.1):
        if ease.result is not None:
            yield make_record(ease.result, "cost", ""), asked_by(ease.result.market.scenario)


def mended(world: World) -> Iterator[tuple[RecordModel, Asked]]:
    """Yield each build that a change of one limit of an impossible job would buy, with what is asked then."""
    assert world.search().status == "impossible"
    for _, mend in mends(Desk(world.catalogue, world.scenario)):
        if mend is not None:
            yield make_record(mend.result, "cost", ""), asked_by(mend.scenario)


def repriced(before: World, now: World, *, with_spans: bool = False) -> tuple[RepriceRecord, Choice]:
    """Return what becomes of the best build of a world in another one, as the command tells it, and that build."""
    first: Result = before.search()
    assert first.evaluation is not None
    record = make_record(first, "cost", "")
    choice = first.evaluation.choice
    till = Till(now.catalogue, now.scenario)
    same_parts = before.tables == now.tables
    result, by_proof = best_now(till, choice, before.catalogue if same_parts else None, time.monotonic())
    moved = list(spans(till, result.evaluation)) if with_spans and result.evaluation is not None else None
    earlier = earlier_record(record, till.paid(choice), [])
    return make_reprice(record, result, earlier, moved, "", by_proof=by_proof, seconds=0.0), choice
