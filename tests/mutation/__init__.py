"""Mutation testing: small faults are put into `physics`, `columns` and `model`, one at a time, for tests to notice."""
