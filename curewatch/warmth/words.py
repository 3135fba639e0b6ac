"""What heat would buy, in words and as plain data."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from curewatch.bench.reminders import HEATER
from curewatch.formats import ReaderFormat, chance_words, tenths
from curewatch.products.solvents import most_c
from curewatch.starts.windows import SURE
from curewatch.text import short_name
from curewatch.vocabulary import in_words
from curewatch.walltime import stamp
from curewatch.warmth.owned import Heater
from curewatch.warmth.trial import Option, Trial, Why

_WHY: dict[Why, str] = {
    "cold": "the panel is too cold to mix on: warm the metal first",
    "hot": "the panel is too warm to mix on",
    "solvent": "no heat while solvent evaporates",
    "absent": "nobody is there once the clamps are on",
    "untimed": "its label gives no such time",
}
_PLACES = {"panel": "on the panel", "room": "in the room"}


def heater_words(heater: Heater, say: ReaderFormat) -> str:
    """A heater with what is known of it."""
    words = f"{heater.name}: {heater.watts:g} W {_PLACES[heater.on]}"
    if heater.on == "panel":
        words += f", lights {say.number(heater.lit_m2, 2)} m²"
        words += (
            f"; a probe under it was {say.difference(heater.probed_k)} warmer"
            if heater.probed_k is not None
            else "; how warm it makes the metal is assumed"
        )
    elif heater.runs:
        words += (
            f"; {len(heater.runs)} {'evening' if len(heater.runs) == 1 else 'evenings'} entered"
        )
    return words


def _name(option: Option) -> str:
    name = short_name(option.name)
    return {"nothing": "no heat", "product": f"{name} instead"}.get(option.what, name)


def _heat(option: Option, trial: Trial, say: ReaderFormat) -> str:
    """From when to when, what it costs, and how warm the panel gets."""
    if option.start is None or option.end is None or option.kwh is None:
        return ""
    now = trial.proposal.now
    words = f"{say.moment(option.start, now)} to {say.moment(option.end, now)}"
    words += f", {say.number(option.kwh)} kWh"
    words += "" if option.cost is None else f" for {say.number(option.cost, 2)}"
    if option.surface_c is not None:
        words += f"; the panel at about {say.temperature(option.surface_c, 0)}"
    return words + (" with the lamp further away" if option.further else "")


def option_words(option: Option, trial: Trial, say: ReaderFormat) -> tuple[str, str, str]:
    """An option: what it is, its chance, and the heat it takes or what stands against it."""
    chance = "" if option.why else chance_words(option.chance)
    return _name(option), chance, _WHY.get(option.why, "") or _heat(option, trial, say)


def cautions(trial: Trial, say: ReaderFormat) -> Iterator[str]:
    """What is to be kept to where any option takes heat."""
    if not any(option.start for option in trial.options):
        return
    yield "Heat only while you are there, and once the clamps are on: warm resin sets sooner."
    yield HEATER.words
    if trial.margin_m is not None:
        limit = say.temperature(most_c(trial.proposal.sheet), 0)
        yield (
            f"Light {100 * trial.margin_m:.0f} cm beyond the joint. A probe on the metal must not "
            f"pass {limit}: take the lamp further away."
        )
    yield "curewatch switches nothing on or off."


def assumed(trial: Trial) -> Iterator[tuple[str, str]]:
    """What is assumed of the heat and what would tell better; and the command that takes it."""
    if trial.unprobed:
        yield (
            "How warm a lamp makes the metal is assumed, 30 % either way. Enter what a probe under "
            "it shows",
            "curewatch heater gave NAME TEMPERATURE --before TEMPERATURE",
        )
    if any(option.what == "room" for option in trial.options) and not trial.room.evenings:
        yield (
            "How warm the room gets is assumed, 50 % either way. Enter an evening with it",
            "curewatch heater ran NAME --from 17:00 --to 21:00",
        )


def heading(trial: Trial, say: ReaderFormat) -> str:
    """What is asked: which milestone, by when, mixed when."""
    now, wish = trial.proposal.now, trial.wish
    mixed = "now" if wish.mixed_at <= now else say.moment(wish.mixed_at, now)
    name = in_words(wish.milestone).capitalize()
    return f"{name} before {say.moment(wish.by, now)}, mixed {mixed}"


def needs_none(trial: Trial) -> bool:
    """Whether it is in time without heat."""
    plain = trial.options[0]
    return not plain.why and plain.chance >= SURE


def has_heaters(trial: Trial) -> bool:
    """Whether any lamp or heater was compared."""
    return any(option.what in _PLACES for option in trial.options)


def lines(trial: Trial, say: ReaderFormat) -> Iterator[str]:
    """The answer for a terminal."""
    yield f"{heading(trial, say)}:"
    rows = [option_words(option, trial, say) for option in trial.options]
    widths = [max(len(row[column]) for row in rows) for column in (0, 1)]
    for way, chance, rest in rows:
        yield f"    {way:{widths[0]}}  {chance:{widths[1]}}  {rest}".rstrip()
    if needs_none(trial):
        yield "It needs no heat."
    elif not has_heaters(trial):
        yield "Enter a lamp or a heater: curewatch heater add 'work lamp' --watts 500 --on panel"
    yield from cautions(trial, say)
    yield from (f"{text}: {command}" for text, command in assumed(trial))


def heater_json(heater: Heater) -> dict[str, Any]:
    """A heater as plain data."""
    return {
        "name": heater.name,
        "watts": heater.watts,
        "on": heater.on,
        "lit_m2": heater.lit_m2 if heater.on == "panel" else None,
        "probed_k": heater.probed_k,
        "ran": [{"from": stamp(run.start), "until": stamp(run.end)} for run in heater.runs],
    }


def as_json(trial: Trial) -> dict[str, Any]:
    """The answer as plain data: chances in tenths, rounded down and never ten."""
    wish = trial.wish
    return {
        "product": trial.proposal.sheet.id,
        "milestone": wish.milestone,
        "by": stamp(wish.by),
        "mixed_at": stamp(wish.mixed_at),
        "options": [
            {
                "what": option.what,
                "name": option.name,
                "tenths": None if option.why else tenths(option.chance),
                "heat_from": stamp(option.start),
                "heat_until": stamp(option.end),
                "kwh": None if option.kwh is None else round(option.kwh, 2),
                "cost": None if option.cost is None else round(option.cost, 2),
                "panel_c": None if option.surface_c is None else round(option.surface_c, 1),
                "lamp_further": option.further,
                "against": option.why or None,
            }
            for option in trial.options
        ],
    }
