"""Coverage-guided fuzzing of whatever reads a file of a user: `python -m tests.fuzz READER --runs N`."""
