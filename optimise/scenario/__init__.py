"""What is asked for: one scenario, read from a TOML file."""

from optimise.scenario.model import Scenario
from optimise.scenario.reader import read_scenario

__all__ = ["Scenario", "read_scenario"]
