"""The garage in every state the pages know, and one with something on each page."""

from __future__ import annotations

import io
from collections.abc import Callable
from datetime import date, timedelta

from PIL import Image, ImageDraw

from curewatch.bench.bench import Details
from curewatch.garage import cans, parts
from curewatch.garage.unnamed_mix import touch
from curewatch.gate import rehearsal
from curewatch.logbook import photographs
from curewatch.protection import airing, cartridges
from curewatch.protection.ventilation import Room
from tests.support.pages import EVENING, PARTS, Garage, weather


def evening(held: Garage) -> None:
    """An adhesive under clamps, a filler just spread, a primer waiting for its next coat."""
    held.hear(weather(EVENING))
    job = "camper corner"
    held.mix("epoxy-primer", 330, part="roof seam", job=job)
    held.mix("urethane-panel-adhesive", 145, part="lower corner patch", job=job, amount_g=60.0)
    held.mix("fibre-polyester-filler", 24, part="left rear rib", amount_g=35.0, hardener_pct=2.0)
    for step, minutes in ((1, 60), (2, 24), (3, 9)):
        seen = held.bench.step(step).mixed_at + timedelta(minutes=minutes)
        held.bench.test(step, "gone-off", now=seen, milestone="working_time", sure=True)
    seen = held.bench.step(1).mixed_at + timedelta(minutes=280)
    held.bench.test(1, "reached", now=seen, milestone="recoat_opens", sure=True)


def due(held: Garage) -> None:
    """Two tests wait, one for an hour."""
    evening(held)
    held.clock.at += timedelta(minutes=64)
    held.hear(weather(held.clock(), hours=1.1))


def cold(held: Garage) -> None:
    """Nothing can cure: it has set in the cup, and no time can be given for sanding."""
    held.hear(weather(EVENING, base_c=3.0))
    number = held.mix("fibre-polyester-filler", 25, part="left rear rib", amount_g=35.0)
    held.bench.test(number, "gone-off", milestone="working_time", now=held.clock(), sure=True)


def old(held: Garage) -> None:
    """The sensors fell silent two hours ago."""
    held.hear(weather(EVENING - timedelta(hours=2)))
    held.mix("epoxy-panel-adhesive", 40, part="lower corner patch", amount_g=60.0)


def many(held: Garage) -> None:
    """Twelve steps at once."""
    held.hear(weather(EVENING))
    sheets = ("epoxy-panel-adhesive", "epoxy-primer", "urethane-panel-adhesive", "seam-sealer")
    for number in range(12):
        held.mix(
            sheets[number % 4], 2 + 0.9 * number, part=f"{PARTS[number % 6]} {number // 6 + 1}"
        )


def quiet(held: Garage) -> None:
    """Readings, and nothing on the bench."""
    held.hear(weather(EVENING))


def reminders(held: Garage) -> None:
    """A filler mixed in a hurry: its reminders wait."""
    held.hear(weather(EVENING))
    held.bench.start("fibre-polyester-filler", now=held.clock())


def touched(held: Garage) -> None:
    """Mixed now was touched, what it was is not said yet; nothing else is on the bench."""
    held.hear(weather(EVENING))
    for number, sheet in enumerate(("epoxy-primer", "epoxy-panel-adhesive"), 1):
        held.mix(sheet, 3000, part="roof seam", amount_g=60.0)
        held.bench.finish(number, now=EVENING)
    touch(held.store, EVENING - timedelta(minutes=2))


def lately(held: Garage) -> None:
    """Nothing on the bench, two products used lately."""
    held.hear(weather(EVENING))
    for number, sheet in enumerate(("epoxy-primer", "epoxy-panel-adhesive"), 1):
        held.mix(sheet, 3000, part="roof seam", amount_g=60.0)
        held.bench.finish(number, now=EVENING)


def tools(held: Garage) -> None:
    """The working time is over, the cup was not told to be empty; a window shuts soon."""
    held.hear(weather(EVENING))
    held.mix("epoxy-primer", 23 * 60, part="roof seam")
    held.bench.emptied(1, now=EVENING)
    held.bench.test(1, "reached", now=EVENING, milestone="recoat_opens", sure=True)
    held.mix("epoxy-panel-adhesive", 80, part="lower corner patch", amount_g=60.0)
    held.bench.test(2, "gone-off", now=EVENING, milestone="working_time", sure=True)


def against(held: Garage) -> None:
    """Mixed with one touch though the panel is too cold: the reason is asked now."""
    held.hear(weather(EVENING, base_c=3.0))
    held.bench.start("epoxy-primer", now=EVENING - timedelta(minutes=4))
    stop = "Panel 7.1 °C is below the label's 10 °C: it may not cure properly."
    body = {"stops": [stop], "why": ""}
    held.store.add_event(1, "overridden", EVENING, EVENING, body)


