"""The commands of the sensors: what they say, and checking one against a reference."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import click

from curewatch import as_json
from curewatch.checking import check_sensor, moved_sensor, salt_check_sensor
from curewatch.opened import Opened, print_json
from curewatch.salt import SOURCE, WALK
from curewatch.sensor_log import Check
from curewatch.sensor_view import sensors


def show(desktop: Opened, json_: bool) -> None:
    """Print every sensor, what was refused, and who was turned away."""
    now, refused, away = desktop.clock(), desktop.store.refusals(), desktop.store.turned_away()
    found = sensors(desktop.store, now, desktop.settings.place)
    if json_:
        print_json(as_json.sensors(found, refused, away, now))
        return
    click.echo(desktop.say.sensors(found, refused, away, now))


def _kept(desktop: Opened, found: Check) -> None:
    click.echo(desktop.say.check(found))
    click.echo("It counts from now on; what is stored stays as it was.")


@click.argument("source")
@click.option("--reference", required=True, help="What the reference shows, like '14.0 C'.")
@click.option(
    "--read", default="", help="What the sensor itself shows; left out, its last reading."
)
@click.option("--who", default="", help="Who checked it.")
def check(desktop: Opened, source: str, reference: str, read: str, who: str) -> None:
    """Hold a sensor against a reference: from now on its readings are corrected by the difference.

    SOURCE is what curewatch sensors shows behind "from". A later check replaces an earlier one.
    """
    place, now = desktop.settings.place, desktop.clock()
    _kept(desktop, check_sensor(desktop.store, place, source, reference, read, who, now))


@click.argument("source")
@click.option("--temperature", help="In the box, like '20 C'; left out, the walk is shown.")
@click.option(
    "--read", default="", help="What the hygrometer itself shows, like '71 %'; left out, its last."
)
@click.option("--who", default="", help="Who checked it.")
def salt_check(desktop: Opened, source: str, temperature: str | None, read: str, who: str) -> None:
    """Check a hygrometer in a closed box with wet table salt, which holds about 75 %."""
    if temperature is None:
        click.echo("\n".join(f"{number}. {each}" for number, each in enumerate(WALK, 1)))
        click.echo(f'Then: curewatch sensors salt-check "{source}" --temperature "20 C"')
        return
    place, now = desktop.settings.place, desktop.clock()
    found, moving = salt_check_sensor(desktop.store, place, source, temperature, read, who, now)
    _kept(desktop, found)
    click.echo(f"Humidity over the salt after {SOURCE}, and 1 % for kitchen salt in a box.")
    if moving:
        click.echo(f"But {moving}.")


@click.argument("former")
@click.argument("source")
def moved(desktop: Opened, former: str, source: str) -> None:
    """Tell that a sensor publishes on another topic now: FORMER is what it was, SOURCE what it is.

    Its checks go with it. One that only reports another place is noticed by itself.
    """
    now = desktop.clock()
    found = moved_sensor(desktop.store, former, source, now)
    click.echo(f"{source} is what {former} was; its checks go with it.")
    for each in found:
        click.echo(f"It moved from {each.before} to {each.after}; the past stays where it was.")


def set_aside(desktop: Opened) -> None:
    """Set readings aside whose time lies in the future: a clock was ahead when they came."""
    count = desktop.store.set_aside(desktop.clock())
    said = {0: "No reading lies in the future.", 1: "1 reading is set aside."}
    click.echo(said.get(count, f"{count} readings are set aside."))


COMMANDS: dict[tuple[str, ...], Callable[..., Any]] = {
    ("sensors", "check"): check,
    ("sensors", "salt-check"): salt_check,
    ("sensors", "moved"): moved,
    ("sensors", "set-aside"): set_aside,
}
