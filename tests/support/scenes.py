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


def evening(garage: Garage) -> None:
    """An adhesive under clamps, a filler just spread, a primer waiting for its next coat."""
    garage.hear(weather(EVENING))
    job = "camper corner"
    garage.mix("epoxy-primer", 330, part="roof seam", job=job)
    garage.mix("urethane-panel-adhesive", 145, part="lower corner patch", job=job, amount_g=60.0)
    garage.mix("fibre-polyester-filler", 24, part="left rear rib", amount_g=35.0, hardener_pct=2.0)
    for step, minutes in ((1, 60), (2, 24), (3, 9)):
        seen = garage.bench.step(step).mixed_at + timedelta(minutes=minutes)
        garage.bench.test(step, "gone-off", now=seen, milestone="working_time", sure=True)
    seen = garage.bench.step(1).mixed_at + timedelta(minutes=280)
    garage.bench.test(1, "reached", now=seen, milestone="recoat_opens", sure=True)


def due(garage: Garage) -> None:
    """Two tests wait, one for an hour."""
    evening(garage)
    garage.clock.at += timedelta(minutes=64)
    garage.hear(weather(garage.clock(), hours=1.1))


def cold(garage: Garage) -> None:
    """Nothing can cure: it has set in the cup, and no time can be given for sanding."""
    garage.hear(weather(EVENING, base_c=3.0))
    number = garage.mix("fibre-polyester-filler", 25, part="left rear rib", amount_g=35.0)
    garage.bench.test(number, "gone-off", milestone="working_time", now=garage.clock(), sure=True)


def old(garage: Garage) -> None:
    """The sensors fell silent two hours ago."""
    garage.hear(weather(EVENING - timedelta(hours=2)))
    garage.mix("epoxy-panel-adhesive", 40, part="lower corner patch", amount_g=60.0)


def many(garage: Garage) -> None:
    """Twelve steps at once."""
    garage.hear(weather(EVENING))
    sheets = ("epoxy-panel-adhesive", "epoxy-primer", "urethane-panel-adhesive", "seam-sealer")
    for number in range(12):
        garage.mix(
            sheets[number % 4], 2 + 0.9 * number, part=f"{PARTS[number % 6]} {number // 6 + 1}"
        )


def quiet(garage: Garage) -> None:
    """Readings, and nothing on the bench."""
    garage.hear(weather(EVENING))


def reminders(garage: Garage) -> None:
    """A filler mixed in a hurry: its reminders wait."""
    garage.hear(weather(EVENING))
    garage.bench.start("fibre-polyester-filler", now=garage.clock())


def touched(garage: Garage) -> None:
    """Mixed now was touched, what it was is not said yet; nothing else is on the bench."""
    garage.hear(weather(EVENING))
    for number, sheet in enumerate(("epoxy-primer", "epoxy-panel-adhesive"), 1):
        garage.mix(sheet, 3000, part="roof seam", amount_g=60.0)
        garage.bench.finish(number, now=EVENING)
    touch(garage.store, EVENING - timedelta(minutes=2))


def lately(garage: Garage) -> None:
    """Nothing on the bench, two products used lately."""
    garage.hear(weather(EVENING))
    for number, sheet in enumerate(("epoxy-primer", "epoxy-panel-adhesive"), 1):
        garage.mix(sheet, 3000, part="roof seam", amount_g=60.0)
        garage.bench.finish(number, now=EVENING)


def tools(garage: Garage) -> None:
    """The working time is over, the cup was not told to be empty; a window shuts soon."""
    garage.hear(weather(EVENING))
    garage.mix("epoxy-primer", 23 * 60, part="roof seam")
    garage.bench.emptied(1, now=EVENING)
    garage.bench.test(1, "reached", now=EVENING, milestone="recoat_opens", sure=True)
    garage.mix("epoxy-panel-adhesive", 80, part="lower corner patch", amount_g=60.0)
    garage.bench.test(2, "gone-off", now=EVENING, milestone="working_time", sure=True)


