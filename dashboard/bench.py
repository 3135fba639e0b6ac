"""The bench page: what comes next, the air, the ribbons, and what a touch records."""

from __future__ import annotations

import hashlib
import re
from dataclasses import replace
from datetime import timedelta
from typing import Any

from flask import Flask, Response, jsonify, render_template, request
from werkzeug.wrappers import Response as AnyResponse

from curewatch.bench import finishing
from curewatch.bench.views import BenchView, StepView
from curewatch.errors import StillOpenError, UnlikelyError
from curewatch.garage import unnamed_mix
from curewatch.protection import airing
from curewatch.protection.purge import purges, recently_closed
from curewatch.protection.wearing import to_discard
from curewatch.walltime import from_ms
from curewatch.wording import clock_words, milestone_words, sensor_words, words
from dashboard import alarms, axis, damaged, ribbons, undo
from dashboard.band import (
    asked,
    changes,
    closings,
    dew_from,
    focus,
    main_air,
    minutes_to,
    ms,
    next_of,
    others,
    reminding,
    stalled,
    then_of,
    tools,
    unexplained,
    unmasked,
    unsure,
    when_due,
)
from dashboard.evening import evening_part
from dashboard.forms import ago_of, once
from dashboard.hall import Hall, axis_min, drawing_size
from dashboard.numbers import MOST_MS, number_of
from dashboard.recent import recent
from dashboard.undo import answered

PARTS = ("next", "do", "purge", "evening", "air", "moved", "chart", "rest")
_TICKING = re.compile(r'(<(span|time)[^>]* data-(?:down|up|age)="\d+"[^>]*>).*?(</\2>)', re.S)
_ROW = re.compile(r'class="(?:doing|bare-asked|bare-line)\b')
_ONCE = re.compile(r'name="once" value="[^"]*"')


def _still(view: BenchView, width_px: float, stretch: axis.Stretch) -> BenchView:
    """The view with its now held to the pixel or the minute: it changes only when that is seen."""
    pixel_s = (stretch[1] - stretch[0]).total_seconds() / max(width_px, 1.0)
    step_s = min(max(pixel_s, 1.0), 60.0)
    return replace(view, now=view.now - timedelta(seconds=view.now.timestamp() % step_s))


def _lanes(view: BenchView) -> tuple[StepView, ...]:
    return ribbons.lanes(view, ribbons.most_lanes(view, drawing_size(request)))


def _held(view: BenchView) -> axis.Stretch | None:
    """The axis a device asks to keep, unless the steps on it have changed meanwhile."""
    start, _, rest = request.args.get("hold", "").partition(",")
    end, _, lanes = rest.partition(",")
    shown = ".".join(str(step.id) for step in _lanes(view))
    held = number_of(start), number_of(end)
    if lanes not in ("*", shown) or None in held:
        return None
    first, last = (from_ms(min(each or 0, MOST_MS)) for each in held)
    return (first, last) if first < last else None


def _drawing(hall: Hall, view: BenchView) -> str:
    size = drawing_size(request)
    wanted = axis.choose(view, axis_min(request))
    stretch = axis.kept(view.now, _held(view), wanted)
    return ribbons.bench(_still(view, size.width, stretch), size, hall.manner(request), stretch)


def _gone(hall: Hall) -> list[str]:
    return [] if hall.store.in_place() else [words.LOGBOOK_GONE]


def _not_yet(view: BenchView, manner: words.ReaderFormat) -> list[str]:
    found = clock_words.not_yet(view)
    return [clock_words.mixed_later(step, view.now, manner) for step in found]


def _unheard(view: BenchView, manner: words.ReaderFormat) -> list[str]:
    return [sensor_words.lost(each, manner, view.now) for each in view.lost if each.steps]


