"""Colours and letters of every figure: the style sheet's, which plotly cannot read itself."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

from curewatch.frozen import frozen

_SHEET = Path(__file__).parent.parent / "assets" / "curewatch.css"
_BLOCK = re.compile(r"(:root|\[data-theme=\"light\"\]) \{(.*?)\}", re.S)
_COLOUR = re.compile(r"--([\w-]+): (#[0-9a-f]{6});")
_FONT_PX = {"garage": 31.0, "desk": 16.0, "phone": 14.0}
_HEIGHT_PX = {"garage": 860.0, "desk": 640.0, "phone": 540.0}
FAMILY = '"Liberation Sans", Arimo, Helvetica, Arial, Roboto, "DejaVu Sans Condensed", sans-serif'
Figure = dict[str, Any]


@frozen
class Screen:
    """What a figure is drawn for: theme, layout, and its width. [px]"""

    theme: str = "dark"
    layout: str = "garage"
    width_px: float = 1740.0

    @property
    def font_px(self) -> float:
        """The letters of axes and names. [px]"""
        return _FONT_PX[self.layout]

    @property
    def height_px(self) -> float:
        """How high a page's main figure is. [px]"""
        return _HEIGHT_PX[self.layout]


@cache
def palette(theme: str) -> Mapping[str, str]:
    """The colours of the style sheet by name, as they are in that theme."""
    dark, light = (block for _, block in _BLOCK.findall(_SHEET.read_text(encoding="utf-8"))[:2])
    figure = dict(_COLOUR.findall(dark))
    return figure | dict(_COLOUR.findall(light)) if theme == "light" else figure


def faded(colour: str, share: float) -> str:
    """A colour that lets what is under it through; share: how much of it is left [-].

    >>> faded("#ff8000", 0.25)
    'rgba(255,128,0,0.25)'
    """
    red, green, blue = (int(colour[place : place + 2], 16) for place in (1, 3, 5))
    return f"rgba({red},{green},{blue},{max(share, 0.0):g})"


def ground(screen: Screen) -> Figure:
    """The layout that every figure begins with: our ground and letters, nothing of plotly's own."""
    colours = palette(screen.theme)
    clear = "rgba(0,0,0,0)"
    return {
        "width": screen.width_px,
        "height": screen.height_px,
        "paper_bgcolor": clear,
        "plot_bgcolor": clear,
        "font": {"family": FAMILY, "size": screen.font_px, "color": colours["dim"]},
        "hoverlabel": {
            "bgcolor": colours["fg"],
            "bordercolor": colours["fg"],
            "align": "left",
            "font": {"family": FAMILY, "size": screen.font_px, "color": colours["bg"]},
        },
        "showlegend": False,
        "shapes": [],
        "annotations": [],
    }


def axis(screen: Screen, **more: Any) -> Figure:
    """An axis that shows only what is said of it."""
    rule = palette(screen.theme)["rule"]
    return {
        "gridcolor": rule,
        "zeroline": False,
        "showline": False,
        "ticks": "",
        "automargin": False,
        "fixedrange": True,
    } | more
