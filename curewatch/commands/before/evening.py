"""The commands of the evening and of the morning after."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import TYPE_CHECKING

import click

from curewatch.commands.command import command, json_option
from curewatch.commands.context import Context, print_json
from curewatch.commands.options import who_option
from curewatch.walltime import next_time

if TYPE_CHECKING:
    from curewatch.formats import ReaderFormat
    from curewatch.garage.part_history import Part
    from curewatch.plan.evening_question import EveningQuestion
    from curewatch.plan.morning import Morning


def question_lines(question: EveningQuestion, now: datetime, say: ReaderFormat) -> Iterator[str]:
    """The evening's question for a terminal."""
    yield "Is any metal bare? Answer with: curewatch tonight --bare none, or as-listed"
    yield from _bare_lines(question.bare, now, say)
    yield "  another part: curewatch part bare PART --since 18:00"


def _bare_lines(bare: Sequence[Part], now: datetime, say: ReaderFormat) -> list[str]:
    if not bare:
        return []  # a part's words load the gate and the planner's nights
    from curewatch.commands.before.part import named
    from curewatch.plan import sentences

    return [f"  {named(part)}: {sentences.bare_words(part, now, say)}" for part in bare]


def asked_lines(context: Context, now: datetime) -> list[str]:
    """What the bench asks at the end of an evening, if it is time to."""
    from curewatch.plan import evening_question

    question = evening_question.question(context.bench, now, context.zone)
    return list(question_lines(question, now, context.manner)) if question.asks else []


def indoors_lines(context: Context, now: datetime) -> list[str]:
    """Which cans to bring indoors, in the evening."""
    from curewatch.garage import storage
    from curewatch.plan import evening_question

    stored_cans = evening_question.indoors(context.bench, now, context.zone)
    say = context.manner
    return [f"Can {e.can.id}: {storage.tonight_words(e, now, say)}" for e in stored_cans]


def _morning_lines(night: Morning, say: ReaderFormat) -> Iterator[str]:
    from curewatch.plan import morning

    now = night.now
    yield f"Last night, {say.moment(night.start, now)} to {say.moment(night.end, now)}"
    for overnight in night.steps:
        name = overnight.step.part or overnight.step.sheet.name
        yield f"{name} (step {overnight.step.id})"
        yield from (f"    {line}" for line in morning.step_lines(overnight, now, say))
    for bare_night in night.bare:
        yield f"{bare_night.part.name}"
        yield from (f"    {line}" for line in morning.bare_lines(bare_night, now, say))
    if not night.steps and not night.bare:
        yield "The bench was empty, and no bare metal was entered."


def _tonight(context: Context) -> Iterator[str]:
    from curewatch.commands.before.part import fitting_lines
    from curewatch.plan import evening_question
    from curewatch.plan.next_action import Cards

    now, say = context.clock(), context.manner
    question = evening_question.question(context.bench, now, context.zone)
    if question.stop is None:
        yield "Working until: not entered. Enter it with: curewatch tonight --until 22:30"
    else:
        yield f"Working until {say.moment(question.stop, now)}."
        cards = Cards(context.bench).cards(now, stop=question.stop)
        yield from fitting_lines(cards, question.stop, now, say)
    if question.asks or question.bare:
        yield from question_lines(question, now, say)
    yield from indoors_lines(context, now)


@command("tonight")
@click.option("--until", help="Until when you can work this evening, like '22:30'.")
@click.option(
    "--bare",
    type=click.Choice(["none", "as-listed"]),
    help="Is any metal bare? None, or only what is listed.",
)
@who_option
@click.pass_obj
def tonight(context: Context, until: str | None, bare: str | None, who: str) -> None:
    """Until when you work tonight, and what is bare.

    Without an option it shows what fits tonight, which metal is bare, and what to bring indoors.
    """
    from curewatch.garage import evening
    from curewatch.plan import evening_question

    now, zone = context.clock(), context.zone
    if until is not None:
        stop = next_time(until, now, zone, context.date_order)
        evening.set_stop(context.store, stop, now=now, zone=zone, who=who)
        click.echo(f"Working until {context.manner.moment(stop, now)}.")
    if bare is not None:
        answer = bare.replace("-", " ")
        evening_question.answer(context.bench, answer, now=now, zone=zone, who=who)
        click.echo("Saved; not asked again this evening.")
    if until is None and bare is None:
        click.echo("\n".join(_tonight(context)))


@command("morning")
@json_option
@click.pass_obj
def morning_(context: Context) -> None:
    """How far each step cured overnight.

    With the earliest time to test each.
    """
    from curewatch.plan import morning

    last_night = morning.morning(context.bench, context.clock(), context.zone)
    if context.as_json:
        print_json(morning.as_json(last_night))
        return
    click.echo("\n".join(_morning_lines(last_night, context.manner)))
