"""The commands of the sensors: what they say, and checking one against a reference."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import click

from curewatch import as_json
from curewatch.opened import Opened, print_json
from curewatch.quantities import parse_humidity, parse_temperature
from curewatch.reading import Quantity, Reading
from curewatch.salt import SOURCE, UNCERTAINTY_PCT, WALK, humidity_over_salt, unsettled
from curewatch.sensor_log import (
    Check,
    Offsets,
    add_check,
    checks,
    last_raw,
    parse_value,
    quantity_of,
)
from curewatch.sensor_view import sensors


def show(desktop: Opened, json_: bool) -> None:
    """Print every sensor, and what was refused."""
    now, refused = desktop.clock(), desktop.store.refusals()
    found = sensors(desktop.store, now, desktop.settings.place)
    if json_:
        print_json(as_json.sensors(found, refused, now))
        return
    click.echo(desktop.say.sensors(found, refused, now))


def read_of(desktop: Opened, source: str, quantity: Quantity, read: str | None) -> Reading:
    """What the sensor itself gives: as typed, or its last reading without its correction."""
    now, latest = desktop.clock(), desktop.store.latest()
    own = [each for each in latest if (each.source, each.quantity) == (source, quantity)]
    if read is not None:
        return Reading(own[-1].place, quantity, parse_value(quantity, read), now, source)
    limit = timedelta(minutes=desktop.settings.place(own[-1].place).old_after_min)
    return last_raw(latest, Offsets(checks(desktop.store)), source, quantity, now, limit)


def _kept(desktop: Opened, found: Check) -> None:
    click.echo(desktop.say.check(found))
    click.echo("It counts from now on; what is stored stays as it was.")


@click.argument("source")
@click.option("--reference", required=True, help="What the reference shows, like '14.0 C'.")
@click.option("--read", help="What the sensor itself shows; left out, its last reading.")
@click.option("--who", default="", help="Who checked it.")
def check(desktop: Opened, source: str, reference: str, read: str | None, who: str) -> None:
    """Hold a sensor against a reference: from now on its readings are corrected by the difference.

    SOURCE is what curewatch sensors shows behind "from". A later check replaces an earlier one.
    """
    quantity = quantity_of(desktop.store.latest(), source, reference)
    seen, now = read_of(desktop, source, quantity, read), desktop.clock()
    found = add_check(
        desktop.store,
        source,
        quantity,
        reference=parse_value(quantity, reference),
        read=seen.value,
        read_at=seen.at,
        now=now,
        who=who,
    )
    _kept(desktop, found)


@click.argument("source")
@click.option("--temperature", help="In the box, like '20 C'; left out, the walk is shown.")
@click.option("--read", help="What the hygrometer itself shows, like '71 %'; left out, its last.")
@click.option("--who", default="", help="Who checked it.")
def salt_check(
    desktop: Opened, source: str, temperature: str | None, read: str | None, who: str
) -> None:
    """Check a hygrometer in a closed box with wet table salt, which holds about 75 %."""
    if temperature is None:
        click.echo("\n".join(f"{number}. {each}" for number, each in enumerate(WALK, 1)))
        click.echo(f'Then: curewatch sensors salt-check "{source}" --temperature "20 C"')
        return
    reference = humidity_over_salt(parse_temperature(temperature))
    now = desktop.clock()
    quantity = quantity_of(desktop.store.latest(), source, "75 %")
    seen = read_of(desktop, source, quantity, read)
    moving = unsettled(desktop.store.readings(now - timedelta(hours=2), now), source, now)
    found = add_check(
        desktop.store,
        source,
        quantity,
        reference=reference,
        read=parse_humidity(read) if read else seen.value,
        read_at=seen.at,
        now=now,
        uncertainty=UNCERTAINTY_PCT,
        who=who,
        how="salt",
    )
    _kept(desktop, found)
    click.echo(f"Humidity over the salt after {SOURCE}, and 1 % for kitchen salt in a box.")
    if moving and read is None:
        click.echo(f"But {moving}.")


COMMANDS: dict[tuple[str, ...], Callable[..., Any]] = {
    ("sensors", "check"): check,
    ("sensors", "salt-check"): salt_check,
}
