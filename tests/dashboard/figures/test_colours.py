"""What pages tell by colour can be told without it: in grey, and with protanopia or deuteranopia.

The matrices are those of Machado, Oliveira and Fernandes, "A Physiologically-based Model for
Simulation of Color Vision Deficiency", IEEE Transactions on Visualization and Computer Graphics
15(6), 2009, 1291-1298, severity 1.0, on linear sRGB; read as two public collections of shaders
reproduce them alike, the paper itself was not opened. Luminance and contrast are those of WCAG 2.2;
3:1 is its limit for what a figure must show (1.4.11).
"""

from __future__ import annotations

import itertools
import re
from collections import defaultdict
from collections.abc import Sequence
from pathlib import Path

import pytest

from dashboard.figures import night, overlay
from dashboard.figures.by_temperature import COLOURS, colour
from dashboard.figures.palette import palette
from dashboard.figures.ribbons.bands import _PATTERNS
from dashboard.figures.ribbons.step_figure import SYMBOLS

Matrix = Sequence[Sequence[float]]
VISIONS: dict[str, Matrix] = {
    "all colours": ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)),
    "protanopia": (
        (0.152286, 1.052583, -0.204868),
        (0.114503, 0.786281, 0.099216),
        (-0.003882, -0.048116, 1.051998),
    ),
    "deuteranopia": (
        (0.367322, 0.860646, -0.227968),
        (0.280085, 0.672501, 0.047413),
        (-0.011820, 0.042940, 0.968881),
    ),
    "grey": ((0.2126, 0.7152, 0.0722),) * 3,
}
NEXT_TO = [
    *itertools.pairwise(("workable", "setting", "clamped", "ready", "window", "shut", "cured")),
    *(("setting", "ready"), ("clamped", "cured"), ("setting", "stalled"), ("clamped", "stalled")),
]
ASSETS = Path(__file__).resolve().parents[3] / "dashboard" / "assets"
THEMES = pytest.mark.parametrize("theme", ["dark", "light"])
SEEN = pytest.mark.parametrize("vision", VISIONS)


def luminance(colour: str, vision: str) -> float:
    """The luminance of a colour as it is seen with a vision. [-]"""
    parts = [int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    seen = [
        min(max(sum(a * b for a, b in zip(row, linear, strict=True)), 0.0), 1.0)
        for row in VISIONS[vision]
    ]
    return sum(w * c for w, c in zip((0.2126, 0.7152, 0.0722), seen, strict=True))


def contrast(one: str, other: str, vision: str) -> float:
    low, high = sorted((luminance(one, vision), luminance(other, vision)))
    return (high + 0.05) / (low + 0.05)


def test_the_simulation_leaves_white_white_and_takes_protans_their_red() -> None:
    for vision in VISIONS:
        assert luminance("#ffffff", vision) == pytest.approx(1.0, abs=0.01)
    assert luminance("#ff0000", "protanopia") < 0.6 * luminance("#ff0000", "all colours")


@pytest.mark.parametrize(("one", "other"), NEXT_TO)
def test_neighbouring_states_of_a_ribbon_differ_in_their_pattern(one: str, other: str) -> None:
    assert _PATTERNS.get(one) != _PATTERNS.get(other)


@THEMES
@SEEN
def test_the_pattern_of_a_state_stands_out_from_its_ground(theme: str, vision: str) -> None:
    colours = palette(theme)
    faint = {
        state: round(ratio, 2)
        for state in _PATTERNS
        if (ratio := contrast(colours[f"{state}-mark"], colours[state], vision)) < 3
    }
    assert faint == {}


@THEMES
@SEEN
def test_every_line_and_sign_of_a_figure_stands_out_from_the_page(theme: str, vision: str) -> None:
    colours = palette(theme)
    names = {name for name, _ in overlay.LOOKS} | {name for _, name in SYMBOLS.values()}
    names |= {*COLOURS.values(), colour("sand_ready"), "fg", "dim", "stop", "outlook", "edge"}
    faint = {
        name: round(ratio, 2)
        for name in names
        if (ratio := contrast(colours[name], colours["bg"], vision)) < 3
    }
    assert faint == {}


def test_a_night_s_spells_of_cold_and_of_damp_differ_without_colour() -> None:
    assert len(set(night.SHAPES.values())) == len(night.SHAPES) == 2


def test_steps_and_signs_laid_over_each_other_differ_without_colour() -> None:
    assert len({dash for _, dash in overlay.LOOKS}) == len(overlay.LOOKS)
    assert len({sign for sign, _ in SYMBOLS.values()}) == len(SYMBOLS)


def test_no_style_sheet_restyles_a_sign_of_another_page_s_legend() -> None:
    """All style sheets are joined, so `.key .dot` of one page would count on all."""
    alone, anywhere = defaultdict(set), defaultdict(set)
    for file in ASSETS.glob("*.css"):
        for selector in re.findall(r"(\.key [^{}]*)\{", file.read_text("utf-8")):
            for part in re.findall(r"\.key(?:\.\w+)? ((?:\.[\w-]+)+)", selector):
                classes = part[1:].split(".")
                for name in classes:
                    anywhere[name].add(file.name)
                if len(classes) == 1:
                    alone[classes[0]].add(file.name)
    shared = {name: anywhere[name] for name in alone if len(anywhere[name]) > 1}
    assert {name: files for name, files in shared.items() if name not in ("sign", "line")} == {}
