"""The commands of the sensors: what they say, and checking one against a reference."""

from __future__ import annotations

import click

from curewatch.commands.command import command, json_option
from curewatch.commands.context import Context, print_json
from curewatch.commands.options import who_option
from curewatch.exchange import bench_json
from curewatch.quality.calibration import SensorCheck
from curewatch.quality.overview import sensors
from curewatch.quality.reference_check import check_sensor, moved_sensor, salt_check_sensor
from curewatch.quality.salt_check import SOURCE, WALK


@command("list")
@json_option
@click.pass_obj
def list_(context: Context) -> None:
    """Show each sensor and the rejected messages.

    With last reading, age, flags and checks of each, and the clients that could not connect.
    """
    now, refused, away = context.clock(), context.store.refusals(), context.store.turned_away()
    overview = sensors(context.store, now, context.settings.place)
    if context.as_json:
        print_json(bench_json.sensors(overview, refused, away, now))
        return
    click.echo(context.say.sensors(overview, refused, away, now))


def _show_check(context: Context, check: SensorCheck) -> None:
    click.echo(context.say.check(check))
    click.echo("It counts from now on; stored readings stay as they were.")


@command("check")
@click.argument("source")
@click.option("--reference", required=True, help="What the reference shows, like '14.0 C'.")
@click.option(
    "--read", default="", help="What the sensor itself shows; its last reading if left out."
)
@who_option
@click.pass_obj
def check(context: Context, source: str, reference: str, read: str, who: str) -> None:
    """Check a sensor against a reference.

    From now on its readings are corrected by the difference. SOURCE is what curewatch sensor list
    shows after "from". A later check replaces an earlier one.
    """
    place, now = context.settings.place, context.clock()
    _show_check(context, check_sensor(context.store, place, source, reference, read, who, now))


@command("salt")
@click.argument("source")
@click.option("--temperature", help="Temperature in the box, like '20 C'.")
@click.option(
    "--read",
    default="",
    help="What the hygrometer shows, like '71 %'; its last reading if left out.",
)
@who_option
@click.pass_obj
def salt(context: Context, source: str, temperature: str | None, read: str, who: str) -> None:
    """Check a hygrometer with wet table salt.

    In a closed box the air over the salt settles at about 75 %. Without --temperature the steps are
    shown.
    """
    if temperature is None:
        click.echo("\n".join(f"{number}. {line}" for number, line in enumerate(WALK, 1)))
        click.echo(f'Then: curewatch sensor salt "{source}" --temperature "20 C"')
        return
    place, now = context.settings.place, context.clock()
    check, moving = salt_check_sensor(context.store, place, source, temperature, read, who, now)
    _show_check(context, check)
    click.echo(f"Humidity over the salt after {SOURCE}, and 1 % for kitchen salt in a box.")
    if moving:
        click.echo(f"But {moving}.")


@command("rename")
@click.argument("former")
@click.argument("source")
@click.pass_obj
def rename(context: Context, former: str, source: str) -> None:
    """Connect a sensor's new topic with its old one.

    FORMER is the old topic, SOURCE the new one. Its checks stay with it. A sensor that only reports
    another place is noticed without this.
    """
    now = context.clock()
    moves = moved_sensor(context.store, former, source, now)
    click.echo(f"{source} is the new topic of {former}; its checks stay with it.")
    for move in moves:
        click.echo(f"It moved from {move.before} to {move.after}; its earlier readings stay there.")


@command("set-aside")
@click.pass_obj
def set_aside(context: Context) -> None:
    """Set aside readings dated in the future.

    They came while a clock was ahead.
    """
    count = context.store.set_aside(context.clock())
    words = {0: "No reading is in the future.", 1: "1 reading is set aside."}
    click.echo(words.get(count, f"{count} readings are set aside."))
