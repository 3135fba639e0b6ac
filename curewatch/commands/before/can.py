"""The commands of the cans on the shelf."""

from __future__ import annotations

import functools
from collections.abc import Iterator
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

import click

from curewatch.commands.command import command, json_option
from curewatch.commands.context import Context, print_json
from curewatch.commands.options import (
    DAY,
    EXPIRY,
    Function,
    completing,
    product_argument,
    products,
    who_option,
)
from curewatch.formats import ReaderFormat
from curewatch.garage import cans, storage

if TYPE_CHECKING:
    from curewatch.garage.cans import Can, CanDetails
    from curewatch.garage.storage import StoredCan

_OPTIONS = (
    click.option("--batch", help="Batch, as on the can."),
    click.option("--hardener-batch", help="Batch of the hardener."),
    click.option("--bought", type=DAY, help="When it was bought, like '1 Sep 2026'."),
    click.option("--opened", type=DAY, help="When it was opened, like '3 Oct 2026'."),
    click.option(
        "--expiry", type=EXPIRY, help="Expiry, as printed: '15.03.2027', '2027-03' or '03/2027'."
    ),
    click.option("--stored", help="Where it is stored: a place with a sensor, or any words."),
)
can_argument = click.argument(
    "can",
    type=int,
    metavar="N",
    shell_complete=completing(
        lambda store: (str(can.id) for can in cans.cans(store) if not can.used_up)
    ),
)


def _details_options(function: Function) -> Function:
    from curewatch.garage.cans import CanDetails

    @functools.wraps(function)
    def with_details(*args: Any, **options: Any) -> Any:
        names = ("batch", "hardener_batch", "bought", "opened", "expiry", "stored")
        details = CanDetails(**{name: options.pop(name) for name in names})
        return function(*args, details=details, **options)

    wrapped: Any = with_details
    for option in reversed(_OPTIONS):
        wrapped = option(wrapped)
    return wrapped  # type: ignore[no-any-return]


def _name(can: Can) -> str:
    return f"Can {can.id}: {can.sheet_id}{f', batch {can.batches}' if can.batches else ''}"


def _entered(can: Can, details: CanDetails) -> str:
    return ", ".join(filter(None, (_name(can), cans.days_in(details.body()))))


def _lines(stored_can: StoredCan, now: datetime, say: ReaderFormat) -> Iterator[str]:
    can = stored_can.can
    state = ", used up" if can.used_up else ", in use" if stored_can.in_use else ""
    yield f"{_name(can)}{state}"
    if can.last_used is not None:
        yield f"    last used {say.moment(can.last_used, now)}"
    for words in (
        storage.use_by_words(stored_can),
        storage.stored_words(stored_can, now, say),
        storage.tonight_words(stored_can, now, say),
    ):
        if words:
            yield f"    {words}"


@command("add")
@product_argument
@_details_options
@who_option
@click.pass_obj
def add(context: Context, product: str, details: CanDetails, who: str) -> None:
    """Put a can on the shelf.

    The product alone is enough.
    """
    can = cans.add(context.store, product, details, now=context.clock(), who=who)
    click.echo(f"{_entered(can, details)}.")


@command("open")
@can_argument
@click.option("--on", "day", type=DAY, help="The day, like '3 Oct 2026'; today if left out.")
@who_option
@click.pass_obj
def open_(context: Context, can: int, day: date | None, who: str) -> None:
    """Record that a can was opened."""
    from curewatch.days import day_words
    from curewatch.products.shelf_life import local_day

    now = context.clock()
    opened = day or local_day(now, context.zone)
    opened_can = cans.opened(context.store, can, opened, now=now, who=who)
    click.echo(f"{_name(opened_can)}, opened {day_words(opened)}.")


@command("edit")
@can_argument
@_details_options
@who_option
@click.option("--why", default="", help="Why it is corrected.")
@click.pass_obj
def edit(context: Context, can: int, details: CanDetails, who: str, why: str) -> None:
    """Add to a can or correct it.

    Earlier values stay in the history.
    """
    changed = cans.amend(context.store, can, details, now=context.clock(), who=who, why=why)
    click.echo(f"{_entered(changed, details)}.")


@command("empty")
@can_argument
@click.option("--not", "back", is_flag=True, help="It is not empty after all.")
@who_option
@click.pass_obj
def empty(context: Context, can: int, back: bool, who: str) -> None:
    """Record that a can is used up."""
    changed = cans.used_up(context.store, can, now=context.clock(), who=who, back=back)
    click.echo(f"{_name(changed)}, {'back in use' if back else 'used up'}.")


@command("list")
@click.argument("product", required=False, shell_complete=products)
@json_option
@click.pass_obj
def list_(context: Context, product: str | None) -> None:
    """List the cans, and which to bring indoors.

    Only those of PRODUCT, if you name one.
    """
    now = context.clock()
    stored_cans = storage.stored_cans(context.bench.reader, now, context.zone, product)
    if context.as_json:
        print_json([storage.as_json(stored_can) for stored_can in stored_cans])
        return
    lines = [line for stored_can in stored_cans for line in _lines(stored_can, now, context.manner)]
    click.echo("\n".join(lines or ["No can yet. Add one with: curewatch can add PRODUCT"]))
