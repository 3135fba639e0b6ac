"""A step's temperature as a picture of one line, for a row of a table."""

from __future__ import annotations

from collections.abc import Sequence

from dashboard.figures.palette import palette

WIDE, HIGH, PAD = 150.0, 36.0, 3.0
_ENCODED = str.maketrans({sign: f"%{ord(sign):02X}" for sign in '%"#<>'})
_LEAST_C, _NEAR_C = 4.0, 3.0


def _range(values: Sequence[float], minimum_c: float | None) -> tuple[float, float]:
    """From least to most that is drawn, the minimum too where it is near. [C]"""
    low, high = min(values), max(values)
    if minimum_c is not None and low - _NEAR_C < minimum_c < high + _NEAR_C:
        low, high = min(low, minimum_c), max(high, minimum_c)
    spare = max(_LEAST_C - (high - low), 0.0) / 2
    return low - spare, high + spare


def spark(values: Sequence[tuple[float, float]], minimum_c: float | None, theme: str) -> str:
    """The line through moments (share of the step's time [-], surface [C]) as the address of a
    picture; the product's minimum dotted where it is near [C]. '' where there is no line."""
    if len(values) < 2:
        return ""
    low, high = _range([value for _, value in values], minimum_c)
    colours, inside = palette(theme), HIGH - 2 * PAD

    def y(value: float) -> float:
        return HIGH - PAD - inside * (value - low) / (high - low)

    points = " ".join(f"{PAD + (WIDE - 2 * PAD) * x:.1f},{y(value):.1f}" for x, value in values)
    limit = ""
    if minimum_c is not None and low <= minimum_c <= high:
        limit = (
            f'<path d="M0 {y(minimum_c):.1f}H{WIDE:g}" stroke="{colours["stop"]}" '
            'stroke-width="2" stroke-dasharray="2 4"/>'
        )
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDE:g} {HIGH:g}">{limit}'
        f'<polyline points="{points}" fill="none" stroke="{colours["fg"]}" stroke-width="2.5" '
        'stroke-linejoin="round"/></svg>'
    )
    return f"data:image/svg+xml,{svg.translate(_ENCODED)}"
