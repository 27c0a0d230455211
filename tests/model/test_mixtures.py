"""Lights of two whites: the exact check by hand, shares, bounds, and the search against looking at every build."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise, product
from pathlib import Path
from random import Random

import numpy as np
import pytest
from comparison import compare_case
from mixtures import NEAR, MixedOracle, colour_at, mixed_case
from oracle import OBJECTIVES, TooManyError
from random_catalogues import Case
from spectra import spectrum_of
from test_screening import RULES

from optimise.model.choice import ChannelChoice, Choice
from optimise.model.exact import build_of, evaluate, margin_of
from optimise.model.layout import by_turns, layout_of
from optimise.model.market import build_market
from optimise.model.mixture import Mixture
from optimise.model.pairs import least_by_line, pairs_of
from optimise.model.search import best_build
from optimise.model.shares import shares_of
from optimise.model.two_kinds import TwoKinds
from optimise.model.weights import limits_of
from optimise.parts import Catalogue, Diffuser, Emitter, read_catalogue
from optimise.parts.colour import colour_of_mixture
from optimise.report.record import Record, make_record, to_json
from optimise.report.record_parts import ChoiceRecord, choice_of, choice_record
from optimise.scenario import Scenario, read_scenario
from optimise.scenario.model import Look

ROOT = Path(__file__).parents[2]
WARM, COLD = "LED-BAR9-3092", "LED-BAR9-5692"
KEPT = {
    "emitters": {WARM, COLD},
    "drivers": {"DRV-D12-CC045-20", "DRV-D12-CCA105-45"},
    "panels": {"PAN-FOAM-50x50"},
    "diffusers": {"DIF-FILM-HALF", "DIF-PAPER"},
    "batteries": {"BAT-LI14-068"},
    "cables": {"FLEX-2x1"},
    "fuses": {"FUSE-B32-3"},
    "connectors": {"CON-DC5"},
    "mounts": {"MNT-HANDLE-2"},
}


@pytest.fixture(scope="module")
def few() -> Catalogue:
    """Return two whites of the demonstration and what little they need; nobody charges for delivery."""
    whole = read_catalogue(ROOT / "catalogue")
    kinds = {name: tuple(p for p in getattr(whole, name) if p.part in codes) for name, codes in KEPT.items()}
    return replace(whole, **kinds, suppliers=())


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Scenario:
    path = tmp_path_factory.mktemp("mix") / "job.toml"
    path.write_text(
        """
