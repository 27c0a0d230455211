"""`rushlight reprice`: an earlier build at new prices, right and wrong."""

import json
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from few_parts import write_few_parts, write_job
from rich.console import Console

from optimise.cli import main
from optimise.cli_reprice import _Counter
from optimise.model.market import Market
from optimise.parts import Catalogue
from optimise.report.repricing import RepriceRecord
from optimise.scenario import Scenario
from optimise.studies import till


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with parts and the record of the cheapest build from them."""
    folder = tmp_path_factory.mktemp("shop")
    parts, job = write_few_parts(folder / "parts", charges=True), write_job(folder / "job.toml", 60.0)
    done = run("build", job, "--catalogue", parts, "--objective", "cost", "--json", folder / "built.json", "--draws", 0)
    assert done.exit_code == 0
    return folder


def built(shop: Path) -> dict[str, object]:
    return dict(json.loads((shop / "built.json").read_text(encoding="utf-8")))


def new_offers(shop: Path, target: Path, changes: dict[str, str]) -> Path:
    """Write the offers with other prices, by part; an empty price takes all its offers out."""
    lines = []
    for line in (shop / "parts" / "offers.csv").read_text(encoding="utf-8").splitlines():
        cells = line.split(",")
        if cells[0] in changes and cells[1] != "own":
            if not changes[cells[0]]:
                continue
            cells[2] = changes[cells[0]]
        lines.append(",".join(cells))
    target.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return target


def answer(shop: Path, *options: str | Path) -> RepriceRecord:
    done = run("reprice", shop / "built.json", "--catalogue", shop / "parts", "--json", "-", *options)
    assert done.exit_code == 0, done.output
    return RepriceRecord.model_validate_json(done.stdout)


def bought(shop: Path) -> dict[str, str]:
    return {line["part"]: line["supplier"] for line in built(shop)["bill"] if line["supplier"] != "own"}  # type: ignore[attr-defined]


def test_same_prices_change_nothing(shop: Path) -> None:
    same = answer(shop, "--offers", shop / "parts" / "offers.csv", "--no-spans")
    assert (same.status, same.same, same.proof) == ("optimal", True, "earlier")
    assert same.earlier.cost == same.earlier.cost_before
    assert all(line.now == line.before for line in same.earlier.lines)
    assert (same.differences, same.spans) == ([], None)
    assert same.best is not None
    assert same.best.choice is not None
    assert same.best.choice.model_dump() == built(shop)["choice"]


def test_a_dearer_part_is_told_and_the_best_build_is_found_anew(shop: Path, tmp_path: Path) -> None:
    emitter = built(shop)["choice"]["emitter"]  # type: ignore[index]
    offers = new_offers(shop, tmp_path / "dear.csv", {emitter: "88.00"})
    told = answer(shop, "--offers", offers, "--no-spans")
    assert told.proof == "search"
    assert not told.same
    assert told.earlier.cost is not None
    assert told.earlier.cost > told.earlier.cost_before + 70
    assert "emitters" in {slot.slot for slot in told.differences}
    # A build from nothing at the same prices is the same one.
    parts = tmp_path / "parts"
    parts.mkdir()
    for path in (shop / "parts").glob("*.csv"):
        (parts / path.name).write_bytes(path.read_bytes())
    (parts / "offers.csv").write_bytes(offers.read_bytes())
    done = run("build", shop / "job.toml", "--catalogue", parts, "--objective", "cost", "--json", "-", "--draws", "0")
    assert told.best is not None
    assert told.best.choice is not None
    assert told.best.choice.model_dump() == json.loads(done.stdout)["choice"]
    printed = run("reprice", shop / "built.json", "--catalogue", parts, "--no-spans").output
    assert "is another one now" in " ".join(printed.split())
    assert "The difference" in printed


def test_what_cannot_be_had_any_more_is_named(shop: Path, tmp_path: Path) -> None:
    part = next(iter(bought(shop)))
    offers = new_offers(shop, tmp_path / "gone.csv", {part: ""})
    told = answer(shop, "--offers", offers, "--no-spans")
    assert told.earlier.cost is None
    assert told.earlier.gone == [part]
    printed = run(
        "reprice", shop / "built.json", "--catalogue", shop / "parts", "--offers", offers, "--no-spans"
    ).output
    assert f"Not to be had any more, or not in the number needed: {part}." in " ".join(printed.split())


def test_spans_are_told_for_everything_bought(shop: Path, tmp_path: Path) -> None:
    command = ["reprice", shop / "built.json", "--catalogue", shop / "parts", "--json", tmp_path / "answer.json"]
    done = run(*command)
    assert done.exit_code == 0
    assert "How far a price may move" in done.output
    told = RepriceRecord.model_validate_json((tmp_path / "answer.json").read_text(encoding="utf-8"))
    assert told.spans is not None
    assert {(span.part, span.supplier) for span in told.spans} == set(bought(shop).items())
    for span in told.spans:
        assert span.low is None or 0 <= span.low <= span.price
        assert span.high is None or span.high >= span.price
        assert (span.high is None) == (span.above is None)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("{", "broken JSON"),
        ("[]", "no schema"),
        ('{"schema": "rushlight-front/1"}', "rushlight-record/1"),
        ('{"schema": "rushlight-record/1"}', "a whole record"),
        ("[" * 100_000, "broken JSON"),
    ],
)
def test_what_is_no_record_is_told(shop: Path, tmp_path: Path, content: str, words: str) -> None:
    (tmp_path / "r.json").write_text(content, encoding="utf-8")
    done = run("reprice", tmp_path / "r.json", "--catalogue", shop / "parts")
    assert done.exit_code == 2
    assert words in " ".join(done.output.split())


def test_the_record_is_never_written_over(shop: Path) -> None:
    before = (shop / "built.json").read_bytes()
    done = run("reprice", shop / "built.json", "--catalogue", shop / "parts", "--json", shop / "built.json")
    assert done.exit_code == 2
    assert "is the record itself" in " ".join(done.stderr.split())
    assert (shop / "built.json").read_bytes() == before


def test_faults_of_record_and_offers_are_told_together(shop: Path, tmp_path: Path) -> None:
    offers = new_offers(shop, tmp_path / "bad.csv", {next(iter(bought(shop))): "12,50x"})
    done = run("reprice", tmp_path / "nowhere.json", "--catalogue", shop / "parts", "--offers", offers)
    assert done.exit_code == 2
    assert "nowhere.json" in done.output
    assert "bad.csv" in done.output


@pytest.mark.parametrize(
    ("place", "value", "words"),
    [
        (("choice", "battery"), "PAN-FOAM-50x50", 'battery "PAN-FOAM-50x50"'),
        (("choice", "battery_parallel"), 0, "cannot be worked out"),
        (("choice", "battery_parallel"), -1, "greater than or equal to 0"),
        (("choice", "battery_parallel"), 10**9, "less than or equal to"),
        (("figures",), {}, "no figure cost, mass, power, illuminance"),
        (("choice", "channels"), [], "cannot be worked out"),
    ],
)
def test_a_record_that_says_what_no_build_has_is_told(
    shop: Path, tmp_path: Path, place: tuple[str, ...], value: object, words: str
) -> None:
    record: dict[str, Any] = built(shop)
    *above, last = place
    within: Any = record
    for step in above:
        within = within[step]
    within[last] = value
    (tmp_path / "r.json").write_text(json.dumps(record), encoding="utf-8")
    done = run("reprice", tmp_path / "r.json", "--catalogue", shop / "parts", "--no-spans")
    assert (done.exit_code, "Traceback" in done.output) == (2, False)
    assert words in " ".join(done.output.split())
    assert run("sheet", tmp_path / "r.json", "--out", tmp_path / "r.html").exit_code == 2
    assert not (tmp_path / "r.html").exists()


def test_an_impossible_job_has_no_build_to_price(shop: Path, tmp_path: Path) -> None:
    job = write_job(tmp_path / "job.toml", 60.0)
    job.write_text(job.read_text(encoding="utf-8").replace('budget = "450 EUR"', 'budget = "1 EUR"'), encoding="utf-8")
    done = run("build", job, "--catalogue", shop / "parts", "--json", tmp_path / "none.json")
    assert done.exit_code == 3
    done = run("reprice", tmp_path / "none.json", "--catalogue", shop / "parts")
    assert done.exit_code == 2
    assert "impossible" in done.output


def test_columns_are_built_once_while_prices_are_watched(
    shop: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every answer is that of a new process, and columns are built anew where there is more to be had."""
    built_anew: list[int] = []
    plain = till.build_market

    def counted(catalogue: Catalogue, scenario: Scenario) -> Market:
        built_anew.append(1)
        return plain(catalogue, scenario)

    monkeypatch.setattr(till, "build_market", counted)
    offers = new_offers(shop, tmp_path / "offers.csv", {})
    counter = _Counter(Console(stderr=True), shop / "built.json", shop / "parts", offers, False, None, 1, True)
    choice = built(shop)["choice"]
    other = next(iter(bought(shop)))
    # Quillbank has no emitters in the parts as they are.
    row = f"{choice['emitter']},quillbank,2.00,1,,,3,"  # type: ignore[index]
    for prices, extra, anew in (
        ({}, "", 1),
        ({other: "77.00"}, "", 0),
        ({choice["emitter"]: "88.00"}, "", 0),  # type: ignore[index]
        ({other: "0.50"}, "", 0),
        ({other: "0.50"}, row, 1),
        ({}, "", 0),
    ):
        new_offers(shop, offers, prices)
        if extra:
            offers.write_text(offers.read_text(encoding="utf-8") + extra + "\n", encoding="utf-8")
        built_anew.clear()
        told = counter.answer()
        assert len(built_anew) == anew, (prices, extra)
        fresh = answer(shop, "--offers", offers, "--no-spans")
        assert told.best is not None
        assert fresh.best is not None
        assert (told.status, told.same, told.earlier) == (fresh.status, fresh.same, fresh.earlier)
        assert told.best.figures["cost"] == fresh.best.figures["cost"]
        assert told.best.figures["mass"] == fresh.best.figures["mass"]