def _context(hall: Hall, view: BenchView) -> dict[str, Any]:
    manner = hall.manner(request)
    drawn = {step.id for step in _lanes(view)}
    waiting = unnamed_mix.waiting(hall.store, view.now)
    return {
        "air": main_air(view.air, [step.place for step in reversed(view.steps)]),
        "purges": purges(
            view, airing.last_room(hall.store), manner, recently_closed(hall.bench, view.now)
        ),
        "worn_out": to_discard(hall.bench, view.now, hall.zone) if view.steps else [],
        "changes": changes(hall.moved.steadied(view)),
        "closings": closings(view),
        "copies": hall.copies(),
        "chart": _drawing(hall, view),
        "damaged": damaged.said(hall, hall.bench.reader.damaged(view.now)),
        "dew": dew_from(view),
        "focus": focus(view),
        **evening_part(hall),
        "minutes_to": minutes_to,
        "ms": ms,
        "next": next_of(asked(view)[0], view.now, manner) if view.due else None,
        "lost": [*_gone(hall), *_not_yet(view, manner)[:1], *_unheard(view, manner)[:1]],
        "lately": recent(hall.bench) if waiting or not view.steps else [],
        "over": when_due(view, manner),
        "others": others(view, drawn),
        "reminding": reminding(view),
        "stalled": stalled(view),
        "then": then_of(view),
        "tools": tools(view),
        "unexplained": unexplained(view),
        "unmasked": unmasked(view),
        "unsure": unsure(view),
        "view": view,
        "waiting": waiting[-1] if waiting else None,
    }


def mark(html: str) -> str:
    """A short mark of a part's text that does not change while it only ticks."""
    still = _ONCE.sub("", _TICKING.sub(r"\1\3", html))
    return hashlib.sha256(still.encode()).hexdigest()[:12]


def parts(hall: Hall, view: BenchView) -> dict[str, dict[str, str]]:
    """The page's parts, each with the mark that tells whether it changed."""
    held = _context(hall, view)
    found = {}
    for name in PARTS:
        html = render_template(f"_{name}.html", **held)
        found[name] = {"mark": mark(html), "html": html}
    return found


def _pressed(hall: Hall) -> dict[str, Any]:
    """What the buttons on MQTT last did, and the keys of the alarms they silenced."""
    last = hall.presses.last
    did = undo.found(hall, last.act)
    told = {"act": did.act, "label": did.label} if did else {}
    return {"number": last.number, "said": last.said, "silenced": sorted(last.silenced), **told}


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
        clock_back=clock_words.on_page(hall.went_back(), manner),
        running=bool(view.steps),
        revision=view.revision,
        alarms=alarms.told(view, manner),
        pressed=_pressed(hall),
        parts={name: part for name, part in wanted.items() if held.get(name) != part["mark"]},
    )


def _touches(app: Flask, hall: Hall) -> None:
    @app.post("/step/<int:number>/answer")
    def answer(number: int) -> AnyResponse | tuple[str, int]:
        result, name = request.form.get("result", ""), request.form.get("milestone") or None
        now = hall.clock()
        if not hall.tokens.first(once()):
            return answered("Saved.")
        sure = request.form.get("sure") == "yes"
        try:
            name = hall.bench.test(number, result, now=now, milestone=name, sure=sure)
        except UnlikelyError as error:
            asked = {"number": number, "milestone": name, "result": result}
            return render_template("really.html", odd=error.what, **asked), 409
        found = hall.bench.step_view(number, now).by_name.get(name)
        return answered(milestone_words.recorded(result, found, now, hall.manner(request)))

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
        return answered()

    @app.post("/step/<int:number>/finish")
    def finish(number: int) -> AnyResponse | tuple[str, int]:
        now, sure = hall.clock(), request.form.get("sure") == "yes"
        try:
            if hall.tokens.first(once()):
                finishing.finish(hall.bench, number, now=now, say=hall.manner(request), sure=sure)
        except StillOpenError as error:
            return render_template("finish.html", number=number, open=error.what), 409
        return answered()


def register(app: Flask, hall: Hall) -> None:
    """Put the bench page, its state and its touches on the app."""

    @app.get("/")
    def bench_page() -> str:
        view = hall.bench.view(hall.clock())
        found = parts(hall, view)
        rows = sum(len(_ROW.findall(found[name]["html"])) for name in ("do", "purge", "evening"))
        return render_template("bench.html", parts=found, order=PARTS, rows=rows)

    @app.get("/state.json")
    def state() -> Response:
        return _state(hall)

    _touches(app, hall)
