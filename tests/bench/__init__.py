"""What the program can do, measured beside what the machine can do: `python -m tests.bench`."""
