"""Is the mix fit: hardener, product, rehearsal, the time left, the joint, the masks."""

from __future__ import annotations

from datetime import datetime, timedelta

from curewatch.bench.spraying import may_mist
from curewatch.durations import on_wall
from curewatch.formats import ReaderFormat, when
from curewatch.garage.joint import HINT, NO_TIME, QUESTION
from curewatch.gate import rehearsal
from curewatch.gate.check import Check
from curewatch.gate.proposal import Proposal
from curewatch.notice_words import NO_ANSWER, sentence
from curewatch.products.chemistries import ONE_PART
from curewatch.products.hardener import fixed_words, refused
from curewatch.products.hazards import assumed_words
from curewatch.protection.cartridges import VAPOUR_SOURCE
from curewatch.vocabulary import in_words

REHEARSE = (
    "fewer clamps or a shorter bead, a helper, everything laid out, a cooler panel, or a slower "
    "product; then rehearse again"
)
WANT_LESS = "less at a time, a helper, a cooler panel, or a slower product"


def structural(proposal: Proposal, say: ReaderFormat) -> Check | None:
    """The kind of joint: as the part is marked, or asked about."""
    kind = proposal.joint
    if kind == "body":
        return None
    words, change = sentence(NO_TIME[kind], say), "if that is wrong, mark it as body, under Parts"
    if kind == "asked":
        words = f"{QUESTION} {HINT} {NO_ANSWER}"
        change = "answer it, once for this part: structural, or plain body panel"
        change = change if proposal.part else "name the part, then answer it"
    return Check(
        "joint",
        "stop",
        words,
        source="the maker's procedure",
        change=change,
        asks=kind == "asked",
    )


def hardener(proposal: Proposal, say: ReaderFormat) -> Check | None:
    """The ratio: whether it may be varied, and whether it is inside the range."""
    sheet, dose = proposal.sheet, proposal.hardener_pct
    if dose is None and sheet.chemistry in ONE_PART:
        return None
    span = sheet.limits.hardener_pct
    if span is None and dose is not None:
        words, change = refused(sheet)
        return Check("hardener", "stop", words, dose, None, "%", "the label", change)
    if span is None:
        ratio = f" The ratio: {sheet.mix_ratio}." if sheet.mix_ratio else ""
        return Check("hardener", "go", fixed_words(sheet) + ratio, unit="%", source="the label")
    least, usual, most = (say.figure(share) for share in span)
    words = f"the label takes {least} to {most} % hardener, usually {usual} %"
    if dose is None:
        return Check("hardener", "go", words, None, span[2], "%", "the label")
    inside = span[0] <= dose <= span[2]
    limit = span[0] if dose < span[0] else span[2]
    words = f"{say.figure(dose)} % hardener: {words}"
    change = "" if inside else f"stay inside {least} to {most} %; more does not help"
    return Check(
        "hardener", "go" if inside else "stop", words, dose, limit, "%", "the label", change
    )


def product(proposal: Proposal, say: ReaderFormat) -> Check | None:
    """The product as stored against the sheet's temperatures."""
    value, least, most = proposal.product_c, proposal.least_c, proposal.most_c
    if value is None:
        return None
    cold, hot = value < least, most is not None and value > most
    words = f"the product is at {say.temperature(value)}"
    if not (cold or hot):
        return Check("product", "go", words, value, least, "C", proposal.least_source(say))
    limit = most if hot else least
    words += f", {'above' if hot else 'below'} the label's {say.temperature(limit or 0, 0)}"
    change = "let it come to room temperature indoors, both parts, before mixing"
    return Check("product", "caution", words, value, limit, "C", proposal.least_source(say), change)


