"""What channels add to rows of shares, against the share of every mixture worked out on boards of every temperature."""

import itertools
from dataclasses import replace

import numpy as np
import plain_parts
import priced_parts
import pytest

from optimise.model.kept import Kept, everything
from optimise.model.light import flux_of
from optimise.model.mix import Mix
from optimise.model.problem import Problem, build_problem
from optimise.model.share_rows import parts_of_share


def mixture() -> tuple[Problem, Kept]:
    """Return a problem in which channels take turns to be of the first and of the second kind."""
    parts = priced_parts.parts()
    slopes = zip(parts.emitters, (-0.001, -0.004), strict=True)
    cooled = tuple(emitter.model_copy(update={"flux_per_kelvin": slope}) for emitter, slope in slopes)
    problem = build_problem(replace(parts, emitters=cooled), plain_parts.SCENARIO)
    kinds = np.arange(len(problem.channels.driver)) % 2
    problem = replace(problem, mix=Mix(kinds, ((0.0, 1.0),)))
    kept = everything(problem)
    # Some heads stay cooler than others: the hottest of all counts.
    return problem, replace(kept, top=kept.top - np.linspace(0.0, 5.0, len(kept.top)))


@pytest.mark.parametrize("share", [0.0, 0.3, 0.8])
def test_a_row_is_never_less_than_the_true_one_on_any_board(share: float) -> None:
    problem, kept = mixture()
    least, most = (parts_of_share(problem, kept, share, least=which) for which in (True, False))
    second = np.arange(len(kept.channels)) % 2 == 1
    coldest, hottest = problem.scenario.power.ambient, float(kept.top.max())
    assert hottest > coldest + 10.0
    fluxes = [flux_of(problem, kept.channels, np.full(2, board)) for board in np.linspace(coldest, hottest, 4)]
    assert np.all(fluxes[-1] <= fluxes[0])
    assert np.any(fluxes[-1] < fluxes[0])
    for flux in fluxes:
        # Of the light of all channels the second kind gives at least that share, or at most.
        for one, other in itertools.product(np.flatnonzero(~second)[:4], np.flatnonzero(second)[:4]):
            for numbers in ((1, 1), (3, 1), (1, 4)):
                of_second = numbers[1] * flux[other]
                light = numbers[0] * flux[one] + of_second
                spare = of_second - share * light
                assert numbers[0] * least[one] + numbers[1] * least[other] >= spare - 1e-9
                assert numbers[0] * most[one] + numbers[1] * most[other] >= -spare - 1e-9
    # On one board, the coldest, it is the true one.
    flat = replace(kept, top=np.full_like(kept.top, coldest))
    for which, sign in ((True, 1.0), (False, -1.0)):
        row = parts_of_share(problem, flat, share, least=which)
        assert row == pytest.approx(sign * np.where(second, 1.0 - share, -share) * fluxes[0])
