"""The commands of protection: airing the room, the fan, cartridges and filters."""

from __future__ import annotations

from collections.abc import Callable

import click

from curewatch import airing, cartridges, rooms, wearing
from curewatch.durations import duration
from curewatch.errors import StepError
from curewatch.heated import leaving
from curewatch.lately import closed_lately
from curewatch.opened import Opened, as_json_option, by_option, maybe, print_json
from curewatch.purge import Purge, as_json, purge, purges
from curewatch.quantities import parse_duration, parse_mass
from curewatch.shelf import find_sheet
from curewatch.ventilation import parse_flow, parse_volume
from curewatch.views import BenchView
from curewatch.zone import local_zone

GROUPS = {"cartridge": "Cartridges and dust filters: opened when, worn how long, when to go."}


def aired(desktop: Opened, view: BenchView) -> list[Purge]:
    """The least airing of each step with solvent, on the bench or lately taken off it."""
    closed = closed_lately(desktop.bench, view.now)
    return purges(view, rooms.kept(desktop.store), desktop.say.manner, closed)


@click.argument("sheet", required=False)
@click.option("--room", help="The room's volume, like '60 m3' or '2100 ft3'; kept for later.")
@click.option("--fan", help="The fan's flow, like '300 m3/h', '80 l/s', '180 cfm'; kept.")
@click.option("--mixing", type=float, help="How badly the air mixes: 1 best, 10 worst; 5 usual.")
@click.option("--amount", help="How much of SHEET is used, like '300 g'.")
@click.option("--over", default="30 min", show_default=True, help="How long it gives off solvent.")
@click.option("--spray", is_flag=True, help="It is sprayed.")
@click.option("--sand", is_flag=True, help="It is sanded.")
@as_json_option
def air_out(
    desktop: Opened,
    sheet: str | None,
    room: str | None,
    fan: str | None,
    mixing: float | None,
    amount: str | None,
    over: str,
    spray: bool,
    sand: bool,
    json_: bool,
) -> None:
    """Work out how long a room takes to air, and the vapour of SHEET in it.

    The room is told once and kept. Then also: the least airing time of each step with solvent.
    A minimum and not a clearance; no number for isocyanate, spray mist or dust.
    """
    held = rooms.told(
        desktop.store,
        maybe(parse_volume, room),
        maybe(parse_flow, fan),
        mixing,
        now=desktop.clock(),
    )
    found = airing.airing(
        held,
        None if sheet is None else find_sheet(desktop.store, sheet),
        amount_g=maybe(parse_mass, amount),
        over_min=parse_duration(over),
        sprayed=spray,
        sanded=sand,
    )
    held_now = aired(desktop, desktop.bench.view(desktop.clock()))
    if json_:
        print_json(airing.as_json(found) | {"steps": [as_json(each) for each in held_now]})
        return
    click.echo("\n".join(airing.lines(found)))
    for each in held_now:
        click.echo(f"Step {each.step_id}, {each.part}: {each.words}")


@by_option
@click.argument("step", type=int)
@click.option("--off", is_flag=True, help="It does not run after all.")
def fan(desktop: Opened, step: int, off: bool) -> None:
    """Tell that the fan runs: the least airing time of a step is counted from it."""
    now = desktop.clock()
    if leaving(desktop.bench.step(step).sheet) is None:
        raise StepError(f"step {step} holds no solvent to air", fix="see: curewatch bench")
    desktop.bench.fan(step, not off, now=now)
    view = desktop.bench.step_view(step, now)
    found = purge(view, rooms.kept(desktop.store), now, desktop.say.manner)
    click.echo(found.words if found else "Noted.")


def _shown(desktop: Opened, json_: bool) -> None:
    now, zone = desktop.clock(), local_zone(desktop.settings.zone)
    found = wearing.states(desktop.bench, now, zone)
    if json_:
        print_json([cartridges.as_json(each) for each in found])
        return
    if not found:
        click.echo("No cartridge is open. Open one with: curewatch cartridge open mask")
    for each in found:
        held, opened = each.cartridge, desktop.say.manner.moment(each.cartridge.opened, now)
        click.echo(f"{held.name} ({held.kind}), opened {opened}: {each.words}")


@as_json_option
def cartridge_list(desktop: Opened, json_: bool) -> None:
    """Show the cartridges and filters in use: hours worn, and whether to throw them away."""
    _shown(desktop, json_)


@click.argument("name")
@click.option(
    "--kind",
    type=click.Choice(cartridges.KINDS),
    default="vapour",
    show_default=True,
    help="What it stops.",
)
@click.option("--maker", help="The maker's figure, like '6 h' worn.")
def cartridge_open(desktop: Opened, name: str, kind: str, maker: str | None) -> None:
    """Open a new set; one in use under that name is replaced."""
    hours = None if maker is None else parse_duration(maker) / 60
    cartridges.open_new(desktop.store, name, kind, now=desktop.clock(), maker_h=hours)
    _shown(desktop, False)


@click.argument("name")
@click.argument("worn")
def cartridge_worn(desktop: Opened, name: str, worn: str) -> None:
    """Add time worn that no step tells of, like '1.5 h'."""
    minutes = parse_duration(worn)
    cartridges.worn(desktop.store, name, minutes / 60, now=desktop.clock())
    click.echo(f"{name}: {duration(minutes)} worn added.")


@click.argument("name")
def cartridge_discard(desktop: Opened, name: str) -> None:
    """Throw a set away."""
    cartridges.discard(desktop.store, name, now=desktop.clock())
    click.echo(f"{name}: thrown away.")


COMMANDS: dict[tuple[str, ...], Callable[..., None]] = {
    ("air-out",): air_out,
    ("fan",): fan,
    ("cartridge", "list"): cartridge_list,
    ("cartridge", "open"): cartridge_open,
    ("cartridge", "worn"): cartridge_worn,
    ("cartridge", "discard"): cartridge_discard,
}
