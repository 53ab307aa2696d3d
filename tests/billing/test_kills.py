"""Ten processes killed while they issue, run a batch or take a bank's file in: nothing half, no gap, no twin."""

import os
import subprocess
import sys


def test_killed_at_ten_random_moments_the_books_are_whole():
    """`tests.benchmarks.kills` does it two hundred times; it has a database of its own, SQLite as it is served."""
    command = [sys.executable, "-m", "tests.benchmarks.kills", "--kills", "10", "--seed", str(os.getpid())]
    kept = {name: value for name, value in os.environ.items() if name not in {"DATABASE_URL", "KILLS_DATABASE_URL"}}
    done = subprocess.run(command, capture_output=True, text=True, check=False, env=kept, timeout=600)
    assert done.returncode == 0, done.stdout + done.stderr
    figures = dict(line.rsplit(maxsplit=1) for line in done.stdout.splitlines())
    assert int(figures["faults"]) == 0
    assert sum(int(count) for name, count in figures.items() if name.split(",")[0] in {"issue", "batch", "bank"}) == 10
