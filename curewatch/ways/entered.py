"""What was entered for plans: when somebody is there, the way of a part, what is wished of it."""

from __future__ import annotations

from datetime import date, datetime, time
from typing import Any

from curewatch.errors import StepError
from curewatch.events.events import Entry
from curewatch.frozen import frozen
from curewatch.garage.joint import name_of
from curewatch.store.ledger import Ledger
from curewatch.walltime import clock_time
from curewatch.ways.hours import DaySpell, Hours, day_spell, parse_week
from curewatch.ways.way import Way, generic_ways, parse_way

HOURS, WAY, WISH, WORK = "hours", "way", "wish", "work"
MINE = "mine"


@frozen
class PartWish:
    """What a part is to be, and by when: end '' for the whole way, by None for soonest."""

    end: str
    by: datetime | None


def set_hours(store: Ledger, week: str, loud_until: str, *, now: datetime) -> Hours:
    """Keep when somebody is there, as typed; loud_until '' for always. Raises ConfigError."""
    parse_week(week)
    if loud_until:
        clock_time(loud_until)
    store.add_entry(HOURS, MINE, "told", now, now, {"week": week, "loud_until": loud_until})
    return hours(store) or Hours(())


def set_otherwise(store: Ledger, day: date, text: str, *, now: datetime) -> None:
    """Keep a day that is otherwise: its hours like '9-13', '' where nobody is there."""
    if text:
        _spells(text)
    if hours(store) is None:
        raise StepError(
            "the usual week is not entered yet", fix="enter it first: curewatch plan hours"
        )
    body = {"day": day.isoformat(), "hours": text}
    store.add_entry(HOURS, MINE, "otherwise", now, now, body)


def _spells(text: str) -> tuple[DaySpell, ...]:
    pairs = [item.replace("–", "-").partition("-") for item in text.split(",") if item.strip()]
    return tuple(day_spell(start, end) for start, _, end in pairs)


def hours(store: Ledger) -> Hours | None:
    """When somebody is there, None where it was not entered."""
    week: str | None = None
    loud: time | None = None
    otherwise: dict[date, tuple[DaySpell, ...]] = {}
    for entry in store.entries(HOURS, MINE):
        body: Any = entry.body
        if entry.kind == "told":
            week = body["week"]
            loud = clock_time(body["loud_until"]) if body["loud_until"] else None
        elif entry.kind == "otherwise":
            otherwise[date.fromisoformat(body["day"])] = _spells(body["hours"])
    return None if week is None else Hours(parse_week(week), loud, otherwise)


def set_clamps(store: Ledger, count: int, *, now: datetime) -> None:
    """Keep how many clamps one owns."""
    store.add_entry(HOURS, MINE, "clamps", now, now, {"clamps": count})


def clamps(store: Ledger) -> int | None:
    """How many clamps one owns, None where that was not entered."""
    entries = [entry for entry in store.entries(HOURS, MINE) if entry.kind == "clamps"]
    return int(entries[-1].body["clamps"]) if entries else None


def typed_hours(store: Ledger) -> tuple[str, str] | None:
    """The usual week and until when it may be loud, as typed; None where it was not entered."""
    bodies = [entry.body for entry in store.entries(HOURS, MINE) if entry.kind == "told"]
    return (str(bodies[-1]["week"]), str(bodies[-1]["loud_until"])) if bodies else None


def _last(store: Ledger, subject: str, part: str, job: str) -> Entry | None:
    """The last entry of a part; where this job has none, that of any job."""
    entries = store.entries(subject, name_of(part))
    own = [entry for entry in entries if _is_of(entry, job)]
    entries_used = own or entries
    return entries_used[-1] if entries_used else None


def set_way(store: Ledger, part: str, job: str, id: str, text: str, *, now: datetime) -> Way:
    """Keep the way of a part, with the text of its file. Raises ConfigError."""
    way = parse_way(text, id)
    body = {"name": part, "job": job, "way": id, "text": text}
    store.add_entry(WAY, name_of(part), "told", now, now, body)
    return way


def way_text(store: Ledger, part: str, job: str) -> tuple[str, str] | None:
    """The id of a part's way and the text of its file, None where none was entered."""
    entry = _last(store, WAY, part, job)
    return None if entry is None else (str(entry.body["way"]), str(entry.body["text"]))


def way_of(store: Ledger, part: str, job: str) -> Way | None:
    """The way of a part, None where none was entered."""
    entered = way_text(store, part, job)
    return None if entered is None else parse_way(entered[1], entered[0])


def own_ways(store: Ledger) -> dict[str, Way]:
    """The ways of one's own that were chosen for any part, by their ids."""
    texts = {str(entry.body["way"]): str(entry.body["text"]) for entry in store.entries(WAY)}
    return {id: parse_way(text, id) for id, text in texts.items() if id not in generic_ways()}


def own_text(store: Ledger, id: str) -> str | None:
    """The text of a way of one's own as it was chosen last, None where there is none."""
    texts = [entry.body["text"] for entry in store.entries(WAY) if entry.body["way"] == id]
    return str(texts[-1]) if texts else None


def set_wish(store: Ledger, part: str, job: str, wish: PartWish, *, now: datetime) -> None:
    """Keep what is wished of a part. Raises ConfigError where its way does not end so."""
    way = way_of(store, part, job)
    if way is None:
        raise StepError(
            f"{part} has no way of work yet", fix="choose one: curewatch plan way PART WAY"
        )
    way.until(wish.end)
    at = (wish.by or now).isoformat()
    body = {"name": part, "job": job, "end": wish.end, "at": at, "soonest": wish.by is None}
    store.add_entry(WISH, name_of(part), "told", now, now, body)


def drop_wish(store: Ledger, part: str, job: str, *, now: datetime) -> None:
    """Take a wish back."""
    body = {"name": part, "job": job}
    store.add_entry(WISH, name_of(part), "dropped", now, now, body)


def wish_of(store: Ledger, part: str, job: str) -> PartWish | None:
    """What is wished of a part, None where nothing is."""
    entry = _last(store, WISH, part, job)
    if entry is None or entry.kind == "dropped":
        return None
    by = None if entry.body.get("soonest") else datetime.fromisoformat(str(entry.body["at"]))
    return PartWish(str(entry.body["end"]), by)


def wished(store: Ledger) -> list[tuple[str, str]]:
    """The parts with a wish that stands, and their jobs."""
    last: dict[tuple[str, str], Entry] = {}
    for entry in store.entries(WISH):
        last[(entry.name, str(entry.body["job"]).casefold())] = entry
    return [
        (str(entry.body["name"]), str(entry.body["job"]))
        for entry in last.values()
        if entry.kind == "told"
    ]


def dropped_since(store: Ledger, part: str, job: str, entry: int) -> bool:
    """Whether a part's wish was dropped after an entry of the ledger."""
    return any(
        other.id > entry and other.kind == "dropped" and _is_of(other, job)
        for other in store.entries(WISH, name_of(part))
    )


def _is_of(entry: Entry, job: str) -> bool:
    return str(entry.body["job"]).casefold() == job.casefold()


def begin(store: Ledger, part: str, job: str, does: str, *, now: datetime) -> None:
    """Keep that a step which takes no product was begun; a mix says so by itself."""
    body = {"name": part, "job": job, "does": does}
    store.add_entry(WORK, name_of(part), "begun", now, now, body)


def begun(store: Ledger, part: str, job: str) -> list[tuple[datetime, str]]:
    """When steps without a product were begun on a part, and which."""
    entries = store.entries(WORK, name_of(part))
    return [(entry.at, str(entry.body["does"])) for entry in entries if _is_of(entry, job)]
