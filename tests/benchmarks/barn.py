"""The page in the barn, in figures: `uv run python -m tests.benchmarks.barn [KILLS]`.

The weights; the sheet at a quarter of the processor's speed from what the phone keeps; 500 entries sent; the taps of an
ordinary horse. Then a real Chromium is killed at random moments (100 unless said) while it notes without a pause.
"""

import os
import sys
from pathlib import Path

import pytest


def main() -> None:
    os.environ["BARN_KILLS"] = sys.argv[1] if len(sys.argv) > 1 else "100"
    file = str(Path(__file__).with_name("barn_figures.py"))
    sys.exit(pytest.main([file, "-n", "0", "-s", "-q", "-p", "no:cacheprovider"]))


if __name__ == "__main__":
    main()
