"""The bench page: what comes next, the air, the ribbons, and what a touch records."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from flask import Flask, Response, jsonify, redirect, render_template, request
from werkzeug.wrappers import Response as AnyResponse

from curewatch.errors import StepError
from curewatch.views import AirTile, BenchView, DueView, StepView
from dashboard import figures, words
from dashboard.hall import Hall, axis_min, drawing_size
from dashboard.words import Manner, Rounding

PARTS = ("next", "do", "air", "moved", "chart", "rest")
EARLY_SHOWN = ("pot_life", "working_time", "recoat_closes")
FAR = timedelta(hours=12)
_TICKING = re.compile(r'(<(span|time)[^>]* data-(?:down|up|age)="\d+"[^>]*>).*?(</\2>)', re.S)


def ms(at: datetime) -> int:
    """An instant as the browser counts it: milliseconds since 1970. [ms]"""
    return round(at.timestamp() * 1000)


def rounding(milestone: str) -> Rounding:
    """Down for what ends, up for what one waits for."""
    return "down" if milestone in EARLY_SHOWN else "up"


def minutes_to(at: datetime, now: datetime) -> float:
    """From now to an instant. [min]"""
    return (at - now).total_seconds() / 60


@dataclass(frozen=True)
class Next:
    """The band at the top: one thing to do, and when."""

    step_id: int
    milestone: str
    sentence: str
    due: bool
    at: datetime | None
    rounding: Rounding
    lines: tuple[str, ...]
    reason: str
    test: str
    answers: tuple[str, str]
    part: str


@dataclass(frozen=True)
class Then:
    """A later thing: its words and its instant."""

    text: str
    at: datetime | None
    due: bool
    rounding: Rounding
    far: bool


def _lines(due: DueView, now: datetime, manner: Manner) -> tuple[str, ...]:
    if due.shown is None:
        return due.warnings[:2]
    said = []
    if due.milestone in EARLY_SHOWN:
        if due.likely:
            said.append(f"likely until {manner.moment(due.likely, now)}")
        said.append(f"act by {manner.moment(due.shown, now)}")
    else:
        if due.likely and due.likely > now:
            up = words.span(minutes_to(due.likely, now), "up")
            said.append(f"likely from {up}")
        elif due.likely:
            said.append(f"likely since {manner.moment(due.likely, now)}")
        said.append(f"at the latest {manner.moment(due.shown, now)}")
    return tuple(said)


def next_of(due: DueView, now: datetime, manner: Manner) -> Next:
    """What the band says of a milestone."""
    part = words.part_of(due.part, due.sheet_name)
    say = words.test_now if due.due else words.do if due.shown else words.no_time
    return Next(
        step_id=due.step_id,
        milestone=due.milestone,
        sentence=say(due.milestone, part),
        due=due.due,
        at=due.shown,
        rounding=rounding(due.milestone),
        lines=_lines(due, now, manner),
        reason=due.reason,
        test=words.TEST.get(due.milestone, ""),
        answers=words.ANSWERS.get(due.milestone, ("It was", "Not yet")),
        part=part,
    )


def _coming(view: BenchView) -> list[tuple[int, str, str, datetime | None, bool]]:
    """Every milestone ahead: what each step asks, then what follows on its sheet."""
    found = []
    for due in view.due:
        part = words.part_of(due.part, due.sheet_name)
        found.append((due.step_id, due.milestone, part, due.shown, due.due))
    known = {each[:2] for each in found}
    for step in view.steps:
        part = words.part_of(step.part, step.sheet.name)
        for each in step.milestones:
            ahead = each.shown is not None and each.shown > view.now and each.answered != "passed"
            if ahead and each.name != "pot_life" and (step.id, each.name) not in known:
                found.append((step.id, each.name, part, each.shown, False))
    return found


def then_of(view: BenchView, most: int = 3) -> list[Then]:
    """What follows the band: what else is due, then by time; what has no time comes last."""
    found = sorted(
        _coming(view)[1:], key=lambda each: (not each[4], each[3] is None, each[3] or view.now)
    )
    return [
        Then(words.then(name, part), at, due, rounding(name), at is not None and _far(at, view))
        for _, name, part, at, due in found[:most]
    ]


def _far(at: datetime, view: BenchView) -> bool:
    return at - view.now > FAR


def focus(view: BenchView) -> StepView | None:
    """The step whose dab is asked about: the next one's, else the last mixed."""
    if not view.steps:
        return None
    wanted = view.due[0].step_id if view.due else view.steps[-1].id
    return next((step for step in view.steps if step.id == wanted), view.steps[-1])


