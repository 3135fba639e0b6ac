"""The commands of heat: the lamps and heaters one owns, and what they would buy."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from curewatch.commands.command import command, json_option
from curewatch.commands.context import Context, print_json
from curewatch.commands.options import (
    TEMPERATURE,
    asked_end,
    ends_options,
    mix_options,
    product_argument,
)
from curewatch.walltime import last_time, next_time

if TYPE_CHECKING:
    from curewatch.events.details import Details
    from curewatch.warmth.owned import Heater

_name = click.argument("name")


def _say(context: Context, heater: Heater) -> None:
    from curewatch.warmth import words

    if context.as_json:
        print_json(words.heater_json(heater))
        return
    click.echo(words.heater_words(heater, context.manner))


@command("list")
@json_option
@click.pass_obj
def list_(context: Context) -> None:
    """Show the lamps and heaters you own."""
    from curewatch.warmth import owned, words

    heaters, price = owned.heaters(context.store), owned.energy_price(context.store)
    if context.as_json:
        print_json({"price": price, "heaters": [words.heater_json(heater) for heater in heaters]})
        return
    if not heaters:
        click.echo("No heater yet. Enter one: curewatch heater add 'work lamp' --watts 500")
    for heater in heaters:
        click.echo(words.heater_words(heater, context.manner))
    if price is not None:
        click.echo(f"A kilowatt hour costs {context.manner.number(price, 2)}.")


@command("add")
@_name
@click.option("--watts", type=float, required=True, help="Its power, like 500.")
@click.option(
    "--on",
    "heats",
    type=click.Choice(["panel", "room"]),
    default="panel",
    show_default=True,
    help="What it warms.",
)
@click.option("--lit", "lit_m2", type=float, help="Square metres that a lamp lights, like 0.5.")
@json_option
@click.pass_obj
def add(context: Context, name: str, watts: float, heats: str, lit_m2: float | None) -> None:
    """Enter a lamp or a heater, or correct one."""
    from curewatch.warmth import owned

    place = next(place_name for place_name in owned.PLACES if place_name == heats)
    lit = owned.USUAL_LIT_M2 if lit_m2 is None else lit_m2
    now = context.clock()
    _say(context, owned.own(context.store, name, watts, place, now=now, lit_m2=lit))


@command("gave")
@_name
@click.argument("under", metavar="TEMPERATURE", type=TEMPERATURE)
@click.option(
    "--before", type=TEMPERATURE, required=True, help="The metal before it was lit, like '14 C'."
)
@json_option
@click.pass_obj
def gave(context: Context, name: str, under: float, before: float) -> None:
    """Enter what a probe under a lamp shows.

    TEMPERATURE is that of the metal after half an hour in the light, like '28 C'.
    """
    from curewatch.warmth import owned

    _say(context, owned.probed(context.store, name, under - before, now=context.clock()))


@command("ran")
@_name
@click.option("--from", "start", required=True, help="When it went on, like '17:00'.")
@click.option("--to", "end", required=True, help="When it went off, like '21:00'.")
@json_option
@click.pass_obj
def ran(context: Context, name: str, start: str, end: str) -> None:
    """Enter from when to when a heater was on.

    What the panel did meanwhile teaches how warm your room gets by it.
    """
    from curewatch.warmth import owned

    now, zone, order = context.clock(), context.zone, context.date_order
    off = last_time(end, now, zone, order)
    on = last_time(start, off, zone, order)
    _say(context, owned.ran(context.store, name, on, off, now=now))


@command("remove")
@_name
@click.pass_obj
def remove(context: Context, name: str) -> None:
    """Take a lamp or heater off the list."""
    from curewatch.warmth import owned

    owned.sold(context.store, name, now=context.clock())
    click.echo(f"{name}: removed.")


@command("price")
@click.argument("price", type=float)
@click.pass_obj
def price(context: Context, price: float) -> None:
    """Enter what a kilowatt hour costs.

    PRICE is in your money, like 0.32.
    """
    from curewatch.warmth import owned

    owned.set_energy_price(context.store, price, now=context.clock())
    click.echo(f"A kilowatt hour costs {context.manner.number(price, 2)}.")


@command("warmth")
@product_argument
@ends_options
@click.option("--mixed-at", help="When you mix it, like '18:30'; now if left out.")
@click.option("--there-until", help="Until when you are there; tonight's stopping time else.")
@mix_options
@json_option
@click.pass_obj
def warmth(
    context: Context,
    product: str,
    ends: dict[str, str],
    mixed_at: str | None,
    there_until: str | None,
    details: Details,
) -> None:
    """What heat or another product would buy.

    For PRODUCT it compares no heat, each of your lamps and heaters, and your other products of that
    kind: how likely the clamps come off, it can be sanded or recoated by the time you give, from
    when to when the heat must be on for 9 in 10, and what that takes.
    """
    from curewatch.garage.evening import stop_of
    from curewatch.warmth import words
    from curewatch.warmth.trial import Wish
    from curewatch.warmth.trial import warmth as question

    now, zone, order = context.clock(), context.zone, context.date_order
    milestone, by = asked_end(context, ends)
    until = stop_of(context.store, now, zone)
    if there_until is not None:
        until = next_time(there_until, now, zone, order)
    at = now if mixed_at is None else next_time(mixed_at, now, zone, order)
    wish = Wish(milestone, by, at, until or by)
    trial = question(context.bench, product, now, details, wish, zone)
    if context.as_json:
        print_json(words.as_json(trial))
        return
    click.echo("\n".join(words.lines(trial, context.manner)))
