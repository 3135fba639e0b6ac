"""The commands of parts, of the evening and of the morning after."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime

import click

from curewatch import card_words, evening, evening_desk, keeping, morning, parts
from curewatch.card import MOST, Card, Cards
from curewatch.evening_desk import Question
from curewatch.joint import mark_commands
from curewatch.morning import Morning
from curewatch.opened import Opened, as_json_option, placed, print_json
from curewatch.parts import KINDS, Part
from curewatch.verdict import Manner
from curewatch.wall import last_time, next_time
from curewatch.zone import local_zone

GROUPS = {
    "part": "A part: body or structural, bare metal, covered again.",
    "evening": "This evening: until when, and what is left bare.",
}
_job = click.option("--job", default="", help="The job it belongs to.")
_who = click.option("--who", default="", help="Who tells it.")


def _named(part: Part) -> str:
    return f"{part.name}{f' [{part.job}]' if part.job else ''}"


def _card_lines(card: Card, now: datetime, say: Manner) -> Iterator[str]:
    part = card.part
    mark = {"structural": " (structural)", "asked": " (structural?)"}.get(card.joint, "")
    yield f"{_named(part)}{mark}"
    for words in (
        card_words.last_words(card, now, say),
        card_words.bare_words(part, now, say),
        card_words.next_words(card, now, say),
        card_words.fits_words(card, now, say),
    ):
        if words:
            yield f"    {words}"
    if card.joint == "asked":
        yield f"    answer: {mark_commands(part.name, part.job)}"
    if part.asked_step is not None:
        yield f"    step {part.asked_step} went over it: is any metal still bare? part still-bare"


@click.option("--job", help="Only this job's.")
@as_json_option
def parts_(desktop: Opened, job: str | None, json_: bool) -> None:
    """Where was I: each part's last step, what is next, and whether it fits tonight."""
    now, zone = desktop.clock(), local_zone(desktop.settings.zone)
    stop = evening.stop_of(desktop.store, now, zone)
    found = Cards(desktop.bench).cards(now, job=job, stop=stop)
    if json_:
        print_json(card_words.listed(found, now, stop))
        return
    say = desktop.say.manner
    lines = [line for each in found for line in _card_lines(each, now, say)]
    if len(found) == MOST:
        lines.append(f"Only the {MOST} parts worked on last; others: curewatch parts --job JOB")
    if stop is not None:
        lines.append(f"Before {say.moment(stop, now)}:")
        for what, whether, cards in card_words.grouped(found, now, say):
            lines.append(f"    {', '.join(each.part.name for each in cards)}: {what}; {whether}")
    click.echo("\n".join(lines or ["No part yet: mix with --part, or say: curewatch part bare"]))


@click.argument("part")
@click.argument("kind", type=click.Choice(KINDS))
@_job
@_who
def part_mark(desktop: Opened, part: str, kind: str, job: str, who: str) -> None:
    """Say whether a part is structural: then no times are given for it; or plain body."""
    parts.mark(desktop.store, part, job, kind, now=desktop.clock(), who=who)
    click.echo(f"{part} is marked {kind}.")


@click.argument("part")
@_job
@click.option("--since", help="Since when, like '18:00'; now unless told.")
@click.option("--grit", default="", help="Grit it was sanded with, like '80'.")
@click.option("--cleaned-with", default="", help="What it was cleaned with.")
@click.option("--place", default="", help="Whose sensor it follows; panel unless told.")
@_who
def part_bare(
    desktop: Opened,
    part: str,
    job: str,
    since: str | None,
    grit: str,
    cleaned_with: str,
    place: str,
    who: str,
) -> None:
    """Start the bare clock of a part: it is cleaned to metal."""
    now, zone = desktop.clock(), local_zone(desktop.settings.zone)
    at = now if since is None else last_time(since, now, zone)
    where = placed(desktop, place)
    told = {"grit": grit, "cleaned_with": cleaned_with, "place": where, "who": who}
    parts.bared(desktop.store, part, job, now=now, since=at, **told)
    found = parts.part(desktop.bench.desk, part, job, now)
    click.echo(f"{part}: {card_words.bare_words(found, now, desktop.say.manner)}.")


