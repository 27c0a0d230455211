"""Rushlight: choose the parts for a self-built soft light, and prove the choice."""

__version__ = "0.1.0"
