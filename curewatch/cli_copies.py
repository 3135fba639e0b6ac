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
    """Copy the logbook to FILE, whole and checked, also while curewatch runs.

    Its photographs are copied into a folder beside FILE.
    """
    from curewatch import photographs

    backup.back_up(desktop.logbook, file)
    click.echo(f"{file} is a whole copy of the logbook ({file.stat().st_size / 1e6:.1f} MB).")
    beside = photographs.beside(file)
    if copied := photographs.copy_all(photographs.folder_of(desktop.logbook), beside):
        click.echo(f"Its photographs, {copied} new, are in {beside}.")


@click.argument("file", type=_FILE, required=False)
def restore(desktop: Opened, file: Path | None) -> None:
    """Put FILE, or the last good daily copy, in the logbook's place.

    What stands there now is kept beside it, damaged or not. Photographs that lie beside FILE come
    back too; those that are here stay.
    """
    from curewatch import photographs

    with only_one(desktop.folder, "curewatch restore"):
        copy = file or backup.last_good(desktop.logbook)
        aside = backup.restore(desktop.logbook, copy)
        back = photographs.copy_all(
            photographs.beside(copy), photographs.folder_of(desktop.logbook)
        )
    click.echo(f"The logbook is now as in {copy}.")
    if back:
        click.echo(f"{back} photographs came back with it.")
    if aside:
        click.echo(f"What stood there is kept: {aside}")


COMMANDS: dict[tuple[str, ...], Callable[..., None]] = {
    ("backup",): back_up,
    ("restore",): restore,
}
