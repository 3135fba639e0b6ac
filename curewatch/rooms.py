"""The room that is aired, as it was told last, so that it need not be typed again."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from curewatch.errors import ModelError
from curewatch.ledger import Ledger
from curewatch.ventilation import Room

SUBJECT, NAME = "room", "garage"


def kept(store: Ledger) -> Room | None:
    """The room told last, None where none ever was."""
    told = store.entries(SUBJECT, NAME)
    if not told:
        return None
    body = told[-1].body
    return Room(body["volume_m3"], body["flow_m3_h"], body["mixing"])


def keep(store: Ledger, room: Room, *, now: datetime) -> None:
    """Remember a room; the same one is not told twice."""
    if kept(store) == room:
        return
    body = {"volume_m3": room.volume_m3, "flow_m3_h": room.flow_m3_h, "mixing": room.mixing}
    store.add_entry(SUBJECT, NAME, "told", now, now, body)


def told(
    store: Ledger,
    volume_m3: float | None,
    flow_m3_h: float | None,
    mixing: float | None,
    *,
    now: datetime,
) -> Room:
    """The room as told now, its untold figures as told before; it is remembered.

    volume_m3 [m3], flow_m3_h [m3/h], mixing factor [-]. Raises ModelError where none is known.
    """
    before = kept(store)
    if before is None and (volume_m3 is None or flow_m3_h is None):
        fix = "enter it once: curewatch room set --volume '60 m3' --fan '300 m3/h'"
        raise ModelError("the room and its fan are not known yet", fix=fix)
    room = before or Room(volume_m3 or 0.0, flow_m3_h or 0.0)
    given = {"volume_m3": volume_m3, "flow_m3_h": flow_m3_h, "mixing": mixing}
    room = replace(room, **{key: value for key, value in given.items() if value is not None})
    keep(store, room, now=now)
    return room
