"""The commands of the cans on the shelf."""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterator
from datetime import datetime
from typing import Any, TypeVar

import click

from curewatch import cans, keeping
from curewatch.cans import Can, Told
from curewatch.keeping import Keeping
from curewatch.life import local_day, parse_day, parse_expiry
from curewatch.opened import Opened, as_json_option, maybe, print_json
from curewatch.verdict import Manner
from curewatch.zone import local_zone

Command = TypeVar("Command", bound=Callable[..., Any])
GROUPS = {"can": "The cans on the shelf: batches, days, where each stands."}
_OPTIONS = (
    click.option("--batch", help="Batch, as on the can."),
    click.option("--hardener-batch", help="Batch of the hardener."),
    click.option("--bought", help="When it was bought, like '2026-09-01'."),
    click.option("--opened", help="When it was opened, like '2026-10-03'."),
    click.option("--expiry", help="As printed on it: '2027-03-15' or '2027-03'."),
    click.option("--stored", help="Where it stands: a place with a sensor, or words."),
)


def _told_options(command: Command) -> Command:
    @functools.wraps(command)
    def with_told(*args: Any, **given: Any) -> Any:
        days = {key: maybe(parse_day, given.pop(key)) for key in ("bought", "opened")}
        told = Told(
            batch=given.pop("batch"),
            hardener_batch=given.pop("hardener_batch"),
            stored=given.pop("stored"),
            expiry=maybe(parse_expiry, given.pop("expiry")),
            **days,
        )
        return command(*args, told=told, **given)

    wrapped: Any = with_told
    for option in reversed(_OPTIONS):
        wrapped = option(wrapped)
    return wrapped  # type: ignore[no-any-return]


def _said(can: Can) -> str:
    return f"Can {can.id}: {can.sheet_id}{f', batch {can.batches}' if can.batches else ''}"


def _lines(found: Keeping, now: datetime, say: Manner) -> Iterator[str]:
    can = found.can
    state = ", used up" if can.used_up else ", in use" if found.in_use else ""
    yield f"{_said(can)}{state}"
    if can.last_used is not None:
        yield f"    last used {say.moment(can.last_used, now)}"
    for words in (
        keeping.use_by_words(found),
        keeping.stored_words(found, now, say),
        keeping.tonight_words(found, now, say),
    ):
        if words:
            yield f"    {words}"


@click.argument("sheet")
@_told_options
@click.option("--who", default="", help="Who tells it.")
def can_add(desktop: Opened, sheet: str, told: Told, who: str) -> None:
    """Put a can of SHEET on the shelf; the sheet alone is enough."""
    click.echo(f"{_said(cans.add(desktop.store, sheet, told, now=desktop.clock(), who=who))}.")


@click.argument("can", type=int)
@click.option("--on", "day", help="The day, like '2026-10-03'; today unless told.")
@click.option("--who", default="", help="Who tells it.")
def can_open(desktop: Opened, can: int, day: str | None, who: str) -> None:
    """Record that a can was opened."""
    now = desktop.clock()
    today = local_day(now, local_zone(desktop.settings.zone))
    opened = today if day is None else parse_day(day)
    found = cans.opened(desktop.store, can, opened, now=now, who=who)
    click.echo(f"{_said(found)}, opened {opened.isoformat()}.")


@click.argument("can", type=int)
@_told_options
@click.option("--who", default="", help="Who tells it.")
@click.option("--why", default="", help="Why it is corrected.")
def can_amend(desktop: Opened, can: int, told: Told, who: str, why: str) -> None:
    """Add to a can or correct it; what stood before is kept."""
    found = cans.amend(desktop.store, can, told, now=desktop.clock(), who=who, why=why)
    click.echo(f"{_said(found)}.")


@click.argument("can", type=int)
@click.option("--not", "back", is_flag=True, help="It is not, after all.")
@click.option("--who", default="", help="Who tells it.")
def can_used_up(desktop: Opened, can: int, back: bool, who: str) -> None:
    """Record that a can is used up."""
    found = cans.used_up(desktop.store, can, now=desktop.clock(), who=who, back=back)
    click.echo(f"{_said(found)}, {'back in use' if back else 'used up'}.")


@click.argument("sheet", required=False)
@as_json_option
def can_list(desktop: Opened, sheet: str | None, json_: bool) -> None:
    """List the cans: last days, how cold they stood, what to bring indoors tonight."""
    now = desktop.clock()
    found = keeping.all_kept(desktop.bench.desk, now, local_zone(desktop.settings.zone), sheet)
    if json_:
        print_json([keeping.as_json(each) for each in found])
        return
    lines = [line for each in found for line in _lines(each, now, desktop.say.manner)]
    click.echo("\n".join(lines or ["No can yet. Tell of one with: curewatch can add SHEET"]))


COMMANDS: dict[tuple[str, ...], Callable[..., None]] = {
    ("can", "add"): can_add,
    ("can", "open"): can_open,
    ("can", "amend"): can_amend,
    ("can", "used-up"): can_used_up,
    ("can", "list"): can_list,
}
