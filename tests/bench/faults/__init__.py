"""What is left when things break: `python -m tests.bench.faults` (see `__main__`)."""
