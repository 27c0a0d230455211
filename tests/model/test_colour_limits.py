"""Limits on colour and filters: the search against looking at every build, and spectra that decide."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from random import Random

import pytest
from comparison import NODES, compare_case
from few_parts import write_few_parts, write_job
from oracle import OBJECTIVES, Oracle, TooManyError
from random_catalogues import Case, random_case
from spectra import spectrum_of, write_illuminant

from optimise.columns.eligible import eligible_parts
from optimise.model.exact import evaluate, margin_of
from optimise.model.search import best_build
from optimise.parts import Catalogue, Emitter, read_catalogue
from optimise.parts.colour import colour_of_spectrum
from optimise.scenario import Scenario, read_scenario
from optimise.studies.limits import Listed, limits_asked

QUALITIES = {
    "duv_max": [0.001, 0.004],
    "duv_min": [-0.003],
    "rf_min": [80.0, 90.0],
    "rg_min": [97.0],
    "rg_max": [103.0],
}


def tinted(case: Case, rng: Random) -> Case:
    """Return a case with colour figures, filters and limits on colour of its own."""

    def maybe(value: float) -> float | None:
        return value if rng.random() < 0.85 else None

    emitters = tuple(
        emitter.model_copy(
            update={
                "cct": maybe(rng.choice([2800.0, 4000.0, 5600.0])),
                "duv": maybe(rng.choice([-0.004, 0.0, 0.003])),
                "rf": maybe(rng.choice([75.0, 85.0, 95.0])),
                "rg": maybe(rng.choice([95.0, 100.0, 105.0])),
            }
        )
        for emitter in case.catalogue.emitters
    )
    diffusers = tuple(
        sheet.model_copy(update={"mired_shift": rng.choice([0.0, 112.0, -131.0, 35.0])})
        for sheet in case.catalogue.diffusers
    )
    shift = rng.choice([0.0, *(sheet.mired_shift for sheet in diffusers)])
    middle = 1e6 / (1e6 / (rng.choice(emitters).cct or 4000.0) + shift)
    limits: dict[str, float] = {"cct_min": middle * 0.9, "cct_max": middle * 1.1}
    if rng.random() < 0.4:
        key = rng.choice(sorted(QUALITIES))
        limits[key] = rng.choice(QUALITIES[key])
    look = case.scenario.look.model_copy(update=limits)
    light = case.scenario.light
    light = light.model_copy(update={"illuminance": 0.4 * (light.illuminance or 0.0)})
    return Case(
        f"{case.name}, tinted",
        replace(case.catalogue, emitters=emitters, diffusers=diffusers),
        case.scenario.model_copy(update={"look": look, "light": light}),
    )


def tinted_cases(numbers: range) -> Iterator[tuple[Case, Oracle]]:
    for number in numbers:
        case = tinted(random_case(number, ("battery", "mains")[number % 2], 0), Random(number))
        try:
            yield case, Oracle(case.catalogue, case.scenario, NODES)
        except TooManyError:
            continue


def check_tinted(numbers: range) -> tuple[int, int]:
    """Compare cases, and return how many can be done, and how many of them by a filter."""
    done = filtered = 0
    for place, (case, oracle) in enumerate(tinted_cases(numbers)):
        objective = OBJECTIVES[place % 3]
        compare_case(case, oracle, objective)
        best = best_build(case.catalogue, case.scenario, objective).evaluation
        if best is not None:
            done += 1
            sheets = {sheet.part: sheet.mired_shift for sheet in case.catalogue.diffusers}
            filtered += sheets.get(best.choice.diffuser or "", 0.0) != 0.0
    return done, filtered


def test_limits_on_colour_and_filters_are_searched_as_every_build_is() -> None:
    done, filtered = check_tinted(range(30, 45))
    assert done >= 2
    assert filtered >= 1


@pytest.mark.long
def test_many_limits_on_colour_and_filters() -> None:
    done, filtered = check_tinted(range(45, 600))
    assert done >= 60
    assert filtered >= 15


@pytest.fixture(scope="module")
def parts(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder of a few parts, of which one emitter has a spectrum, that of an illuminant of CIE."""
    folder = write_few_parts(tmp_path_factory.mktemp("colour") / "parts")
    name = write_illuminant(folder, "LED-B5")
    path = folder / "emitters.csv"
    lines = path.read_text(encoding="utf-8").splitlines()
    lines[1] += ",spectrum,emitting_area [mm^2]"
    lines[2:] = [f"{line},{name},600" if line.startswith("LED-BAR9-5692") else f"{line},," for line in lines[2:]]
    path.write_text("\n".join(lines), encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def catalogue(parts: Path) -> Catalogue:
    return read_catalogue(parts)


@pytest.fixture
def job(tmp_path: Path) -> Scenario:
    return read_scenario(write_job(tmp_path / "job.toml"))


def looking(job: Scenario, **keys: object) -> Scenario:
    free = dict.fromkeys(("cct_min", "cct_max", "cri_min", "r9_min"))
    return job.model_copy(update={"look": job.look.model_copy(update={**free, **keys})})


BAR = "LED-BAR9-5692"


def test_what_the_spectrum_says_decides_over_what_is_stated(catalogue: Catalogue, job: Scenario) -> None:
    bar = catalogue.find(Emitter, BAR)
    assert (bar.cct, bar.cri) == (5600.0, 92.0)  # the orchard's limits: 5000 K to 5800 K, Ra 90
    seen = colour_of_spectrum(spectrum_of("LED-B5"))  # 6598 K, Ra 80
    assert BAR not in {e.part for e in eligible_parts(catalogue, job).emitters}
    assert eligible_parts(catalogue, job).left_out["emitters"] == {"colour temperature out of range": 1}
    low = looking(job, cri_min=80.0, cct_min=6500.0, duv_max=0.001, rf_min=79.0, rg_min=94.0, rg_max=95.0)
    best = best_build(catalogue, low, "mass").evaluation
    assert best is not None
    assert best.choice.emitter == BAR
    assert margin_of(best, "colour rendering Ra").achieved == seen.cri  # type: ignore[union-attr]
    assert margin_of(best, "Duv, high").achieved == seen.duv  # type: ignore[union-attr]
    assert margin_of(best, "gamut Rg, low").achieved == seen.rg  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("keys", "reason"),
    [
        ({"duv_min": 0.001}, "Duv out of range"),
        ({"rf_min": 80.0}, "Rf too low"),
        ({"rg_max": 94.0}, "Rg out of range"),
        ({"ssi_min": 90.0, "ssi_reference": "daylight 6500 K"}, "SSI too low"),
    ],
)
def test_why_an_emitter_is_left_out(catalogue: Catalogue, job: Scenario, keys: dict[str, object], reason: str) -> None:
    left_out = eligible_parts(catalogue, looking(job, **keys)).left_out["emitters"]
    assert left_out[reason] == 1
    other = "SSI not known" if "ssi_min" in keys else f"{reason.split()[0]} not stated"
    assert left_out[other] == 1  # the emitter that neither states it nor has a spectrum


