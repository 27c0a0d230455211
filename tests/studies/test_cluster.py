"""A cluster does the same work: a scheduler and two workers of one thread each, on this machine."""

import csv
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from optimise import __version__
from optimise.cli import main
from optimise.studies.batch import Answer, ClusterError, run
from tests.few_parts import write_few_parts, write_job

distributed = pytest.importorskip("distributed")

from optimise.studies.cluster import cluster_at  # noqa: E402 - only where its library is

ROOT = Path(__file__).parents[2]


def local_cluster(workers: int) -> Any:
    return distributed.LocalCluster(
        n_workers=workers, threads_per_worker=1, processes=True, dashboard_address="127.0.0.1:0", host="127.0.0.1"
    )


@pytest.fixture(scope="module")
def cluster() -> Iterator[str]:
    with local_cluster(2) as local:
        yield local.scheduler_address


@dataclass(frozen=True)
class Toy:
    """A case that may end its process."""

    name: str
    dies: bool = False


def solve(case: Toy) -> Answer:
    if case.dies:
        os.kill(os.getpid(), signal.SIGKILL)
    time.sleep(0.02)  # so that the other worker is asked as well
    return Answer(f"{case.name} {os.getpid()}")


def test_a_study_on_a_cluster_is_that_of_one_process(cluster: str, tmp_path: Path) -> None:
    shop = write_few_parts(tmp_path / "shop")
    for lux in (60, 120, 4000):
        write_job(tmp_path / "jobs" / f"job{lux}.toml", lux)
    for name, options in (("here", ["--workers", "1"]), ("there", ["--dask", cluster])):
        command = ["study", str(tmp_path / "jobs"), "--catalogue", str(shop), "--out", str(tmp_path / name)]
        assert CliRunner().invoke(main, [*command, *options]).exit_code == 0
    files = {path.relative_to(tmp_path / "here") for path in (tmp_path / "here").rglob("*.*")}
    assert {path.relative_to(tmp_path / "there") for path in (tmp_path / "there").rglob("*.*")} == files
    assert sum(path.suffix == ".json" for path in files) == 3
    for path in files:
        if path.suffix != ".json":
            assert (tmp_path / "there" / path).read_bytes() == (tmp_path / "here" / path).read_bytes()
    with (tmp_path / "there" / "results.csv").open(encoding="utf-8", newline="") as file:
        assert [row["status"] for row in csv.DictReader(file)] == ["optimal", "impossible", "optimal"]


def test_both_workers_work_and_this_process_does_not(cluster: str) -> None:
    answers: list[str] = []
    with cluster_at(cluster, __version__) as client:
        cases = [Toy(f"case{i}") for i in range(40)]
        run(cases, solve, lambda c: None, lambda c, answer, new: answers.append(answer.text or ""), cluster=client)
        workers = {str(number) for number in client.run(os.getpid).values()}
    assert {text.split()[1] for text in answers} == workers
    assert str(os.getpid()) not in workers
    assert {text.split()[0] for text in answers} == {case.name for case in cases}


def test_workers_of_another_version_are_refused(cluster: str) -> None:
    with pytest.raises(ClusterError, match=r"every worker needs rushlight 0\.0\.1; the one at tcp.* has"):
        cluster_at(cluster, "0.0.1").__enter__()


def test_no_workers_are_refused() -> None:
    with local_cluster(0) as local, pytest.raises(ClusterError, match="has no workers"):
        cluster_at(local.scheduler_address, __version__).__enter__()


@pytest.mark.parametrize(
    "address", ["tcp://127.0.0.1:1", "127.0.0.1", "", "nonsense", "ws://127.0.0.1:1", "a:99999999"]
)
def test_no_cluster_is_two_and_nothing_written(address: str, tmp_path: Path) -> None:
    command = ["study", str(ROOT / "scenarios"), "--catalogue", str(ROOT / "catalogue"), "--dask", address]
    result = CliRunner().invoke(main, [*command, "--out", str(tmp_path / "out")])
    assert result.exit_code == 2
    assert f'no cluster answers at "{address}"' in result.stderr
    assert not (tmp_path / "out").exists()


@pytest.mark.long
@pytest.mark.skipif(sys.platform == "win32", reason="needs POSIX signals")
def test_a_case_that_ends_its_workers_fails_alone() -> None:
    found: dict[str, Answer] = {}
    with local_cluster(2) as local, cluster_at(local.scheduler_address, __version__) as client:
        cases = [Toy(f"case{i}", dies=i == 2) for i in range(6)]
        run(cases, solve, lambda c: None, lambda c, answer, new: found.update({c.name: answer}), cluster=client)
    assert "process was ended" in found["case2"].fault
    assert {name for name, answer in found.items() if answer.text is not None} == {
        case.name for case in cases if not case.dies
    }


@pytest.mark.long
@pytest.mark.skipif(sys.platform == "win32", reason="needs POSIX signals")
def test_a_cluster_that_is_lost_ends_the_study_and_keeps_what_is_answered(tmp_path: Path) -> None:
    # One worker of two threads, which must take turns, in the process of the scheduler.
    script = (
        "import time, distributed as d; "
        "c = d.LocalCluster(n_workers=1, threads_per_worker=2, processes=False, host='127.0.0.1', protocol='tcp', "
        "dashboard_address='127.0.0.1:0'); print(c.scheduler_address, flush=True); time.sleep(600)"
    )
    server = subprocess.Popen(
        [sys.executable, "-c", script], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
    )
    assert server.stdout is not None
    address = server.stdout.readline().strip()
    shop, out = write_few_parts(tmp_path / "shop"), tmp_path / "out"
    for number in range(20):
        write_job(tmp_path / "jobs" / f"job{number:02d}.toml", 60.0 + 5.0 * number)

    def kill_in_the_middle() -> None:
        while len(list(out.glob("records/[!.]*.json"))) < 3:
            time.sleep(0.01)
        server.kill()

    killer = threading.Thread(target=kill_in_the_middle, daemon=True)
    killer.start()
    command = ["study", str(tmp_path / "jobs"), "--catalogue", str(shop), "--out", str(out), "--dask", address]
    result = CliRunner().invoke(main, command)
    killer.join(timeout=60)
    server.communicate(timeout=60)
    kept = len(list((out / "records").iterdir()))
    assert result.exit_code == 4
    assert f"Stopped: the cluster was lost. {kept} of 20 cases are answered" in result.stderr
    assert 3 <= kept < 20
    assert not (out / "results.csv").exists()
