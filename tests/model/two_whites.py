"""Random cases whose emitters come in a warm and a cold white, with a window of colour between; all is invented.

Unlike `mixtures`, nothing here needs a library of colour, so that a case takes a moment.
"""

from dataclasses import replace
from random import Random

from random_catalogues import Case, random_case

from optimise.model.kept import Kept, everything, warm_up
from optimise.model.market import build_market
from optimise.model.pairs import problem_of_line
from optimise.model.problem import Problem, build_problem
from optimise.model.screening import fits
from optimise.parts import Emitter, Offer
from optimise.scenario.model import Look


def two_whites(number: int, source: str, most_kinds: int = 2) -> Case:
    """Return a random case with each of its first emitters in two whites, each smaller than it was."""
    case, rng = random_case(number, source), Random(number)
    emitters: list[Emitter] = []
    offers: dict[str, tuple[Offer, ...]] = dict(case.catalogue.offers)
    for emitter in case.catalogue.emitters[:most_kinds]:
        for place, cct in enumerate((2900.0, 6000.0)):
            code = f"{emitter.part}-{place}"
            rows = case.catalogue.offers.get(emitter.part, ())
            offers[code] = tuple(
                offer.model_copy(update={"part": code, "price": round(offer.price * rng.uniform(0.8, 1.3))})
                for offer in rows
            )
            figures = {
                "part": code,
                "cct": cct,
                "duv": rng.choice([None, 0.0, 0.002]),
                "flux": emitter.flux * rng.uniform(0.8, 1.2),
                "mass": emitter.mass * rng.choice([1.0, 1.3]),
                "length": 0.6 * emitter.length,
                "width": 0.8 * emitter.width,
                "flux_per_kelvin": rng.choice([-0.001, -0.004, 0.0]),
                "back": None,
            }
            emitters.append(emitter.model_copy(update=figures))
    sheets = tuple(sheet.model_copy(update={"spread": None, "grid": None}) for sheet in case.catalogue.diffusers)
    rest = case.scenario.look.model_dump(exclude={"cct_min", "cct_max", "cri_min"})
    light = case.scenario.light
    return Case(
        f"{case.name}, in two whites",
        replace(case.catalogue, emitters=tuple(emitters), diffusers=sheets, offers=offers),
        case.scenario.model_copy(
            update={
                "look": Look(**rest, cct_min=3700.0, cct_max=4700.0),
                "light": light.model_copy(update={"illuminance": 0.3 * (light.illuminance or 0.0)}),
                "search": case.scenario.search.model_copy(update={"emitter_kinds": 2}),
            }
        ),
    )


def columns_of(source: str, number: int) -> tuple[Problem, Kept]:
    """Return the problem of a random case and its columns; of a "mixed" case those of its last pair of whites."""
    if source.startswith("mixed "):
        case = two_whites(number, source.removeprefix("mixed "))
        market = build_market(case.catalogue, case.scenario)
        problem = problem_of_line(market, len(market.parts.emitters))
    else:
        case = random_case(number, source)
        problem = build_problem(case.catalogue, case.scenario)
    kept = warm_up(problem, fits(problem, everything(problem)))
    assert kept.possible
    return problem, kept
