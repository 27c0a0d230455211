"""Which limits of an impossible scenario stand against each other."""

from collections.abc import Callable

from optimise.model.search import possible
from optimise.parts import Catalogue
from optimise.scenario import Scenario
from optimise.studies.limits import Limit, limits_asked

Progress = Callable[[str], None]


def conflict(
    catalogue: Catalogue,
    scenario: Scenario,
    progress: Progress = lambda text: None,
    deadline: float | None = None,
) -> tuple[Limit, ...] | None:
    """Return a smallest set of limits that cannot hold together: without any one of them a build exists.

    None where no build exists even without all of them: the parts themselves do not go together.
    Limits of safety and of the parts are never given up. By deletion: each limit is dropped for good if the
    rest is impossible still; what is left is irreducible (there may be other such sets). Raises `TimeUpError`
    past `deadline` (of time.monotonic).
    """
    limits = limits_asked(scenario, catalogue)
    freed = scenario
    for limit in limits:
        freed = limit.without(freed)
    if possible(catalogue, freed, deadline):
        kept: list[Limit] = []
        current = scenario
        for limit in limits:
            progress(f"without {limit.name}")
            relaxed = limit.without(current)
            if possible(catalogue, relaxed, deadline):
                kept.append(limit)
            else:
                current = relaxed
        return tuple(kept)
    return None
