"""The commands of parts: what is next on each, bare metal, structural or body."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import TYPE_CHECKING

import click

from curewatch.commands.command import command, json_option
from curewatch.commands.context import Context, print_json
from curewatch.commands.options import who_option
from curewatch.formats import ReaderFormat
from curewatch.garage.part_history import Part
from curewatch.walltime import last_time

if TYPE_CHECKING:
    from curewatch.plan.next_action import Card

part_argument = click.argument("part")
_job = click.option("--job", default="", help="The job it belongs to.")


def named(part: Part) -> str:
    """A part with its job, for a line of its own."""
    return f"{part.name}{f' [{part.job}]' if part.job else ''}"


def _card_lines(card: Card, now: datetime, say: ReaderFormat) -> Iterator[str]:
    from curewatch.garage.joint import mark_commands
    from curewatch.plan import sentences

    part = card.part
    mark = {"structural": " (structural)", "asked": " (structural?)"}.get(card.joint, "")
    yield f"{named(part)}{mark}"
    for words in (
        sentences.last_words(card, now, say),
        sentences.bare_words(part, now, say),
        sentences.next_words(card, now, say),
        sentences.fits_words(card, now, say),
    ):
        if words:
            yield f"    {words}"
    if card.joint == "asked":
        yield f"    answer: {mark_commands(part.name, part.job)}"
    if part.asked_step is not None:
        yield f"    step {part.asked_step} went over it: is any metal still bare? part bare --still"


def fitting_lines(
    fitting: list[Card], stop: datetime, now: datetime, say: ReaderFormat
) -> Iterator[str]:
    """What fits before the end of this evening's work."""
    from curewatch.plan import sentences

    yield f"Before {say.moment(stop, now)}:"
    for what, whether, cards in sentences.grouped(fitting, now, say):
        yield f"    {', '.join(card.part.name for card in cards)}: {what}; {whether}"


@command("list")
@click.option("--job", help="Only the parts of this job.")
@json_option
@click.pass_obj
def list_(context: Context, job: str | None) -> None:
    """Show where you left off on each part.

    Its last step, what is next, and whether that fits tonight.
    """
    from curewatch.garage import evening
    from curewatch.plan import sentences
    from curewatch.plan.next_action import MOST, Cards

    now, say = context.clock(), context.manner
    stop = evening.stop_of(context.store, now, context.zone)
    cards = Cards(context.bench).cards(now, job=job, stop=stop)
    if context.as_json:
        print_json(sentences.listed(cards, now, stop))
        return
    lines = [line for card in cards for line in _card_lines(card, now, say)]
    if len(cards) == MOST:
        lines.append(
            f"Only the {MOST} parts you worked on last; for others: curewatch part list --job JOB"
        )
    if stop is not None:
        lines += fitting_lines(cards, stop, now, say)
    empty = "No part yet: mix with --part, or enter one with: curewatch part bare PART"
    click.echo("\n".join(lines or [empty]))


@command("structural")
@part_argument
@_job
@click.option("--not", "body", is_flag=True, help="It is plain body, not structural.")
@who_option
@click.pass_obj
def structural(context: Context, part: str, job: str, body: bool, who: str) -> None:
    """Mark a part as structural or not.

    No times are given for a structural part: the maker's procedure comes first.
    """
    from curewatch.garage import parts

    kind = "body" if body else "structural"
    parts.mark(context.store, part, job, kind, now=context.clock(), who=who)
    click.echo(f"{part} is marked {kind}.")


@command("bare")
@part_argument
@_job
@click.option("--since", help="Since when, like '18:00'; now if left out.")
@click.option("--grit", default="", help="Grit it was sanded with, like '80'.")
@click.option("--cleaner", default="", help="What it was cleaned with.")
@click.option("--place", default="", help="The place whose sensor it uses; panel if left out.")
@click.option("--still", is_flag=True, help="Metal is still bare beside the last step.")
@who_option
@click.pass_obj
def bare(
    context: Context,
    part: str,
    job: str,
    since: str | None,
    grit: str,
    cleaner: str,
    place: str,
    still: bool,
    who: str,
) -> None:
    """Start the bare-metal timer of a part.

    It was cleaned to metal now, or at --since. With --still the running timer goes on.
    """
    from curewatch.garage import parts
    from curewatch.plan import sentences

    now = context.clock()
    if still:
        kept = parts.still_bare(context.store, part, job, now=now, who=who)
        click.echo(f"{named(kept)}: the timer runs on.")
        return
    at = now if since is None else last_time(since, now, context.zone, context.date_order)
    details = {"grit": grit, "cleaned_with": cleaner, "place": context.place(place), "who": who}
    parts.bared(context.store, part, job, now=now, since=at, **details)
    bare_part = parts.part(context.bench.reader, part, job, now)
    click.echo(f"{part}: {sentences.bare_words(bare_part, now, context.manner)}.")


@command("covered")
@part_argument
@_job
@who_option
@click.pass_obj
def covered(context: Context, part: str, job: str, who: str) -> None:
    """Stop the bare-metal timer of a part.

    No bare metal is left on it.
    """
    from curewatch.garage import parts

    covered_part = parts.covered(context.store, part, job, now=context.clock(), who=who)
    click.echo(f"{named(covered_part)} is covered.")


@command("done")
@part_argument
@_job
@who_option
@click.pass_obj
def done(context: Context, part: str, job: str, who: str) -> None:
    """Record that a part is finished.

    A later step on it reopens it.
    """
    from curewatch.garage import parts

    finished = parts.done(context.store, part, job, now=context.clock(), who=who)
    click.echo(f"{named(finished)}: finished.")
