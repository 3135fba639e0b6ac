"""How high a figure is: a whole number of rows, which the style sheet knows before it is drawn. How
wide letters stand, and how a text is cut to fit."""

from __future__ import annotations

import math

ROW_PX, MOST_ROWS = 120, 16
_WIDTH_EM = 0.6


def rows_px(wanted_px: float) -> int:
    """The height that takes what is wanted. [px]

    >>> rows_px(130)
    240
    """
    return ROW_PX * min(max(1, math.ceil(wanted_px / ROW_PX)), MOST_ROWS)


def rows_class(height_px: float) -> str:
    """The style sheet's class for a height. [px]"""
    return f"rows-{round(height_px / ROW_PX)}"


def text_px(text: str, font_px: float) -> float:
    """About how wide a bold text stands. [px]"""
    return len(text) * font_px * _WIDTH_EM


def cut(text: str, font_px: float, room_px: float) -> str:
    """A text that fits a room [px], with an ellipsis where it had to be cut."""
    most = max(int(room_px / (font_px * _WIDTH_EM)), 3)
    return text if len(text) <= most else text[: most - 1].rstrip() + "…"
