"""What the bench asks and reminds of: one row each, named, the most urgent first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from dash import html

from curewatch.bench.views import BenchView, Reminder, StepView
from curewatch.formats import ReaderFormat
from curewatch.garage.step import Step
from curewatch.garage.unnamed_mix import UnnamedMix
from curewatch.plan import morning, sentences
from curewatch.protection.purge import Purge
from curewatch.wording import words
from dashboard.context.planning import BEGUN, form_key
from dashboard.pages.bench import what_if
from dashboard.pages.bench.dab import dab, turned
from dashboard.pages.bench.data import due_in_order, reminding, tools, unexplained, unmasked, unsure
from dashboard.pages.bench.question import BenchQuestion, QuestionData
from dashboard.pages.components import age, countdown, first_up, link
from dashboard.pages.touches import button

_SANDING = "dust:sanding"


def _part(step: StepView) -> str:
    return words.part_of(step.part, step.sheet.name)


def _sources(title: str, part: str, reminders: Sequence[Reminder]) -> html.Details:
    """What a reminder says at length, and whose it is, behind its name."""
    attributes: dict[str, Any] = {"aria-label": f"Why, and from where: {part}"}
    head = html.Summary([f"{title}: ", html.B(part)], **attributes)
    paragraphs = [
        html.P([reminder.words, " ", html.Small(reminder.source)]) for reminder in reminders
    ]
    return html.Details([head, *paragraphs], className="source")


def _reminders(step: StepView, reminders: Sequence[Reminder]) -> tuple[Any, ...]:
    return tuple(
        button(words.REMIND.get(reminder.key, reminder.key), "remind", f"{step.id}/{reminder.key}")
        for reminder in reminders
    )


def _sprayed(step: StepView) -> BenchQuestion:
    ask = [
        html.B(_part(step)),
        " contains isocyanate, never sprayed without an air-fed mask. How do you apply it?",
    ]
    answers = (button(text, "applied", f"{step.id}/{how}") for how, text in words.APPLIED.items())
    return BenchQuestion("Spraying?", ask, tuple(answers), "wanted")


def _which(touch: UnnamedMix, data: QuestionData) -> BenchQuestion:
    now = data.view.now
    ask = [
        f"Mixed {data.say.moment(touch.at, now)}, ",
        age(touch.at, now, data.first),
        ": ",
        html.B("what was it?"),
    ]
    answers = [_was(touch, step, data.say) for step in data.lately]
    other = link("Something else" if data.lately else "Pick the product", f"/mixed/{touch.id}")
    return BenchQuestion("What was it?", ask, (*answers, other), "wanted")


def _was(touch: UnnamedMix, step: Step, say: ReaderFormat) -> html.Button:
    more = words.mixed_details(say, "", step.amount_g, step.hardener_pct) if step.amount_g else None
    label = [words.short_name(step.sheet.name), html.Small(more) if more else None]
    return button(label, "name touch", f"{touch.id}/{step.sheet.id}")


def _structural(step: StepView) -> BenchQuestion:
    ask = [
        html.B(f"{_part(step)}: is it structural? "),
        f"{words.STRUCTURAL_IF} No times until you answer.",
    ]
    answers: tuple[Any, ...] = (link("Name its part first", f"/step/{step.id}"),)
    if step.part:
        answers = tuple(
            button(text, "kind of part", f"{step.id}/{kind}")
            for kind, text in words.STRUCTURAL.items()
        )
    return BenchQuestion("Structural?", ask, answers, "wanted worded")


def _reason(step: StepView, say: ReaderFormat) -> BenchQuestion:
    components = [
        html.B(f"{_part(step)}: mixing anyway because"),
        html.Span(f" {step.unexplained[0]}"),
    ]
    answers = [button(why, "why", f"{step.id}/{why}") for why in words.WHY]
    return BenchQuestion(
        "Reason", components, (*answers, link("Other", f"/step/{step.id}#why")), "wanted worded"
    )


def _cup(step: StepView) -> BenchQuestion:
    ask = ["Cup empty, tools cleaned? ", html.B(_part(step))]
    yes = button("Yes, empty and clean", "emptied", str(step.id), "yes")
    return BenchQuestion(
        "Cup and tools", ask, (yes, button("Still in use", "in use", str(step.id))), "wanted"
    )


def _wanted(data: QuestionData) -> BenchQuestion | None:
    """The one thing that must be answered first."""
    view = data.view
    if step := unmasked(view):
        return _sprayed(step)
    if data.waiting:
        return _which(data.waiting, data)
    if step := unsure(view):
        return _structural(step)
    if step := unexplained(view):
        return _reason(step, data.say)
    if step := reminding(view):
        name, reminders = "Before you go on", words.unanswered(step)
        details = _sources(name, _part(step), reminders)
        return BenchQuestion(name, details, _reminders(step, reminders), "wanted")
    due = bool(view.due) and due_in_order(view)[0].milestone.due
    if (step := tools(view)) and not due:
        return _cup(step)
    return None


def _meanwhile(view: BenchView) -> BenchQuestion | None:
    """What is worn or kept running while something cures."""
    for step in reversed(view.steps):
        reminders = [
            reminder for reminder in step.reminders if reminder.again and not reminder.answered_at
        ]
        if reminders:
            name = (
                "Dust mask"
                if any(reminder.key == _SANDING for reminder in reminders)
                else "Meanwhile"
            )
            return BenchQuestion(
                name, _sources("Meanwhile", _part(step), reminders), _reminders(step, reminders)
            )
    return None


def _airing(purge: Purge, data: QuestionData) -> BenchQuestion:
    least: Any = purge.words
    if purge.until:
        left = countdown(purge.until, data.view.now, "up", data.first)
        least = ["airing, at least ", left, " more: a minimum, not a clearance"]
    answers: tuple[Any, ...] = ()
    if not purge.room_known:
        answers = (link("Enter the room", "/air/out"),)
    elif not purge.over:
        text, on = ("Fan is off", "off") if purge.fan_on else ("Fan on", "on")
        answers = (button(text, "fan", f"{purge.step_id}/{on}"),)
    return BenchQuestion("Airing", [html.B(purge.part), " ", html.Span(least)], answers)


def _begins(data: QuestionData) -> BenchQuestion | None:
    """What the plan reminds of; a mix says by itself that its step was begun."""
    from curewatch.week.taken_words import begin_words, move_words
    from curewatch.week.words import name

    step, now = data.begins, data.view.now
    if step is None:
        return None
    rest = " ".join([begin_words(step, now, data.say), *move_words(step, now, data.say)])
    begun = button("Begun", BEGUN, form_key(step.part, step.job))
    answers = (link("Mix", "/mix") if step.kind else begun, link("Plan", "/plan"))
    components = [html.B(f"{first_up(name(step))}: "), html.Span(rest)]
    return BenchQuestion("Plan", components, answers, "begins")


def _bare(data: QuestionData) -> BenchQuestion | None:
    asks, now = data.evening["asks"], data.view.now
    if asks.asks:
        bare = [f"{p.name}: {sentences.bare_words(p, now, data.say)}" for p in asks.bare]
        listed = [button("As listed", "bare metal", "as listed")] if asks.bare else []
        answers = (button("None", "bare metal", "none"), *listed, link("A part", "/parts"))
        components = [html.B("Is any metal bare?"), *map(html.Span, bare)]
        return BenchQuestion("Bare metal", components, answers)
    if asks.bare:
        listing = "; ".join(f"{part.name} {morning.counted(part, now)}" for part in asks.bare)
        return BenchQuestion(
            "Bare metal", ["Bare metal: ", html.B(listing)], (link("Parts", "/parts"),)
        )
    return None


def _night(data: QuestionData) -> BenchQuestion | None:
    night = data.evening["night"]
    if not night or not (night.steps or night.bare):
        return None
    texts = [_overnight(step, data) for step in night.steps]
    texts += [f"{len(night.bare)} bare"] if night.bare else []
    return BenchQuestion(
        "Last night", ["Last night: ", html.B("; ".join(texts))], (link("Morning", "/morning"),)
    )


def _overnight(overnight: morning.Overnight, data: QuestionData) -> str:
    part, night, say = _part(overnight.step), overnight.night, data.say
    if overnight.step.joint == "asked":
        return f"{part}: is it structural?"
    if overnight.structural:
        return f"{part}: by the maker's procedure"
    if not overnight.measured:
        return f"{part}: nothing measured"
    if night.stalled:
        return f"{part} not curing {morning.spell_words(night.stalled[-1], data.view.now, say)}"
    return f"{part}, coldest {say.temperature(night.coldest_c)}"


def _indoors(data: QuestionData) -> BenchQuestion | None:
    texts = [words.short_name(product.sheet.name) for product in data.evening["indoors"]]
    ask = ["Bring indoors tonight: ", html.B(", ".join(texts))]
    return BenchQuestion("Indoors tonight", ask, (link("Shelf", "/shelf"),)) if texts else None


def _others(data: QuestionData) -> Iterator[BenchQuestion | None]:
    yield turned(data)
    yield (wanted := _wanted(data))
    yield _meanwhile(data.view)
    for state in data.worn_out[:1]:
        ask = [html.B(state.cartridge.name), f" {state.words}"]
        yield BenchQuestion("Filters", ask, (link("Masks", "/air/masks"),))
    for purge in data.purges[:1]:
        yield _airing(purge, data)
    if wanted is None:
        yield _begins(data)
    yield _bare(data)
    yield _night(data)
    yield _indoors(data)
    yield what_if.question(data)


def questions(data: QuestionData) -> list[BenchQuestion]:
    """All but the dab, the most urgent first."""
    return [bench_question for bench_question in _others(data) if bench_question]


def row(question: BenchQuestion, number: int) -> html.Div:
    """A question as a row of the page."""
    attributes: dict[str, Any] = {"data-question": str(number)}
    ask = html.Div(question.ask, className="ask")
    answers = html.Div(list(question.answers), className="buttons")
    return html.Div([ask, answers], className=f"doing {question.kind}".strip(), **attributes)


def chip(question: BenchQuestion, number: int) -> html.Button:
    """A question's name, which opens it."""
    attributes: dict[str, Any] = {"data-for": str(number)}
    return html.Button(question.name, type="button", className="chip", **attributes)


def asks(data: QuestionData) -> tuple[Any, Any]:
    """The dab's row, which is always in reach, and the others with their chips."""
    bench_questions, own = questions(data), dab(data)
    rows = [row(bench_question, n) for n, bench_question in enumerate(bench_questions)]
    chips = (
        [chip(bench_question, n) for n, bench_question in enumerate(bench_questions)]
        if len(bench_questions) > 1
        else []
    )
    others = html.Div([*rows, html.Div(chips, className="waiting")], className="others")
    return row(own, -1) if own else None, others if bench_questions else None
