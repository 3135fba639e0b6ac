"""What a device chose and how large its screen is, as its cookies say."""

from __future__ import annotations

import re

from flask import Request

from dashboard.figures.palette import Screen

THEMES = ("dark", "light")
LAYOUTS = ("garage", "desk", "phone")
_NOTED = re.compile(rf"({'|'.join(LAYOUTS)})-({'|'.join(THEMES)})-([0-9]{{3,4}})")


def screen_of(request: Request) -> Screen:
    """The layout, theme and width of the device; the garage's where it has not said."""
    noted = _NOTED.fullmatch(request.cookies.get("screen", ""))
    if noted is None:
        return Screen()
    return Screen(noted[2], noted[1], float(noted[3]))


def chosen(request: Request, name: str, allowed: tuple[str, ...]) -> str:
    """A device's choice kept in its cookie; empty where it made none."""
    value = request.args.get(name) or request.cookies.get(name, "")
    return value if value in allowed else ""
