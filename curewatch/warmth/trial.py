"""What heat and other products would buy: for each the chance that a milestone is in time.

Heat is counted only while someone is there, once the clamps are on and no solvent leaves, and the
metal never above the product's limit: a lamp that would pass it is taken further away. Of each
heater the least is sought that reaches 9 in 10.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Literal
from zoneinfo import ZoneInfo

from curewatch.bench.bench import Bench, Details
from curewatch.cure.belief import learned
from curewatch.cure.inputs import Mix
from curewatch.errors import StepError
from curewatch.frozen import frozen
from curewatch.gate.alternatives import owned_sheets
from curewatch.gate.gather import ask_ahead
from curewatch.gate.proposal import Proposal
from curewatch.products.sheet import Sheet
from curewatch.products.solvents import leaving
from curewatch.starts.windows import LONGEST, SURE, draws
from curewatch.warmth.evenings import room_of
from curewatch.warmth.heated import DrawnMix, HeatedMix, least_heat
from curewatch.warmth.owned import energy_price, heaters
from curewatch.warmth.room import RoomTerms

What = Literal["nothing", "panel", "room", "product"]
Why = Literal["", "cold", "hot", "solvent", "absent", "untimed"]
MOST_PRODUCTS = 6


@frozen
class Option:
    """One way and what becomes of it.

    chance: that it is in time [-]; start, end: when heat is on; kwh: energy [kWh]; cost: in the
    user's money; surface_c: what the panel likely gets to [C]; further: a lamp must be further away
    than its full heat would allow; why: what stands against it.
    """

    what: What
    name: str
    chance: float = 0.0
    start: datetime | None = None
    end: datetime | None = None
    kwh: float | None = None
    cost: float | None = None
    surface_c: float | None = None
    further: bool = False
    why: Why = ""


@frozen
class Wish:
    """What is wanted: a milestone by an instant, mixed when, and until when someone is there."""

    milestone: str
    by: datetime
    mixed_at: datetime
    there_until: datetime


@dataclass(frozen=True, eq=False)
class Trial:
    """What was asked and its options, the unheated mix first; margin_m: how far a lamp lights
    beyond the joint [m]; unprobed: a lamp's heat is assumed; room: what the room does with heat."""

    proposal: Proposal
    wish: Wish
    options: tuple[Option, ...]
    margin_m: float | None
    unprobed: bool
    room: RoomTerms


def _drawn(
    bench: Bench, proposal: Proposal, sheet: Sheet, wish: Wish, hands_free: datetime | None
) -> DrawnMix:
    """The mix of a product in the drawn courses, which are the same for each product."""
    own = sheet.id == proposal.sheet.id
    belief = proposal.learned if own else learned(sheet, bench.reader.observed_steps(sheet))
    mix = Mix(wish.mixed_at)
    if own:
        mix = Mix(wish.mixed_at, proposal.amount_g, proposal.hardener_pct)
    courses, products = draws(sheet, mix, belief, proposal.ahead, wish.milestone)
    return DrawnMix(sheet, wish.milestone, wish.mixed_at, wish.by, courses, products, hands_free)


def _hands_free(proposal: Proposal, wish: Wish) -> datetime | None:
    """When heat may begin: with the clamps on, at the early end of the working time; where solvent
    leaves, once it has left. None where that is not before the milestone."""
    solvent, named = leaving(proposal.sheet), proposal.forecast.by_name
    if solvent is None:
        wet = proposal.wet
        after = 0.0 if wet is None or wet.early_min is None else wet.early_min
        return wish.mixed_at + timedelta(minutes=after)
    gone = named[solvent].late_min if solvent in named else None
    if solvent == wish.milestone or gone is None:
        return None
    return wish.mixed_at + timedelta(minutes=gone)


def _unheated(what: What, drawn: DrawnMix) -> Option:
    outside = drawn.outside(drawn.courses)
    chance = 0.0 if outside else drawn.chance(drawn.courses)
    return Option(what, drawn.sheet.name, chance, why=outside)


def _against(heated: HeatedMix, last: datetime) -> Why:
    """What stands against heat until an instant."""
    drawn = heated.drawn
    if drawn.hands_free is None:
        return "solvent"
    if drawn.hands_free >= last:
        return "absent"
    return drawn.outside(drawn.courses)


def _heated(heated: HeatedMix, wish: Wish, price: float | None) -> Option:
    """One heater's option."""
    heater, drawn = heated.heater, heated.drawn
    last = min(wish.there_until, wish.by)
    option = Option(heater.on, heater.name, why=_against(heated, last))
    start = drawn.hands_free
    if option.why or start is None:
        return option
    end, chance = least_heat(heated, start, last)
    kwh = heater.watts / 1000 * ((end - start) / timedelta(hours=1))
    surface_c, further = heated.panel_c(start, end)
    return replace(
        option,
        chance=chance,
        start=start,
        end=end,
        kwh=kwh,
        cost=None if price is None else kwh * price,
        surface_c=surface_c,
        further=further and heater.on == "panel",
    )


def _products(bench: Bench, proposal: Proposal, wish: Wish) -> Iterator[Option]:
    """The user's other products of that kind, unheated."""
    kind = [
        sheet
        for sheet in owned_sheets(bench, proposal.sheet.id)
        if sheet.kind == proposal.sheet.kind
    ]
    for sheet in kind[:MOST_PRODUCTS]:
        if wish.milestone in sheet.reference.minutes:
            yield _unheated("product", _drawn(bench, proposal, sheet, wish, None))
        else:
            yield Option("product", sheet.name, why="untimed")


def _margin_m(lamps: list[HeatedMix]) -> float | None:
    """How far the lamps must light beyond a joint. [m]"""
    return max((lamp.margin_m(SURE) for lamp in lamps), default=None)


def warmth(
    bench: Bench, sheet_id: str, now: datetime, details: Details, wish: Wish, zone: ZoneInfo
) -> Trial:
    """What heat and other products would buy for a wish; no heat where it needs none.

    Raises StepError where nobody can say.
    """
    if not now <= wish.mixed_at < wish.by <= now + LONGEST:
        raise StepError(
            "that is not after the mix and within the coming seven days",
            fix="further ahead the forecast tells no chance; ask again nearer to it",
        )
    proposal, _ = ask_ahead(
        bench, sheet_id, now, details, until=wish.by, milestone=wish.milestone, zone=zone
    )
    drawn = _drawn(bench, proposal, proposal.sheet, wish, _hands_free(proposal, wish))
    room = room_of(bench, details.place or "panel", now, proposal.sheet.reference.temperature_c)
    air_c = float(proposal.ahead.air_c[0])
    plain = _unheated("nothing", drawn)
    heated = [HeatedMix(heater, drawn, room, air_c) for heater in heaters(bench.store)]
    price = energy_price(bench.store)
    if plain.chance >= SURE:
        heated = []
    options = (
        plain,
        *(_heated(mix, wish, price) for mix in heated),
        *_products(bench, proposal, wish),
    )
    lamps = [mix for mix in heated if mix.heater.on == "panel"]
    return Trial(
        proposal,
        wish,
        options,
        _margin_m(lamps),
        any(lamp.heater.probed_k is None for lamp in lamps),
        room,
    )
