"""The commands of your data: where they are, copies, export and import."""

from __future__ import annotations

from pathlib import Path

import click

from curewatch.commands.command import command, json_option
from curewatch.commands.context import Context, print_json, say_busy, say_progress, text_of
from curewatch.commands.options import FILE_OUT
from curewatch.errors import ConfigError
from curewatch.files import backup
from curewatch.files.lock import only_one
from curewatch.files.private import write_owned
from curewatch.settings.settings import FILE as SETTINGS
from curewatch.settings.settings import parse_settings


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
            "there are no settings beside this copy", where=str(beside), fix="leave out --settings"
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


@command("backup")
@click.argument("file", type=click.Path(path_type=Path))
@click.pass_obj
def back_up(context: Context, file: Path) -> None:
    """Copy logbook, photographs and settings.

    To FILE, or into a folder. The copy is complete and checked, even while curewatch runs.
    Photographs and settings are copied beside it.
    """
    from curewatch.logbook import photographs

    today = context.wall().astimezone(context.zone).date()
    target = backup.target_in(file, today)
    say_busy("Copying and checking the logbook")
    backup.back_up(context.logbook, target)
    click.echo(f"{target} is a whole copy of the logbook ({target.stat().st_size / 1e6:.1f} MB).")
    beside = photographs.beside(target)
    say_busy("Copying the photographs")
    if copied := photographs.copy_all(photographs.folder_of(context.logbook), beside):
        click.echo(f"Its photographs, {copied} new, are in {beside}.")
    if settings := _copy_settings(context.folder, target):
        click.echo(f"Your settings, passwords included, are in {settings}.")


@command("restore")
@click.argument("file", type=FILE_OUT, required=False)
@click.option("--settings", is_flag=True, help="Bring back the settings beside FILE too.")
@click.pass_obj
def restore(context: Context, file: Path | None, settings: bool) -> None:
    """Replace the logbook by a copy.

    The copy is FILE, or the last good daily copy. The present logbook is kept beside it, damaged or
    not. Photographs beside FILE come back too; those that are here stay.
    """
    from curewatch.logbook import photographs

    with only_one(context.folder, "curewatch data restore"):
        copy = file or backup.last_good(context.logbook)
        text = _settings_of(copy, context.folder) if settings else None
        say_busy(f"Checking {copy} and bringing it back")
        asides = [backup.restore(context.logbook, copy)]
        back = photographs.copy_all(
            photographs.beside(copy), photographs.folder_of(context.logbook)
        )
        if text is not None:
            asides.append(_put_settings(context.folder, text))
    click.echo(f"The logbook{' and the settings are' if settings else ' is'} now as in {copy}.")
    if back:
        click.echo(f"{back} photographs came back with it.")
    for aside in filter(None, asides):
        click.echo(f"The earlier file is kept: {aside}")


@command("path")
@json_option
@click.pass_obj
def path(context: Context) -> None:
    """Show where your data are."""
    if context.as_json:
        print_json({"folder": str(context.folder), "logbook": str(context.logbook)})
        return
    click.echo(context.folder)


@command("export")
@json_option
@click.pass_obj
def export(context: Context) -> None:
    """Print everything as JSON.

    Every step with its readings and photographs, for: curewatch data import.
    """
    from curewatch.exchange import export_json
    from curewatch.store.search import StepQuery

    for piece in export_json.pieces(context.bench, StepQuery(), context.clock(), None):
        click.echo(piece, nl=False)


@command("schema")
@json_option
def schema() -> None:
    """Print the JSON Schema of the export."""
    from curewatch.exchange.log_schema import SCHEMA

    print_json(SCHEMA)


def _many(count: int, word: str) -> str:
    first, _, rest = word.partition(" ")
    return f"{count} {first}{'' if count == 1 else 's'}{' ' if rest else ''}{rest}"


@command("import")
@click.argument("file", type=click.Path(dir_okay=False, path_type=Path, allow_dash=True))
@click.pass_obj
def import_(context: Context, file: Path) -> None:
    """Import another curewatch's export.

    FILE is what curewatch data export printed; - reads standard input. What is here already is not
    stored again.
    """
    from curewatch.exchange import import_json

    say_busy("Reading the export")
    parcel = import_json.unpack(*text_of(file)) if str(file) == "-" else import_json.read_file(file)
    say_busy("Storing what is new")
    arrived = import_json.take_in(context.store, parcel, say_progress)
    taken = arrived.taken
    counts = ", ".join(
        _many(*counted)
        for counted in (
            (taken.steps, "step"),
            (taken.events, "event"),
            (taken.entries, "word of a can, part or sensor"),
            (arrived.readings, "reading"),
            (arrived.photographs, "photograph"),
            (taken.sheets, "sheet"),
        )
    )
    click.echo(f"New: {counts}.")
    if taken.sheets_kept:
        click.echo(
            f"Not changed, as they differ here: the products {', '.join(taken.sheets_kept)}."
        )
