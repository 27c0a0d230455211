"""Fuzz readers: `python -m tests.fuzz READER --runs N [--seconds S]`; figures are kept in results.jsonl as measured."""

import argparse
import json
import platform
import re
import resource
import subprocess
import sys
import time
from datetime import UTC, datetime
from pathlib import Path

RESULTS = Path(__file__).parent / "results.jsonl"
CORPUS = Path(__file__).parent / "corpus"
_STATE = re.compile(r"#(\d+)\s+\w+\s+cov: (\d+) ft: (\d+) corp: (\d+)")


def main() -> None:
    """Run one fuzzer as a process of its own, since an engine may end it, and add a line to the results."""
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    parser.add_argument("reader", choices=sorted(path.name for path in CORPUS.iterdir()))
    parser.add_argument("--runs", type=int, default=10_000)
    parser.add_argument("--seconds", type=int, default=0, help="most time that it may take; 0: no limit")
    parser.add_argument("--longest", type=int, default=20_000, help="bytes of an input, at most")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--engine", choices=("atheris", "lines"), default="atheris")
    parser.add_argument("--work", type=Path, default=Path(".fuzz"), help="keeps what was found from run to run")
    given = parser.parse_args()
    work = given.work / given.reader
    for name in ("corpus", "found"):
        (work / name).mkdir(parents=True, exist_ok=True)
    command = [
        sys.executable,
        "-m",
        f"tests.fuzz.by_{given.engine}",
        given.reader,
        str(work),
        str(CORPUS / given.reader),
    ]
    if given.engine == "atheris":
        command += [f"-runs={given.runs}", f"-seed={given.seed}", f"-max_total_time={given.seconds}"]
        command += [
            f"-max_len={given.longest}",
            "-timeout=60",
            "-rss_limit_mb=2048",
            f"-artifact_prefix={work / 'found'}/",
        ]
    else:
        command += [str(given.runs), str(given.seconds), str(given.seed), str(given.longest)]
    began = time.monotonic()
    log = work / f"log-{given.engine}-{given.seed}.txt"
    with log.open("w", encoding="utf-8") as out:
        code = subprocess.run(command, stdout=out, stderr=out, check=False).returncode
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    figures = _figures(given.engine, log.read_text(encoding="utf-8", errors="replace"))
    line = {
        "reader": given.reader,
        "engine": given.engine,
        **figures,
        "seconds": round(time.monotonic() - began, 1),
        "processor_seconds": round(used.ru_utime + used.ru_stime, 1),
        "peak_mb": round(used.ru_maxrss / 1024),
        "breaks": sorted(path.name for path in (work / "found").iterdir() if path.suffix != ".txt"),
        "code": code,
        "seed": given.seed,
        "python": platform.python_version(),
        "day": datetime.now(UTC).date().isoformat(),
    }
    with RESULTS.open("a", encoding="utf-8") as results:
        results.write(json.dumps(line) + "\n")
    print(json.dumps(line))


def _figures(engine: str, log: str) -> dict[str, int]:
    """Return what an engine told at its end."""
    if engine == "lines":
        told = re.findall(r"^figures: (.*)$", log, re.MULTILINE)
        return dict(json.loads(told[-1])) if told else {"runs": 0}
    states = _STATE.findall(log)
    names = ("runs", "edges", "features", "kept")
    return dict(zip(names, map(int, states[-1]), strict=True)) if states else {"runs": 0}


if __name__ == "__main__":
    main()
