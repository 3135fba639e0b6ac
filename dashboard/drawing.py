"""How wide letters stand, and how a text is cut to fit."""

from __future__ import annotations

_WIDTH_EM = 0.6


def text_px(text: str, font_px: float) -> float:
    """About how wide a bold text stands. [px]"""
    return len(text) * font_px * _WIDTH_EM


def cut(text: str, font_px: float, room_px: float) -> str:
    """A text that fits a room [px], with an ellipsis where it had to be cut."""
    most = max(int(room_px / (font_px * _WIDTH_EM)), 3)
    return text if len(text) <= most else text[: most - 1].rstrip() + "…"
