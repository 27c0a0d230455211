"""Many cases, each solved once: over processes or a cluster, each answer told as it comes.

What was answered in an earlier run is not solved again, so that a study goes on where it was stopped, however it
was stopped. How a case is solved and where an answer is kept is the caller's: here is only the order of things.
"""

import os
import signal
import threading
import time
import warnings
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import BrokenExecutor
from contextlib import closing, contextmanager
from dataclasses import dataclass
from functools import cache
from types import FrameType
from typing import Any, Protocol, TypeVar

WATCH = 1.0
"""Seconds between two looks of a process of ours at whether the one that started it is still there."""


@dataclass(frozen=True)
class Answer:
    """What a case came to: the text of its record, or why there is none."""

    text: str | None
    fault: str = ""


class ClusterError(RuntimeError):
    """The cluster cannot be used, or no longer; the text says why."""


class Case(Protocol):
    """What a study solves; it must be picklable, and so must the function that solves it."""

    @property
    def name(self) -> str:
        """A name that no other case of the study has."""


C = TypeVar("C", bound=Case)


def run(
    cases: Sequence[C],
    solve: Callable[[C], Answer],
    earlier: Callable[[C], str | None],
    keep: Callable[[C, Answer, bool], None],
    *,
    workers: int | None = None,
    cluster: Any = None,
) -> None:
    """Answer every case: as it was answered `earlier` where that still holds, else by `solve`.

    `keep` is called in this process with a case, its answer and whether it is new, first for those of earlier,
    then for the others as they come. workers: processes on this machine (default: one a core; 1 works in this
    process); cluster: a client of Dask to use instead.
    Raises KeyboardInterrupt where the user stops it and `ClusterError` where the cluster is lost; what `keep` was
    told until then is answered for good.
    """
    left: list[C] = []
    for case in cases:
        text = earlier(case)
        if text is None:
            left.append(case)
        else:
            keep(case, Answer(text), False)
    if not left:
        return
    if cluster is None:
        workers = min(len(left), workers or _cores())
    with _interrupts() as interrupted, warnings.catch_warnings():
        # Said of cases given up by Ctrl-C, and of processes that are renewed now and then.
        warnings.filterwarnings("ignore", ".*tasks which were still being processed")
        warnings.filterwarnings("ignore", "A worker stopped while some jobs")
        waiting = dict(enumerate(left))
        try:
            for number, answer in _answers(waiting, solve, workers, cluster, interrupted):
                keep(waiting.pop(number), answer, True)
        except BrokenExecutor:
            # One case ended its process, and no one says which: one at a time from here.
            for number, case in list(waiting.items()):
                answer = _alone(number, case, solve, cluster, interrupted)
                keep(waiting.pop(number), answer, True)


def _cores() -> int:
    """Return how many processes can work at once on this machine, as far as this one may use it."""
    import joblib

    return int(joblib.cpu_count())


def _alone(number: int, case: C, solve: Callable[[C], Answer], cluster: Any, interrupted: threading.Event) -> Answer:
    """Answer one case in a process of its own, so that one that ends its process is known."""
    try:
        # Two, because one would be this process.
        ((_, answer),) = _answers({number: case}, solve, 2, cluster, interrupted)
    except BrokenExecutor:
        return Answer(None, "its process was ended by the system; perhaps there was too little memory")
    return answer


def _answers(
    cases: dict[int, C],
    solve: Callable[[C], Answer],
    workers: int | None,
    cluster: Any,
    interrupted: threading.Event,
) -> Iterator[tuple[int, Answer]]:
    """Yield number and answer of each case as they come. Raises BrokenExecutor where a process has died."""
    import joblib

    if cluster is not None:
        from optimise.studies.cluster import Backend

        where: dict[str, Any] = {"backend": Backend(client=cluster), "n_jobs": -1}
    else:
        where = {"backend": "loky", "n_jobs": workers, "inner_max_num_threads": 1}
    owner = os.getpid() if cluster is None else None
    with joblib.parallel_config(**where):
        # One case a batch: an answer that waits for the next one would be lost with a kill.
        parallel = joblib.Parallel(return_as="generator_unordered", batch_size=1)
        jobs = [joblib.delayed(_job)(solve, number, case, owner) for number, case in cases.items()]
        with closing(parallel(jobs)) as answers:
            for number, answer in answers:
                # A search that is interrupted answers with what it has: that is not the answer to the case.
                if interrupted.is_set():
                    raise KeyboardInterrupt
                yield number, answer


def _job(solve: Callable[[C], Answer], number: int, case: C, owner: int | None) -> tuple[int, Answer]:
    if owner is not None and owner != os.getpid():
        _belong_to(owner)
    return number, solve(case)


@cache
def _belong_to(owner: int) -> None:
    """Leave Ctrl-C to the owner of this process, and end with it: nothing else would end it after a kill."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if os.name == "posix":
        threading.Thread(target=_end_with, args=(owner,), daemon=True).start()


def _end_with(owner: int) -> None:
    while os.getppid() == owner:
        time.sleep(WATCH)
    os._exit(1)


@contextmanager
def _interrupts() -> Iterator[threading.Event]:
    """Yield an event that tells whether Ctrl-C was pressed, whoever heard it as well."""
    pressed = threading.Event()

    def hear(number: int, frame: FrameType | None) -> None:
        pressed.set()
        raise KeyboardInterrupt

    usual = signal.getsignal(signal.SIGINT) is signal.default_int_handler
    if not usual or threading.current_thread() is not threading.main_thread():
        yield pressed
        return
    signal.signal(signal.SIGINT, hear)
    try:
        yield pressed
    finally:
        signal.signal(signal.SIGINT, signal.default_int_handler)
