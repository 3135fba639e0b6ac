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
from dashboard.context.page_context import PageContext
from dashboard.pages.components import first_up, table
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
    result: list[Any] = [milestone_words.result_words(milestone, page.now, say)]
    result += [html.Small(sentence(text, say)) for text in milestone.warnings]
    return [in_words(milestone.name), duration(milestone.label_min, how), *times, result]


def _times(page: StepPage, say: ReaderFormat) -> html.Details:
    head = ("milestone", "label", "at the earliest", "likely", "at the latest", "actual")
    rows = [_time_row(milestone, page, say) for milestone in page.view.milestones]
    return _folded("Times of every milestone", [table(head, rows, "Times")])


def _predicted(context: PageContext, page: StepPage) -> html.Details | None:
    predicted = predictions.predicted(context.bench, page.step)
    if not predicted:
        return None
    head = ("milestone", "early", "likely", "late", "actual", "verdict")
    rows = [
        [
            in_words(prediction.milestone),
            *(
                "no time" if at is None else duration(at, rounding(prediction.milestone))
                for at in (prediction.early_min, prediction.likely_min, prediction.late_min)
            ),
            log_words.found(prediction),
            prediction.verdict,
        ]
        for prediction in predicted
    ]
    return _folded("Predicted at mixing, and actual", [table(head, rows, "Predicted and actual")])


def _span(stretch: StepStretch, name: str, page: StepPage, say: ReaderFormat) -> Any:
    span = stretch.spans.get(name)
    if span is None:
        return html.Span("not measured", className="hint")
    least, mean, most = (
        words.bare(say, name, value) for value in (span.minimum, span.mean, span.maximum)
    )
    source = words.span_from(span, page.step.place)
    values: list[Any] = [f"{least} / ", html.B(mean), f" / {most}"]
    return [*values, html.Small(source)] if source else values


def _conditions(page: StepPage, formatter: FieldFormatter) -> html.Details:
    say = formatter.say
    units = {"relative_humidity": "%"}
    measured = (
        f"{words.QUANTITY[name]}, {units.get(name, f'°{say.unit}')}" for name in _QUANTITIES
    )
    head = ["from mixing to", "at", *measured]
    rows = [
        [
            in_words(step_stretch.until),
            say.moment(step_stretch.end, page.now),
            *(_span(step_stretch, name, page, say) for name in _QUANTITIES),
        ]
        for step_stretch in page.record.stretches
    ]
    return _folded(
        "Conditions since mixing",
        [
            html.P("least / mean / most", className="hint"),
            table(head, rows, "Conditions"),
            html.H3("At the start, at each coat and clamp, and every 4 h"),
            _moments(page, formatter),
        ],
    )


def _moments(page: StepPage, formatter: FieldFormatter) -> html.Div:
    rows = [
        [
            moment.name,
            formatter.say.moment(moment.at, page.now),
            *(
                formatter.measured(key, moment.values[key])
                if key in moment.values
                else "not measured"
                for key in SPANS
            ),
        ]
        for moment in page.record.moments
    ]
    return table(["when", "at", *SPANS.values()], rows, "Conditions at instants")


def photographs(page: StepPage, say: ReaderFormat) -> html.Section:
    """The photographs, and how one is added."""
    step, items = page.step, []
    part = words.part_of(step.part, step.sheet.name)
    for happening in shown(step):
        path, at = f"/step/{step.id}/photograph/{happening.id}", say.moment(happening.at, page.now)
        alt = happening.body["words"] or f"Photograph of {part}"
        items.append(
            html.Li(
                [
                    html.A(html.Img(src=f"{path}/small", alt=alt), href=path),
                    html.P([f"{happening.body['words']} ", html.Span(at, className="hint")]),
                    undo_button(step, happening.id, f"the photograph of {at}"),
                ]
            )
        )
    attributes: dict[str, Any] = {"data-photograph": f"/step/{step.id}/photograph"}
    typed = dcc.Input(id="photograph-words", type="text", maxLength=400, autoComplete="off")
    return html.Section(
        [
            html.H2("Photographs"),
            html.Ul(items, className="photographs") if items else None,
            html.Div(
                [
                    html.Div(html.Label(["What it shows", typed]), className="field"),
                    html.Button("Take one", type="button", id="photograph-take", **attributes,
                                **_CAMERA),
                    html.Button("Choose one", type="button", id="photograph-choose", **attributes),
                ],
                className="one-line",
            ),
            html.P(words.STRIPPED,
                   className="hint"),
        ],
        id="photographs",
    )  # fmt: skip


def _dabs(page: StepPage, say: ReaderFormat) -> html.Details:
    step, items = page.step, []
    for look in step.witnesses:
        state, at = look_words(look.state, look.turned_min), say.moment(look.at, page.now)
        sample = words.SAMPLE.get(look.sample, look.sample)
        undo = undo_button(step, look.id, f"{state} at {say.clock(look.at)}")
        items.append(html.Li([f"{at}: {state} ", html.Span(f"({sample}) "), undo]))
    none = html.P("None yet.", className="hint")
    return _folded("Earlier dab checks", [html.Ul(items, className="list") if items else none])


def _happened(page: StepPage, formatter: FieldFormatter) -> html.Details:
    step, say = page.step, formatter.say
    items = []
    for happening in step.happened:
        if happening.kind == "photographed":
            continue
        text, at = formatter.happening(happening), say.moment(happening.at, page.now)
        undo = undo_button(step, happening.id, f"{text} at {say.clock(happening.at)}")
        items.append(html.Li([f"{at}: {text} ", undo if happening.id in page.opened else ""]))
    none = html.P("Nothing yet.", className="hint")
    inside = [html.Ul(items, className="list") if items else none]
    return _folded("Coats, clamps, and what else happened", inside)


def _reminders(page: StepPage, say: ReaderFormat) -> html.Details:
    cautions = reminders.cautions(page.step.sheet, page.step.applied)
    sources = {caution.key: caution.source for caution in cautions}
    items = []
    for reminder in page.view.reminders:
        name = words.REMIND.get(reminder.key, reminder.key)
        attributes: dict[str, Any] = {"aria-label": f"Done: {name}"}
        done: Any = button(
            "Done", "step reminder", f"{page.step.id}/{reminder.key}", "small", **attributes
        )
        if reminder.answered_at:
            done = html.Span(
                f"Answered {say.moment(reminder.answered_at, page.now)}.", className="done"
            )
        source = html.Small(first_up(sources.get(reminder.key, "")), className="hint")
        items.append(html.Li([html.B(f"{name}. "), reminder.words, " ", done, source]))
    return _folded("Reminders", [html.Ul(items, className="list")])  # fmt: skip


def _label(context: PageContext, page: StepPage, changed: bool, say: ReaderFormat) -> html.Details:
    sheet = page.step.sheet
    own = sheet.id in context.store.sheets()
    inside = [
        label_lines.times_table(sheet, say),
        label_lines.limits(sheet, say),
        label_lines.contains(sheet, say, own=own),
    ]
    name = "The product's label as it was then"
    return _folded(f"{name}{'; it was changed since' if changed else ''}", inside)


def folded(
    context: PageContext, page: StepPage, formatter: FieldFormatter, changed: bool
) -> Sequence[html.Details | None]:
    """Everything that is looked up seldom."""
    say = formatter.say
    return [
        _times(page, say),
        _predicted(context, page),
        _conditions(page, formatter),
        _dabs(page, say),
        _happened(page, formatter),
        _reminders(page, say),
        _label(context, page, changed, say),
    ]