def stopping(proposal: Proposal, say: ReaderFormat) -> Check | None:
    """Whether the milestone that matters comes before the user's own stopping time."""
    stop, matters = proposal.stop_at, proposal.matters
    if stop is None or matters is None:
        return None
    early, likely, late = (
        None if value is None else on_wall(proposal.now, value, matters.name)
        for value in (matters.early_min, matters.likely_min, matters.late_min)
    )
    end, name = say.moment(stop, proposal.now), in_words(matters.name)
    if late is not None and late <= stop:
        words = f"{name} by {say.moment(late, proposal.now)} at the latest, before {end}"
        return Check("time", "go", words, source="the forecast", at=late)
    text = f"likely {say.moment(likely, proposal.now)}" if likely else "no time can be given"
    never = early is None or early > stop
    words = f"{name} {'does' if never else 'may'} not come before {end}: {text}"
    wet = _wet_until(proposal)
    if wet is None or wet <= stop:
        return Check(
            "time", "caution", words, source="the forecast", change=_sooner(proposal, stop, say)
        )
    words = f"it can still be worked {when(stop, proposal.now, say)}, and {words}"
    change = f"start another evening; it stays workable until {say.moment(wet, proposal.now)}"
    return Check("time", "stop", words, source="the forecast", change=change, at=wet)


def _wet_until(proposal: Proposal) -> datetime | None:
    milestone = proposal.forecast.by_name.get("working_time")
    if milestone is None or milestone.likely_min is None:
        return None
    return proposal.now + timedelta(minutes=milestone.likely_min)


def _sooner(proposal: Proposal, stop: datetime, say: ReaderFormat) -> str:
    late = proposal.matters.late_min if proposal.matters else None
    words = "leave it clamped and undisturbed overnight, warm the panel, or use a faster product"
    if late is None:
        return words
    return f"{words}; you had to mix by {say.moment(stop - timedelta(minutes=late), proposal.now)}"


def wanted(proposal: Proposal, say: ReaderFormat) -> Check | None:
    """How long the user wants to work, against the working time here."""
    if proposal.wanted_min is None:
        return None
    outcome = _worked(proposal, proposal.wanted_min, "wanted")
    return _pace("wanted", outcome, WANT_LESS, "your own working time")


def rehearsed(proposal: Proposal, say: ReaderFormat) -> Check | None:
    """The last dry rehearsal against the working time here."""
    if proposal.rehearsed_min is None:
        return None
    outcome = _worked(proposal, proposal.rehearsed_min, "rehearsed")
    return _pace("rehearsal", outcome, REHEARSE, "your own rehearsal")


def _worked(proposal: Proposal, took_min: float, how: str) -> rehearsal.Outcome:
    wet = proposal.wet
    timed = wet is not None and wet.likely_min is not None
    early, late = (wet.early_min, wet.late_min) if wet and timed else (None, None)
    return rehearsal.hold(took_min, early, late, how)


def _pace(question: str, outcome: rehearsal.Outcome, change: str, source: str) -> Check:
    return Check(
        question,
        outcome.verdict,
        outcome.words,
        outcome.took_min,
        outcome.early_min,
        "min",
        f"{source}; keeping a quarter in reserve is our choice",
        "" if outcome.verdict == "go" else change,
    )


def worn_out(proposal: Proposal, say: ReaderFormat) -> Check | None:
    """Cartridges that are to be thrown away before this one begins."""
    if not proposal.worn_out:
        return None
    words, change = "; ".join(proposal.worn_out), "open a new set: curewatch mask open"
    return Check("mask", "caution", words, source=VAPOUR_SOURCE, change=change)


def contents(proposal: Proposal, say: ReaderFormat) -> Check | None:
    """What the sheet does not say of its contents, and is taken from its chemistry."""
    sheet = proposal.sheet
    words = assumed_words(sheet.hazards, sheet.chemistry)
    if not words:
        return None
    source = "what its chemistry can contain; its safety data sheet decides"
    change = "enter what the safety data sheet says, under Shelf"
    return Check("contents", "caution", words, source=source, change=change)


def protection(proposal: Proposal, say: ReaderFormat) -> Check | None:
    """The hazards that need more than gloves, said before the start."""
    if not proposal.sheet.hazards.isocyanate:
        return None
    words = (
        "contains isocyanate: do not spray it at home; spraying needs an air-fed mask and an "
        "equipped shop"
    )
    source = "HSE, Motor vehicle repair, respiratory protective equipment for spraying"
    change = "spread it by its data sheet"
    if may_mist(proposal.sheet, proposal.applied):
        change = "brush or roll it by its data sheet, or take it to such a shop"
    return Check("protection", "caution", words, source=source, change=change)
