"""How fast the program is and how much memory it takes: ``python -m tests.benchmarks``."""
