"""The commands that copy the logbook and put a copy back."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import click

from curewatch import backup
from curewatch.alone import only_one
from curewatch.opened import Opened

_FILE = click.Path(dir_okay=False, path_type=Path)


@click.argument("file", type=_FILE)
def back_up(desktop: Opened, file: Path) -> None:
    """Copy the logbook to FILE, whole and checked, also while curewatch runs."""
    backup.back_up(desktop.logbook, file)
    click.echo(f"{file} is a whole copy of the logbook ({file.stat().st_size / 1e6:.1f} MB).")


@click.argument("file", type=_FILE, required=False)
def restore(desktop: Opened, file: Path | None) -> None:
    """Put FILE, or the last good daily copy, in the logbook's place.

    What stands there now is kept beside it, damaged or not.
    """
    with only_one(desktop.folder, "curewatch restore"):
        copy = file or backup.last_good(desktop.logbook)
        aside = backup.restore(desktop.logbook, copy)
    click.echo(f"The logbook is now as in {copy}.")
    if aside:
        click.echo(f"What stood there is kept: {aside}")


COMMANDS: dict[tuple[str, ...], Callable[..., None]] = {
    ("backup",): back_up,
    ("restore",): restore,
}
