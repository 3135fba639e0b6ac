"""The commands that bring readings in: hearing a broker, and a data logger's file."""

from __future__ import annotations

import contextlib
import sys
import time
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, get_args
from zoneinfo import ZoneInfo

import click

from curewatch.climate.reading import Quantity
from curewatch.commands.command import command
from curewatch.commands.context import Context
from curewatch.errors import ConfigError, ReadingError
from curewatch.quality.intake import Intake
from curewatch.settings.settings import HUMIDITY_UNITS, TEMPERATURE_UNITS, Mapping, MqttSettings
from curewatch.text import plain
from curewatch.units import parse_duration

if TYPE_CHECKING:
    from sensors.manual.csv_options import FileOptions, Unclear
    from sensors.manual.logger_csv import LoggerFile
    from sensors.mqtt.discovery import Leaf

QUANTITIES, UNITS = get_args(Quantity), (*TEMPERATURE_UNITS, *HUMIDITY_UNITS)


def _seems(leaf: Leaf) -> str:
    guess = leaf.guess
    return f"{words_of(guess[0])} in {guess[1]}?" if guess else "?"


def words_of(quantity: str) -> str:
    """A quantity's name as it is said."""
    return quantity.replace("_", " ")


def _lines(leaves: Sequence[Leaf], mappings: Sequence[Mapping]) -> list[str]:
    """The list of what was heard, in columns; what is taken already says as what."""
    from sensors.mqtt.discovery import known

    rows = []
    for leaf in leaves:
        taken = next((mapping for mapping in mappings if leaf.fits(mapping)), None)
        state = f"is {taken.place} {words_of(taken.quantity)}" if taken else _seems(leaf)
        state = "curewatch's own topic, needs nothing" if known(leaf.topic) else state
        values = ", ".join(f"{value:g}" for value in leaf.values)
        rows.append((plain(f"{leaf.topic} {leaf.record or leaf.pointer}"), values, state))
    wide, far = (max(len(row[at]) for row in rows) for at in (0, 1))
    return [
        f"{number:3}  {name:{wide}}  {values:{far}}  {state}"
        for number, (name, values, state) in enumerate(rows, 1)
    ]


def _by_topic(leaf: Leaf) -> tuple[str, str, str]:
    return (leaf.topic, leaf.record or "", leaf.pointer)


def _leaves(mqtt: MqttSettings, how_long: str) -> list[Leaf]:
    """What is heard until the time is over, or Ctrl-C, by topic: asked again, in the same order."""
    from sensors.mqtt.discovery import TopicListener

    click.echo(f"Listening for {how_long}, Ctrl-C ends it ...", err=True)
    with TopicListener(mqtt) as ear:
        with contextlib.suppress(KeyboardInterrupt):
            time.sleep(min(parse_duration(how_long) * 60, 3600))
        trouble, leaves = ear.trouble, sorted(ear.leaves, key=_by_topic)
    if not leaves:
        fix = "check that the sensor sends to this broker; one that sleeps may need --for '10 min'"
        raise ReadingError(f"no number was received{trouble and f' ({trouble})'}", fix=fix)
    return leaves


def _chosen(leaves: Sequence[Leaf], number: int) -> Leaf:
    if not 1 <= number <= len(leaves):
        raise ConfigError(
            f"there is no number {number} in the list", fix=f"choose 1 to {len(leaves)}"
        )
    return leaves[number - 1]


@command("listen")
@click.option("--for", "how_long", default="10 s", show_default=True, help="How long to listen.")
@click.option("--keep", "number", type=int, help="Save this line of the list without asking.")
@click.option("--place", help="Where the sensor is, like panel or air.")
@click.option("--quantity", type=click.Choice(QUANTITIES), help="What it measures, if not guessed.")
@click.option("--unit", type=click.Choice(UNITS), help="In which unit it sends, if not guessed.")
@click.option(
    "--mqtt-port",
    type=click.IntRange(1, 65535),
    help="The broker's port, as given to curewatch up.",
)
@click.pass_obj
def listen(
    context: Context,
    how_long: str,
    number: int | None,
    place: str | None,
    quantity: Quantity | None,
    unit: str | None,
    mqtt_port: int | None,
) -> None:
    """Listen to every topic, and save a sensor.

    curewatch guesses what each number may be, and saves those you choose as mappings in
    curewatch.toml; your comments there stay. A running curewatch uses them at once.
    """
    mqtt = context.settings.mqtt
    leaves = _leaves(replace(mqtt, port=mqtt_port) if mqtt_port else mqtt, how_long)
    click.echo("\n".join(_lines(leaves, context.settings.mappings)))
    if number is not None:
        return _save(context, _chosen(leaves, number), place, quantity, unit)
    while number := click.prompt("Keep which one? (0 ends)", type=int, default=0, err=True):
        _save(context, _chosen(leaves, number), place, quantity, unit)


def _save(
    context: Context, leaf: Leaf, place: str | None, quantity: Quantity | None, unit: str | None
) -> None:
    from curewatch.settings.edit import keep

    if place is None:
        place = click.prompt("Where does it sit?", default="panel", err=True)
    mapping = leaf.mapping(context.place(place), quantity, unit)
    keep(context.folder, mapping)
    click.echo(
        f"Kept: {plain(leaf.name)} is the {words_of(mapping.quantity)} "
        f"of {mapping.place} in {mapping.unit}."
    )


