"""Our drawings on a page of the PDF: lines, polylines, circles and texts as the page's own."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

from fpdf import FPDF

from curewatch.handover.fonts import shown

MM = 25.4 / 72
DARK = (17, 17, 17)


def _number(text: str | None) -> float:
    return float(text or 0)


def _colour(text: str | None) -> tuple[int, int, int]:
    found = re.fullmatch(r"#([0-9a-fA-F]{6})", text or "")
    return tuple(bytes.fromhex(found[1])) if found else DARK  # type: ignore[return-value]


class Pen:
    """Draws one of our drawings at a place of the page; scale [mm] a unit."""

    def __init__(
        self, paper: FPDF, x: float, y: float, scale: float, missing: frozenset[str]
    ) -> None:
        self.paper, self.x0, self.y0, self.scale = paper, x, y, scale
        self.missing = missing

    def x(self, text: str | None) -> float:
        return self.x0 + self.scale * _number(text)

    def y(self, text: str | None) -> float:
        return self.y0 + self.scale * _number(text)

    def _stroke(self, shape: ET.Element) -> None:
        dash = [float(each) for each in (shape.get("stroke-dasharray") or "").split()]
        self.paper.set_draw_color(*_colour(shape.get("stroke")))
        self.paper.set_line_width(self.scale * _number(shape.get("stroke-width")))
        self.paper.set_dash_pattern(
            *([self.scale * each for each in dash[:2]] if len(dash) > 1 else [0, 0])
        )

    def line(self, shape: ET.Element) -> None:
        """A line."""
        self._stroke(shape)
        self.paper.line(*(
            at(shape.get(name))
            for at, name in ((self.x, "x1"), (self.y, "y1"), (self.x, "x2"), (self.y, "y2"))
        ))  # fmt: skip

    def polyline(self, shape: ET.Element) -> None:
        """A line through points."""
        self._stroke(shape)
        points = [each.split(",") for each in (shape.get("points") or "").split()]
        self.paper.polyline([(self.x(x), self.y(y)) for x, y in points])

    def circle(self, shape: ET.Element) -> None:
        """A dot."""
        self.paper.set_fill_color(*_colour(shape.get("fill")))
        radius = self.scale * _number(shape.get("r"))
        self.paper.circle(self.x(shape.get("cx")), self.y(shape.get("cy")), radius, style="F")

    def text(self, shape: ET.Element) -> None:
        """A text at its anchor."""
        words = shown(shape.text or "", self.missing)
        self.paper.set_font_size(_number(shape.get("font-size")) * self.scale / MM)
        wide = self.paper.get_string_width(words)
        back = {"end": wide, "middle": wide / 2}.get(shape.get("text-anchor") or "", 0.0)
        self.paper.text(self.x(shape.get("x")) - back, self.y(shape.get("y")), words)
