"""The commands for readings that a person types: enter them, list them, take them back."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

import click

from curewatch.climate.reading import Quantity, Reading
from curewatch.commands.command import command, json_option
from curewatch.commands.context import Context, print_json
from curewatch.commands.options import ago_option
from curewatch.errors import ConfigError, ReadingError
from curewatch.quality import typed
from curewatch.quality.intake import Intake
from curewatch.walltime import check_time
from sensors.manual import typed_readings
from sensors.manual.one_line import PANEL, by_place, in_line

MOST_LISTED = 50
Texts = Mapping[Quantity, str]


def texts_of(surface: str | None, air: str | None, humidity: str | None) -> Texts:
    """What was typed, by quantity."""
    texts: dict[Quantity, str | None] = {
        "surface_temperature": surface,
        "air_temperature": air,
        "relative_humidity": humidity,
    }
    return {quantity: text for quantity, text in texts.items() if text is not None}


def words_of(reading: Reading) -> str:
    """What a reading measured, as it is said."""
    return reading.quantity.replace("_", " ")


@command("add")
@click.argument("line", nargs=-1)
@click.option("--place", default="panel", show_default=True, help="Where it was measured.")
@click.option("--surface", help="Temperature of the metal, like '14.2 C'.")
@click.option("--air", help="Temperature of the air, like '15 C'.")
@click.option("--humidity", help="Relative humidity, like '68 %'.")
@ago_option
@click.option(
    "--also", is_flag=True, help="The reading typed in the last ten minutes is right too."
)
@click.option("--yes", is_flag=True, help="It is right, although it is far from the last one.")
@click.pass_obj
def add(
    context: Context,
    line: tuple[str, ...],
    place: str,
    surface: str | None,
    air: str | None,
    humidity: str | None,
    ago: str | None,
    also: bool,
    yes: bool,
) -> None:
    """Enter a thermometer's reading.

    Or a hygrometer's. Without an option LINE says it: 14.2 is the metal's temperature in your unit,
    "14.2 air 16 62 %" adds the air's. A second reading of the same thing within ten minutes
    replaces the first.
    """
    now, store = context.clock(), context.store
    at = check_time(context.before(ago), now, "the reading")
    entered = [
        (texts, typed_readings.typed(where, at, texts))
        for where, texts in _entered(context, place, line, texts_of(surface, air, humidity))
    ]
    for texts, readings in [] if yes else entered:
        for slip in typed.suspects(store, readings, texts, both_right=also):
            what, fix = context.say.slip(slip, now)
            where = f"{slip.reading.place} {words_of(slip.reading)}"
            raise ReadingError(what, where=where, fix=fix)
    for _, readings in entered:
        _store(context, readings, at, now, both_right=also)


def _entered(
    context: Context, place: str, line: tuple[str, ...], texts: Texts
) -> list[tuple[str, Texts]]:
    """What was typed, by place: with options, or in one line as on the page."""
    if not line:
        return [(context.place(place), texts)]
    if texts:
        text = " ".join(line)
        raise ConfigError(f"{text!r} stands beside an option", fix="give one or the other")
    values = by_place(in_line(" ".join(line), context.manner.unit))
    return [
        (context.place(place if where == PANEL else where), texts)
        for where, texts in values.items()
    ]


def _store(
    context: Context, readings: list[Reading], at: datetime, now: datetime, *, both_right: bool
) -> None:
    """Store the readings of a place, and say which they replace."""
    intake = Intake(context.store, context.settings.places)
    result = typed.enter(context.store, intake, readings, now, both_right=both_right)
    where = readings[0].place
    click.echo(f"{result.new} of {len(readings)} stored for {where} at {context.manner.clock(at)}.")
    for reading in result.replaced:
        earlier = context.say.typed(reading, now)
        click.echo(
            f"It replaces {earlier}. If both are right, enter that one again with --ago and --also."
        )


@command("list")
@json_option
@click.pass_obj
def list_(context: Context) -> None:
    """List the readings you typed.

    The latest first, including those that were replaced or taken back.
    """
    now = context.clock()
    readings = typed.history(context.store, now)
    if context.as_json:
        from curewatch.exchange import bench_json

        print_json({"readings": [bench_json.typed(reading) for reading in readings]})
        return
    for reading in readings[:MOST_LISTED]:
        click.echo(context.say.typed(reading, now))
    if not readings:
        click.echo("You have typed no reading yet.")


@command("remove")
@click.option("--place", help="Where it was measured; panel if left out, or anywhere.")
@click.option("--surface", help="The surface temperature that was typed, like '41 C'.")
@click.option("--air", help="The air temperature that was typed, like '41 C'.")
@click.option("--humidity", help="The humidity that was typed, like '86 %'.")
@click.pass_obj
def remove(
    context: Context, place: str | None, surface: str | None, air: str | None, humidity: str | None
) -> None:
    """Take a typed reading back.

    All times are worked out again without it. Without a value, the latest typed readings are taken
    back; with one, the latest reading of that value. A reading it had replaced is used again. To
    undo this, type it again.
    """
    now, store, texts = context.clock(), context.store, texts_of(surface, air, humidity)
    if texts:
        similar = typed_readings.typed(place or "panel", now, texts)
        readings = [typed.last_like(store, now, reading) for reading in similar]
    else:
        readings = typed.last_typed(store, now, place)
    again = typed.take_back(store, readings, now)
    for reading in readings:
        click.echo(f"Taken back: {context.say.typed(reading, now)}.")
    for reading in again:
        click.echo(f"Used again: {context.say.typed(reading, now)}.")
