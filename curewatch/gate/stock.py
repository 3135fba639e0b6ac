"""Is the can fit: its last day, how long it is open, how cold and hot it stood; bare metal."""

from __future__ import annotations

from curewatch.durations import duration
from curewatch.formats import Manner
from curewatch.garage.storage import stored_words, use_by_words
from curewatch.gate.check import Check, Verdict
from curewatch.gate.proposal import Asked
from curewatch.products.shelf_life import day_words, last_day

OLD_OPEN_DAYS = 365
BARE_SILENT_MIN = 480.0
WHOSE = {
    "printed": "the can",
    "bought": "the sheet's shelf life",
    "opened": "the sheet's life once opened",
}
FRESH_CAN = "take a fresh can; a dab mixed on a scrap shows only whether it sets at all"
AGAIN = "scratch and clean it again, then coat it at once"
BARE_SOURCE = "the weights of damp air are ours, without a source"


def _told_expiry(asked: Asked) -> Check | None:
    """The expiry as told of this mix, where it can be read as a day or a month."""
    day = last_day(asked.expiry)
    if day is None or asked.today is None:
        return None
    left = (day - asked.today).days
    verdict: Verdict = "stop" if left < 0 else "caution" if left == 0 else "go"
    words = f"the batch told of is {'past' if left < 0 else 'within'} its expiry, {day_words(day)}"
    change = FRESH_CAN if left < 0 else "use it up today" if left == 0 else ""
    return Check("batch", verdict, words, left, 0, "days", "as told", change)


def batch(asked: Asked, say: Manner) -> Check | None:
    """The can this mix comes from, against its last day."""
    told, found = _told_expiry(asked), asked.can
    if told is not None and (told.verdict == "stop" or found is None or found.days is None):
        return told
    if found is None:
        return None
    head = f"can {found.can.id}" + (f", batch {found.can.batches}" if found.can.batches else "")
    if found.days is None or found.use_by is None:
        return _open_long(asked, head)
    words, source = f"{head}: {use_by_words(found)}", WHOSE[found.use_by.why]
    if found.days < 0:
        return Check("batch", "stop", words, found.days, 0, "days", source, FRESH_CAN)
    verdict: Verdict = "caution" if found.days == 0 else "go"
    change = "use it up today" if found.days == 0 else ""
    return Check("batch", verdict, words, found.days, 0, "days", source, change)


def _open_long(asked: Asked, head: str) -> Check | None:
    opened = asked.can.can.opened if asked.can else None
    if opened is None or asked.today is None:
        return None
    days = (asked.today - opened).days
    words = f"{head}: opened {day_words(opened)}, {days} days ago; no last day is known"
    if days <= OLD_OPEN_DAYS:
        return Check("batch", "go", words, days, OLD_OPEN_DAYS, "days", "common practice")
    change = "look for the expiry on the can; mix a dab on a scrap first"
    return Check("batch", "caution", words, days, OLD_OPEN_DAYS, "days", "common practice", change)


def stored(asked: Asked, say: Manner) -> Check | None:
    """How cold and hot the can stood, against the sheet's storage."""
    found = asked.can
    if found is None or found.stored is None:
        return None
    span, held = found.sheet.storage.temperature_c, found.stored
    words = stored_words(found, asked.now, say)
    if span is None:
        return None
    if found.too_cold:
        change = "let it come to room temperature; look for crystals, lumps, a skin; try a dab"
        return Check("stored", "caution", words, held.low_c, span[0], "C", "the sheet", change)
    if found.too_hot:
        change = "look for thickening or a skin, and try a dab on a scrap before it goes on"
        return Check("stored", "caution", words, held.high_c, span[1], "C", "the sheet", change)
    return Check("stored", "go", words, held.low_c, span[0], "C", "the sheet")


def metal(asked: Asked, say: Manner) -> Check | None:
    """Bare metal on this part: how long since it was cleaned, counted faster when damp."""
    part = asked.metal
    if part is None or part.bare_since is None or part.bare_hours is None:
        return None
    clock = (asked.now - part.bare_since).total_seconds() / 60
    counted = 60 * part.bare_hours
    words = f"bare metal since {say.moment(part.bare_since, asked.now)}, {duration(clock)}"
    if part.damp_known and counted > 1.05 * clock:
        words += f", which counts as {duration(counted)} for the damp"
    elif not part.damp_known:
        words += "; no humidity was measured, so damp is not counted"
    limit, whose = _bare_limit(asked)
    if limit is None:
        verdict: Verdict = "caution" if counted > BARE_SILENT_MIN else "go"
        words += "; no limit is set, its primer's label may tell one"
        source = "over 8 h: a choice of ours, no source"
        change = AGAIN if verdict == "caution" else ""
        return Check("metal", verdict, words, counted, BARE_SILENT_MIN, "min", source, change)
    verdict = "stop" if counted > limit else "caution" if counted > 0.75 * limit else "go"
    words += f"; the most is {duration(limit)}"
    change = "" if verdict == "go" else AGAIN
    return Check("metal", verdict, words, counted, limit, "min", f"{whose}; {BARE_SOURCE}", change)


def _bare_limit(asked: Asked) -> tuple[float | None, str]:
    """The stricter of the sheet's limit and the user's. [min]"""
    own = [
        (limit, whose)
        for limit, whose in (
            (asked.sheet.limits.bare_max_min, "the sheet"),
            (asked.bare_limit_min, "your own limit"),
        )
        if limit is not None
    ]
    return min(own, default=(None, ""))
