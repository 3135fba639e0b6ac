"""The commands of a plan: when one is there, the way of a part, what is wished, and the answer."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from curewatch.commands.command import Alone, command, json_option
from curewatch.commands.context import Context, print_json, text_of, write_calendar
from curewatch.commands.options import FILE_OUT
from curewatch.errors import ConfigError, StepError
from curewatch.walltime import next_time

if TYPE_CHECKING:
    from datetime import date

    from curewatch.formats import ReaderFormat
    from curewatch.ways.entered import PartWish
    from curewatch.ways.hours import Hours
    from curewatch.week.helps import WeekHelp
    from curewatch.week.plan import WeekPlan

_part = click.argument("part")
_job = click.option("--job", default="", help="The job it belongs to.")


def _hours_words(hours: Hours | None) -> Iterator[str]:
    from curewatch.days import day_words
    from curewatch.ways.hours import DAYS

    if hours is None:
        yield "Not entered yet: curewatch plan hours 'Mon-Fri 18:00-22:30, Sat 9-18'"
        return
    for name, spells in zip(DAYS, hours.week, strict=True):
        text = ", ".join(f"{spell.start:%H:%M} to {spell.end:%H:%M}" for spell in spells)
        yield f"{name.capitalize()}: {text or 'not there'}"
    if hours.loud_until is not None:
        yield f"Loud until {hours.loud_until:%H:%M}"
    for day, spells in sorted(hours.exceptions.items()):
        text = ", ".join(f"{spell.start:%H:%M} to {spell.end:%H:%M}" for spell in spells)
        yield f"{day_words(day)}: {text or 'not there'}"


def _day(context: Context, text: str) -> date:
    """A day by its name or date."""
    from curewatch.days import parse_day

    try:
        at = next_time(f"{text} 23:59", context.clock(), context.zone, context.date_order)
    except ConfigError:
        return parse_day(text, context.date_order)
    return at.astimezone(context.zone).date()


@command("hours")
@click.argument("week", required=False)
@click.option("--loud-until", help="Until when it may be loud, like '20:00'.")
@click.option("--not", "absent", help="A day on which you are not there, like 'Thu'.")
@click.option("--on", "other", nargs=2, help="A day with other hours, like 'Sun' '9-13'.")
@click.option("--clamps", type=click.IntRange(1, 200), help="How many clamps you have.")
@click.pass_obj
def hours(
    context: Context,
    week: str | None,
    loud_until: str | None,
    absent: str | None,
    other: tuple[str, str] | None,
    clamps: int | None,
) -> None:
    """Enter when you are in the garage, and how many clamps you have.

    WEEK is like 'Mon-Fri 18:00-22:30, Sat 9-18'. Without anything it shows what is entered.
    """
    from curewatch.ways import entered

    now, store = context.clock(), context.store
    if loud_until is not None and week is None:
        raise ConfigError("the week is missing", fix="give it together with --loud-until")
    if week is not None:
        entered.set_hours(store, week, loud_until or "", now=now)
    if absent is not None:
        entered.set_otherwise(store, _day(context, absent), "", now=now)
    if other is not None:
        entered.set_otherwise(store, _day(context, other[0]), other[1], now=now)
    if clamps is not None:
        entered.set_clamps(store, clamps, now=now)
    click.echo("\n".join(_hours_words(entered.hours(store))))
    if (owned := entered.clamps(store)) is not None:
        click.echo(f"Clamps: {owned}")


@command("way")
@_part
@click.argument("way", required=False)
@_job
@click.pass_obj
def way(context: Context, part: str, way: str | None, job: str) -> None:
    """Choose how a part is worked on.

    WAY is bond-a-patch, fill-a-dent, prime-bare-metal, a file of your own, or one that you chose
    for another part. Without it the part's way is shown.
    """
    from curewatch.ways import entered
    from curewatch.ways.left import known_part
    from curewatch.ways.way import generic_text, generic_ways

    part, job = known_part(context.bench, part, job, context.clock())
    if way is not None:
        if way in generic_ways():
            text = generic_text(way)
        elif way.endswith(".toml"):
            text = text_of(Path(way))[0]
        else:
            own = entered.own_ways(context.store)
            names = ", ".join(generic_ways() | own)
            if way not in own:
                raise ConfigError(f"there is no way {way[:40]!r}", fix=f"use {names} or a file")
            text = entered.own_text(context.store, way) or ""
        id = Path(way).stem
        entered.set_way(context.store, part, job, id, text, now=context.clock())
    chosen = entered.way_of(context.store, part, job)
    if chosen is None:
        names = ", ".join(generic_ways())
        raise StepError(f"{part} has no way of work yet", fix=f"choose one: {names}")
    click.echo(f"{part}: {chosen.name}")
    for step in chosen.steps:
        loud = ", loud" if step.loud else ""
        kind = f", {step.kind}" if step.kind else ""
        click.echo(f"    {step.does}: {step.hands_min:g} min{loud}{kind}")


def _wish(context: Context, end: str, by: str | None) -> PartWish:
    from curewatch.ways.entered import PartWish

    if by is None:
        return PartWish(end, None)
    return PartWish(end, next_time(by, context.clock(), context.zone, context.date_order))


@command("wish")
@_part
@click.argument("end", required=False)
@click.option("--by", help="By when, like 'Sat 12:00'; as early as possible if left out.")
@click.option("--drop", is_flag=True, help="Take the wish back.")
@_job
@click.pass_obj
def wish(
    context: Context, part: str, end: str | None, by: str | None, drop: bool, job: str
) -> None:
    """Enter what a part is to be, and by when.

    END is like 'primed'; the whole way if left out.
    """
    from curewatch.ways import entered, words
    from curewatch.ways.left import known_part

    now = context.clock()
    part, job = known_part(context.bench, part, job, now)
    if drop:
        entered.drop_wish(context.store, part, job, now=now)
        click.echo(f"{part}: wish dropped.")
        return
    wished = _wish(context, end or "", by)
    entered.set_wish(context.store, part, job, wished, now=now)
    click.echo(f"{part}: {words.wish_words(wished, now, context.manner)}.")


@command("show")
@click.argument("part", required=False)
@click.option("--end", default="", help="What it is to be, like 'primed', for this answer only.")
@click.option("--by", help="By when, like 'Sat 12:00', for this answer only.")
@_job
@json_option
@click.pass_obj
def show(context: Context, part: str | None, end: str, by: str | None, job: str) -> None:
    """Show by when to begin a part, and what tonight.

    PART is one with a way of work; without it every part with a wish is shown.
    """
    from curewatch.garage.part_history import key_of
    from curewatch.ways import entered, words
    from curewatch.ways.gather import part_plan
    from curewatch.week.taken import reminded_parts

    now, zone = context.clock(), context.zone
    named = [(part, job)] if part is not None else entered.wished(context.store)
    given = _wish(context, end, by) if part is not None and (end or by) else None
    plans = [part_plan(context.bench, name, of, given, now, zone) for name, of in named]
    if context.as_json:
        print_json([words.as_json(plan) for plan in plans])
        return
    if not plans:
        click.echo("No wish yet. Enter one: curewatch plan wish PART primed --by 'Sat 12:00'")
    reminded = reminded_parts(context.store) if given is None else {}
    for plan in plans:
        name, of = plan.left.part, plan.left.job
        click.echo(f"{name}{f' [{of}]' if of else ''}")
        lines = words.lines(plan, context.manner, key_of(name, of) in reminded)
        click.echo("\n".join(f"    {line}" for line in lines))


def _help_lines(options: Sequence[WeekHelp], plan: WeekPlan, say: ReaderFormat) -> Iterator[str]:
    from curewatch.ways.words import heat_cautions
    from curewatch.week.words import help_words

    yield "What would help:" if options else "Nothing that was tried would help."
    yield from (f"    {help_words(option, plan, say)}" for option in options)
    yield from heat_cautions([option.code for option in options])


@command("week", Alone)
@click.option("--ics", type=FILE_OUT, help="Write the plan as a calendar file.")
@click.option("--helps", is_flag=True, help="Also say what would help; it takes some seconds.")
@json_option
@click.pass_obj
def week(context: Context, ics: Path | None, helps: bool) -> None:
    """Plan all wished parts, with one pair of hands.

    It says of each part how likely it is done by its wish, and between when and when to begin each
    step so that the rest can stay as it is. Asked again, the plan stays as it was shown, unless it
    breaks or a wish gains an evening or a tenth.
    """
    from curewatch.exchange.ics import LATELY
    from curewatch.week import words
    from curewatch.week.calendar import calendar
    from curewatch.week.gather import week_helps, week_plan
    from curewatch.week.kept import keep, shown_since
    from curewatch.week.promises import tallies
    from curewatch.week.taken import reminds_of_all

    plan = week_plan(context.bench, context.clock(), context.zone)
    keep(context.store, plan)
    if ics is not None:
        shown_steps = shown_since(context.store, plan.now - LATELY)
        write_calendar(ics, calendar(plan, context.manner, shown_steps))
        click.echo(f"The plan is in {ics}; import it again when it has moved.")
        return
    options = week_helps(context.bench, plan.now, context.zone) if helps else ()
    if context.as_json:
        more = {"would_help": [words.help_json(option) for option in options]} if helps else {}
        print_json(words.as_json(plan) | more)
        return
    if not plan.parts and not plan.left_out:
        click.echo("No wish yet. Enter one: curewatch plan wish PART primed --by 'Sat 12:00'")
        return
    reminds = reminds_of_all(context.store, plan)
    click.echo("\n".join(words.lines(plan, context.manner, reminds)))
    if helps:
        click.echo("\n".join(_help_lines(options, plan, context.manner)))
    for tally in tallies(context.store, plan.now):
        click.echo(words.tally_words(tally))


@command("remind")
@click.option("--off", is_flag=True, help="Remind no more.")
@click.pass_obj
def remind(context: Context, off: bool) -> None:
    """Remind of when to begin the steps of the plan.

    Until then a plan reminds of nothing. From then on the bench, its calendar and its announcements
    say between when and when to begin each step, until it is mixed or entered with `plan begun`.
    When the plan moves, the reminders move with it, and the reason is said.
    """
    from curewatch.ways.words import REMINDS
    from curewatch.week import taken, taken_words
    from curewatch.week.gather import week_plan

    now, zone, store = context.clock(), context.zone, context.store
    if off:
        taken.let_go(store, now=now)
        click.echo("The plan reminds you no more.")
        return
    taken.take_over(store, week_plan(context.bench, now, zone), now=now)
    for step in taken.PlanReminders(context.bench).now(now, zone):
        click.echo(taken_words.sentence(step, now, context.manner))
    click.echo(REMINDS)


@command("begun")
@_part
@_job
@click.pass_obj
def begun(context: Context, part: str, job: str) -> None:
    """Enter that the next step of a part was begun.

    For steps that take no product, like sanding: a mix says by itself that its step was begun. A
    step that leaves bare metal starts the part's bare-metal timer too.
    """
    from curewatch.ways.left import begin_next

    click.echo(f"{part}: begun, {begin_next(context.bench, part, job, context.clock())}.")
