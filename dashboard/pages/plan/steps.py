"""The steps of a part's way, each to be changed, taken out or put elsewhere, and one to be added:
so that a way of one's own is made from another."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any
from urllib.parse import parse_qsl, urlencode
from zlib import crc32

from dash import dcc, html

from curewatch.errors import QuantityError, StepError
from curewatch.store.store import Store
from curewatch.text import one_line, slug
from curewatch.units import parse_duration
from curewatch.vocabulary import MILESTONES, WAITED
from curewatch.ways import entered
from curewatch.ways.way import (
    MOST_CLAMPS,
    MOST_HANDS_MIN,
    MOST_STEPS,
    Way,
    WayStep,
    way_text,
)
from curewatch.wording.words import KIND
from dashboard.context.page_context import PageContext
from dashboard.context.planning import APART, form_key
from dashboard.pages.components import first_up, link
from dashboard.pages.touches import KEPT, Form, TouchOutcome, WrongField, WrongFields, at_field
from dashboard.request.boxes import in_unit
from dashboard.request.numbers import number_of

STEPS, NAME, MOST_NAMED = "plan steps", "name", 10
_FLAGS = {"loud": "It is loud", "dusty": "It makes dust", "bares": "It leaves bare metal"}
_KINDS = {"": "None"} | {kind: first_up(words) for kind, words in KIND.items()}
_WAITS = {"": "Nothing"} | {name: first_up(MILESTONES[name]) for name in WAITED}
Values = Mapping[str, Any]


def _field(place: int, name: str) -> str:
    return f"{place}.{name}"


def _mark(way: Way) -> str:
    """What tells a way from what it was before, so that its form is a new one once it changed."""
    return str(crc32(repr(way).encode()))


def _choice(form: Form, field: str, legend: str, options: Mapping[str, str], value: str) -> Any:
    picked = dcc.RadioItems(
        id=form.id(field), options=dict(options), value=value, className="picks-one", **KEPT
    )
    return html.Fieldset([html.Legend(legend), picked, form.wrong(field)], className="choices")


def _flags(form: Form, place: int, step: WayStep | None) -> html.Fieldset:
    ticked = [name for name in _FLAGS if step is not None and getattr(step, name)]
    ticks = dcc.Checklist(
        id=form.id(_field(place, "flags")), options=dict(_FLAGS), value=ticked,
        className="picks-many", **KEPT,
    )  # fmt: skip
    return html.Fieldset([html.Legend("While it is done"), ticks], className="choices")


def _boxes(form: Form, place: int, step: WayStep | None) -> list[Any]:
    """What is typed of a step."""
    values = {
        "does": ("What is done (empty: no such step)", "" if step is None else step.does),
        "hands": ("Hands on it, min", "" if step is None else f"{step.hands_min:g}"),
        "after": ("Mixed after, min", f"{step.mixed_after_min:g}" if step else ""),
        "airing": ("Air the room afterwards, min", f"{step.airing_min:g}" if step else ""),
        "clamps": ("Clamps it puts on", str(step.clamps) if step else ""),
        "then": ("The part is then", step.then if step else ""),
        "number": ("Its place in the order", str(place + 1)),
    }
    figures = ("hands", "after", "airing", "clamps", "number")
    return [
        form.box(_field(place, name), label, value,
                 **({"inputMode": "decimal"} if name in figures else {}))
        for name, (label, value) in values.items()
    ]  # fmt: skip


def _step(form: Form, place: int, step: WayStep | None) -> html.Details:
    title = "One more step" if step is None else f"{place + 1}. {first_up(step.does)}"
    kind, waits = ("", "") if step is None else (step.kind, step.waits_for)
    components = [
        html.Div(_boxes(form, place, step), className="fields"),
        _choice(form, _field(place, "kind"), "Product it takes", _KINDS, kind),
        _choice(form, _field(place, "waits"), "The next step waits for", _WAITS, waits),
        _flags(form, place, step),
    ]
    return html.Details([html.Summary(title), *components], className="way-step")


def steps_link(part: str, job: str) -> html.A:
    """Where the steps of a part's way are changed."""
    return link("Change the steps", f"/plan?{urlencode({'part': part, 'job': job})}")


