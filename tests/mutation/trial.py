"""Trials of mutants: pytest collects the tests once, and every mutant has them run in a forked process of its own."""

import contextlib
import gc
import os
import resource
import signal
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path

import pytest

from tests.mutation import swap
from tests.mutation.mutants import ROOT

MEMORY = 6 << 30
"""The most address space of a trial, bytes."""
FLAGS = ["-o", "addopts=", "-m", "not long and not browser", "--strict-markers", "--hypothesis-seed=0"]
FLAGS += ["-p", "no:terminal", "-p", "no:cacheprovider", "-p", "no:xdist", "-p", "no:pytest_cov"]


class Bench:
    """A pytest plugin that, once all is collected, hands itself to `work` in place of running the tests."""

    def __init__(self, seconds: dict[str, float], work: Callable[["Bench"], None]) -> None:
        self.seconds, self.work = seconds, work
        self.items: dict[str, pytest.Item] = {}
        self.sound: set[str] = set()
        self.unfit: set[str] = set()
        self.told = -1

    def pytest_collection(self) -> None:
        from hypothesis import Phase, settings

        # A failing example need not be made small, and every trial draws the same ones.
        settings.register_profile(
            "trial", deadline=None, database=None, derandomize=True, phases=(Phase.explicit, Phase.generate)
        )
        settings.load_profile("trial")

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        self.items = {item.nodeid: item for item in session.items}
        # What is there already is no rubbish: looking for some in every fork would copy it all.
        gc.collect()
        gc.freeze()
        self.work(self)
        return True

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtest_makereport(self, item: pytest.Item, call: pytest.CallInfo[None]) -> None:
        """End a trial at the first test that fails, before pytest takes time to write out why."""
        failed = call.excinfo is not None and not isinstance(call.excinfo.value, pytest.skip.Exception)
        if failed and self.told >= 0 and item.get_closest_marker("xfail") is None:
            os.write(self.told, f"{item.nodeid}\n".encode())
            os._exit(1)

    def _child(self, file: str, text: str | None, tests: Sequence[str]) -> int:
        signal.setitimer(signal.ITIMER_PROF, 20.0)
        resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
        if text is not None:
            swap.put(file.removesuffix(".py").replace("/", "."), str(ROOT / file), text)
        items = [self.items[test] for test in tests]
        for item, following in zip(items, [*items[1:], None], strict=True):
            # Processor time, so that a busy machine is no timeout.
            signal.setitimer(signal.ITIMER_PROF, 3.0 + 4.0 * self.seconds.get(item.nodeid, 15.0))
            item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
        return 0

    def run(self, file: str, text: str | None, tests: Sequence[str]) -> tuple[str, str]:
        """Return how some tests take a file with that text (None: as it is), and the first that fails.

        The first is `survived`, `killed` (a test failed), `crashed` (the module cannot be imported, or the process
        died) or `timeout`.
        """
        read, told = os.pipe()
        with tempfile.TemporaryDirectory(prefix="trial-") as folder:
            child = os.fork()
            if child == 0:
                code = 2
                try:
                    os.setsid()
                    os.close(read)
                    self.told = told
                    nowhere = os.open(os.devnull, os.O_WRONLY)
                    os.dup2(nowhere, 1)
                    os.dup2(nowhere, 2)
                    os.environ["TMPDIR"] = tempfile.tempdir = folder
                    code = self._child(file, text, tests)
                finally:
                    os._exit(code)
            os.close(told)
            status = _waited(child, 120.0 + 20.0 * sum(self.seconds.get(test, 1.0) for test in tests))
            with contextlib.suppress(ProcessLookupError):
                os.killpg(child, signal.SIGKILL)
        with os.fdopen(read, "rb") as pipe:
            failed = pipe.readline().decode().strip()
        if status is None or (os.WIFSIGNALED(status) and os.WTERMSIG(status) == signal.SIGPROF):
            return "timeout", ""
        code = 2 if os.WIFSIGNALED(status) else os.WEXITSTATUS(status)
        return {0: "survived", 1: "killed"}.get(code, "crashed"), failed

    def tried(self, file: str, text: str, tests: Sequence[str]) -> tuple[str, str]:
        """Return what `run` does, of tests that pass on the sound source when they run here by themselves."""
        while True:
            left = [test for test in tests if test in self.items and test not in self.unfit]
            if not left:
                return "survived", ""
            outcome, by = self.run(file, text, left)
            if outcome != "killed" or by in self.sound:
                return outcome, by
            if self.run(file, None, [by])[0] == "survived":
                self.sound.add(by)
            else:
                self.unfit.add(by)


def at_work(files: Sequence[str], seconds: dict[str, float], work: Callable[[Bench], None]) -> None:
    """Collect the tests of some files, and call `work` with what can try mutants on them."""
    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"):
        os.environ[name] = "1"  # a fork and threads do not go together
    began = time.monotonic()
    pytest.main([*FLAGS, *files], plugins=[Bench(seconds, work)])
    print(f"{time.monotonic() - began:.0f} s", flush=True)


def _waited(child: int, most: float) -> int | None:
    """Return how a process ended, None where it had to be ended after `most` seconds."""
    until = time.monotonic() + most
    pause = 0.001
    while time.monotonic() < until:
        pid, status = os.waitpid(child, os.WNOHANG)
        if pid:
            return status
        time.sleep(pause)
        pause = min(2.0 * pause, 0.05)
    os.killpg(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return None


def stem(test: str) -> tuple[str, str]:
    """Return the folder and the name of a test's file."""
    path = Path(test.split("::")[0])
    return path.parent.name, path.stem
