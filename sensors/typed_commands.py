"""The commands for readings that a person types: enter them, list them, take them back."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import click

from curewatch import as_json, typed
from curewatch.bench import check_time
from curewatch.errors import ReadingError
from curewatch.intake import Intake
from curewatch.opened import Opened, as_json_option, before, placed, print_json
from curewatch.reading import Quantity, Reading
from sensors import manual

MOST_LISTED = 50
Texts = Mapping[Quantity, str]


def texts_of(surface: str | None, air: str | None, humidity: str | None) -> Texts:
    """What was typed, by quantity."""
    given: dict[Quantity, str | None] = {
        "surface_temperature": surface,
        "air_temperature": air,
        "relative_humidity": humidity,
    }
    return {quantity: text for quantity, text in given.items() if text is not None}


def enter(
    desktop: Opened, place: str, texts: Texts, *, ago: str | None, also: bool, yes: bool
) -> None:
    """Store typed readings; one that may be a slip is refused unless `yes`."""
    now, store = desktop.clock(), desktop.store
    at = check_time(before(now, ago), now, "the reading")
    where = placed(desktop, place)
    readings = manual.typed(where, at, texts)
    for slip in [] if yes else typed.suspects(store, readings, texts, also=also):
        what, fix = desktop.say.slip(slip, now)
        raise ReadingError(what, where=f"{where} {words_of(slip.reading)}", fix=fix)
    intake = Intake(store, desktop.settings.places)
    found = typed.enter(store, intake, readings, now, also=also)
    click.echo(
        f"{found.new} of {len(readings)} stored for {where} at {desktop.say.manner.clock(at)}."
    )
    for each in found.replaced:
        click.echo(
            f"It replaces {desktop.say.typed(each, now)}. If both are right: enter that one again "
            "with --ago and --also."
        )


def words_of(reading: Reading) -> str:
    """What a reading measured, as it is said."""
    return reading.quantity.replace("_", " ")


@as_json_option
def typed_(desktop: Opened, json_: bool) -> None:
    """List the readings that were typed, also those replaced or taken back, the latest first."""
    now = desktop.clock()
    held = typed.history(desktop.store, now)
    if json_:
        print_json({"readings": [as_json.typed(each) for each in held]})
        return
    for each in held[:MOST_LISTED]:
        click.echo(desktop.say.typed(each, now))
    if not held:
        click.echo("Nothing was typed yet.")


@click.option("--place", help="Where it was measured; panel unless told, or anywhere.")
@click.option("--surface", help="The surface temperature that was typed, like '41 C'.")
@click.option("--air", help="The air temperature that was typed, like '41 C'.")
@click.option("--humidity", help="The humidity that was typed, like '86 %'.")
def take_back(
    desktop: Opened, place: str | None, surface: str | None, air: str | None, humidity: str | None
) -> None:
    """Take a typed reading back: it was a slip. Everything is worked out without it.

    Without a value it is what was typed for the latest moment; with one, the latest that shows it.
    What it had replaced is used again, and typing it again undoes this.
    """
    now, store, texts = desktop.clock(), desktop.store, texts_of(surface, air, humidity)
    if texts:
        wanted = manual.typed(place or "panel", now, texts)
        found = [typed.last_like(store, now, each) for each in wanted]
    else:
        found = typed.last_typed(store, now, place)
    again = typed.take_back(store, found, now)
    for each in found:
        click.echo(f"Taken back: {desktop.say.typed(each, now)}.")
    for each in again:
        click.echo(f"Used again: {desktop.say.typed(each, now)}.")


COMMANDS: dict[tuple[str, ...], Callable[..., Any]] = {
    ("air", "typed"): typed_,
    ("air", "take-back"): take_back,
}
