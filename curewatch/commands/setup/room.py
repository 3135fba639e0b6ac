"""The commands of the room: its size and fan, and how long airing takes."""

from __future__ import annotations

import click

from curewatch.commands.command import command, json_option
from curewatch.commands.context import Context, print_json
from curewatch.commands.options import (
    DURATION,
    MASS,
    Typed,
    products,
)
from curewatch.protection.ventilation import parse_flow, parse_volume

VOLUME, FLOW = Typed("volume", parse_volume), Typed("flow", parse_flow)


@command("set")
@click.option("--volume", type=VOLUME, help="The room's volume, like '60 m3' or '2100 ft3'.")
@click.option("--fan", type=FLOW, help="The fan's flow, like '300 m3/h', '80 l/s', '180 cfm'.")
@click.option("--mixing", type=float, help="How badly the air mixes: 1 best, 10 worst; 5 usual.")
@click.pass_obj
def set_(context: Context, volume: float | None, fan: float | None, mixing: float | None) -> None:
    """Enter the room's volume and its fan.

    curewatch remembers them; what you leave out stays as it was.
    """
    from curewatch.protection import airing

    say = context.manner
    room = airing.entered(context.store, volume, fan, mixing, now=context.clock())
    click.echo(
        f"The room has {say.figure(room.volume_m3)} m³ and a fan of "
        f"{say.figure(room.flow_m3_h)} m³/h; mixing {say.figure(room.mixing)}."
    )


@command("show")
@click.argument("product", required=False, shell_complete=products)
@click.option("--amount", type=MASS, help="How much of PRODUCT is used, like '300 g'.")
@click.option(
    "--over",
    type=DURATION,
    default="30 min",
    show_default=True,
    help="How long its solvent takes to evaporate.",
)
@click.option("--spray", is_flag=True, help="PRODUCT is sprayed.")
@click.option("--sand", is_flag=True, help="PRODUCT is sanded.")
@json_option
@click.pass_obj
def show(
    context: Context,
    product: str | None,
    amount: float | None,
    over: float,
    spray: bool,
    sand: bool,
) -> None:
    """Show how long the room takes to air out.

    Also the vapour of PRODUCT in it, and the least airing time of each step with solvent. These are
    minimums, not a clearance; there is no number for isocyanate, spray mist or dust.
    """
    from curewatch.garage.shelf import find_sheet
    from curewatch.protection import airing
    from curewatch.protection.purge import aired, as_json

    now = context.clock()
    air = airing.airing(
        airing.entered(context.store, None, None, None, now=now),
        None if product is None else find_sheet(context.store, product),
        amount_g=amount,
        over_min=over,
        sprayed=spray,
        sanded=sand,
    )
    held_now = aired(context.bench, context.bench.view(now), context.manner)
    if context.as_json:
        print_json(airing.as_json(air) | {"steps": [as_json(purge) for purge in held_now]})
        return
    click.echo("\n".join(airing.lines(air, context.manner)))
    for purge in held_now:
        click.echo(f"Step {purge.step_id}, {purge.part}: {purge.words}")
