"""How long to wait before what failed is tried again."""

from __future__ import annotations


def delay_s(failures: int, least_s: float, most_s: float) -> float:
    """The wait after so many failures in a row: twice as long each time, at most `most_s`. [s]

    >>> [delay_s(count, 0.1, 5.0) for count in (1, 2, 3, 9)]
    [0.1, 0.2, 0.4, 5.0]
    """
    return min(least_s * 2.0 ** min(max(failures, 1) - 1, 60), most_s)
