"""Is the can fit: its last day, how long it is open, how cold and hot it stood; bare metal."""

from __future__ import annotations

from curewatch.days import day_words
from curewatch.durations import duration
from curewatch.formats import ReaderFormat
from curewatch.garage.storage import stored_words, use_by_words
from curewatch.gate.check import Check, Verdict
from curewatch.gate.proposal import Proposal
from curewatch.products.shelf_life import last_day

OLD_OPEN_DAYS = 365
BARE_SILENT_MIN = 480.0
WHOSE = {
    "printed": "the can",
    "bought": "the label's shelf life",
    "opened": "the label's life once opened",
}
FRESH_CAN = "take a fresh can; a dab mixed on a scrap shows only whether it sets at all"
AGAIN = "scratch and clean it again, then coat it at once"
BARE_SOURCE = "the factors for damp air are ours, without a source"


def _entered_expiry(proposal: Proposal) -> Check | None:
    """The expiry as entered for this mix, where it can be read as a day or a month."""
    day = last_day(proposal.expiry)
    if day is None or proposal.today is None:
        return None
    left = (day - proposal.today).days
    verdict: Verdict = "stop" if left < 0 else "caution" if left == 0 else "go"
    words = f"the batch entered is {'past' if left < 0 else 'within'} its expiry, {day_words(day)}"
    change = FRESH_CAN if left < 0 else "use it up today" if left == 0 else ""
    return Check("batch", verdict, words, left, 0, "days", "as entered", change)


def batch(proposal: Proposal, say: ReaderFormat) -> Check | None:
    """The can this mix comes from, against its last day."""
    check, stored_can = _entered_expiry(proposal), proposal.can
    if check is not None and (
        check.verdict == "stop" or stored_can is None or stored_can.days is None
    ):
        return check
    if stored_can is None:
        return None
    head = f"can {stored_can.can.id}" + (
        f", batch {stored_can.can.batches}" if stored_can.can.batches else ""
    )
    if stored_can.days is None or stored_can.use_by is None:
        return _open_long(proposal, head)
    words, source = f"{head}: {use_by_words(stored_can)}", WHOSE[stored_can.use_by.why]
    if stored_can.days < 0:
        return Check("batch", "stop", words, stored_can.days, 0, "days", source, FRESH_CAN)
    verdict: Verdict = "caution" if stored_can.days == 0 else "go"
    change = "use it up today" if stored_can.days == 0 else ""
    return Check("batch", verdict, words, stored_can.days, 0, "days", source, change)


def _open_long(proposal: Proposal, head: str) -> Check | None:
    opened = proposal.can.can.opened if proposal.can else None
    if opened is None or proposal.today is None:
        return None
    days = (proposal.today - opened).days
    words = f"{head}: opened {day_words(opened)}, {days} days ago; no expiry entered"
    if days <= OLD_OPEN_DAYS:
        return Check("batch", "go", words, days, OLD_OPEN_DAYS, "days", "common practice")
    change = "look for the expiry on the can; mix a dab on a scrap first"
    return Check("batch", "caution", words, days, OLD_OPEN_DAYS, "days", "common practice", change)


def stored(proposal: Proposal, say: ReaderFormat) -> Check | None:
    """How cold and hot the can stood, against the sheet's storage."""
    stored_can = proposal.can
    if stored_can is None or stored_can.stored is None:
        return None
    span, measured = stored_can.sheet.storage.temperature_c, stored_can.stored
    words = stored_words(stored_can, proposal.now, say)
    if span is None:
        return None
    if stored_can.too_cold:
        change = "let it come to room temperature; look for crystals, lumps, a skin; try a dab"
        return Check("stored", "caution", words, measured.low_c, span[0], "C", "the label", change)
    if stored_can.too_hot:
        change = "look for thickening or a skin, and try a dab on a scrap before it goes on"
        return Check("stored", "caution", words, measured.high_c, span[1], "C", "the label", change)
    return Check("stored", "go", words, measured.low_c, span[0], "C", "the label")


def metal(proposal: Proposal, say: ReaderFormat) -> Check | None:
    """Bare metal on this part: how long since it was cleaned, counted faster when damp."""
    part = proposal.metal
    if part is None or part.bare_since is None or part.bare_hours is None:
        return None
    clock = (proposal.now - part.bare_since).total_seconds() / 60
    counted = 60 * part.bare_hours
    words = f"bare metal since {say.moment(part.bare_since, proposal.now)}, {duration(clock)}"
    if part.damp_known and counted > 1.05 * clock:
        words += f", which counts as {duration(counted)} (damp air)"
    elif not part.damp_known:
        words += "; humidity was not measured, so damp air is not counted"
    limit, whose = _bare_limit(proposal)
    if limit is None:
        verdict: Verdict = "caution" if counted > BARE_SILENT_MIN else "go"
        words += "; no limit entered, its primer's label may give one"
        source = "over 8 h: our choice, no source"
        change = AGAIN if verdict == "caution" else ""
        return Check("metal", verdict, words, counted, BARE_SILENT_MIN, "min", source, change)
    verdict = "stop" if counted > limit else "caution" if counted > 0.75 * limit else "go"
    words += f"; the limit is {duration(limit)}"
    change = "" if verdict == "go" else AGAIN
    return Check("metal", verdict, words, counted, limit, "min", f"{whose}; {BARE_SOURCE}", change)


def _bare_limit(proposal: Proposal) -> tuple[float | None, str]:
    """The stricter of the sheet's limit and the user's. [min]"""
    own = [
        (limit, whose)
        for limit, whose in (
            (proposal.sheet.limits.bare_max_min, "the label"),
            (proposal.bare_limit_min, "your own limit"),
        )
        if limit is not None
    ]
    return min(own, default=(None, ""))
