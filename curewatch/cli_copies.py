"""The commands that copy the logbook and put a copy back."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import click

from curewatch import backup
from curewatch.alone import only_one
from curewatch.config import FILE as SETTINGS
from curewatch.config import parse_settings
from curewatch.errors import ConfigError
from curewatch.opened import Opened
from curewatch.owned import write_owned


def _settings_beside(copy: Path) -> Path:
    return copy.with_name(f"{copy.stem}-{SETTINGS}")


def _copy_settings(folder: Path, copy: Path) -> Path | None:
    """Copy the settings beside a copy of the logbook; None where there are none."""
    settings = folder / SETTINGS
    if not settings.exists():
        return None
    beside = _settings_beside(copy)
    write_owned(beside, settings.read_text("utf-8"))
    return beside


def _settings_of(copy: Path, folder: Path) -> str:
    """The settings that lie beside a copy. Raises ConfigError where there are none to use."""
    beside = _settings_beside(copy)
    try:
        text = beside.read_text("utf-8")
    except (OSError, UnicodeDecodeError):
        raise ConfigError(
            "no settings lie beside this copy", where=str(beside), fix="leave out --settings"
        ) from None
    parse_settings(text, folder, str(beside))
    return text


def _put_settings(folder: Path, text: str) -> Path | None:
    """Write the settings; where what stood there is kept now, None where nothing did."""
    settings, aside = folder / SETTINGS, None
    if settings.exists():
        aside = backup.free(settings.with_name("curewatch.aside.toml"))
        write_owned(aside, settings.read_text("utf-8"))
    write_owned(settings, text)
    return aside


@click.argument("file", type=click.Path(path_type=Path))
def back_up(desktop: Opened, file: Path) -> None:
    """Copy the logbook to FILE, or into a folder, whole and checked, also while curewatch runs.

    Its photographs are copied into a folder beside the copy, and your settings too.
    """
    from curewatch import photographs

    today = desktop.clock().astimezone(desktop.say.manner.zone).date()
    target = backup.target_in(file, today)
    backup.back_up(desktop.logbook, target)
    click.echo(f"{target} is a whole copy of the logbook ({target.stat().st_size / 1e6:.1f} MB).")
    beside = photographs.beside(target)
    if copied := photographs.copy_all(photographs.folder_of(desktop.logbook), beside):
        click.echo(f"Its photographs, {copied} new, are in {beside}.")
    if settings := _copy_settings(desktop.folder, target):
        click.echo(f"Your settings, passwords included, are in {settings}.")


@click.argument("file", type=click.Path(dir_okay=False, path_type=Path), required=False)
@click.option("--settings", is_flag=True, help="Bring back the settings that lie beside FILE too.")
def restore(desktop: Opened, file: Path | None, settings: bool) -> None:
    """Put FILE, or the last good daily copy, in the logbook's place.

    What stands there now is kept beside it, damaged or not. Photographs that lie beside FILE come
    back too; those that are here stay.
    """
    from curewatch import photographs

    with only_one(desktop.folder, "curewatch restore"):
        copy = file or backup.last_good(desktop.logbook)
        text = _settings_of(copy, desktop.folder) if settings else None
        asides = [backup.restore(desktop.logbook, copy)]
        back = photographs.copy_all(
            photographs.beside(copy), photographs.folder_of(desktop.logbook)
        )
        if text is not None:
            asides.append(_put_settings(desktop.folder, text))
    click.echo(f"The logbook{' and the settings are' if settings else ' is'} now as in {copy}.")
    if back:
        click.echo(f"{back} photographs came back with it.")
    for aside in filter(None, asides):
        click.echo(f"What stood there is kept: {aside}")


COMMANDS: dict[tuple[str, ...], Callable[..., None]] = {
    ("backup",): back_up,
    ("restore",): restore,
}