def _shown(file: LoggerFile) -> str:
    from sensors.manual.csv_dates import SAID

    lines = [f"time: {file.time_column} ({SAID[file.dates]})"]
    lines += [
        f"{column.name}: {words_of(column.quantity)} in {column.unit}" for column in file.columns
    ]
    if file.others:
        lines.append(f"columns not taken: {', '.join(file.others)}")
    if file.readings:
        first, last = file.readings[0], file.readings[-1]
        lines.append(
            f"{len(file.readings)} readings, {first.at.isoformat()} to {last.at.isoformat()}"
        )
    if file.empty:
        lines.append(f"empty cells: {file.empty}")
    if file.repeated:
        lines.append(f"not taken: {file.repeated} values whose time came before with another one")
    lines += [f"not taken: {cell}" for cell in file.refused]
    if file.refused_count > len(file.refused):
        lines.append(f"not taken: {file.refused_count - len(file.refused)} more")
    return "\n".join(lines)


def _content(file: Path) -> tuple[str, str]:
    """What a file holds, `-` being standard input, and the name it is known by."""
    from sensors.manual.csv_table import decoded

    if str(file) == "-":
        return decoded(sys.stdin.buffer.read()), "standard input"
    try:
        return decoded(file.read_bytes()), file.name
    except OSError as error:
        raise ConfigError(
            f"cannot be read ({error.strerror})", where=str(file), fix="check it"
        ) from None


def _answered(options: FileOptions, question: Unclear, usual_zone: str) -> FileOptions:
    """The options with the answer to what the file leaves open, asked on the terminal."""
    what = question.what[:1].upper() + question.what[1:]
    if question.option == "zone":
        click.echo(f"{what}.", err=True)
        name = click.prompt("Whose clock are the file's times?", default=usual_zone, err=True)
        return replace(options, zone=_zone(name))
    choices = click.Choice(question.choices)
    answer = click.prompt(f"{what}. Which one?", type=choices, err=True)
    answers: dict[str, Any] = {question.option: answer}
    if question.option == "columns":
        answers["columns"] = (answer,)
    return replace(options, **answers)


def _read(
    text: str, name: str, place: str, options: FileOptions, context: Context, ask: bool
) -> LoggerFile:
    """What the file holds; what it leaves open is asked where somebody can answer."""
    from sensors.manual.csv_options import Unclear
    from sensors.manual.logger_csv import read_logger

    while True:
        try:
            return read_logger(text, name, place, options, now=context.clock())
        except Unclear as question:
            if not ask:
                raise
            options = _answered(options, question, context.zone.key)


@command("import")
@click.argument("file", type=click.Path(path_type=Path, allow_dash=True))
@click.option("--place", default="air", show_default=True, help="Where the logger was.")
@click.option("--zone", help="Time zone of the file's times, like Europe/Vienna.")
@click.option(
    "--dates", type=click.Choice(["dmy", "mdy"]), help="Whether the day or the month comes first."
)
@click.option("--column", "columns", multiple=True, help="Import this column; may be given twice.")
@click.option("--quantity", type=click.Choice(QUANTITIES), help="What that column measures.")
@click.option("--unit", type=click.Choice(UNITS), help="In which unit, if the file does not say.")
@click.option("--rows", help="Import only one sensor's rows, like 'sensor=B'.")
@click.option("--yes", is_flag=True, help="Store without asking.")
@click.pass_obj
def import_(
    context: Context,
    file: Path,
    place: str,
    zone: str | None,
    dates: str | None,
    columns: tuple[str, ...],
    quantity: Quantity | None,
    unit: str | None,
    rows: str | None,
    yes: bool,
) -> None:
    """Import a data logger's CSV file.

    FILE may be - for standard input. You see first what was guessed. You can import a file again
    when it has grown: each reading is stored once. Loggers are told apart by the names of their
    files.
    """
    from sensors.manual.csv_options import FileOptions

    text, name = _content(file)
    options = FileOptions(_zone(zone), dates, columns, quantity, unit, rows)
    ask = not yes and str(file) != "-" and sys.stdin.isatty()
    logger_file = _read(text, name, context.place(place), options, context, ask)
    click.echo(_shown(logger_file))
    if not logger_file.readings:
        raise ReadingError("no reading can be taken", where=name, fix="see the lines above")
    if not yes and not ask:
        raise ConfigError("nothing is stored yet", fix="add --yes to store these readings")
    if not yes and not click.confirm("Store them?", default=True, err=True):
        return
    new = Intake(context.store, context.settings.places).take(logger_file.readings)
    there = len(logger_file.readings) - new
    click.echo(f"{new} stored for {place}; {there} were there already, by name and time.")


def _zone(name: str | None) -> ZoneInfo | None:
    if name is None:
        return None
    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError):
        raise ConfigError(
            f"--zone {name!r} is not a zone", fix="write it like Europe/Vienna"
        ) from None