def steps_box(store: Store, query: str) -> list[Any] | None:
    """The steps of the part that an address names, to be changed; None where it names none with a
    way. Under another name it is another way."""
    try:
        named = dict(parse_qsl(query, max_num_fields=MOST_NAMED))
    except ValueError:
        return None
    part, job = named.get("part", ""), named.get("job", "")
    way = entered.way_of(store, part, job) if part else None
    if way is None:
        return None
    form = Form(STEPS, f"{form_key(part, job)}{APART}{_mark(way)}")
    steps: list[WayStep | None] = [*way.steps, *([None] if len(way.steps) < MOST_STEPS else [])]
    name = form.box(NAME, "Name of this way of work", way.name, maxLength=60)
    hint = "Under another name it is a way of your own, for other parts too."
    return [
        html.H2(f"How {part} is worked on"),
        html.Div(name, className="fields"),
        html.P(hint, className="hint"),
        *(_step(form, place, step) for place, step in enumerate(steps)),
        form.wrong(),
        html.P([form.send("Save the steps"), link("Back", "/plan")], className="buttons"),
    ]


def _typed(values: Values, place: int, name: str) -> str:
    return one_line(str(values.get(_field(place, name)) or "")).strip()


def _min(values: Values, place: int, name: str) -> float:
    """A length of time as typed; none where the box is empty. [min]"""
    text = _typed(values, place, name)
    with at_field(_field(place, name)):
        length_min = in_unit(text, "min", parse_duration) if text else 0.0
        if not 0 <= length_min <= MOST_HANDS_MIN:
            raise QuantityError(f"{text!r} is no length of work", fix="write it in minutes")
    return length_min


def _count(values: Values, place: int, name: str, least: int, most: int) -> int:
    """A whole number as typed; the least where the box is empty."""
    text = _typed(values, place, name)
    with at_field(_field(place, name)):
        count = number_of(text) if text else least
        if count is None or not least <= count <= most:
            raise QuantityError(f"{text[:20]!r} is no such number", fix=f"give {least} to {most}")
    return count


def _read(values: Values, place: int) -> WayStep:
    """A step as its form says it."""
    hands_min = _min(values, place, "hands")
    if hands_min <= 0:
        with at_field(_field(place, "hands")):
            raise QuantityError("how long are the hands on it?", fix="write it in minutes")
    kind, waits = _typed(values, place, "kind"), _typed(values, place, "waits")
    if waits and not kind:
        with at_field(_field(place, "waits")):
            raise StepError("only a product is waited for", fix="choose the product it takes")
    ticked = values.get(_field(place, "flags")) or []
    return WayStep(
        _typed(values, place, "does"),
        hands_min,
        kind if kind in KIND else "",
        min(_min(values, place, "after"), hands_min),
        waits if waits in WAITED else "",
        then=_typed(values, place, "then"),
        airing_min=_min(values, place, "airing"),
        clamps=_count(values, place, "clamps", 0, MOST_CLAMPS),
        **{name: name in ticked for name in _FLAGS},
    )


@contextmanager
def _named(does: str) -> Iterator[None]:
    """What is wrong with a step is said at its box and, as that may be folded, under them all."""
    try:
        yield
    except WrongField as error:
        raise WrongFields({error.field: str(error), "": f"{first_up(does)}: {error}"}) from error


def _steps(values: Values) -> Iterator[tuple[int, bool, WayStep]]:
    """The steps that are left, each with its place in the order; one that moved there comes before
    the one that was there."""
    for place in range(MOST_STEPS):
        if does := _typed(values, place, "does"):
            with _named(does):
                number = _count(values, place, "number", 1, MOST_STEPS)
                yield number, number == place + 1, _read(values, place)


def save_steps(context: PageContext, key: str, values: Values) -> TouchOutcome:
    """Keep a part's way with other steps. Raises what is wrong at its box."""
    part, job, mark = [*key.split(APART), "", ""][:3]
    present = entered.way_of(context.store, part, job)
    if present is None or _mark(present) != mark:
        raise StepError("the steps were changed meanwhile", fix="load the page again")
    name = one_line(str(values.get(NAME) or "")).strip()
    with at_field(NAME):
        if not name:
            raise StepError("the way has no name", fix="write one, like 'Seal a seam'")
    ordered = sorted(_steps(values), key=lambda row: row[:2])
    if not ordered:
        raise StepError("a way has a step at least", fix="say what is done first")
    id = present.id if name == present.name else slug(name) or "own"
    text = way_text(name, [step for _, _, step in ordered])
    entered.set_way(context.store, part, job, id, text, now=context.clock())
    return TouchOutcome(text=f"{part}: steps saved, {name}.", go="/plan")