def moved(held: Garage) -> None:
    """The garage door stood open: the clamps stay on longer."""
    held.clock.at = EVENING - timedelta(minutes=45)
    held.hear(weather(held.clock(), base_c=18.0))
    held.mix("epoxy-panel-adhesive", 120, part="lower corner patch", amount_g=60.0)
    held.bench.test(1, "gone-off", now=held.clock(), milestone="working_time", sure=True)
    held.bench.emptied(1, now=held.clock())
    held.clock.at = EVENING - timedelta(minutes=15)
    held.hear(weather(held.clock(), base_c=18.0, hours=0.5))
    held.clock.at = EVENING
    held.hear(weather(held.clock(), base_c=13.0, hours=0.2))


def first(held: Garage) -> None:
    """A first start: no sensor, nothing told."""


def unread(held: Garage) -> None:
    """A mix, and nothing measured yet."""
    held.mix("epoxy-panel-adhesive", 12, part="lower corner patch", amount_g=60.0)


def remote(held: Garage) -> None:
    """A button far from the screen mixed and was told so."""
    evening(held)
    held.presses.tell("Button resin: door skin is mixed.")
    held.mix("seam-sealer", 0.2, part="door skin")


STATES: dict[str, Callable[[Garage], None]] = {
    "evening": evening,
    "due": due,
    "cold": cold,
    "old": old,
    "many": many,
    "quiet": quiet,
    "reminders": reminders,
    "moved": moved,
    "touched": touched,
    "lately": lately,
    "tools": tools,
    "against": against,
    "unread": unread,
    "remote": remote,
    "first": first,
}


def photograph(shade: int) -> io.BytesIO:
    """A picture of grey panel with a patch on it, as a telephone might send it."""
    picture = Image.new("RGB", (1200, 900), (shade, shade + 4, shade + 8))
    draw = ImageDraw.Draw(picture)
    for row in range(0, 900, 6):
        draw.line((0, row, 1200, row), fill=(shade - row // 30,) * 3)
    draw.polygon([(280, 240), (860, 200), (930, 640), (330, 700)], fill=(150, 110, 60))
    draw.polygon([(320, 280), (820, 245), (880, 600), (370, 655)], fill=(176, 134, 78))
    held = io.BytesIO()
    picture.save(held, "JPEG", quality=80)
    held.seek(0)
    return held


def _finished(held: Garage) -> None:
    """Two weekends of work in the log, with photographs, notes and a step that failed."""
    job = "camper corner"
    for number, (sheet, part, days) in enumerate(
        (
            ("epoxy-panel-adhesive", "inner frame", 9),
            ("fibre-polyester-filler", "inner frame", 8),
            ("epoxy-panel-adhesive", "door skin", 2),
        )
    ):
        now = EVENING - timedelta(days=days)
        step = held.bench.start(sheet, now=now, details=_details(part, job, number))
        photographs.add(held.bench, step, photograph(90 + 20 * number), now=now, words="before")
        held.bench.witness(step, "tacky", now=now + timedelta(minutes=40))
        held.bench.test(
            step, "reached", now=now + timedelta(hours=9), milestone="sand_ready", sure=True
        )
        held.bench.note(step, "thin at the lower edge", now=now + timedelta(hours=9))
        held.bench.finish(step, now=now + timedelta(hours=26))
    failed = EVENING - timedelta(days=3)
    step = held.bench.start("quick-methacrylate-adhesive", now=failed)
    held.bench.abandon(step, "set in the nozzle", now=failed + timedelta(minutes=9))


def _details(part: str, job: str, number: int) -> Details:
    return Details(part=part, job=job, amount_g=40.0 + 10 * number, batch=f"A-1{number}")


def everything(held: Garage) -> None:
    """Something on each page: the evening, a log, cans, bare metal, a mask and a rehearsal."""
    evening(held)
    _finished(held)
    store, now = held.store, held.clock()
    photographs.add(held.bench, 2, photograph(120), now=now, words="patch in place")
    for sheet, opened in (("epoxy-primer", date(2026, 9, 1)), ("seam-sealer", date(2025, 2, 3))):
        told = cans.CanDetails(batch="B-7", bought=date(2025, 1, 20), opened=opened)
        cans.add(store, sheet, told, now=now)
    bare = now - timedelta(hours=5)
    parts.bared(store, "wheel arch", "camper corner", now=now, since=bare, grit="80")
    parts.mark(store, "door skin", "camper corner", "structural", now=now)
    airing.record_room(store, Room(60.0, 300.0, 5.0), now=now)
    cartridges.open_new(store, "mask", "vapour", now=now, maker_h=40.0)
    cartridges.worn(store, "mask", 1.5, now=now)
    rehearsal.record(store, "epoxy-panel-adhesive", 24.0, now=now, part="lower corner patch")


def dawn(held: Garage) -> None:
    """The morning after: what the night did to what stood on the bench, and to bare metal."""
    everything(held)
    held.clock.at += timedelta(hours=13)
    held.hear(weather(held.clock(), hours=13.0))