def test_without_the_library_what_is_stated_counts(
    catalogue: Catalogue, job: Scenario, monkeypatch: pytest.MonkeyPatch
) -> None:
    for module in ("colour", "similarity"):
        monkeypatch.setattr(f"optimise.parts.{module}.library_version", lambda: None)
    assert BAR in {e.part for e in eligible_parts(catalogue, job).emitters}
    asks = looking(job, ssi_min=10.0, ssi_reference="D65")
    assert eligible_parts(catalogue, asks).left_out["emitters"] == {"SSI not known": 2}


def test_a_filter_brings_a_light_into_the_window(catalogue: Catalogue, job: Scenario) -> None:
    sheet = next(d for d in catalogue.diffusers if d.part == "DIF-FILM-HALF")
    gel = sheet.model_copy(update={"mired_shift": 131.0})
    others = tuple(d for d in catalogue.diffusers if d.part != gel.part)
    warm = looking(job, cct_min=3150.0, cct_max=3300.0, diffused=False)
    assert best_build(catalogue, warm, "mass").status == "impossible"
    filtering = replace(catalogue, diffusers=(*others, gel))
    result = best_build(filtering, warm, "mass")
    assert result.evaluation is not None
    # 5500 K behind a filter of +131 mired (85B) is 3200 K; this star's 5500 K is stated.
    assert (result.evaluation.choice.emitter, result.evaluation.choice.diffuser) == ("LED-STAR6-5590-60", gel.part)
    cct = filtering.find(Emitter, "LED-STAR6-5590-60").cct
    assert cct is not None
    assert margin_of(result.evaluation, "colour temperature, low").achieved == pytest.approx(  # type: ignore[union-attr]
        1e6 / (1e6 / cct + 131.0)
    )
    # What else a filter does is not known: asked for, it is not there.
    assert (
        best_build(filtering, looking(warm, cct_min=3150.0, cct_max=3300.0, cri_min=50.0), "mass").status
        == "impossible"
    )


