"""What is said of airing a room: plain data for scripts, and the lines a terminal shows; and the
room as it was described last.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from math import exp
from typing import Any

from curewatch.durations import duration
from curewatch.errors import ModelError
from curewatch.formats import ReaderFormat
from curewatch.frozen import frozen
from curewatch.products.hazards import Hazards
from curewatch.products.sheet import Sheet
from curewatch.protection import ventilation
from curewatch.protection.ventilation import Level, Room
from curewatch.store.ledger import Ledger

SHARES = {"90": 0.90, "99": 0.99, "99.9": 0.999}
SHARES_OF_WORK = (0.25, 0.5, 0.75, 1.0)
POINTS = 60
NEAR = "the mean of the room: near the work it is higher"
ODOUR = "you cannot judge it by smell"
NO_LIMIT = "curewatch has no limit for it, which does not mean no hazard: see the safety data sheet"
THIN = "its density is not entered; worked out with that of water, which gives a high level"


@frozen
class Airing:
    """A room's airing: purge {percent removed: [min]}, the solvent's level where one is named, and
    why there is no number at all."""

    room: Room
    purge: dict[str, float] | None
    level: Level | None
    refused: str
    notes: tuple[str, ...]


def airing(
    room: Room,
    sheet: Sheet | None = None,
    *,
    amount_g: float | None = None,
    over_min: float = 30.0,
    sprayed: bool = False,
    sanded: bool = False,
) -> Airing:
    """Airing times of a room, and the vapour of an amount of a product in it.

    amount_g: of product [g]; over_min: how long it gives off its solvent [min].
    """
    hazards = sheet.hazards if sheet else Hazards()
    refused = ventilation.no_number(hazards, sprayed=sprayed, sanded=sanded)
    if refused:
        return Airing(room, None, None, refused, ())
    purge = {
        name: ventilation.purge_min(room.air_changes_per_h, share, room.mixing)
        for name, share in SHARES.items()
    }
    level, notes = _level(room, sheet, amount_g, over_min)
    return Airing(room, purge, level, "", (*notes, ventilation.MINIMUM))


def build_up(airing: Airing) -> list[tuple[float, float]]:
    """The mean level while it is given off: minutes from the start [min], and the level in ppm, or
    in mg/m3 where no molar mass is known. [ppm or mg/m3]"""
    level = airing.level
    if level is None:
        return []
    whole = ventilation.build_up_h(airing.room.mixed_per_h, level.over_min / 60)
    most = level.mg_m3 if level.ppm is None else level.ppm
    shares = [level.over_min * share for share in SHARES_OF_WORK]
    return [
        (at, most * ventilation.build_up_h(airing.room.mixed_per_h, at / 60) / whole)
        for at in shares
    ]


def course(airing: Airing) -> tuple[list[float], list[float], list[float]]:
    """The level building up and clearing: minutes from the start [min], the mean of the room, and
    the same with no air moving, in the level's unit. [ppm or mg/m3]"""
    level, purge = airing.level, airing.purge
    if level is None or purge is None:
        return [], [], []
    end_min = level.over_min + purge["99"]
    working = [level.over_min * number / POINTS for number in range(POINTS + 1)]
    after = [purge["99"] * number / POINTS for number in range(1, POINTS + 1)]
    most = level.mg_m3 if level.ppm is None else level.ppm
    still = most * level.still_mg_m3 / level.mg_m3
    whole_h = ventilation.build_up_h(airing.room.mixed_per_h, level.over_min / 60)
    rising = [
        most * ventilation.build_up_h(airing.room.mixed_per_h, at / 60) / whole_h for at in working
    ]
    falling = [most * exp(-airing.room.mixed_per_h * at / 60) for at in after]
    times = [*working, *(level.over_min + at for at in after[:-1]), end_min]
    shares = [min(at / level.over_min, 1.0) for at in times]
    return times, rising + falling, [still * share for share in shares]


def _level(
    room: Room, sheet: Sheet | None, amount_g: float | None, over_min: float
) -> tuple[Level | None, tuple[str, ...]]:
    if sheet is None or amount_g is None:
        return None, ()
    solvent = sheet.hazards.solvent
    if solvent is None:
        return None, (f"the label of {sheet.name} names no solvent: no level can be given",)
    density = sheet.density_g_ml
    grams = ventilation.solvent_grams(amount_g, solvent.g_per_l, density)
    notes = (NEAR, ODOUR) if density else (NEAR, ODOUR, THIN)
    return ventilation.level(room, solvent.name, grams, over_min), notes


def as_json(airing: Airing) -> dict[str, Any]:
    """An airing as plain data: minutes, mg/m3 and ppm; null where no number is given."""
    return {
        "room_m3": airing.room.volume_m3,
        "flow_m3_h": airing.room.flow_m3_h,
        "mixing_factor": airing.room.mixing,
        "air_changes_per_h": round(airing.room.air_changes_per_h, 3),
        "purge_min": airing.purge and {name: round(v, 1) for name, v in airing.purge.items()},
        "level": None if airing.level is None else _level_json(airing.level),
        "build_up": [
            {"after_min": round(at, 1), "level": round(value, 1)} for at, value in build_up(airing)
        ],
        "no_number": airing.refused or None,
        "notes": list(airing.notes),
    }


