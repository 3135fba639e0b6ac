"""A part's plan in words and as plain data."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

from curewatch.bench.reminders import HEATER
from curewatch.durations import duration
from curewatch.formats import ReaderFormat, chance_words, tenths
from curewatch.frozen import frozen
from curewatch.starts.windows import SURE
from curewatch.text import short_name
from curewatch.walltime import evening_of, stamp

if TYPE_CHECKING:
    from curewatch.ways.answer import Help, HelpOption, Hold
    from curewatch.ways.entered import PartWish
    from curewatch.ways.gather import PartPlan

PROPOSAL = "A proposal: no reminder comes from it, and each test decides. Dew is not counted in it."
REMINDS = "You are reminded of when to begin; each test decides. The plan does not count dew."
HELD = {
    "absent": "waiting until you are there long enough",
    "loud": "loud work, which must wait for another day",
    "cold": "waiting for a panel within the label's limits",
    "hands": "your hands, which are on other parts",
    "air": "a wet coat or dust on another part",
    "clamps": "clamps, which are on other parts",
}
MOST_HELPS = 4
EVEN = 5
"""Below so many tenths something is called unlikely. [-]"""
WORTH_A_SPAN = timedelta(minutes=5)


def evening_words(at: datetime, now: datetime, say: ReaderFormat) -> str:
    """The evening an instant belongs to: tonight, tomorrow, Wed."""
    days = (evening_of(at, say.zone) - evening_of(now, say.zone)).days
    return ("tonight", "tomorrow")[days] if days < 2 else f"{say.local(at):%A}"


def _on(at: datetime, now: datetime, say: ReaderFormat) -> str:
    evening = evening_words(at, now, say)
    return evening if evening in ("tonight", "tomorrow") else f"on {evening}"


def _end(plan: PartPlan) -> str:
    return (plan.left.wish.end or f"{plan.left.way.name} finished").capitalize()


def sentence(plan: PartPlan, say: ReaderFormat) -> str:
    """By which evening to begin; else how likely it is at best, or when it is done."""
    answer, now, by = plan.plan, plan.now, plan.left.wish.by
    if not answer.evenings:
        return f"{_end(plan)}: nobody is there within the week."
    if by is None:
        return _soonest(plan, say)
    when = say.moment(by, now)
    last, late = answer.begin_by, answer.too_late
    if last is None:
        best = max(evening.chance for evening in answer.evenings)
        unlikely = "unlikely, " if tenths(best) < EVEN else ""
        return f"{_end(plan)} by {when}: {unlikely}{chance_words(best)} if begun at once."
    words = f"{_end(plan)} by {when}: begin by {evening_words(last.start, now, say)}, "
    words += chance_words(SURE)
    if late is not None and tenths(late.chance) == 0:
        words += f"; {_on(late.start, now, say)} it is too late"
    elif late is not None:
        words += f"; {_on(late.start, now, say)} {chance_words(late.chance)}"
    return f"{words}."


def _soonest(plan: PartPlan, say: ReaderFormat) -> str:
    answer, now = plan.plan, plan.now
    if answer.surely_done is not None:
        sure = say.moment(answer.surely_done, now)
        if answer.done is None:
            return f"{_end(plan)} by {sure}, {chance_words(SURE)}, if begun at once."
        likely = say.moment(answer.done, now)
        return f"{_end(plan)} likely by {likely}, {chance_words(SURE)} by {sure}, if begun at once."
    if answer.done is not None:
        return f"{_end(plan)} likely by {say.moment(answer.done, now)}, if begun at once."
    return f"{_end(plan)}: not within the coming seven days."


def next_words(plan: PartPlan, say: ReaderFormat) -> str:
    """The next step, and between when and when to begin it."""
    begin, now = plan.plan.next_begin, plan.now
    if begin is None:
        return "Nothing can be begun within the week that keeps this chance."
    evening = evening_words(begin.start, now, say).capitalize()
    start, end = say.clock(begin.start), say.clock(begin.end)
    between = f"by {end}" if begin.start <= now else f"between {start} and {end}"
    return f"{evening}: {begin.does}; begin {between}."


@frozen
class TonightStep:
    """A step that can be begun between start and latest."""

    part: str
    job: str
    does: str
    start: datetime
    latest: datetime


def between_words(start: datetime, latest: datetime, now: datetime, say: ReaderFormat) -> str:
    """Between when and when to begin."""
    first, last = say.clock(start), say.clock(latest)
    if evening_of(latest, say.zone) > evening_of(start, say.zone):
        return "now or later" if start <= now else f"from {first} on"
    if latest - start < WORTH_A_SPAN:
        return "now" if start <= now else f"at {first}"
    return f"by {last}" if start <= now else f"between {first} and {last}"


def begin_words(step: TonightStep, now: datetime, say: ReaderFormat) -> str:
    """What can be begun this evening, as a line of its own."""
    between = between_words(step.start, step.latest, now, say)
    return f"Tonight on {step.part}: {step.does}; begin {between}."


def held_by(hold: Hold) -> str:
    """What takes the most time, and how much."""
    curing = f"waiting for '{hold.does}' to cure" if hold.does else "what is curing on it"
    what = curing if hold.code == "hardening" else HELD[hold.code]
    return f"{what}, {duration(60 * hold.hours)}"


def hold_words(plan: PartPlan) -> str:
    """What takes the most time, '' where nothing does."""
    hold = plan.plan.hold
    return "" if hold is None else f"Held up most by {held_by(hold)}."


def what_helps(code: Help, name: str, on: str = "the panel") -> str:
    """What would help; name: of the product or the lamp, on: where the lamp would stand."""
    return {
        "loud": "loud work at any hour you are there",
        "longer": "an hour more each time",
        "product": f"{short_name(name)} instead",
        "lamp": f"{name} on {on} while you are there, once the clamps are on",
    }[code]


def _help(option: HelpOption, plan: PartPlan, say: ReaderFormat) -> str:
    what = what_helps(option.code, option.name)
    done = f"likely by {say.moment(option.done, plan.now)}" if option.done else "not this week"
    return f"{what}: {f'{chance_words(option.chance)}, ' if plan.left.wish.by else ''}{done}"


def help_codes(plan: PartPlan) -> list[Help]:
    """The codes of what is said to help."""
    return [option.code for option in plan.plan.helps[:MOST_HELPS]]


def help_lines(plan: PartPlan, say: ReaderFormat) -> list[str]:
    """What would help, the surest first."""
    return [_help(option, plan, say) for option in plan.plan.helps[:MOST_HELPS]]


def heat_cautions(helps: Collection[Help]) -> Iterator[str]:
    """What is to be kept to where a lamp would help. helps: the codes of what would"""
    if "lamp" in helps:
        yield "Heat only while you are there, and once the clamps are on: warm resin sets sooner."
        yield HEATER.words
        yield "Never warmer than the label allows: further away, then. curewatch switches nothing."


def lines(plan: PartPlan, say: ReaderFormat, reminds: bool = False) -> Iterator[str]:
    """The plan for a terminal. reminds: a plan that was taken over has it."""
    yield sentence(plan, say)
    yield next_words(plan, say)
    steps = ", ".join(step.does for step in plan.left.steps)
    yield f"Left to do: {steps}."
    for kind, name in plan.products.items():
        yield f"    {kind}: {short_name(name)}"
    if words := hold_words(plan):
        yield words
    if helps := help_lines(plan, say):
        yield "What would help:"
        yield from (f"    {text}" for text in helps)
        yield from heat_cautions(help_codes(plan))
    yield REMINDS if reminds else PROPOSAL


def wish_words(wish: PartWish, now: datetime, say: ReaderFormat) -> str:
    """What is wished and by when."""
    end = wish.end or "finished"
    return (
        f"{end} as early as possible" if wish.by is None else f"{end} by {say.moment(wish.by, now)}"
    )


def hold_json(hold: Hold | None) -> dict[str, Any] | None:
    """What takes the most time as plain data."""
    if hold is None:
        return None
    return {"what": hold.code, "step": hold.does or None, "hours": round(hold.hours, 1)}


def as_json(plan: PartPlan) -> dict[str, Any]:
    """The plan as plain data: chances in tenths, rounded down and never ten."""
    answer = plan.plan
    last = answer.begin_by
    return {
        "part": plan.left.part,
        "job": plan.left.job,
        "way": plan.left.way.id,
        "end": plan.left.wish.end or None,
        "by": stamp(plan.left.wish.by),
        "begin_by": last and stamp(last.start),
        "evenings": [
            {"from": stamp(evening.start), "tenths": tenths(evening.chance)}
            for evening in answer.evenings
        ],
        "likely_done": stamp(answer.done),
        "surely_done": stamp(answer.surely_done),
        "next": answer.next_begin
        and {
            "does": answer.next_begin.does,
            "from": stamp(answer.next_begin.start),
            "until": stamp(answer.next_begin.end),
        },
        "held_up_by": hold_json(answer.hold),
        "left": [step.does for step in plan.left.steps],
        "products": plan.products,
        "would_help": [
            {
                "what": option.code,
                "name": option.name or None,
                "tenths": tenths(option.chance),
                "likely_done": stamp(option.done),
            }
            for option in answer.helps
        ],
    }
