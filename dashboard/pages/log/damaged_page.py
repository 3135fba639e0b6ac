"""All that is damaged in the logbook on one page, and what the button that removes it does."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from dash import html

from curewatch.garage import damaged
from dashboard.context.page_context import PageContext
from dashboard.endpoints.damaged import failed_before, in_words
from dashboard.pages.components import REMOVE_DAMAGED, damaged_entries, links
from dashboard.pages.routes import Address, DashPage
from dashboard.pages.touches import TouchOutcome


def content(context: PageContext, address: Address, first: bool) -> list[Any]:
    """Everything that is damaged."""
    failed = context.bench.view(context.clock()).failed
    readings = damaged.reading_sentences(context.store)
    entries = in_words(context, [*damaged.all_damaged(context.store), *failed])
    none = [] if entries or readings else [html.P("Nothing is damaged, or it was removed.")]
    return [
        html.H1("Damaged entries"),
        html.P(
            "What cannot be read is left out, and everything else goes on. Removing an entry is "
            "recorded; it stays in the history.",
            className="lead",
        ),
        *(html.P(f"{text}.", className="problem") for text in readings),
        *damaged_entries(entries),
        *none,
        links([("Back to the bench", "/"), ("Entered last", "/undo")]),
    ]


def remove(context: PageContext, entry: str, _values: Mapping[str, Any]) -> TouchOutcome:
    """Record that a damaged entry is removed. Raises StepError where it is none."""
    also = failed_before(context)
    damaged.remove(context.store, entry, now=context.clock(), also=also)
    return TouchOutcome(text="Removed; it stays in the history.")


PAGE = DashPage("Damaged entries", content, acts={REMOVE_DAMAGED: remove}, under="/logbook")