def reminding(view: BenchView) -> StepView | None:
    """The last mixed step with reminders nobody answered in its first half hour."""
    for step in reversed(view.steps):
        fresh = view.now - step.mixed_at < timedelta(minutes=30)
        if fresh and any(each.answered_at is None for each in step.reminders):
            return step
    return None


def stalled(view: BenchView) -> StepView | None:
    """The step the band speaks of when no time can be given for any."""
    if not view.due or view.due[0].shown is not None:
        return None
    return next((step for step in view.steps if step.id == view.due[0].step_id), None)


def main_air(tiles: Sequence[AirTile]) -> list[AirTile]:
    """The present values for the bench: at most five, panel and dew point among them."""
    wanted = [
        ("panel", "surface_temperature"),
        ("air", "air_temperature"),
        ("air", "relative_humidity"),
        ("panel", "dew_point_spread"),
        ("outdoors", "air_temperature"),
    ]
    held = {(tile.place, tile.quantity): tile for tile in tiles}
    chosen = [held[key] for key in wanted if key in held]
    others = [tile for tile in tiles if (tile.place, tile.quantity) not in wanted]
    return (chosen + others)[:5]


def dew_from(view: BenchView) -> datetime | None:
    """From when dew is likely, if it is."""
    spells = view.track.dew if view.track else ()
    return next((max(start, view.now) for start, end in spells if end > view.now), None)


def alarms(view: BenchView, manner: Manner) -> list[dict[str, Any]]:
    """What the browser should sound, from when: due, nearly over, stop, sensor lost."""
    found = []
    for due in view.due:
        if due.shown is None:
            continue
        part = words.part_of(due.part, due.sheet_name)
        key = f"{due.step_id}.{due.milestone}.{ms(due.shown) // 60000 if due.due else 0}"
        said = f"{words.milestone(due.milestone)}, {part}: test now"
        found.append({"key": f"due.{key}", "kind": "due", "at": ms(due.shown), "say": said})
        if due.milestone in ("working_time", "pot_life"):
            before = ms(due.shown - timedelta(minutes=2))
            said = f"working time of {part} is nearly over"
            found.append({"key": f"ending.{key}", "kind": "ending", "at": before, "say": said})
    for step in view.steps:
        if step.forecast.stalled_now:
            said = f"{words.part_of(step.part, step.sheet.name)} has stalled: too cold"
            found.append({"key": f"stop.{step.id}", "kind": "stop", "at": 0, "say": said})
    lost = [tile for tile in main_air(view.air) if tile.old and tile.place != "outdoors"]
    if view.steps and lost:
        said = f"no new reading from {lost[0].place}"
        key = f"lost.{lost[0].place}.{lost[0].quantity}"
        found.append({"key": key, "kind": "lost", "at": 0, "say": said})
    return found


def _still(view: BenchView, width_px: float) -> BenchView:
    """The view with its now held to the pixel, so that the drawing changes only when seen."""
    span_s = max((view.now - min((s.mixed_at for s in view.steps), default=view.now)).seconds, 3600)
    step_s = max(span_s / max(width_px, 1.0), 5.0)
    at = view.now - timedelta(seconds=view.now.timestamp() % step_s)
    return replace(view, now=at)


