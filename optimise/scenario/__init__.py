"""What is asked for: one scenario, read from a TOML file."""

from optimise.scenario.model import KitLight, Scenario
from optimise.scenario.reader import read_scenario, read_text_of_scenario

__all__ = ["KitLight", "Scenario", "read_scenario", "read_text_of_scenario"]
