"""The command that starts the page and the broker."""

from __future__ import annotations

from typing import Any

import click

from curewatch.commands.command import Alone, command
from curewatch.commands.context import Context
from curewatch.errors import StoreError
from curewatch.files.backup import undo_interrupted
from curewatch.files.lock import only_one

PORT = click.IntRange(1, 65535)


@command("up", Alone)
@click.option("--port", type=PORT, help="Port of the pages (8050).")
@click.option("--mqtt-port", type=PORT, help="Port of the broker (1883).")
@click.option("--no-broker", is_flag=True, help="Use the broker named in curewatch.toml.")
@click.option("--no-copies", is_flag=True, help="Make no daily copies of the logbook.")
@click.option("--lan", is_flag=True, help="Open pages and broker to the home network.")
@click.pass_obj
def up(context: Context, /, **options: Any) -> None:
    """Start the pages and the broker, until Ctrl-C."""
    from curewatch.commands.setup.serve import run, with_options

    settings = with_options(context.settings, **options)
    with only_one(context.folder, f"http://127.0.0.1:{settings.port}"):
        undo_interrupted(context.logbook)
        if context.store.disk_full:
            raise StoreError("curewatch was not started", fix="make room on the disk first")
        run(context.store, settings, context.held_clock, click.echo)