def _context(hall: Hall, view: BenchView) -> dict[str, Any]:
    manner, size = hall.manner(request), drawing_size(request)
    drawn = {step.id for step in figures.lanes(view)}
    return {
        "air": main_air(view.air),
        "all_due": [due for due in view.due if due.due],
        "changes": [(step, change) for step in view.steps for change in step.changes],
        "chart": figures.bench(_still(view, size.width), size, manner, axis_min(request)),
        "dew": dew_from(view),
        "focus": focus(view),
        "minutes_to": minutes_to,
        "ms": ms,
        "next": next_of(view.due[0], view.now, manner) if view.due else None,
        "others": [step for step in view.steps if step.id not in drawn],
        "reminding": reminding(view),
        "stalled": stalled(view),
        "then": then_of(view),
        "view": view,
    }


def mark(html: str) -> str:
    """A short mark of a part's text that does not change while it only ticks."""
    still = _TICKING.sub(r"\1\3", html)
    return hashlib.sha256(still.encode()).hexdigest()[:12]


def parts(hall: Hall, view: BenchView) -> dict[str, dict[str, str]]:
    """The page's parts, each with the mark that tells whether it changed."""
    held = _context(hall, view)
    found = {}
    for name in PARTS:
        html = render_template(f"_{name}.html", **held)
        found[name] = {"mark": mark(html), "html": html}
    return found


def _state(hall: Hall) -> Response:
    now = hall.clock()
    view, manner = hall.bench.view(now), hall.manner(request)
    told = request.args.get("have", "").split(",")
    held = dict(pair.split(":", 1) for pair in told if ":" in pair)
    wanted = parts(hall, view) if held else {}
    return jsonify(
        now=ms(now),
        speed=hall.speed,
        clock=manner.clock(now),
        running=bool(view.steps),
        revision=view.revision,
        alarms=alarms(view, manner),
        parts={name: part for name, part in wanted.items() if held.get(name) != part["mark"]},
    )


def answered(said: str, home: str = "/") -> AnyResponse:
    """What a recorded touch gets back: a word for the script, a page for plain forms."""
    if request.headers.get("X-Live") == "1":
        return jsonify(said=said)
    return redirect(home, 303)


def once() -> str:
    """The form's token."""
    return request.form.get("once", "")


def ago_of(text: str | None) -> timedelta:
    """How long ago, as a form says it in minutes."""
    try:
        minutes = float((text or "0").replace(",", "."))
    except ValueError:
        shown = (text or "")[:20]
        raise StepError(f"{shown!r} is no number of minutes", fix="write it like 3") from None
    if not 0 <= minutes <= 10_080:
        raise StepError("that was not within the last week", fix="say how many minutes ago")
    return timedelta(minutes=minutes)


def _touches(app: Flask, hall: Hall) -> None:
    @app.post("/step/<int:number>/answer")
    def answer(number: int) -> AnyResponse:
        result, name = request.form.get("result", ""), request.form.get("milestone") or None
        if hall.tokens.first(once()):
            hall.bench.test(number, result, now=hall.clock(), milestone=name)
        return answered(words.RECORDED.get(result, "Recorded."))

    @app.post("/step/<int:number>/witness")
    def witness(number: int) -> AnyResponse:
        state, now = request.form.get("state", ""), hall.clock()
        sample = request.form.get("sample", "smear")
        seen = now - ago_of(request.form.get("ago"))
        if hall.tokens.first(once() and once() + state):
            hall.bench.witness(number, state, now=now, seen_at=seen, sample=sample)
        said = words.STATES.get(state, state)
        return answered(f"Seen at {hall.manner(request).clock(seen)}: {said}.", f"/step/{number}")

    @app.post("/step/<int:number>/remind")
    def remind(number: int) -> AnyResponse:
        hall.bench.acknowledge(number, request.form.get("key", ""), now=hall.clock())
        return answered("Noted in the log.")

    @app.post("/step/<int:number>/finish")
    def finish(number: int) -> AnyResponse:
        hall.bench.finish(number, now=hall.clock())
        return answered("Off the bench; it stands in the log.")


def register(app: Flask, hall: Hall) -> None:
    """Put the bench page, its state and its touches on the app."""

    @app.get("/")
    def bench_page() -> str:
        view = hall.bench.view(hall.clock())
        return render_template("bench.html", parts=parts(hall, view), order=PARTS)

    @app.get("/state.json")
    def state() -> Response:
        return _state(hall)

    _touches(app, hall)
