"""The command of the bench: what is curing, and what is asked there beside the tests."""

from __future__ import annotations

import contextlib
import sys
import time
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from curewatch.commands.before.evening import asked_lines, indoors_lines
from curewatch.commands.command import command, json_option
from curewatch.commands.context import Context, print_json, write_calendar
from curewatch.commands.curing.undo import damaged_lines
from curewatch.commands.options import FILE_OUT
from curewatch.errors import ConfigError
from curewatch.protection.purge import aired

if TYPE_CHECKING:
    from curewatch.week.taken import PlanReminder


def _text(context: Context, now: datetime) -> str:
    view = context.bench.view(now)
    broken = damaged_lines(context, context.bench.reader.damaged(now))
    questions = [*asked_lines(context, now), *indoors_lines(context, now), *broken]
    airing = [
        f"Step {purge.step_id}, {purge.part}: {purge.words}"
        for purge in aired(context.bench, view, context.manner)
    ]
    planned = _reminder_lines(context, now)
    return "\n".join([*questions, context.say.bench(view), *airing, *planned])


def _reminders(context: Context, now: datetime) -> tuple[PlanReminder, ...]:
    """What a plan that was taken over reminds of."""
    from curewatch.week.kept import taken_over

    if taken_over(context.store) is None:
        return ()
    # the planner takes as long to load as the rest of the bench
    from curewatch.week.taken import PlanReminders

    return PlanReminders(context.bench).now(now, context.zone)


def _reminder_lines(context: Context, now: datetime) -> list[str]:
    if not (steps := _reminders(context, now)):
        return []
    from curewatch.week.taken_words import sentence

    return [sentence(step, now, context.manner) for step in steps]


def _reminder_json(context: Context, now: datetime) -> list[dict[str, Any]]:
    if not (steps := _reminders(context, now)):
        return []
    from curewatch.week.taken_words import as_json

    return as_json(steps, now)


def _write_calendar(context: Context, file: Path, now: datetime) -> None:
    """The bench's calendar, with the beginnings that a plan reminds of."""
    from curewatch.week.calendar import bench_calendar

    reminders = _reminders(context, now)
    words = context.say.calendar()
    write_calendar(file, bench_calendar(context.bench, reminders, now, context.manner, words))
    click.echo(f"The calendar is in {file}; import it again when times have moved.")


def _json(context: Context, now: datetime) -> dict[str, Any]:
    from curewatch.exchange import bench_json
    from curewatch.garage import damaged
    from curewatch.protection import purge

    view = context.bench.view(now)
    airing = [purge.as_json(one) for one in aired(context.bench, view, context.manner)]
    left_out = [damaged.as_json(record) for record in context.bench.reader.damaged(now)]
    more = {"asks_bare": bool(asked_lines(context, now)), "airing": airing, "damaged": left_out}
    more |= {"plan": _reminder_json(context, now)}
    return bench_json.bench(view) | more | bench_json.clock(context.held_clock.went_back())


def _watch(context: Context) -> None:
    """Show the bench anew every second until Ctrl-C; on a terminal only."""
    if context.as_json or not sys.stdout.isatty():
        raise ConfigError("--watch needs a terminal", fix="leave it out, or ask for --json")
    with contextlib.suppress(KeyboardInterrupt):
        while True:
            text = _text(context, context.clock())
            click.clear()
            click.echo(text)
            time.sleep(1)


@command("bench")
@click.option("--ics", type=FILE_OUT, help="Write what is coming as a calendar file.")
@click.option("--watch", is_flag=True, help="Show it live, until Ctrl-C.")
@json_option
@click.pass_obj
def bench(context: Context, ics: Path | None, watch: bool) -> None:
    """Show what is curing, and when to test it."""
    if watch:
        _watch(context)
        return
    now = context.clock()
    if ics is not None:
        _write_calendar(context, ics, now)
    elif context.as_json:
        print_json(_json(context, now))
    else:
        click.echo(_text(context, now))