def _level_json(level: Level) -> dict[str, Any]:
    limit = level.limit
    return {
        "solvent": level.solvent,
        "grams": round(level.grams, 1),
        "over_min": level.over_min,
        "mg_m3": round(level.mg_m3, 1),
        "mg_m3_without_air": round(level.still_mg_m3, 1),
        "ppm": _rounded(level.ppm, 1),
        "lowest_limit_ppm": limit and limit.lowest_ppm,
        "limit_source": limit and limit.source,
        "times_limit": _rounded(level.times_limit, 3),
        "fire_ppm": limit and round(limit.fire_ppm),
        "times_fire": _rounded(level.times_fire, 3),
    }


def _rounded(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)


def _level_lines(level: Level, say: ReaderFormat) -> Iterator[str]:
    amount = f"  {level.solvent}: {level.grams:.0f} g evaporating over {duration(level.over_min)}"
    if level.limit is None or level.ppm is None:
        yield f"{amount} leave up to {level.mg_m3:.0f} mg/m3"
        yield f"    {NO_LIMIT}"
        return
    limit = level.limit
    yield f"{amount} leave up to {level.ppm:.0f} ppm"
    times_limit, fire_pct = (
        say.figure(ratio, ".2g" if ratio < 10 else ".0f")
        for ratio in (level.times_limit or 0.0, 10 * (level.times_fire or 0.0))
    )
    yield (
        f"    {times_limit} times the strictest exposure limit found, "
        f"{say.figure(limit.lowest_ppm)} ppm ({limit.source})"
    )
    yield (
        f"    {fire_pct} % of the lower explosive limit; the fire limit is 10 % of it, "
        f"{limit.fire_ppm:.0f} ppm; {ventilation.NO_HEALTH_LEVEL}"
    )


def level_lines(airing: Airing, say: ReaderFormat) -> Iterator[str]:
    """What is said of the level, where there is one."""
    if airing.level is not None:
        yield from _level_lines(airing.level, say)


def lines(airing: Airing, say: ReaderFormat) -> Iterator[str]:
    """An airing for a terminal."""
    room = airing.room
    yield (
        f"{say.figure(room.volume_m3)} m3 and {say.figure(room.flow_m3_h)} m3/h: "
        f"{say.figure(room.air_changes_per_h, '.1f')} air changes an hour, "
        f"mixing factor {say.figure(room.mixing)}"
    )
    if airing.refused:
        yield f"  {airing.refused}."
        return
    text = ", ".join(
        f"{say.figure(float(share))} % in {duration(value, 'up')}"
        for share, value in (airing.purge or {}).items()
    )
    yield f"  vapour aired out, once no more evaporates: {text}"
    yield from level_lines(airing, say)
    if airing.level is not None:
        unit = "mg/m3" if airing.level.ppm is None else "ppm"
        text = ", ".join(
            f"{value:.0f} {unit} after {duration(at)}" for at, value in build_up(airing)
        )
        yield f"    builds up to {text}"
    yield from (f"  ! {note}" for note in airing.notes)


SUBJECT, NAME = "room", "garage"


def last_room(store: Ledger) -> Room | None:
    """The room entered last, None where none ever was."""
    entries = store.entries(SUBJECT, NAME)
    if not entries:
        return None
    body = entries[-1].body
    return Room(body["volume_m3"], body["flow_m3_h"], body["mixing"])


def record_room(store: Ledger, room: Room, *, now: datetime) -> None:
    """Record a room; the same one is not recorded twice."""
    if last_room(store) == room:
        return
    body = {"volume_m3": room.volume_m3, "flow_m3_h": room.flow_m3_h, "mixing": room.mixing}
    store.add_entry(SUBJECT, NAME, "told", now, now, body)


def entered(
    store: Ledger,
    volume_m3: float | None,
    flow_m3_h: float | None,
    mixing: float | None,
    *,
    now: datetime,
) -> Room:
    """The room as entered now, with figures left out as entered before; it is recorded.

    volume_m3 [m3], flow_m3_h [m3/h], mixing factor [-]. Raises ModelError where none is known.
    """
    before = last_room(store)
    if before is None and (volume_m3 is None or flow_m3_h is None):
        fix = "enter it once: curewatch room set --volume '60 m3' --fan '300 m3/h'"
        raise ModelError("the room and its fan are not entered yet", fix=fix)
    room = before or Room(volume_m3 or 0.0, flow_m3_h or 0.0)
    values = {"volume_m3": volume_m3, "flow_m3_h": flow_m3_h, "mixing": mixing}
    room = replace(room, **{key: value for key, value in values.items() if value is not None})
    record_room(store, room, now=now)
    return room
