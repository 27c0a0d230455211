"""The search against general solvers that are given every column: `python -m tests.benchmark.peers`.

Both sides in one run, each in a process of its own, one after the other. The search's time is that of
`best_build` from parts to proven build (columns, screening, programs, exact check, ties); a solver's time is
that of its solve alone, its program read and waiting. A solver is stopped after `--cap` seconds, and after
`--enough` times the search's time, for then the ratio asked for is shown. Results are kept in a JSON file,
one line a measurement, and what is there already is not measured again.

Needs `pip install -e '.[benchmark]'`.
"""

import json
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import click

from optimise.model.search import best_build
from optimise.parts import read_catalogue
from tests.benchmark.invented import invented_scenario, write_catalogue
from tests.benchmark.raw import write_raw

PEERS = ("highs", "cp-sat", "scip")
GAP = 0.99
"""Absolute gap, in cents or milligrams: no whole one lies within it."""


Solved = tuple[str, float, float]
"""Status, objective, and seconds of the solve alone."""


def _highs(file: str, seconds: float) -> Solved:
    import highspy

    model = highspy.Highs()
    model.setOptionValue("output_flag", False)
    for name, value in {"threads": 2, "mip_rel_gap": 0.0, "mip_abs_gap": GAP, "time_limit": seconds}.items():
        model.setOptionValue(name, value)
    model.readModel(file)
    began = time.perf_counter()
    model.run()
    seconds = time.perf_counter() - began
    status = "optimal" if model.getModelStatus() == highspy.HighsModelStatus.kOptimal else "stopped"
    return status, float(model.getInfo().objective_function_value), seconds


def _cp_sat(file: str, seconds: float) -> Solved:
    from ortools.linear_solver.python import model_builder

    model = model_builder.Model()
    if not model.import_from_mps_file(file):
        raise RuntimeError("the program was not read")
    solver = model_builder.Solver("SAT")
    solver.set_time_limit_in_seconds(seconds)
    solver.set_solver_specific_parameters(f"num_workers: 2 relative_gap_limit: 0 absolute_gap_limit: {GAP}")
    began = time.perf_counter()
    status = solver.solve(model)
    seconds = time.perf_counter() - began
    known = status in (model_builder.SolveStatus.OPTIMAL, model_builder.SolveStatus.FEASIBLE)
    optimal = status == model_builder.SolveStatus.OPTIMAL
    return "optimal" if optimal else "stopped", float(solver.objective_value) if known else float("inf"), seconds


def _scip(file: str, seconds: float) -> Solved:
    from pyscipopt import Model

    model = Model()
    model.hideOutput()
    model.readProblem(file)
    model.setParam("limits/time", seconds)
    model.setParam("limits/gap", 0.0)
    model.setParam("limits/absgap", GAP)
    began = time.perf_counter()
    model.optimize()
    seconds = time.perf_counter() - began
    optimal = model.getStatus() in ("optimal", "gaplimit")
    return "optimal" if optimal else "stopped", float(model.getObjVal()) if model.getNSols() else float("inf"), seconds


def _solve(peer: str, file: str, seconds: float) -> None:
    status, value, seconds = {"highs": _highs, "cp-sat": _cp_sat, "scip": _scip}[peer](file, seconds)
    print(json.dumps({"status": status, "value": value, "seconds": seconds}))


def _search(folder: str, seed: int, objective: str) -> None:
    catalogue, scenario = read_catalogue(Path(folder)), invented_scenario(seed, objective)
    began = time.perf_counter()
    result = best_build(catalogue, scenario)
    seconds = time.perf_counter() - began
    found = result.evaluation
    value = None if found is None else {"cost": found.cents, "mass": found.milligrams}[objective]
    kept = {"columns": result.proof.columns, "kept": result.proof.kept, "rounds": result.proof.rounds}
    print(json.dumps({"status": result.status, "value": value, "seconds": seconds, **kept}))


def _measure(*arguments: str) -> dict[str, object]:
    done = subprocess.run(
        [sys.executable, "-m", "tests.benchmark.peers", *arguments], capture_output=True, text=True, check=False
    )
    if done.returncode != 0:
        return {"status": "failed", "value": float("inf"), "seconds": float("inf"), "told": done.stderr[-300:]}
    return dict(json.loads(done.stdout.strip().splitlines()[-1]))


