"""What a study of many searches works with: whose parts, which job, how long."""

import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import TypeVar

from optimise.model.choice import Evaluation
from optimise.model.search import Result, any_build, best_build
from optimise.model.state import TimeUpError
from optimise.parts import Catalogue
from optimise.scenario import Scenario
from optimise.scenario.model import Objective

_T = TypeVar("_T")


def in_time(answers: Iterable[_T]) -> tuple[list[_T], bool]:
    """Return the answers that came before the time was up (or a key stopped them), and whether they are all."""
    found: list[_T] = []
    try:
        for answer in answers:
            found.append(answer)  # noqa: PERF402 - what came before the time was up is kept
    except (TimeUpError, KeyboardInterrupt):
        return found, False
    return found, True


@dataclass(frozen=True)
class Desk:
    """What is asked of which catalogue, and until when (of time.monotonic)."""

    catalogue: Catalogue
    scenario: Scenario
    deadline: float | None = None
    threads: int = 1
    progress: Callable[[str], None] = lambda text: None

    def any(self, scenario: Scenario) -> Evaluation | None:
        """Return some build of a scenario, or None where there is none. Raises `TimeUpError`."""
        return any_build(self.catalogue, scenario, self.deadline)

    def best(
        self, scenario: Scenario, *, objective: Objective | None = None, catalogue: Catalogue | None = None
    ) -> Result:
        """Return the proven answer to a scenario, from other parts than the desk's where given.

        Raises `TimeUpError`, where it was stopped by a key as well.
        """
        left = None if self.deadline is None else max(self.deadline - time.monotonic(), 1e-3)
        result = best_build(catalogue or self.catalogue, scenario, objective, time_limit=left, threads=self.threads)
        if result.status in ("feasible", "stopped"):
            raise TimeUpError
        return result
