"""The screen that a request comes from, as its script noted it in a cookie."""

from __future__ import annotations

import re

from flask import Request

from dashboard.figures.palette import Screen
from dashboard.hall import LAYOUTS, THEMES

_NOTED = re.compile(rf"({'|'.join(LAYOUTS)})-({'|'.join(THEMES)})-([0-9]{{3,4}})")


def screen_of(request: Request) -> Screen:
    """The layout, theme and width of the device; the garage's where it has not said."""
    noted = _NOTED.fullmatch(request.cookies.get("screen", ""))
    if noted is None:
        return Screen()
    return Screen(noted[2], noted[1], float(noted[3]))
