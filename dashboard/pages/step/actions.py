"""The three things one comes to a step's page for: its dab, its test, its end."""

from __future__ import annotations

from typing import Any

from dash import html

from curewatch.bench.due import asked_name
from curewatch.bench.marks import turn_to_tell
from curewatch.wording import milestone_words, words
from dashboard.pages.step.data import StepPage
from dashboard.pages.touches import Form, button

_BACK = {
    "finished": "Not finished: undo",
    "abandoned": "Not failed: undo",
    "undone": "It was mixed: bring it back",
}


def _looks(page: StepPage, sample: str) -> list[Any]:
    """What the dab does, one touch each; sample: what is looked at."""
    form = Form("step dab", f"{page.step.id}/{sample}")
    states = [form.send(text, state, None) for state, text in words.STATES.items()]
    ago = form.box("ago", "Seen, minutes ago", "0", inputMode="numeric")
    return [html.Div(states, className="buttons"), form.wrong(), ago]


def _dab(page: StepPage) -> html.Details:
    others = [
        html.Details([html.Summary(f"Looked at: {text}"), *_looks(page, sample)])
        for sample, text in words.SAMPLE.items()
        if sample != "smear"
    ]
    hint = (
        "A thin smear on bare metal beside the panel tells most; a thick dab in a cup runs ahead "
        "of it."
    )
    return html.Details(
        [
            html.Summary("Dab check"),
            html.P("How is the test dab?", className="lead"),
            *_looks(page, "smear"),
            html.P(hint, className="hint"),
            *others,
        ],
        className="action",
    )


def turned(page: StepPage) -> html.Div:
    """When the dab turned, asked for a while after a look at which that can be told."""
    last = turn_to_tell(page.step.witnesses, page.events, page.now)
    if last is None or page.step.closed_at:
        return html.Div()
    state = words.STATES.get(last.state, last.state)
    answers = [
        button(text, "step turned", f"{page.step.id}/{last.id}/{minutes}")
        for minutes, text in words.TURNED.items()
    ]
    question = html.P(f"When did the dab turn {state}?", className="lead")
    return html.Div([question, html.Div(answers, className="buttons")], className="turned")


def _test(page: StepPage) -> html.Details | None:
    name = asked_name(page.view)
    if not name:
        return None
    part = words.part_of(page.step.part, page.step.sheet.name)
    due = any(milestone.name == name and milestone.due for milestone in page.view.milestones)
    answers = [
        button(text, "step answer", f"{page.step.id}/{name}/{result}")
        for result, text in milestone_words.ANSWERS[name].items()
    ]
    return html.Details(
        [
            html.Summary(f"Test: {words.in_words(name)}"),
            html.P(
                milestone_words.test_now(name, part) if due else milestone_words.QUESTION[name],
                className="lead",
            ),
            html.P(milestone_words.TEST.get(name, "")),
            html.Div(answers, className="buttons"),
        ],
        className="action due" if due else "action",
    )


def _end(page: StepPage) -> html.Details:
    step, key = page.step, str(page.step.id)
    form = Form("step failed", key)
    first = page.events[0].id
    buttons = [button("Finished: off the bench", "step finish", key, "go")]
    if not step.emptied_at:
        buttons.insert(0, button("Cup empty, tools cleaned", "step emptied", key))
    return html.Details(
        [
            html.Summary("Finish"),
            html.Div(buttons, className="buttons"),
            html.Div(
                [form.box("why", "Or it failed, because", maxLength=400),
                 form.send("Failed", kind=None)],
                className="one-line",
            ),
            form.wrong(),
            html.P(button("Nothing was mixed: undo", "step undo", f"{key}/{first}")),
        ],
        className="action",
    )  # fmt: skip


def actions(page: StepPage) -> html.Section | None:
    """What can be done with the step now."""
    step = page.step
    attributes: dict[str, Any] = {"aria-label": "Do"}
    if step.closed_at is None and step.state == "hardening":
        sections = [_dab(page), _test(page), _end(page)]
        return html.Section(sections, className="actions", **attributes)
    if page.closing is None:
        return None
    back = button(_BACK[step.state], "step undo", f"{step.id}/{page.closing}")
    return html.Section(html.P(back), className="actions", **attributes)
