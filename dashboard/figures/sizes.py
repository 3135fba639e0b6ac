"""How high a figure is: a whole number of rows, which the style sheet knows before it is drawn."""

from __future__ import annotations

import math

ROW_PX, MOST_ROWS = 120, 16


def rows_px(wanted_px: float) -> int:
    """The height that takes what is wanted. [px]

    >>> rows_px(130)
    240
    """
    return ROW_PX * min(max(1, math.ceil(wanted_px / ROW_PX)), MOST_ROWS)


def rows_class(height_px: float) -> str:
    """The style sheet's class for a height. [px]"""
    return f"rows-{round(height_px / ROW_PX)}"