def against(garage: Garage) -> None:
    """Mixed with one touch though the panel is too cold: the reason is asked now."""
    garage.hear(weather(EVENING, base_c=3.0))
    garage.bench.start("epoxy-primer", now=EVENING - timedelta(minutes=4))
    stop = "Panel 7.1 °C is below the label's 10 °C: it may not cure properly."
    body = {"stops": [stop], "why": ""}
    garage.store.add_event(1, "overridden", EVENING, EVENING, body)


def moved(garage: Garage) -> None:
    """The garage door stood open: the clamps stay on longer."""
    garage.clock.at = EVENING - timedelta(minutes=45)
    garage.hear(weather(garage.clock(), base_c=18.0))
    garage.mix("epoxy-panel-adhesive", 120, part="lower corner patch", amount_g=60.0)
    garage.bench.test(1, "gone-off", now=garage.clock(), milestone="working_time", sure=True)
    garage.bench.emptied(1, now=garage.clock())
    garage.clock.at = EVENING - timedelta(minutes=15)
    garage.hear(weather(garage.clock(), base_c=18.0, hours=0.5))
    garage.clock.at = EVENING
    garage.hear(weather(garage.clock(), base_c=13.0, hours=0.2))


def first(garage: Garage) -> None:
    """A first start: no sensor, nothing told."""


def unread(garage: Garage) -> None:
    """A mix, and nothing measured yet."""
    garage.mix("epoxy-panel-adhesive", 12, part="lower corner patch", amount_g=60.0)


def remote(garage: Garage) -> None:
    """A button far from the screen mixed and was told so."""
    evening(garage)
    garage.presses.tell("Button resin: door skin is mixed.")
    garage.mix("seam-sealer", 0.2, part="door skin")


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
    buffer = io.BytesIO()
    picture.save(buffer, "JPEG", quality=80)
    buffer.seek(0)
    return buffer


def _finished(garage: Garage) -> None:
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
        step = garage.bench.start(sheet, now=now, details=_details(part, job, number))
        photographs.add(garage.bench, step, photograph(90 + 20 * number), now=now, words="before")
        garage.bench.witness(step, "tacky", now=now + timedelta(minutes=40))
        garage.bench.test(
            step, "reached", now=now + timedelta(hours=9), milestone="sand_ready", sure=True
        )
        garage.bench.note(step, "thin at the lower edge", now=now + timedelta(hours=9))
        garage.bench.finish(step, now=now + timedelta(hours=26))
    failed = EVENING - timedelta(days=3)
    step = garage.bench.start("quick-methacrylate-adhesive", now=failed)
    garage.bench.abandon(step, "set in the nozzle", now=failed + timedelta(minutes=9))


def _details(part: str, job: str, number: int) -> Details:
    return Details(part=part, job=job, amount_g=40.0 + 10 * number, batch=f"A-1{number}")


def everything(garage: Garage) -> None:
    """Something on each page: the evening, a log, cans, bare metal, a mask and a rehearsal."""
    evening(garage)
    _finished(garage)
    store, now = garage.store, garage.clock()
    photographs.add(garage.bench, 2, photograph(120), now=now, words="patch in place")
    for sheet, opened in (("epoxy-primer", date(2026, 9, 1)), ("seam-sealer", date(2025, 2, 3))):
        details = cans.CanDetails(batch="B-7", bought=date(2025, 1, 20), opened=opened)
        cans.add(store, sheet, details, now=now)
    bare = now - timedelta(hours=5)
    parts.bared(store, "wheel arch", "camper corner", now=now, since=bare, grit="80")
    parts.mark(store, "door skin", "camper corner", "structural", now=now)
    airing.record_room(store, Room(60.0, 300.0, 5.0), now=now)
    cartridges.open_new(store, "mask", "vapour", now=now, maker_h=40.0)
    cartridges.worn(store, "mask", 1.5, now=now)
    rehearsal.record(store, "epoxy-panel-adhesive", 24.0, now=now, part="lower corner patch")


def dawn(garage: Garage) -> None:
    """The morning after: what the night did to what stood on the bench, and to bare metal."""
    everything(garage)
    garage.clock.at += timedelta(hours=13)
    garage.hear(weather(garage.clock(), hours=13.0))