[light]
illuminance = "110 lx"
distance = "2 m"
[look]
cct_min = "3900 K"
cct_max = "4500 K"
diffused = true
[power]
source = "battery"
runtime = "45 min"
lead_length = "2 m"
[limits]
mount = true
[search]
emitter_kinds = 2
""",
        encoding="utf-8",
    )
    return read_scenario(path)


def looking(job: Scenario, **keys: object) -> Scenario:
    return job.model_copy(update={"look": job.look.model_copy(update=keys)})


def spectral(catalogue: Catalogue, warm: str = "LED-B1", cold: str = "LED-B5") -> Catalogue:
    """Return a catalogue whose two whites have the spectra of CIE illuminants."""
    names = {WARM: warm, COLD: cold}
    emitters = tuple(
        e.model_copy(update={"spectrum": "s.csv"}).shining(spectrum_of(names[e.part])) for e in catalogue.emitters
    )
    return replace(catalogue, emitters=emitters)


CHOICE = Choice(
    emitter=WARM,
    channels=(
        ChannelChoice("DRV-D12-CC045-20", 1, 1, 0.45, 1),
        ChannelChoice("DRV-D12-CCA105-45", 1, 2, 0.35, 1, COLD),
    ),
    panel="PAN-FOAM-50x50",
    diffuser="DIF-FILM-HALF",
    battery="BAT-LI14-068",
    battery_series=1,
    battery_parallel=1,
    cable="FLEX-2x1",
    fuse="FUSE-B32-3",
    connector="CON-DC5",
    mount="MNT-HANDLE-2",
)


def test_the_exact_check_of_two_kinds_by_hand(few: Catalogue, job: Scenario) -> None:
    found = evaluate(CHOICE, few, job)
    parts = [few.find(Emitter, WARM), few.find(Emitter, COLD)]
    currents, numbers = (0.45, 0.35), (1, 2)
    fluxes, heats = [], []
    for emitter, current, number in zip(parts, currents, numbers, strict=True):
        assert emitter.current is not None
        assert emitter.voltage is not None
        x = current / emitter.current
        volts = emitter.voltage + emitter.dynamic_resistance * (current - emitter.current)
        heat = current * volts * emitter.heat_share
        junction = found.board + heat * (emitter.resistance_junction_case or 0.0)
        warm = 1.0 + emitter.flux_per_kelvin * (junction - 25.0)
        fluxes.append(number * emitter.flux * x * (1.0 + emitter.droop * (1.0 - x)) * warm)
        heats.append(number * heat)
    assert found.fluxes == pytest.approx(fluxes, rel=1e-12)
    assert found.heat == pytest.approx(sum(heats), rel=1e-12)
    colour = colour_at(*parts, fluxes[1] / sum(fluxes))
    assert colour is not None
    low = margin_of(found, "colour temperature, low")
    assert low is not None
    assert low.achieved == pytest.approx(colour[0], abs=NEAR[0])
    bought = {line.part: line.needed for line in found.bill}
    assert (bought[WARM], bought[COLD]) == (1, 2)
    plain = evaluate(replace(CHOICE, channels=(CHOICE.channels[0],)), few, job)
    driver = next(d for d in few.drivers if d.part == "DRV-D12-CCA105-45")
    assert found.milligrams - plain.milligrams == 2 * parts[1].milligrams + driver.milligrams


def test_rules_of_a_mixture(few: Catalogue, job: Scenario) -> None:
    def kept(choice: Choice, catalogue: Catalogue = few, scenario: Scenario = job) -> tuple[bool, bool]:
        found = evaluate(choice, catalogue, scenario)
        margins = [margin_of(found, name) for name in ("kinds of emitter", "kinds leave as one beam")]
        return margins[0].holds, margins[1].holds  # type: ignore[union-attr]

    assert kept(CHOICE) == (True, True)
    one = job.model_copy(update={"search": job.search.model_copy(update={"emitter_kinds": 1})})
    assert kept(CHOICE, scenario=one) == (False, True)
    assert kept(replace(CHOICE, diffuser=None)) == (True, False)

    def changed(kind: type, code: str, **figures: object) -> Catalogue:
        name = {Diffuser: "diffusers", Emitter: "emitters"}[kind]
        parts = (p.model_copy(update=figures) if p.part == code else p for p in getattr(few, name))
        return replace(few, **{name: tuple(parts)})

    # What a filter, a sheet that keeps different beams, or light towards the board does to one of two is not its share.
    assert kept(CHOICE, changed(Diffuser, "DIF-FILM-HALF", mired_shift=20.0)) == (True, False)
    spreading = changed(Diffuser, "DIF-FILM-HALF", spread=40.0)
    assert kept(CHOICE, spreading) == (True, True)
    narrow = replace(spreading, emitters=changed(Emitter, COLD, beam=60.0).emitters)
    assert kept(CHOICE, narrow) == (True, False)
    assert kept(CHOICE, changed(Emitter, COLD, back=0.2)) == (True, False)


def test_a_light_of_one_kind_has_no_such_rule(few: Catalogue, job: Scenario) -> None:
    plain = evaluate(replace(CHOICE, channels=CHOICE.channels[:1]), few, job)
    assert margin_of(plain, "kinds of emitter") is None
    assert plain.fluxes == (plain.figures["luminous_flux"][0],)


def test_the_record_of_a_mixture(few: Catalogue, job: Scenario) -> None:
    result = best_build(few, job, "cost")
    best = result.evaluation
    assert best is not None
    assert best.choice.kinds == (WARM, COLD)
    record = make_record(result, "cost", "0" * 64)
    assert Record.model_validate_json(to_json(record)) == record
    assert record.choice is not None
    assert choice_of(record.choice).kinds == best.choice.kinds
    assert {c.emitter for c in record.choice.channels} == {WARM, COLD}
    assert record.mixture is not None
    assert sum(kind.share for kind in record.mixture) == pytest.approx(1.0)
    assert [kind.rests_on for kind in record.mixture] == ["locus", "locus"]
    # The colour in the record from the record alone: x, y and flux of each kind.
    mixed = [(k.flux / k.y, k.x, k.y) for k in record.mixture if k.x is not None and k.y is not None]
    whole = sum(weight for weight, _, _ in mixed)
    x, y = (sum(weight * row[i] for weight, *row in mixed) / whole for i in (0, 1))
    n = (x - 0.3320) / (0.1858 - y)  # McCamy 1992, formula from memory
    cct = record.figures["colour_temperature"].value
    assert cct == pytest.approx(449.0 * n**3 + 3525.0 * n**2 + 6823.3 * n + 5520.33, rel=0.006)
    assert any("Two whites are mixed" in note for note in record.notes)
    assert sum("taken to be on the Planckian locus" in note for note in record.notes) == 2
    assert any(note.startswith("Not checked of the mixture: Ra, R9") for note in record.notes)


def test_records_of_an_earlier_version_are_read() -> None:
    record = choice_record(replace(CHOICE, channels=CHOICE.channels[:1]))
    assert record.channels[0].emitter == WARM
    earlier = record.model_dump()
    del earlier["channels"][0]["emitter"]
    assert choice_of(ChoiceRecord(**earlier)) == choice_of(record) == replace(CHOICE, channels=CHOICE.channels[:1])
    assert choice_of(choice_record(CHOICE)) == CHOICE


def test_the_kinds_take_turns_on_the_board(few: Catalogue) -> None:
    layout = layout_of(build_of(CHOICE, few))
    assert layout is not None
    assert sorted(i for run in layout.runs for one in run.strings for i in one) == [0, 1, 2]
    assert {run.emitter: sum(map(len, run.strings)) for run in layout.runs} == {WARM: 1, COLD: 2}
    assert by_turns(list(range(5)), [1, 4]) == [[2], [0, 1, 3, 4]]
    assert by_turns(list(range(8)), [4, 4]) == [[1, 3, 5, 7], [0, 2, 4, 6]]
    assert by_turns([3, 1, 2], [3]) == [[3, 1, 2]]
    for first, second in product(range(1, 9), repeat=2):
        mine, its = by_turns(list(range(first + second)), [first, second])
        assert (len(mine), len(its)) == (first, second)
        rare = min((mine, its), key=len)
        gaps = [b - a for a, b in pairwise(rare)]
        assert not gaps or max(gaps) - min(gaps) <= 1


@pytest.mark.parametrize(
    ("duvs", "limits"),
    [
        ((None, None), {"cct_min": 3900.0, "cct_max": 4500.0}),
        ((0.004, 0.003), {"cct_min": 3500.0, "duv_min": -0.001, "duv_max": 0.001}),
        ((0.0, 0.0), {"cct_max": 5000.0, "duv_min": -0.002}),
        ((0.001, 0.001), {"duv_min": -0.0035, "duv_max": 0.0}),
        ((0.0, 0.0), {"cct_min": 6000.0}),
    ],
)
def test_shares_are_those_that_keep_the_limits(
    few: Catalogue, duvs: tuple[float | None, float | None], limits: dict[str, float]
) -> None:
    first, second = (e.model_copy(update={"duv": duv}) for e, duv in zip(few.emitters, duvs, strict=True))
    look = Look(**limits)
    ranges = shares_of(first, second, look)
    wrong = 0
    for share in np.linspace(0.0, 1.0, 201).tolist():
        colour = colour_at(first, second, share)
        assert colour is not None
        inside = any(low <= share <= high for low, high in ranges)
        near = {
            s: (look.cct_min is None or colour[0] >= look.cct_min - s * NEAR[0])
            and (look.cct_max is None or colour[0] <= look.cct_max + s * NEAR[0])
            and (look.duv_min is None or colour[1] >= look.duv_min - s * NEAR[1])
            and (look.duv_max is None or colour[1] <= look.duv_max + s * NEAR[1])
            for s in (1, -1)
        }
        assert near[1] or not inside
        assert inside or not near[-1]
        wrong += not inside
    assert wrong > 0 or not limits
    if "duv_max" in limits and limits["duv_max"] == 0.0:
        assert len(ranges) == 1
    if limits.get("cct_min") == 6000.0:
        assert ranges == ()


def test_a_limit_may_leave_several_ranges(few: Catalogue) -> None:
    first, second = (e.model_copy(update={"duv": 0.0}) for e in few.emitters)
    ranges = shares_of(first, second, Look(duv_min=-0.001))
    assert len(ranges) == 2
    assert ranges[0][0] == 0.0
    assert ranges[1][1] == 1.0


def test_quality_that_is_not_known_is_never_taken_as_kept(few: Catalogue, job: Scenario) -> None:
    assert best_build(few, job, "cost").status == "optimal"
    assert best_build(few, looking(job, cri_min=50.0), "cost").status == "impossible"


def test_quality_is_that_of_the_summed_spectrum(few: Catalogue, job: Scenario) -> None:
    parts = spectral(few)
    result = best_build(parts, looking(job, cri_min=70.0, duv_min=-0.01), "cost")
    best = result.evaluation
    assert best is not None
    assert len(best.choice.kinds) == 2
    mixed = colour_of_mixture([(spectrum_of("LED-B1"), best.fluxes[0]), (spectrum_of("LED-B5"), best.fluxes[1])])
    ra = margin_of(best, "colour rendering Ra")
    assert ra is not None
    assert ra.achieved == pytest.approx(mixed.cri, rel=1e-9)
    assert best.figures["emitters"][0] == best.choice.emitters
    cct = margin_of(best, "colour temperature, low")
    assert cct is not None
    assert cct.achieved == pytest.approx(mixed.cct, abs=2.0)
    assert mixed.cri is not None
    # A limit a hair above what any share of the two reaches rules all of them out.
    shares = np.linspace(0.3, 0.7, 21).tolist()
    most = max(Mixture(parts.emitters, (1.0 - s, s), None)["cri"] or 0.0 for s in shares)
    assert best_build(parts, looking(job, cri_min=most + 0.2), "cost").status == "impossible"


def test_two_kinds_weigh_no_less_than_both_alone() -> None:
    rng = Random(3)
    for _ in range(20):
        steps = rng.randint(2, 9)
        first, second = (np.cumsum([[0.0, *(rng.choice([0.0, 1.0, 2.5]) for _ in range(steps))]], axis=1) for _ in "ab")
        low = rng.uniform(0.0, 0.9)
        high = rng.uniform(low, 1.0)
        two = TwoKinds(first, second, low, high)
        for needed in range(1, steps + 1):
            splits = [
                (a, b)
                for a, b in product(range(1, steps + 1), repeat=2)
                if a + b >= needed and a >= (1 - high) * (needed - 1) - 1e-9 and b >= low * (needed - 1) - 1e-9
            ]
            truth = min(first[0, a] + second[0, b] for a, b in splits)
            assert two.least(np.array([needed]))[0, 0] == pytest.approx(truth)
            for given in range(1, steps + 1):
                beside = min(first[0, a] + second[0, max(b - given, 0)] for a, b in splits)
                found = two.rest(np.array([needed]), np.array([given]), second=True)[0, 0, 0]
                assert found <= beside + 1e-9


NODES = 1500

SMALL = (7, 13, 33, 8)
"""Numbers of cases that take a moment; all but the last are best done by a mixture."""


def cases(numbers: Sequence[int] | range) -> Iterator[tuple[int, Case, MixedOracle]]:
    for number in numbers:
        case = mixed_case(number)
        try:
            yield number, case, MixedOracle(case.catalogue, case.scenario, NODES)
        except TooManyError:
            continue


def check(numbers: Sequence[int] | range) -> tuple[int, int]:
    """Compare cases; return how many can be done, and how many of them are best done by a mixture."""
    done = mixed = 0
    for number, case, oracle in cases(numbers):
        objective = OBJECTIVES[number % 3]
        compare_case(case, oracle, objective)
        build = oracle.best(objective).evaluation
        done += build is not None
        mixed += build is not None and len(build.choice.kinds) > 1
    return done, mixed


def test_the_best_of_one_or_two_kinds_is_found() -> None:
    assert check(SMALL) == (4, 3)


def test_what_was_once_wrong_is_right() -> None:
    assert check((258,)) == (0, 0)  # a board was looked at below the air's temperature


@pytest.mark.parametrize("rule", RULES)
def test_the_best_mixture_is_the_same_without_a_rule(rule: str, monkeypatch: pytest.MonkeyPatch) -> None:
    for module, name, instead in RULES[rule]:
        monkeypatch.setattr(module, name, instead)
    assert check(SMALL[1:2]) == (1, 1)


@pytest.mark.long
def test_the_best_of_one_or_two_kinds_is_found_in_many_cases() -> None:
    done, mixed = check(range(400))
    assert done >= 60
    assert mixed >= 25


@pytest.mark.long
@pytest.mark.parametrize("rule", RULES)
def test_the_best_mixture_is_the_same_without_a_rule_in_many_cases(rule: str, monkeypatch: pytest.MonkeyPatch) -> None:
    for module, name, instead in RULES[rule]:
        monkeypatch.setattr(module, name, instead)
    check(range(60))


def test_a_kind_that_nothing_feeds_is_in_no_pair() -> None:
    """None of its share is no number either: its least is not 0 times what cannot be had."""
    case = mixed_case(280)
    market = build_market(case.catalogue, case.scenario)
    least = least_by_line(market, limits_of(case.scenario), "cost")
    drivers = zip(market.parts.drivers, market.driver_buying, strict=True)
    outputs = {driver.output for driver, buying in drivers if np.isfinite(buying.unit)}
    fed = [emitter.drive in outputs for emitter in market.parts.emitters]
    assert not all(fed)
    assert not np.isnan(least).any()
    for (i, j, *_), each in zip(pairs_of(market), least[len(fed) :], strict=True):
        assert (fed[i] and fed[j]) or each == np.inf
