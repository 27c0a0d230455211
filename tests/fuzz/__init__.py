"""Coverage-guided fuzzing of whatever reads a file of a user: `python -m tests.fuzz READER --runs N`.

All that lies in `corpus/` is invented: parts, suppliers, prices, jobs, measured light.
"""
