"""Timings side by side in one run: `python -m tests.bench` prints the table that DEVELOPERS.md keeps."""
