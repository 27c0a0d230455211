"""A whole front of the demonstration against one cold build of it, in pairs: `python -m tests.benchmark.front`.

Both sides are whole processes, one after the other, so that a busy machine slows both. Ratios, not seconds.
"""

import argparse
import json
import subprocess
import sys
from pathlib import Path

from tests.benchmark.start_up import ROOT, in_pairs, show

COMMAND = [sys.executable, "-c", "from optimise.cli import main; main()"]


def main() -> None:
    """Run the pairs and print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pairs", type=int, default=5)
    parser.add_argument("--scenario", default="scenarios/orchard-night.toml")
    parser.add_argument("--figures", default="cost,mass")
    parser.add_argument("--enough")
    parser.add_argument("--json", type=Path)
    options = parser.parse_args()
    build = [*COMMAND, "build", options.scenario]
    trade = [*COMMAND, "trade", options.scenario, *options.figures.split(",")]
    trade += ["--enough", options.enough] if options.enough else []
    shown = subprocess.run([*trade, "--json", "-"], check=True, capture_output=True, cwd=ROOT, text=True).stdout
    told = {"scenario": options.scenario, "figures": options.figures, "points": len(json.loads(shown)["points"])}
    show(in_pairs(told, ("build", build), ("trade", trade), options.pairs), options.json)


if __name__ == "__main__":
    main()
