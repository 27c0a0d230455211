"""What channels of a mixture add to the rows of its shares."""

import numpy as np

from optimise.columns.expand import Floats
from optimise.model.kept import Kept
from optimise.model.light import flux_of
from optimise.model.problem import Problem


def parts_of_share(problem: Problem, kept: Kept, share: float, *, least: bool) -> Floats:
    """Return what each kept channel adds to a row that is at least 0 where the second kind gives that share.

    least: whether the share is the least that it gives, or the greatest. On boards of any temperature between the
    coldest and the hottest of those kept, a row of these is never less than the true one: what counts for it is taken
    on the coldest board and what counts against it on the hottest.
    """
    assert problem.mix is not None
    hottest = np.full(len(problem.parts.emitters), float(kept.top.max()))
    hot = flux_of(problem, kept.channels, hottest)
    second = problem.mix.kind[kept.channels] == 1
    if least:
        return np.where(second, (1.0 - share) * kept.flux, -share * hot)
    return np.where(second, -(1.0 - share) * hot, share * kept.flux)
