"""How time and memory grow with the catalogue, and where the time goes: `python -m tests.benchmark.growth`.

Every size is run in processes of its own, on catalogues with the full physics. The floor is what no search can
do without: reading the files, and one linear relaxation of the largest program that was left to solve.
"""

import json
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click
import numpy as np

from optimise.model import goods, search, state
from optimise.model.search import best_build
from optimise.parts import read_catalogue
from tests.benchmark.invented import invented_scenario, write_catalogue

STAGES = {
    "columns": [(search, "build_market"), (goods, "problem_of")],
    "screening": [(goods, "least_by_emitter"), (goods, "sifted"), (goods, "screened")],
    "incumbents": [(goods, "quick_build"), (goods, "mixed_build")],
    "solving": [(state.State, "solve")],
    "checking": [(state, "evaluate")],
}


def _clocked(name: str, function: Callable[..., Any], seconds: dict[str, float]) -> Callable[..., Any]:
    def run(*arguments: Any, **named: Any) -> Any:
        began = time.perf_counter()
        try:
            return function(*arguments, **named)
        finally:
            seconds[name] += time.perf_counter() - began

    return run


def _relaxation(file: Path) -> float:
    import highspy

    model = highspy.Highs()
    model.setOptionValue("output_flag", False)
    model.setOptionValue("solve_relaxation", True)
    model.readModel(str(file))
    began = time.perf_counter()
    model.run()
    return time.perf_counter() - began


def _one(folder: str, seed: int, objective: str) -> None:
    """Run one search and print its figures."""
    seconds = dict.fromkeys(STAGES, 0.0)
    largest: list[Any] = [0, None]
    began = time.perf_counter()
    catalogue = read_catalogue(Path(folder))
    reading = time.perf_counter() - began
    for name, places in STAGES.items():
        for owner, function in places:
            setattr(owner, function, _clocked(name, getattr(owner, function), seconds))
    formulate = search.formulate

    def watched(*arguments: Any) -> Any:
        made = formulate(*arguments)
        if len(made.program.highs) > largest[0]:
            largest[:] = [len(made.program.highs), made.program]
        return made

    search.formulate = watched
    began = time.perf_counter()
    result = best_build(catalogue, invented_scenario(seed, objective))
    whole = time.perf_counter() - began
    relaxation = 0.0
    if largest[1] is not None:
        file = Path(folder) / "largest.mps"
        largest[1].write(file)
        relaxation = _relaxation(file)
    figures = {
        "status": result.status,
        "reading": reading,
        **seconds,
        "rest": whole - sum(seconds.values()),
        "total": reading + whole,
        "relaxation": relaxation,
        "megabytes": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0,
        "built": result.proof.columns,
        "kept": result.proof.kept,
    }
    click.echo(json.dumps(figures))


@click.group(invoke_without_command=True)
@click.option("--sizes", default="160,500,2000,8000", show_default=True)
@click.option("--seeds", default=3, show_default=True)
@click.option("--objective", default="cost", show_default=True)
@click.option("--file", "kept", type=click.Path(path_type=Path), default=Path("growth.jsonl"), show_default=True)
@click.pass_context
def main(context: click.Context, sizes: str, seeds: int, objective: str, kept: Path) -> None:
    """Measure searches of growing catalogues, print times, shares and fitted powers, keep the figures."""
    if context.invoked_subcommand is not None:
        return
    rows: list[dict[str, Any]] = []
    for parts in (int(size) for size in sizes.split(",")):
        for seed in range(1, seeds + 1):
            with tempfile.TemporaryDirectory() as folder:
                write_catalogue(Path(folder), parts, seed)
                command = [sys.executable, "-m", "tests.benchmark.growth", "one", folder, str(seed), objective]
                done = subprocess.run(command, capture_output=True, text=True, check=True)
            row = {"parts": parts, "seed": seed, "objective": objective, **json.loads(done.stdout.splitlines()[-1])}
            rows.append(row)
            with kept.open("a", encoding="utf-8") as file:
                file.write(json.dumps(row) + "\n")
            floor = row["reading"] + row["relaxation"]
            names = ("reading", *STAGES, "rest")
            shares = ", ".join(f"{name} {row[name] / row['total']:.0%}" for name in names)
            click.echo(
                f"{parts} parts, seed {seed}: {row['status']}, {row['total']:.2f} s, {row['megabytes']:.0f} MiB, "
                f"{row['built']} columns, {row['kept']} kept; {shares}; {row['total'] / floor:.1f} × the floor"
            )
    sizes_run = sorted({row["parts"] for row in rows})
    if len(sizes_run) > 1:
        for name in ("total", "megabytes"):
            middle = [statistics.median(row[name] for row in rows if row["parts"] == parts) for parts in sizes_run]
            power = np.polyfit(np.log(sizes_run), np.log(middle), 1)[0]
            click.echo(f"{name} grows as parts ^ {power:.2f} (medians {', '.join(f'{m:.1f}' for m in middle)})")


@main.command("one", hidden=True)
@click.argument("folder")
@click.argument("seed", type=int)
@click.argument("objective")
def _one_command(folder: str, seed: int, objective: str) -> None:
    _one(folder, seed, objective)


if __name__ == "__main__":
    main()
