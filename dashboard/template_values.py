"""What every template is given."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from typing import Any

from flask import request

from curewatch.wording import clock_words, words
from dashboard.context.page_context import PageContext
from dashboard.endpoints import undo
from dashboard.request.device import LAYOUTS, THEMES, chosen
from dashboard.request.numbers import ms


def template_values(context: PageContext, asset: Callable[[str], str]) -> dict[str, Any]:
    """The names that every template may use."""
    now = context.clock()
    manner = context.manner(request)
    return {
        "asset": asset,
        "caution": words.CAUTION,
        "clock": manner.clock(now),
        "clock_back": clock_words.on_page(context.went_back(), manner),
        "did": lambda: undo.lately(context),
        "here": request.path,
        "layout": chosen(request, "layout", LAYOUTS),
        "now_ms": ms(now),
        "once": uuid.uuid4().hex,
        "speed": context.speed,
        "theme": chosen(request, "theme", THEMES),
    }