def test_what_other_versions_say_of_other_builds_is_not_taken(
    shop: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    known: list[object] = []
    monkeypatch.setattr(till.Till, "know", lambda self, floors: known.append(floors))
    tree = built(shop)
    offers = new_offers(shop, tmp_path / "dear.csv", {tree["choice"]["emitter"]: "88.00"})  # type: ignore[index]
    assert tree["proof"]["floors"]["shops"]  # type: ignore[index]
    for version, number in ((tree["inputs"]["version"], 1), ("0.0.1", 0)):  # type: ignore[index]
        known.clear()
        tree["inputs"]["version"] = version  # type: ignore[index]
        record = tmp_path / "record.json"
        record.write_text(json.dumps(tree), encoding="utf-8")
        done = run("reprice", record, "--catalogue", shop / "parts", "--offers", offers, "--no-spans")
        assert done.exit_code == 0, done.output
        assert len(known) == number


def test_a_watched_file_is_priced_again_when_it_changes(shop: Path, tmp_path: Path) -> None:
    offers = new_offers(shop, tmp_path / "offers.csv", {})
    command = [sys.executable, "-c", "from optimise.cli import main; main()", "reprice", str(shop / "built.json")]
    command += ["--catalogue", str(shop / "parts"), "--offers", str(offers), "--no-spans", "--watch"]
    command += ["--json", str(tmp_path / "answer.json")]
    said = tmp_path / "said.txt"
    with said.open("w", encoding="utf-8") as errors:
        process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=errors)

    def watching(times: int) -> None:
        for _ in range(600):
            if said.read_text(encoding="utf-8").count("Watching") >= times:
                return
            time.sleep(0.1)
        raise AssertionError("it does not watch")

    def written(before: str) -> str:
        for _ in range(600):
            text = (tmp_path / "answer.json").read_text(encoding="utf-8") if (tmp_path / "answer.json").exists() else ""
            if text not in {"", before}:
                return text
            time.sleep(0.1)
        raise AssertionError("no new answer")

    try:
        first = written("")
        assert json.loads(first)["same"] is True
        watching(1)
        time.sleep(0.1)
        new_offers(shop, tmp_path / "other.csv", {next(iter(bought(shop))): "77.00"})
        (tmp_path / "other.csv").replace(offers)
        assert json.loads(written(first))["earlier"]["cost"] > json.loads(first)["earlier"]["cost"]
        watching(2)
        time.sleep(0.1)
        process.send_signal(signal.SIGINT)
        assert process.wait(20) == 0
    finally:
        process.kill()
        process.wait()
