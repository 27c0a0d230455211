"""No front, alternative, reason or new price shows a dangerous build, however cheap its part is."""

from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner
from dangers import BAIT, SAFE, Danger
from studies import assert_sound, eased, front_of, mended, others_of, repriced
from table import BY_NAME, DANGERS, NAMED

from optimise.cli import main
from optimise.model.exact import evaluate
from optimise.report.record import make_record
from optimise.report.repricing import RepriceRecord, earlier_record

FRONTS = [("cost", "mass"), ("cost", "illuminance"), ("mass", "runtime"), ("cost", "mass", "power")]


@pytest.mark.parametrize("danger", [NAMED[0], NAMED[7]], ids=str)
def test_no_point_of_a_front(danger: Danger) -> None:
    world = danger.temptations()[0]
    assert_sound(front_of(world, ("cost", "mass")), world)


@pytest.mark.parametrize("danger", [NAMED[1]], ids=str)
def test_no_alternative(danger: Danger) -> None:
    world = danger.temptations()[0]
    for told in others_of(world, (SAFE,)):
        assert_sound(told, world)


@pytest.mark.parametrize("danger", [NAMED[8]], ids=str)
def test_nothing_that_easing_a_limit_buys(danger: Danger) -> None:
    """What eases a limit may make the part safe (a shorter runtime, warmer air); it must not let danger pass."""
    world = danger.temptations()[0]
    for told, asked in eased(world):
        assert_sound(told, world, asked=asked, any_part=True)


@pytest.mark.parametrize("danger", NAMED, ids=str)
def test_rather_no_light_than_a_dangerous_one(danger: Danger) -> None:
    assert danger.alone(danger.worlds()[0]).search().status == "impossible"


@pytest.mark.parametrize("danger", NAMED[::2], ids=str)
def test_the_dangerous_part_becomes_free(danger: Danger) -> None:
    now = danger.temptations()[0]
    answer, _ = repriced(now.costing(BAIT=1000.0), now)
    assert answer.same
    assert answer.earlier.missed == []
    assert_sound(answer, now)


@pytest.mark.parametrize("danger", NAMED[1::2], ids=str)
def test_an_earlier_build_that_is_dangerous_now_is_told(danger: Danger) -> None:
    now = danger.beside_it(danger.worlds()[0])
    answer, before = repriced(danger.safe_world, now)
    assert BAIT in str(before)
    assert set(answer.earlier.missed) <= danger.named()
    assert answer.earlier.missed
    assert not answer.same
    assert_sound(answer, now)


# All of it ------------------------------------------------------------------------------------------------


@pytest.mark.long
@pytest.mark.parametrize("axes", FRONTS, ids="-".join)
@pytest.mark.parametrize("danger", DANGERS, ids=str)
def test_no_point_of_any_front(danger: Danger, axes: tuple[str, ...]) -> None:
    if "runtime" in axes and danger.world.job["power"]["source"] == "mains":
        pytest.skip("the mains run for ever")
    world = danger.temptations()[0]
    assert_sound(front_of(world, axes), world)


@pytest.mark.long
@pytest.mark.parametrize("danger", DANGERS, ids=str)
def test_no_alternative_to_any(danger: Danger) -> None:
    world = danger.temptations()[0]
    for told in others_of(world, (SAFE, danger.like)):
        assert_sound(told, world)


@pytest.mark.long
@pytest.mark.parametrize("danger", DANGERS, ids=str)
def test_nothing_that_easing_any_limit_buys(danger: Danger) -> None:
    world = danger.temptations()[0]
    for told, asked in eased(world):
        assert_sound(told, world, asked=asked, any_part=True)


@pytest.mark.long
@pytest.mark.parametrize("danger", DANGERS, ids=str)
def test_no_change_that_makes_an_impossible_job_possible(danger: Danger) -> None:
    world = danger.alone(danger.worlds()[0])
    for told, asked in mended(world):
        assert_sound(told, world, asked=asked, any_part=True)


USED_OTHERWISE = {
    "three lithium batteries above 100 Wh in the air",
    "driver that gives the LEDs too much current",
}
"""Dangers whose part, where it is just safe, is best used in another way (two packs, another current): once dangerous,
it does not keep other limits than those of the danger."""


@pytest.mark.long
@pytest.mark.parametrize("danger", DANGERS, ids=str)
def test_new_prices_and_how_far_they_may_move(danger: Danger) -> None:
    for now in danger.temptations():
        answer, _ = repriced(now.costing(BAIT=1000.0), now, with_spans=True)
        assert answer.same
        assert_sound(answer, now)
        answer, _ = repriced(danger.safe_world, now, with_spans=True)
        assert answer.earlier.missed
        assert set(answer.earlier.missed) <= danger.named() or danger.name in USED_OTHERWISE
        assert_sound(answer, now)


def test_there_is_a_danger_for_every_slot_of_a_build() -> None:
    kinds = {danger.kind for danger in BY_NAME.values()}
    assert kinds == {"emitters", "drivers", "panels", "batteries", "cables", "fuses", "connectors", "mounts"}


def test_what_is_dangerous_now_is_told_though_it_cannot_be_bought() -> None:
    danger = BY_NAME["fuse above the cable's rating"]
    before, now = danger.safe_world, danger.worlds()[0]
    choice = danger.with_bait(danger.choice)
    offers = {code: rows for code, rows in now.catalogue.offers.items() if code != "LED"}
    record = make_record(before.search(), "cost", "")
    told = earlier_record(record, evaluate(choice, replace(now.catalogue, offers=offers), now.scenario), [])
    assert told.gone == ["LED"]
    assert told.missed == list(danger.limits)


def test_the_command_says_what_is_dangerous_now(tmp_path: Path) -> None:
    danger = BY_NAME["fuse above the cable's rating"]
    before, now = danger.beside_it(danger.safe_world), danger.temptations()[0]
    folders = {"before": before, "now": now}
    for name, world in folders.items():
        (tmp_path / name).mkdir()
        for file, text in world.files.items():
            (tmp_path / name / file).write_text(text, encoding="utf-8")

    def run(*arguments: str) -> str:
        done = CliRunner().invoke(main, [*arguments])
        assert done.exit_code == 0, done.output
        return done.output

    record = str(tmp_path / "record.json")
    run("build", str(tmp_path / "before" / "job.toml"), "--catalogue", str(tmp_path / "before"), "--json", record)
    answered = tmp_path / "answer.json"
    told = run("reprice", record, "--catalogue", str(tmp_path / "now"), "--no-spans", "--json", str(answered))
    assert "The earlier build does not keep: fuse protects the cable." in told
    answer = RepriceRecord.model_validate_json(answered.read_text(encoding="utf-8"))
    assert answer.earlier.missed == list(danger.limits)
    assert_sound(answer, now)
