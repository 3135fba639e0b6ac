"""How many cases the tests try that throw chance at the code: few in the suite, more when asked.

`./tests/bench/run search` asks for more, other ones each time.
"""

from __future__ import annotations

import os

TIMES = int(os.environ.get("CUREWATCH_TIMES", "1"))


def cases(few: int) -> int:
    """How many cases to try, where the suite tries a few."""
    return few * TIMES