@click.argument("part")
@_job
@_who
def part_covered(desktop: Opened, part: str, job: str, who: str) -> None:
    """Stop the bare clock of a part: no metal is bare on it."""
    found = parts.covered(desktop.store, part, job, now=desktop.clock(), who=who)
    click.echo(f"{_named(found)} is covered.")


@click.argument("part")
@_job
@_who
def part_still_bare(desktop: Opened, part: str, job: str, who: str) -> None:
    """Say that metal is still bare beside what the last step covered."""
    found = parts.still_bare(desktop.store, part, job, now=desktop.clock(), who=who)
    click.echo(f"{_named(found)}: the clock runs on.")


@click.argument("part")
@_job
@_who
def part_done(desktop: Opened, part: str, job: str, who: str) -> None:
    """Say that nothing more is wanted of a part; a later step takes it up again."""
    found = parts.done(desktop.store, part, job, now=desktop.clock(), who=who)
    click.echo(f"{_named(found)}: finished.")


@click.argument("until")
@_who
def evening_stop(desktop: Opened, until: str, who: str) -> None:
    """Say until when you can work this evening, like '22:30'."""
    now, zone = desktop.clock(), local_zone(desktop.settings.zone)
    stop = next_time(until, now, zone)
    evening.set_stop(desktop.store, stop, now=now, zone=zone, who=who)
    click.echo(f"Until {desktop.say.manner.moment(stop, now)}.")


@click.argument("answer", type=click.Choice(["none", "as-listed"]))
@_who
def evening_bare(desktop: Opened, answer: str, who: str) -> None:
    """Answer the evening's question: no metal is bare, or only what is listed."""
    now, zone = desktop.clock(), local_zone(desktop.settings.zone)
    said = answer.replace("-", " ")
    evening_desk.answer(desktop.bench, said, now=now, zone=zone, who=who)
    click.echo("Recorded; not asked again this evening.")


def question_lines(found: Question, now: datetime, say: Manner) -> Iterator[str]:
    """The evening's question for a terminal."""
    yield "Is any metal bare? Answer with: curewatch evening bare none, or as-listed"
    yield from (f"  {_named(each)}: {card_words.bare_words(each, now, say)}" for each in found.bare)
    yield "  another part: curewatch part bare PART --since 18:00"


def asked_lines(desktop: Opened, now: datetime) -> list[str]:
    """What the bench asks at the end of an evening, if it is time to."""
    found = evening_desk.question(desktop.bench, now, local_zone(desktop.settings.zone))
    return list(question_lines(found, now, desktop.say.manner)) if found.asks else []


def indoors_lines(desktop: Opened, now: datetime) -> list[str]:
    """Which cans to bring indoors, in the evening."""
    found = evening_desk.indoors(desktop.bench, now, local_zone(desktop.settings.zone))
    say = desktop.say.manner
    return [f"Can {e.can.id}: {keeping.tonight_words(e, now, say)}" for e in found]


def _morning_lines(found: Morning, say: Manner) -> Iterator[str]:
    now = found.now
    yield f"Last night, {say.moment(found.start, now)} to {say.moment(found.end, now)}"
    for each in found.steps:
        name = each.step.part or each.step.sheet.name
        yield f"{name} (step {each.step.id})"
        yield from (f"    {line}" for line in morning.step_lines(each, now, say))
    for held in found.bare:
        yield f"{held.part.name}"
        yield from (f"    {line}" for line in morning.bare_lines(held, now, say))
    if not found.steps and not found.bare:
        yield "Nothing stood on the bench, and no metal was told to be bare."


@as_json_option
def morning_(desktop: Opened, json_: bool) -> None:
    """The morning after: how far each step got in the night, and the earliest test."""
    found = morning.morning(desktop.bench, desktop.clock(), local_zone(desktop.settings.zone))
    if json_:
        print_json(morning.as_json(found))
        return
    click.echo("\n".join(_morning_lines(found, desktop.say.manner)))


COMMANDS: dict[tuple[str, ...], Callable[..., None]] = {
    ("parts",): parts_,
    ("part", "mark"): part_mark,
    ("part", "bare"): part_bare,
    ("part", "covered"): part_covered,
    ("part", "still-bare"): part_still_bare,
    ("part", "done"): part_done,
    ("evening", "stop"): evening_stop,
    ("evening", "bare"): evening_bare,
    ("morning",): morning_,
}
