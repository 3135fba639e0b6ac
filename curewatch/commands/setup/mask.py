"""The commands of mask cartridges and dust filters."""

from __future__ import annotations

import click

from curewatch.commands.command import command, json_option
from curewatch.commands.context import Context, print_json
from curewatch.commands.options import DURATION
from curewatch.durations import duration
from curewatch.protection import cartridges

_name = click.argument("name")


def _show(context: Context) -> None:
    from curewatch.protection import wearing

    now = context.clock()
    states = wearing.states(context.bench, now, context.zone)
    if context.as_json:
        print_json([cartridges.as_json(state) for state in states])
        return
    if not states:
        click.echo("No cartridge is open. Open one with: curewatch mask open NAME")
    for state in states:
        cartridge, opened = state.cartridge, context.manner.moment(state.cartridge.opened, now)
        click.echo(f"{cartridge.name} ({cartridge.kind}), opened {opened}: {state.words}")


@command("list")
@json_option
@click.pass_obj
def list_(context: Context) -> None:
    """Show the cartridges and filters in use.

    With the hours they were worn, and whether to discard them.
    """
    _show(context)


@command("open")
@_name
@click.option(
    "--kind",
    type=click.Choice(cartridges.KINDS),
    default="vapour",
    show_default=True,
    help="What it stops.",
)
@click.option("--maker", type=DURATION, help="The maker's figure, like '6 h' worn.")
@json_option
@click.pass_obj
def open_(context: Context, name: str, kind: str, maker: float | None) -> None:
    """Open a new set of cartridges or filters.

    It replaces a set in use under that name.
    """
    hours = None if maker is None else maker / 60
    cartridges.open_new(context.store, name, kind, now=context.clock(), maker_h=hours)
    _show(context)


@command("wear")
@_name
@click.argument("worn", type=DURATION)
@click.pass_obj
def wear(context: Context, name: str, worn: float) -> None:
    """Add hours worn that no step records.

    WORN is how long, like '1.5 h'.
    """
    cartridges.worn(context.store, name, worn / 60, now=context.clock())
    click.echo(f"{name}: {duration(worn)} worn added.")


@command("discard")
@_name
@click.pass_obj
def discard(context: Context, name: str) -> None:
    """Record that a set is discarded."""
    cartridges.discard(context.store, name, now=context.clock())
    click.echo(f"{name}: discarded.")
