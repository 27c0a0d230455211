"""Whole-process time of a demonstration build against bare imports, in pairs: `python -m tests.benchmark.start_up`.

Both sides run in one go, one after the other, so that a busy machine slows both. Ratios, not seconds.
"""

import argparse
import json
import statistics
import subprocess
import sys
import time
from pathlib import Path

IMPORTS = "import pulp, highspy, numpy, pint, pydantic, click, rich"
ROOT = Path(__file__).resolve().parents[2]


def seconds(command: list[str]) -> float:
    """Return the wall time of a command that must succeed."""
    began = time.perf_counter()
    subprocess.run(command, check=True, capture_output=True, cwd=ROOT)
    return time.perf_counter() - began


def in_pairs(
    told: dict[str, object], base: tuple[str, list[str]], other: tuple[str, list[str]], pairs: int
) -> dict[str, object]:
    """Return what is told and the times of two named commands, run in pairs, with the ratios of second to first."""
    times = [(seconds(base[1]), seconds(other[1])) for _ in range(pairs)]
    ratios = sorted(b / a for a, b in times)
    return {
        **told,
        "pairs": pairs,
        f"{base[0]}_seconds": sorted(round(a, 3) for a, _ in times),
        f"{other[0]}_seconds": sorted(round(b, 3) for _, b in times),
        "ratio_min_median_max": [round(ratios[0], 2), round(statistics.median(ratios), 2), round(ratios[-1], 2)],
    }


def show(figures: dict[str, object], kept: Path | None) -> None:
    """Print figures as JSON, and keep them in a file where one is named."""
    text = json.dumps(figures, indent=2)
    print(text)
    if kept is not None:
        kept.write_text(text + "\n", encoding="utf-8")


def main() -> None:
    """Run the pairs and print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pairs", type=int, default=9)
    parser.add_argument("--scenario", default="scenarios/orchard-night.toml")
    parser.add_argument("--json", type=Path)
    options = parser.parse_args()
    bare = [sys.executable, "-c", IMPORTS]
    build = [sys.executable, "-c", "from optimise.cli import main; main()", "build", options.scenario]
    seconds(bare)
    seconds(build)
    show(in_pairs({"scenario": options.scenario}, ("bare", bare), ("build", build), options.pairs), options.json)


if __name__ == "__main__":
    main()
