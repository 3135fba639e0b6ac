"""What of a step is folded: its times and why, what was predicted, conditions, photographs, dab
checks, reminders, its label as it was then."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dash import dcc, html

from curewatch.bench import reminders
from curewatch.bench.views import MilestoneView, StepStretch
from curewatch.durations import duration, rounding
from curewatch.formats import ReaderFormat
from curewatch.logbook import predictions
from curewatch.logbook.paper import SPANS, FieldFormatter, look_words
from curewatch.logbook.photographs import shown
from curewatch.notice_words import sentence
from curewatch.vocabulary import in_words
from curewatch.wording import log_words, milestone_words, words
from dashboard.hall import Hall
from dashboard.pages.components import table
from dashboard.pages.shelf import label_lines
from dashboard.pages.step.chips import undo_button
from dashboard.pages.step.data import StepPage
from dashboard.pages.touches import button

_CAMERA: dict[str, Any] = {"data-capture": "environment"}
_QUANTITIES = ("surface_temperature", "air_temperature", "relative_humidity", "dew_point_spread")


def _folded(name: str, inside: list[Any], id: str | None = None) -> html.Details:
    more: dict[str, Any] = {"id": id} if id else {}
    return html.Details([html.Summary(name), *inside], **more)


def _time_row(milestone: MilestoneView, page: StepPage, say: ReaderFormat) -> list[Any]:
    how = rounding(milestone.name)
    times = [
        say.moment(at, page.now) if at else "no time"
        for at in (milestone.early, milestone.likely, milestone.late)
    ]
    found: list[Any] = [milestone_words.result_words(milestone, page.now, say)]
    found += [html.Small(sentence(text, say)) for text in milestone.warnings]
    return [in_words(milestone.name), duration(milestone.label_min, how), *times, found]


def _times(page: StepPage, say: ReaderFormat) -> html.Details:
    head = ("milestone", "label", "at the earliest", "likely", "at the latest", "actual")
    rows = [_time_row(each, page, say) for each in page.view.milestones]
    return _folded("Times of every milestone", [table(head, rows, "Times")])


def _predicted(hall: Hall, page: StepPage) -> html.Details | None:
    held = predictions.predicted(hall.bench, page.step)
    if not held:
        return None
    head = ("milestone", "early", "likely", "late", "actual", "verdict")
    rows = [
        [
            in_words(each.milestone),
            *(
                "no time" if at is None else duration(at, rounding(each.milestone))
                for at in (each.early_min, each.likely_min, each.late_min)
            ),
            log_words.found(each),
            each.verdict,
        ]
        for each in held
    ]
    return _folded("Predicted at mixing, and actual", [table(head, rows, "Predicted and actual")])


def _span(stretch: StepStretch, name: str, page: StepPage, say: ReaderFormat) -> Any:
    span = stretch.spans.get(name)
    if span is None:
        return html.Span("not measured", className="hint")
    least, mean = (words.bare(say, name, value) for value in (span.minimum, span.mean))
    most = words.value(say, name, span.maximum)
    source = words.span_from(span, page.step.place)
    held: list[Any] = [f"{least} / ", html.B(mean), f" / {most}"]
    return [*held, html.Small(source)] if source else held


def _conditions(page: StepPage, said: FieldFormatter) -> html.Details:
    say = said.say
    head = ["from mixing to", "at", *(f"{words.QUANTITY[name]}" for name in _QUANTITIES)]
    rows = [
        [
            in_words(each.until),
            say.moment(each.end, page.now),
            *(_span(each, name, page, say) for name in _QUANTITIES),
        ]
        for each in page.record.stretches
    ]
    return _folded(
        "Conditions since mixing",
        [
            html.P("least / mean / most", className="hint"),
            table(head, rows, "Conditions"),
            html.H3("At the start, at each coat and clamp, and every 4 h"),
            _moments(page, said),
        ],
    )


def _moments(page: StepPage, said: FieldFormatter) -> html.Div:
    rows = [
        [
            each.name,
            said.say.moment(each.at, page.now),
            *(
                said.measured(key, each.values[key]) if key in each.values else "not measured"
                for key in SPANS
            ),
        ]
        for each in page.record.moments
    ]
    return table(["when", "at", *SPANS.values()], rows, "Conditions at instants")


def photographs(page: StepPage, say: ReaderFormat) -> html.Section:
    """The photographs, and how one is added."""
    step, held = page.step, []
    part = words.part_of(step.part, step.sheet.name)
    for each in shown(step):
        path, at = f"/step/{step.id}/photograph/{each.id}", say.moment(each.at, page.now)
        alt = each.body["words"] or f"Photograph of {part}"
        held.append(
            html.Li(
                [
                    html.A(html.Img(src=f"{path}/small", alt=alt), href=path),
                    html.P([f"{each.body['words']} ", html.Span(at, className="hint")]),
                    undo_button(step, each.id, f"the photograph of {at}"),
                ]
            )
        )
    attributes: dict[str, Any] = {"data-photograph": f"/step/{step.id}/photograph"}
    typed = dcc.Input(id="photograph-words", type="text", maxLength=400, autoComplete="off")
    return html.Section(
        [
            html.H2("Photographs"),
            html.Ul(held, className="photographs") if held else None,
            html.Div(
                [
                    html.Div(html.Label(["What it shows", typed]), className="field"),
                    html.Button("Take one", type="button", id="photograph-take", **attributes,
                                **_CAMERA),
                    html.Button("Choose one", type="button", id="photograph-choose", **attributes),
                ],
                className="one-line",
            ),
            html.P("Photos are shrunk and stripped of location and camera data.",
                   className="hint"),
        ],
        id="photographs",
    )  # fmt: skip


def _dabs(page: StepPage, say: ReaderFormat) -> html.Details:
    step, held = page.step, []
    for each in step.witnesses:
        state, at = look_words(each.state, each.turned_min), say.moment(each.at, page.now)
        sample = words.SAMPLE.get(each.sample, each.sample)
        undo = undo_button(step, each.id, f"{state} at {say.clock(each.at)}")
        held.append(html.Li([f"{at}: {state} ", html.Span(f"({sample}) "), undo]))
    none = html.P("None yet.", className="hint")
    return _folded("Earlier dab checks", [html.Ul(held, className="list") if held else none])


def _happened(page: StepPage, said: FieldFormatter) -> html.Details:
    step, say = page.step, said.say
    held = []
    for each in step.happened:
        if each.kind == "photographed":
            continue
        text, at = said.happening(each), say.moment(each.at, page.now)
        undo = undo_button(step, each.id, f"{text} at {say.clock(each.at)}")
        held.append(html.Li([f"{at}: {text} ", undo if each.id in page.opened else ""]))
    none = html.P("Nothing yet.", className="hint")
    inside = [html.Ul(held, className="list") if held else none]
    return _folded("Coats, clamps, and what else happened", inside)


def _reminders(page: StepPage, say: ReaderFormat) -> html.Details:
    cautions = reminders.cautions(page.step.sheet, page.step.applied)
    sources = {each.key: each.source for each in cautions}
    held = []
    for each in page.view.reminders:
        name = words.REMIND.get(each.key, each.key)
        attributes: dict[str, Any] = {"aria-label": f"Done: {name}"}
        done: Any = button(
            "Done", "step reminder", f"{page.step.id}/{each.key}", "small", **attributes
        )
        if each.answered_at:
            done = html.Span(f"answered {say.moment(each.answered_at, page.now)}", className="done")
        source = html.Span(f" {sources.get(each.key, '')} ", className="hint")
        held.append(html.Li([html.B(f"{name} "), each.words, source, done]))
    return _folded("Reminders", [html.Ul(held, className="list")])  # fmt: skip


def _label(hall: Hall, page: StepPage, changed: bool, say: ReaderFormat) -> html.Details:
    sheet = page.step.sheet
    own = sheet.id in hall.store.sheets()
    inside = [
        label_lines.times_table(sheet, say),
        label_lines.limits(sheet, say),
        label_lines.contains(sheet, say, own=own),
    ]
    name = "The product's label as it was then"
    return _folded(f"{name}{'; it was changed since' if changed else ''}", inside)


def folded(
    hall: Hall, page: StepPage, said: FieldFormatter, changed: bool
) -> Sequence[html.Details | None]:
    """Everything that is looked up seldom."""
    say = said.say
    return [
        _times(page, say),
        _predicted(hall, page),
        _conditions(page, said),
        _dabs(page, say),
        _happened(page, said),
        _reminders(page, say),
        _label(hall, page, changed, say),
    ]
