"""What is asked once more before it is recorded."""

from __future__ import annotations

from typing import Any

from dash import html

from curewatch.wording import milestone_words
from dashboard.pages.components import first_up
from dashboard.pages.touches import LEAVE, button


def really(odd: str, milestone: str, key: str) -> list[Any]:
    """Whether what can hardly be was tested; key: of the answer."""
    return [
        html.H2("Really?"),
        html.P(f"{first_up(odd)}.", className="problem"),
        html.P(milestone_words.TEST.get(milestone, "")),
        html.Div(
            [
                button("Yes, I tested it", "step answer sure", key),
                button("No, a slip", LEAVE, key),
            ],
            className="buttons",
        ),
    ]


def finish_anyway(still_open: str, key: str) -> list[Any]:
    """Whether it leaves the bench while something must still be waited for."""
    return [
        html.H2("Finish anyway?"),
        html.P(f"{first_up(still_open)}.", className="problem"),
        html.P("Off the bench, nothing more is asked of it."),
        html.Div(
            [
                button("Finish anyway", "step finish sure", key),
                button("Leave it on the bench", LEAVE, key),
            ],
            className="buttons",
        ),
    ]
