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
    pairs = [(seconds(bare), seconds(build)) for _ in range(options.pairs)]
    ratios = sorted(b / a for a, b in pairs)
    figures = {
        "scenario": options.scenario,
        "pairs": options.pairs,
        "bare_seconds": sorted(round(a, 3) for a, _ in pairs),
        "build_seconds": sorted(round(b, 3) for _, b in pairs),
        "ratio_min_median_max": [round(ratios[0], 2), round(statistics.median(ratios), 2), round(ratios[-1], 2)],
    }
    print(json.dumps(figures, indent=2))
    if options.json is not None:
        options.json.write_text(json.dumps(figures, indent=2) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
