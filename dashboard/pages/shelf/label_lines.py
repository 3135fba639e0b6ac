"""What a product's label says, as components: its times as a table, limits, contents, chemistry."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from dash import html

from curewatch.durations import duration, rounding
from curewatch.formats import ReaderFormat
from curewatch.products.chemistries import CHEMISTRIES
from curewatch.products.hardener import fixed_words
from curewatch.products.hazards import HAZARDS, assumed_words
from curewatch.products.sheet import Sheet, TimesRow
from curewatch.units import format_film
from curewatch.wording import words
from dashboard.pages.components import table


def _head(row: TimesRow, say: ReaderFormat) -> str:
    damp = "" if row.humidity_pct is None else f", {words.figure(row.humidity_pct, say)} % humidity"
    return f"{say.temperature(row.temperature_c, 0)}{damp}"


def _time(row: TimesRow, name: str, say: ReaderFormat) -> list[Any]:
    if name not in row.minutes:
        return []
    length: list[Any] = [duration(row.minutes[name], rounding(name))]
    if name == "pot_life" and row.pot_mass_g:
        length.append(html.Small(f"with {words.figure(row.pot_mass_g, say)} g in the pot"))
    return length


def times_table(sheet: Sheet, say: ReaderFormat) -> Any:
    """The times by the label, a column for each of its temperatures."""
    names = [name for name in words.MILESTONES if any(name in row.minutes for row in sheet.times)]
    rows = [
        [words.in_words(name).capitalize(), *(_time(row, name, say) for row in sheet.times)]
        for name in names
    ]
    head = ["By the label, at", *(_head(row, say) for row in sheet.times)]
    return table(head, rows, "Times by the label")


def _span(span: tuple[float, float], say: ReaderFormat) -> str:
    return f"{say.number(say.degrees(span[0]), 0)} to {say.temperature(span[1], 0)}"


def _limit_lines(sheet: Sheet, say: ReaderFormat) -> Iterator[str]:
    limits = sheet.limits
    if limits.temperature_c:
        yield f"Use from {_span(limits.temperature_c, say)}; below that it may not cure properly."
    if limits.humidity_max_pct is not None:
        yield f"Humidity at most {words.figure(limits.humidity_max_pct, say)} %."
    if limits.dew_spread_min_c is not None:
        yield f"Panel at least {say.difference(limits.dew_spread_min_c)} above the dew point."
    if limits.bare_max_min is not None:
        yield f"Max. time on bare metal: {duration(limits.bare_max_min)}."
    if limits.peak_max_c is not None:
        yield f"One cup of it gets no hotter than {say.temperature(limits.peak_max_c, 0)}."


def _hardener(sheet: Sheet, say: ReaderFormat) -> str:
    if sheet.limits.hardener_pct is None:
        return fixed_words(sheet)
    least, usual, most = (words.figure(value, say) for value in sheet.limits.hardener_pct)
    return f"Hardener {least} to {most} %, usually {usual} %."


def _storage_lines(sheet: Sheet, say: ReaderFormat) -> Iterator[str]:
    storage = sheet.storage
    if storage.temperature_c:
        yield f"Store at {_span(storage.temperature_c, say)}."
    if storage.shelf_life:
        yield f"Shelf life {storage.shelf_life} from the day bought, unless an expiry is printed."
    if storage.opened_life:
        yield f"Use within {storage.opened_life} once opened."


def limits(sheet: Sheet, say: ReaderFormat) -> html.Section:
    """Between which limits it is used, mixed and stored."""
    film = f"Film thickness {format_film(sheet.film_um)}." if sheet.film_um else ""
    lines = [*_limit_lines(sheet, say), _hardener(sheet, say), film, *_storage_lines(sheet, say)]
    items = [html.Li(line) for line in lines if line]
    empty = html.P("No limits are entered.")
    body = html.Ul(items, className="list") if items else empty
    return html.Section([html.H2("Limits"), body])


def _denied(name: str, own: bool) -> str:
    plain = HAZARDS[name].split(" (")[0]
    return f"No {plain}{', by' if own else ' usually; check'} its safety data sheet"


def contains(sheet: Sheet, say: ReaderFormat, *, own: bool) -> html.Section:
    """What it contains, and of what that is only assumed."""
    hazards = sheet.hazards
    lines = [
        HAZARDS[name].capitalize() + (", assumed" if name in hazards.assumed else "")
        for name in hazards.contained
    ]
    if hazards.solvent:
        grams = words.figure(hazards.solvent.g_per_l, say)
        lines.append(f"{hazards.solvent.name.capitalize()}, {grams} g/l")
    lines += [_denied(name, own) for name in hazards.denied]
    unsaid = assumed_words(hazards, sheet.chemistry)
    warning = html.P(unsaid, className="problem") if unsaid else None
    rows = html.Ul([html.Li(text) for text in lines or ["No hazards entered"]], className="list")
    return html.Section([html.H2("Contains"), warning, rows])


def chemistry(sheet: Sheet, *, own: bool) -> html.Section:
    """The family it belongs to, and where its data come from."""
    family = CHEMISTRIES[sheet.chemistry]
    whose = "" if own else " Typical figures for this kind; check your label."
    curing = "assumed" if family.assumed else "from published measurements"
    hint = f"How fast it cures at other temperatures is {curing}; your tests decide."
    sources = [f"How fast it cures by temperature: {family.source}."]
    sources += [f"Its figures: {sheet.source_note}."] if sheet.source_note else []
    fold = html.Details([html.Summary("Sources"), *(html.P(text) for text in sources)])
    lines = [html.P(f"{family.words.capitalize()}.{whose}"), html.P(hint, className="hint"), fold]
    return html.Section([html.H2("Chemistry"), *lines])