def test_a_filter_that_cannot_be_had_lets_no_light_in(catalogue: Catalogue, job: Scenario) -> None:
    gels = tuple(
        sheet.model_copy(update={"part": f"GEL-{i}", "mired_shift": 131.0})
        for i, sheet in enumerate(catalogue.diffusers)
    )
    warm = looking(job, cct_min=3150.0, cct_max=3300.0, diffused=False)
    offered = replace(catalogue, diffusers=(*catalogue.diffusers, *gels))
    assert best_build(offered, warm, "cost").status == "impossible"


def test_every_limit_on_colour_may_give_way(catalogue: Catalogue, job: Scenario) -> None:
    asks = looking(
        job, cct_min=6700.0, duv_max=-0.01, rf_min=90.0, rg_min=99.0, ssi_min=95.0, ssi_reference="daylight 6500 K"
    )
    names = {limit.name: limit for limit in limits_asked(asks, catalogue)}
    seen = colour_of_spectrum(spectrum_of("LED-B5"))
    for key, value in (("duv_max", seen.duv), ("rf_min", seen.rf), ("rg_min", seen.rg), ("cct_min", seen.cct)):
        gives = names[key].gives
        assert isinstance(gives, Listed)
        assert value in gives.values
        assert gives.values[-1] is None
    loose = asks
    for limit in names.values():
        if limit.name in {"cct_min", "duv_max", "rf_min", "rg_min", "ssi_min"}:
            loose = limit.without(loose)
    assert BAR in {e.part for e in eligible_parts(catalogue, loose).emitters}


def test_luminance_of_a_face_and_of_bare_emitters_by_hand(catalogue: Catalogue, job: Scenario) -> None:
    best = best_build(catalogue, looking(job), "mass").evaluation
    assert best is not None
    panel = next(p for p in catalogue.panels if p.part == best.choice.panel)
    sheet = next(d for d in catalogue.diffusers if d.part == best.choice.diffuser)
    flux = best.figures["luminous_flux"][0]
    assert flux is not None
    lambertian = sheet.model_copy(update={"spread": None})
    others = tuple(d for d in catalogue.diffusers if d.part != sheet.part)
    plain = evaluate(best.choice, replace(catalogue, diffusers=(*others, lambertian)), job)
    # Uniform and Lambertian: L = flux / (pi A).
    by_hand = flux * sheet.transmittance / (3.141592653589793 * panel.width * panel.height)
    assert plain.figures["luminance"][0] == pytest.approx(by_hand, rel=1e-12)
    # A bare Lambertian emitter of 600 mm² and 1120 lm at its rated current.
    bar = catalogue.find(Emitter, BAR)
    assert bar.current is not None
    rated = tuple(replace(channel, current=bar.current) for channel in best.choice.channels)
    bare = evaluate(replace(best.choice, emitter=BAR, diffuser=None, channels=rated), catalogue, job)
    assert bare.figures["luminance"][0] == pytest.approx(1120 / (3.141592653589793 * 600e-6), rel=1e-9)
    unknown = evaluate(replace(best.choice, emitter="LED-STAR6-5590-60", diffuser=None), catalogue, job)
    assert unknown.figures["luminance"][0] is None
    assert any("emitting_area is not stated" in line for line in unknown.unchecked)
