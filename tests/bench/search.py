"""The tests that throw chance at the code, with many times the cases of the suite.

Hypothesis chooses other examples each time; the seeded ones go on from where the suite ends.
"""

from __future__ import annotations

import argparse
import os
import re
import subprocess
import sys
from pathlib import Path

TESTS = Path(__file__).resolve().parents[1]
BY_CHANCE = re.compile(r"^from (hypothesis|tests\.support\.many) import", re.MULTILINE)


def main() -> int:
    """Run them; 0 where no case failed."""
    parser = argparse.ArgumentParser(prog="./tests/bench/run search", description=__doc__)
    parser.add_argument(
        "times", nargs="?", type=int, default=10, help="times the suite's cases (10)"
    )
    times = str(parser.parse_args().times)
    tests = sorted(TESTS.rglob("test_*.py"))
    files = [str(file) for file in tests if BY_CHANCE.search(file.read_text("utf-8"))]
    command = [sys.executable, "-m", "pytest", "-n", "auto", "-m", "not alone", *files]
    return subprocess.run(command, env=os.environ | {"CUREWATCH_TIMES": times}).returncode


if __name__ == "__main__":
    sys.exit(main())
