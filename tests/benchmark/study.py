"""A study with one worker against the same with two, and after a kill: `python -m tests.benchmark.study`.

The scenarios are the demonstration's jobs, varied from a seed. They are solved in blocks, each with one worker and
then with two, whole processes from start to end, so that a busy machine slows both; how busy it was with other work
is kept beside the times, because two workers cannot be twice as fast on cores that others use. Then all of them in
one study that is killed when half of its records are there, and taken up again: its table must be that of the
blocks, byte for byte. Figures are kept in a file, one line a run.
"""

import json
import os
import re
import resource
import signal
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path
from random import Random

import click

ROOT = Path(__file__).resolve().parents[2]
JOBS = ("clock-tower", "drawing-class", "orchard-night", "pottery-studio")
OBJECTIVES = ("cost", "mass", "power")


def write_scenarios(folder: Path, number: int, seed: int, jobs: Sequence[str]) -> list[Path]:
    """Write so many scenarios into a folder, job after job with other figures, and return their paths in order."""
    folder.mkdir(parents=True)
    rng = Random(f"study {seed}")
    paths: list[Path] = []
    for index in range(number):
        text = (ROOT / "scenarios" / f"{jobs[index % len(jobs)]}.toml").read_text(encoding="utf-8")
        for key, low, high in (("illuminance", 0.6, 1.05), ("iso", 1.0, 1.6), ("ambient", 0.7, 1.3)):
            text = _scaled(text, key, rng.uniform(low, high))
        text = _scaled(text, "lead_length", rng.uniform(0.6, 1.4))
        text = re.sub(r'objective = "\w+"', f'objective = "{rng.choice(OBJECTIVES)}"', text)
        paths.append(folder / f"job-{index:04d}.toml")
        paths[-1].write_text(text, encoding="utf-8")
    return paths


def _scaled(text: str, key: str, factor: float) -> str:
    return re.sub(rf'(?m)^{key} = "([\d.]+)', lambda found: f'{key} = "{float(found[1]) * factor:.3g}', text)


def command(out: Path, workers: int, scenarios: list[Path]) -> list[str]:
    """Return the command of a study."""
    start = [sys.executable, "-c", "from optimise.cli import main; main()", "study", *map(str, scenarios)]
    return [*start, "--catalogue", str(ROOT / "catalogue"), "--out", str(out), "--workers", str(workers)]


def seconds(out: Path, workers: int, scenarios: list[Path]) -> tuple[float, float]:
    """Return the wall time of a study, which must answer every case, and the processor time of all its processes."""
    before, began = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    subprocess.run(command(out, workers, scenarios), check=True, capture_output=True)
    wall, after = time.perf_counter() - began, resource.getrusage(resource.RUSAGE_CHILDREN)
    return wall, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def killed(out: Path, scenarios: list[Path]) -> int:
    """Start a study with two workers, kill it when half of its records are there, and return how many there are."""
    process = subprocess.Popen(command(out, 2, scenarios), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    while len(_records(out)) < len(scenarios) // 2:
        if process.poll() is not None:
            raise RuntimeError(f"the study ended by itself ({process.returncode})")
        time.sleep(0.05)
    os.kill(process.pid, signal.SIGKILL)
    process.wait()
    return len(_records(out))


def _records(out: Path) -> dict[Path, int]:
    return {path: path.stat().st_mtime_ns for path in out.glob("records/[!.]*.json")}


def _table(out: Path) -> list[str]:
    return (out / "results.csv").read_bytes().decode("utf-8").splitlines(keepends=True)


@click.command()
@click.option("--scenarios", "number", default=200, show_default=True)
@click.option("--pairs", default=4, show_default=True, help="Blocks, each solved with one worker and with two.")
@click.option("--jobs", default=",".join(JOBS), show_default=True, help="Which of the demonstration's jobs are varied.")
@click.option("--seed", default=1, show_default=True)
@click.option("--file", "kept", type=click.Path(path_type=Path), default=Path("study.jsonl"), show_default=True)
def main(number: int, pairs: int, jobs: str, seed: int, kept: Path) -> None:
    """Time the blocks, kill a study and take it up again, print what it came to and keep the figures."""
    with tempfile.TemporaryDirectory() as temporary:
        folder = Path(temporary)
        scenarios = write_scenarios(folder / "scenarios", number, seed, jobs.split(","))
        times: list[tuple[float, float]] = []
        work: list[tuple[float, float]] = []
        loads: list[float] = []
        tables: list[list[str]] = []
        for pair in range(pairs):
            block = scenarios[pair * number // pairs : (pair + 1) * number // pairs]
            loads.append(os.getloadavg()[0])
            (one, alone), (two, both) = (seconds(folder / f"{pair}-{n}", n, block) for n in (1, 2))
            times.append((one, two))
            work.append((alone, both))
            tables.append(_table(folder / f"{pair}-1"))
            if _table(folder / f"{pair}-2") != tables[-1]:
                raise SystemExit(f"block {pair}: two workers made another table than one")
            click.echo(
                f"block of {len(block)}: {one:.1f} s with one worker, {two:.1f} s with two: {one / two:.2f} ×; "
                f"{alone:.1f} and {both:.1f} s of processors; load before it {loads[-1]:.1f}"
            )
        count = killed(folder / "killed", scenarios)
        before = _records(folder / "killed")
        again, _ = seconds(folder / "killed", 2, scenarios)
        if not before.items() <= _records(folder / "killed").items():
            raise SystemExit("a case that was answered before the kill was solved again")
        whole = [tables[0][0], *(line for table in tables for line in table[1:])]
        if _table(folder / "killed") != whole:
            raise SystemExit("the table after the kill is another one")
        click.echo(f"killed with {count} of {number} cases answered, {again:.1f} s for the others: the same table")
        status = [line.split(",")[3] for line in whole[1:]]
    ratios = sorted(one / two for one, two in times)
    all_in_all = sum(one for one, _ in times) / sum(two for _, two in times)
    figures = {
        "scenarios": number,
        "jobs": jobs,
        "seed": seed,
        "statuses": {name: status.count(name) for name in sorted(set(status))},
        "one_worker_seconds": [round(one, 2) for one, _ in times],
        "two_workers_seconds": [round(two, 2) for _, two in times],
        "one_worker_processor_seconds": [round(one, 2) for one, _ in work],
        "two_workers_processor_seconds": [round(two, 2) for _, two in work],
        "load_before": [round(load, 2) for load in loads],
        "cores": os.cpu_count(),
        "ratio_min_median_max": [round(r, 3) for r in (ratios[0], statistics.median(ratios), ratios[-1])],
        "ratio_all": round(all_in_all, 3),
        "answered_before_kill": count,
        "seconds_after_kill": round(again, 2),
        "same_table_after_kill": True,
    }
    click.echo(f"two workers against one: {all_in_all:.2f} × all in all; {ratios[0]:.2f} to {ratios[-1]:.2f} a block")
    with kept.open("a", encoding="utf-8") as file:
        file.write(json.dumps(figures) + "\n")


if __name__ == "__main__":
    main()
