"""What stands around the ribbons: the present air, and what moved, is lost or damaged."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from dash import html

from curewatch.bench.views import AirTile, BenchView, StepView
from curewatch.formats import ReaderFormat
from curewatch.notice_words import sentence
from curewatch.ways.words import begin_words
from curewatch.wording import clock_words, sensor_words, words
from dashboard.context import planning
from dashboard.context.page_context import PageContext
from dashboard.endpoints import damaged
from dashboard.pages.bench.data import changes, closings, dew_from, main_air
from dashboard.pages.components import link, tile

_TIGHT_TILES = 4


def air(view: BenchView, say: ReaderFormat, first: bool, tight: bool) -> list[Any]:
    """The present values of the steps' places, each with its age."""
    tiles = main_air(view.air, [step.place for step in reversed(view.steps)])
    if not tiles:
        return [html.P(words.EMPTY["air"], className="teach")]
    dew = dew_from(view)
    text = "" if dew is None else "now" if dew <= view.now else say.from_moment(dew, view.now)

    def one(air_tile: AirTile) -> html.Div:
        wet = text if air_tile.quantity == "dew_point_spread" and not air_tile.old else ""
        return tile(air_tile, view.now, say, first, wet)

    shown = tiles[:_TIGHT_TILES] if tight else tiles
    components: list[Any] = [html.H2("Air", className="unseen")]
    components.append(html.Dl([one(air_tile) for air_tile in shown], className="air"))
    led = view.track.led if view.track else None
    if led and led.instead_of and not tight:
        components.append(html.P(words.leading_source(led), className="hint"))
    return components


def _part(step: StepView) -> str:
    return words.part_of(step.part, step.sheet.name)


def _lost(context: PageContext, view: BenchView, say: ReaderFormat) -> list[str]:
    gone = [] if context.store.in_place() else [words.LOGBOOK_GONE]
    later = [clock_words.mixed_later(s, view.now, say) for s in clock_words.not_yet(view)[:1]]
    silent = [sensor_words.lost(outage, say, view.now) for outage in view.lost if outage.steps]
    return [*gone, *later, *silent[:1]]


def _damaged(context: PageContext, view: BenchView) -> Iterator[html.P]:
    entries = damaged.in_words(context, context.bench.reader.damaged(view.now))
    if entries:
        one = len(entries) == 1
        what = entries[0][1] if one else f"{len(entries)} entries are damaged and left out"
        text = f"{what}. Touch to see and remove {'it' if one else 'them'}."
        yield html.P(html.A(text, href="/damaged"), className="note damaged")


def _moved(context: PageContext, view: BenchView, say: ReaderFormat) -> Iterator[html.P]:
    for step, at in closings(view):
        yield html.P(words.shuts(_part(step), at, view.now, say), className="moved shuts")
    for step, change in changes(context.moved.steadied(view))[:1]:  # a sentence takes two lines
        line: list[Any] = [html.B(f"{_part(step)}:"), f" {words.moved(change, view.now, say)}"]
        yield html.P(line, className="moved")


def lines(context: PageContext, view: BenchView, say: ReaderFormat, most: int) -> list[Any]:
    """The sentences over the ribbons, what matters most first; at most so many of them."""
    lost = _lost(context, view, say)
    paragraphs = [*_damaged(context, view), *(html.P(text, className="note lost") for text in lost)]
    paragraphs += _moved(context, view, say)
    if context.copies() and not lost:
        text = "No copy of the logbook was made today; the page Air says why."
        paragraphs.append(html.P(text, className="note"))
    elif view.steps and not lost:
        paragraphs += [html.P(sentence(notice, say), className="note") for notice in view.notes[:1]]
    if step := planning.tonight(context):
        text = begin_words(step, view.now, say)
        paragraphs.append(html.P(link(text, "/plan", button=False), className="planned"))
    return paragraphs[:most]