@click.group(invoke_without_command=True)
@click.option("--parts", default=160, show_default=True)
@click.option("--seeds", default=10, show_default=True)
@click.option("--objectives", default="cost,mass", show_default=True)
@click.option("--cap", default=600.0, show_default=True, help="Longest solve of a solver, s.")
@click.option("--enough", default=60.0, show_default=True, help="Times the search's time after which it is stopped.")
@click.option("--file", "kept", type=click.Path(path_type=Path), default=Path("peers.jsonl"), show_default=True)
@click.pass_context
def main(
    context: click.Context, parts: int, seeds: int, objectives: str, cap: float, enough: float, kept: Path
) -> None:
    """Measure the search and the solvers on the same problems, print ratios, keep the figures."""
    if context.invoked_subcommand is not None:
        return
    known = [json.loads(line) for line in kept.read_text().splitlines()] if kept.exists() else []
    done = {(row["parts"], row["seed"], row["objective"]): row for row in known}
    for objective in objectives.split(","):
        for seed in range(1, seeds + 1):
            key = parts, seed, objective
            if key not in done:
                done[key] = _one(parts, seed, objective, cap, enough)
                with kept.open("a", encoding="utf-8") as file:
                    file.write(json.dumps(done[key]) + "\n")
            _tell(done[key])
        _sum_up([row for key, row in done.items() if key[0] == parts and key[2] == objective], objective)


def _one(parts: int, seed: int, objective: str, cap: float, enough: float) -> dict[str, object]:
    with tempfile.TemporaryDirectory() as temporary:
        folder, program = Path(temporary) / "catalogue", Path(temporary) / "raw.mps"
        write_catalogue(folder, parts, seed, heat=False)
        scenario = invented_scenario(seed, objective)
        variables, rows = write_raw(read_catalogue(folder), scenario, program)
        search = _measure("search", str(folder), str(seed), objective)
        row: dict[str, object] = {"parts": parts, "seed": seed, "objective": objective, "search": search}
        row |= {"variables": variables, "rows": rows}
        limit = min(cap, enough * float(str(search["seconds"])))
        for peer in PEERS:
            row[peer] = _measure("solve", peer, str(program), str(limit))
        return row


def _tell(row: dict[str, object]) -> None:
    search = dict(row["search"])  # type: ignore[call-overload]
    told = [f"{row['parts']} parts, seed {row['seed']}, {row['objective']}: search {search['seconds']:.2f} s"]
    for peer in PEERS:
        found = dict(row[peer])  # type: ignore[call-overload]
        if found["status"] == "optimal":
            same = "same optimum" if abs(found["value"] - search["value"]) < 1.0 else f"OTHER OPTIMUM {found['value']}"
            told.append(f"{peer} {found['seconds']:.1f} s ({found['seconds'] / search['seconds']:.0f} ×, {same})")
        else:
            told.append(f"{peer} {found['status']} after {found['seconds']:.0f} s")
    click.echo("; ".join(told))


def _sum_up(rows: list[dict[str, object]], objective: str) -> None:
    ratios = []
    for row in rows:
        search = dict(row["search"])  # type: ignore[call-overload]
        # A solver that was stopped would have taken longer still: the ratio is at least this.
        times = [float(dict(row[peer])["seconds"]) for peer in PEERS]  # type: ignore[call-overload]
        ratios.append(min(times) / search["seconds"])
    if ratios:
        least, middle, most = min(ratios), statistics.median(ratios), max(ratios)
        figures = f"at least {least:.0f} / {middle:.0f} / {most:.0f} (min / median / max)"
        click.echo(f"{objective}: best solver over search, {len(ratios)} draws: {figures}")


@main.command("solve", hidden=True)
@click.argument("peer")
@click.argument("file")
@click.argument("seconds", type=float)
def _solve_command(peer: str, file: str, seconds: float) -> None:
    _solve(peer, file, seconds)


@main.command("search", hidden=True)
@click.argument("folder")
@click.argument("seed", type=int)
@click.argument("objective")
def _search_command(folder: str, seed: int, objective: str) -> None:
    _search(folder, seed, objective)


if __name__ == "__main__":
    main()
