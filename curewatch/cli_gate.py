"""The commands before a mix: is it fit to start, and how is the room aired."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import datetime
from typing import Any, Protocol

import click

from curewatch import airing
from curewatch.bench import Bench
from curewatch.config import Settings
from curewatch.quantities import parse_duration, parse_mass
from curewatch.shelf import find_sheet
from curewatch.store import Store
from curewatch.ventilation import Room, parse_flow, parse_volume


class Opened(Protocol):
    """A data folder as the command line opens it."""

    @property
    def settings(self) -> Settings:
        """The user's settings."""

    @property
    def store(self) -> Store:
        """The open logbook."""

    @property
    def bench(self) -> Bench:
        """The bench over it."""

    def clock(self) -> datetime:
        """Now."""


_json = click.option("--json", "json_", is_flag=True, help="Print JSON for scripts.")


def _print_json(data: Any) -> None:
    click.echo(json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False))


@click.argument("sheet", required=False)
@click.option("--room", required=True, help="The room's volume, like '60 m3' or '2100 ft3'.")
@click.option("--fan", required=True, help="The fan's flow, like '300 m3/h', '80 l/s', '180 cfm'.")
@click.option(
    "--mixing", default=5.0, show_default=True, help="How badly the air mixes: 1 best, 10 worst."
)
@click.option("--amount", help="How much of SHEET is used, like '300 g'.")
@click.option("--over", default="30 min", show_default=True, help="How long it gives off solvent.")
@click.option("--spray", is_flag=True, help="It is sprayed.")
@click.option("--sand", is_flag=True, help="It is sanded.")
@_json
def air_out(
    desktop: Opened,
    sheet: str | None,
    room: str,
    fan: str,
    mixing: float,
    amount: str | None,
    over: str,
    spray: bool,
    sand: bool,
    json_: bool,
) -> None:
    """Work out how long a room takes to air, and the vapour of SHEET in it.

    A minimum and not a clearance; no number for isocyanate, spray mist or dust.
    """
    found = airing.airing(
        Room(parse_volume(room), parse_flow(fan), mixing),
        None if sheet is None else find_sheet(desktop.store, sheet),
        amount_g=None if amount is None else parse_mass(amount),
        over_min=parse_duration(over),
        sprayed=spray,
        sanded=sand,
    )
    if json_:
        _print_json(airing.as_json(found))
        return
    click.echo("\n".join(airing.lines(found)))


COMMANDS: dict[str, Callable[..., None]] = {"air-out": air_out}
