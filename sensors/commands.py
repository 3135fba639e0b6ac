"""The commands that bring readings in: hearing a broker, and a data logger's file."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

import click

from curewatch.errors import ConfigError, ReadingError
from curewatch.intake import Intake
from curewatch.opened import Opened
from curewatch.quantities import parse_duration
from curewatch.reading import check_place
from curewatch.zone import local_zone

if TYPE_CHECKING:
    from sensors.csvfile import LoggerFile
    from sensors.listen import Leaf


def _line(number: int, leaf: Leaf) -> str:
    from sensors.listen import known

    guess = leaf.guess
    seems = f"{guess[0].replace('_', ' ')} in {guess[1]}" if guess else "?"
    values = ", ".join(f"{value:g}" for value in leaf.values)
    own = "  (heard without a mapping)" if known(leaf.topic) else ""
    return f"{number:3}  {leaf.topic}{leaf.pointer and ' ' + leaf.pointer}  {values}  {seems}{own}"


def _chosen(heard: Sequence[Leaf], number: int) -> Leaf:
    if not 1 <= number <= len(heard):
        raise ConfigError(
            f"there is no number {number} in the list", fix=f"choose 1 to {len(heard)}"
        )
    return heard[number - 1]


@click.option("--for", "how_long", default="10 s", show_default=True, help="How long to listen.")
@click.option("--keep", "number", type=int, help="Keep this line of the list without asking.")
@click.option("--place", help="Where that sensor sits, like panel or air.")
def listen(desktop: Opened, how_long: str, number: int | None, place: str | None) -> None:
    """Hear every topic of the broker, guess what each number is, and keep one as a mapping.

    A running curewatch takes the mapping up at once; the comments in curewatch.toml stay.
    """
    from sensors.kept import keep
    from sensors.listen import Ear

    click.echo(f"Listening for {how_long} ...", err=True)
    with Ear(desktop.settings.mqtt) as ear:
        time.sleep(min(parse_duration(how_long) * 60, 3600))
        heard = ear.leaves
    if not heard:
        raise ReadingError("no number was heard", fix="check that the sensor sends to this broker")
    click.echo("\n".join(_line(at, leaf) for at, leaf in enumerate(heard, 1)))
    if number is None:
        number = click.prompt("Keep which one? (0 for none)", type=int, default=0, err=True)
    if number == 0:
        return
    leaf = _chosen(heard, number)
    if place is None:
        place = click.prompt("Where does it sit?", default="panel", err=True)
    mapping = leaf.mapping(check_place(place))
    keep(desktop.folder, mapping)
    click.echo(
        f"Kept: {mapping.topic}{mapping.pointer} is the {mapping.quantity.replace('_', ' ')} "
        f"of {mapping.place} in {mapping.unit}."
    )


def _shown(found: LoggerFile) -> str:
    from sensors.csvdates import SAID

    lines = [f"time: {found.time_column} ({SAID[found.dates]})"]
    lines += [
        f"{column.name}: {column.quantity.replace('_', ' ')} in {column.unit}"
        for column in found.columns
    ]
    if found.readings:
        first, last = found.readings[0], found.readings[-1]
        lines.append(
            f"{len(found.readings)} readings, {first.at.isoformat()} to {last.at.isoformat()}"
        )
    lines += [f"not taken: {each}" for each in found.refused]
    if found.refused_count > len(found.refused):
        lines.append(f"not taken: {found.refused_count - len(found.refused)} more")
    return "\n".join(lines)


@click.argument("file", type=click.Path(path_type=Path))
@click.option("--place", default="air", show_default=True, help="Where the logger sat.")
@click.option("--zone", help="Whose clock the file's times are, like Europe/Vienna.")
@click.option("--dates", type=click.Choice(["dmy", "mdy"]), help="Day or month first.")
@click.option("--yes", is_flag=True, help="Store without asking.")
def import_(
    desktop: Opened, file: Path, place: str, zone: str | None, dates: str | None, yes: bool
) -> None:
    """Read a data logger's CSV file; what was guessed is shown before anything is stored.

    Importing a file twice stores it once.
    """
    from sensors.csvfile import decoded, names_zone, read_logger

    try:
        text = decoded(file.read_bytes())
    except OSError as error:
        raise ConfigError(
            f"cannot be read ({error.strerror})", where=str(file), fix="check it"
        ) from None
    if zone is None and not yes and not names_zone(text, file.name):
        usual = local_zone(desktop.settings.zone).key
        zone = click.prompt("Whose clock are the file's times?", default=usual, err=True)
    found = read_logger(text, file.name, check_place(place), _zone(zone), dates)
    click.echo(_shown(found))
    if not yes and not click.confirm("Store them?", default=True, err=True):
        return
    new = Intake(desktop.store, desktop.settings.places).take(found.readings)
    click.echo(f"{new} stored for {place}; {len(found.readings) - new} were there already.")


def _zone(name: str | None) -> ZoneInfo | None:
    if name is None:
        return None
    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError):
        raise ConfigError(
            f"--zone {name!r} is no zone", fix="write it like Europe/Vienna"
        ) from None


COMMANDS: dict[tuple[str, ...], Callable[..., Any]] = {
    ("sensors", "listen"): listen,
    ("air", "import"): import_,
}
