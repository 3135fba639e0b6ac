"""The command of the bench: what is curing, and what is asked there beside the tests."""

from __future__ import annotations

from pathlib import Path

import click

from curewatch import as_json, damaged
from curewatch.cli_context import FILE_OUT, Context, command, json_option, print_json
from curewatch.cli_evening import asked_lines, indoors_lines
from curewatch.cli_room import aired
from curewatch.cli_undo import damaged_lines
from curewatch.ics import LATELY, calendar
from curewatch.purge import as_json as purge_json
from curewatch.trouble import trouble


def _write(file: Path, held: bytes) -> None:
    """Put a file in place whole or not at all, on disk before it takes the other's place."""
    fresh = file.with_name(f".{file.name}.new")
    try:
        fresh.write_bytes(held)
        fresh.replace(file)
    except OSError as error:
        raise trouble("the calendar was not written", error, file) from None


@command("bench")
@click.option(
    "--ics", type=FILE_OUT, help="Write what is coming as a calendar; importing it again moves it."
)
@json_option
@click.pass_obj
def bench(context: Context, ics: Path | None) -> None:
    """Show what is curing, and when to test what."""
    now = context.clock()
    view = context.bench.view(now)
    if ics is not None:
        gone = context.bench.closed_since(now - LATELY)
        _write(ics, calendar(view, gone, context.say.calendar()))
        click.echo(f"What is coming is in {ics}; import it again when times have moved.")
        return
    asked = asked_lines(context, now)
    if context.as_json:
        airing = [purge_json(each) for each in aired(context, view)]
        left_out = [damaged.as_json(each) for each in context.bench.desk.damaged()]
        more = {"asks_bare": bool(asked), "airing": airing, "damaged": left_out}
        back = as_json.clock(context.held_clock.went_back())
        print_json(as_json.bench(view) | more | back)
        return
    broken = damaged_lines(context, context.bench.desk.damaged())
    indoors = indoors_lines(context, now)
    click.echo("\n".join([*asked, *indoors, *broken, context.say.bench(view)]))
    for each in aired(context, view):
        click.echo(f"Step {each.step_id}, {each.part}: {each.words}")
