"""The `curewatch` command: the only place that names a clock and wires everything."""

from __future__ import annotations

import functools
import sys
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from functools import cached_property
from pathlib import Path
from typing import Any, Literal, TypeVar

import click
from click.core import ParameterSource
from platformdirs import user_data_path

import sensors.commands
import sensors.typed_commands
from curewatch import (
    as_json,
    cli_bench,
    cli_copies,
    cli_door,
    cli_gate,
    cli_log,
    cli_protect,
    cli_record,
    cli_sensors,
    cli_shelf,
    cli_undo,
    finishing,
    starting,
)
from curewatch.alone import only_one
from curewatch.backup import undo_interrupted
from curewatch.bench import Bench, Details
from curewatch.config import Settings, load_settings
from curewatch.errors import ConfigError, CurewatchError, StillOpenError, StoreError, UnlikelyError
from curewatch.estimate import estimate, read_conditions
from curewatch.label import load_sheet
from curewatch.opened import as_json_option, before, by_option, maybe, placed, print_json
from curewatch.protection import cautions
from curewatch.quantities import (
    parse_film,
    parse_humidity,
    parse_mass,
    parse_percent,
    parse_temperature,
)
from curewatch.sheet import MILESTONES
from curewatch.shelf import find_sheet
from curewatch.spraying import APPLIED
from curewatch.store import Store
from curewatch.view import Desk
from curewatch.zone import local_zone
from dashboard import words
from dashboard.terminal import Terminal
from dashboard.words import Manner
from sensors.typed_commands import enter, texts_of

FILE = "curewatch.sqlite"
DISK_FULL = (
    "The disk is full: what was saved can be read, but nothing more can be saved. Make room on it."
)
Command = TypeVar("Command", bound=Callable[..., Any])


@dataclass
class Desktop:
    """A data folder, opened as a command needs it."""

    folder: Path

    @cached_property
    def settings(self) -> Settings:
        return load_settings(self.folder)

    @property
    def logbook(self) -> Path:
        return self.folder / FILE

    @cached_property
    def store(self) -> Store:
        store = Store(self.logbook)
        if store.disk_full:
            click.echo(DISK_FULL, err=True)
        return store

    @cached_property
    def bench(self) -> Bench:
        return Bench(self.store, Desk(self.store, self.settings.places))

    @cached_property
    def say(self) -> Terminal:
        settings = self.settings
        unit: Literal["C", "F"] = "F" if settings.temperature_unit == "F" else "C"
        return Terminal(Manner(local_zone(settings.zone), unit, settings.hours))

    def clock(self) -> datetime:
        """Now, by the wall or by the demonstration's clock of these data."""
        now = datetime.now(UTC)
        return self.settings.clock.at(now) if self.settings.clock else now


def _chosen(data: Path | None) -> Path | None:
    """The folder as typed; one typed before a sub-command is the sub-command's too."""
    context = click.get_current_context()
    if context.get_parameter_source("data") is ParameterSource.COMMANDLINE:
        context.obj = data
    return context.obj or data


def _data(command: Command) -> Command:
    option = click.option(
        "--data",
        type=click.Path(file_okay=False, path_type=Path),
        envvar="CUREWATCH_DATA",
        help="The folder of your data; left out, the usual one of your account.",
    )

    @functools.wraps(command)
    def opened(*args: Any, data: Path | None, **options: Any) -> Any:
        desktop = Desktop(_chosen(data) or user_data_path("curewatch"))
        if command.__name__ in ("up", "undo"):
            return command(desktop, *args, **options)
        with cli_undo.offering(quiet=bool(options.get("json_"))):
            return command(desktop, *args, **options)

    return option(opened)  # type: ignore[return-value]


_ago = click.option("--ago", help="How long ago it was, like '3 min'.")


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 96})
@click.version_option(package_name="curewatch", message="%(package)s %(version)s")
def cli() -> None:
    """Times adhesives, fillers and primers by the real temperature of your garage.

    An estimate: the product's label, its safety data sheet and your own test rule.
    """


@cli.command()
@_data
@click.option("--port", type=click.IntRange(1, 65535), help="The page's port (8050).")
@click.option("--mqtt-port", type=click.IntRange(1, 65535), help="The broker's port (1883).")
@click.option("--no-broker", is_flag=True, help="Use the broker named in curewatch.toml.")
@click.option("--no-copies", is_flag=True, help="Keep no daily copies of the logbook.")
@click.option("--lan", is_flag=True, help="Open page and broker to the home network.")
def up(desktop: Desktop, **options: Any) -> None:
    """Start the page and the broker, and listen until Ctrl-C."""
    from curewatch.up import run, with_options

    settings = with_options(desktop.settings, **options)
    with only_one(desktop.folder, f"http://127.0.0.1:{settings.port}"):
        undo_interrupted(desktop.logbook)
        if desktop.store.disk_full:
            raise StoreError("curewatch was not started", fix="make room on the disk first")
        run(desktop.store, settings, desktop.clock, click.echo)


@cli.group(invoke_without_command=True)
@_data
@click.option("--place", default="panel", show_default=True, help="Where it was measured.")
@click.option("--surface", help="Temperature of the metal, like '14.2 C'.")
@click.option("--air", help="Temperature of the air, like '15 C'.")
@click.option("--humidity", help="Relative humidity, like '68 %'.")
@_ago
@click.option("--also", is_flag=True, help="What was typed within ten minutes is right too.")
@click.option("--yes", is_flag=True, help="It is right, however far it is from the last one.")
def air(
    desktop: Desktop,
    place: str,
    surface: str | None,
    air: str | None,
    humidity: str | None,
    ago: str | None,
    also: bool,
    yes: bool,
) -> None:
    """Type a thermometer's or hygrometer's reading, or import a data logger's file.

    One typed up to ten minutes after another for the same thing corrects it.
    """
    if click.get_current_context().invoked_subcommand:
        return
    texts = texts_of(surface, air, humidity)
    enter(desktop, place, texts, ago=ago, also=also, yes=yes)


def _detail_options(command: Command) -> Command:
    options = [
        click.option("--amount", help="How much, like '60 g'."),
        click.option("--part", help="What it goes on, like 'lower corner patch'."),
        click.option("--job", help="The job it belongs to."),
        click.option("--place", help="Whose sensor it follows; a place of its own: 'new lamp'."),
        click.option("--batch", help="Batch numbers, as on the can."),
        click.option("--who", help="Who does it."),
        click.option("--hardener", help="Hardener, like '2 %', where the label has a range."),
        click.option("--film", help="Film put on, like '100 um' or '3 mm'."),
        click.option("--applied", type=click.Choice(list(APPLIED)), help="How it is applied."),
        click.option("--product-temperature", help="Of the product as stored, like '8 C'."),
    ]
    for option in reversed(options):
        command = option(command)

    @functools.wraps(command)
    def with_details(*args: Any, **given: Any) -> Any:
        details = Details(
            part=given.pop("part"),
            job=given.pop("job"),
            place=given.pop("place"),
            batch=given.pop("batch"),
            who=given.pop("who"),
            amount_g=maybe(parse_mass, given.pop("amount")),
            hardener_pct=maybe(parse_percent, given.pop("hardener")),
            film_um=maybe(parse_film, given.pop("film")),
            applied=given.pop("applied"),
            product_c=maybe(parse_temperature, given.pop("product_temperature")),
        )
        return command(*args, details=details, **given)

    return with_details  # type: ignore[return-value]


def _placed(desktop: Desktop, details: Details) -> Details:
    """The details with the place they name checked."""
    return replace(details, place=maybe(lambda text: placed(desktop, text), details.place))


@cli.command()
@click.argument("sheet")
@by_option
@_data
@_detail_options
@_ago
@click.option("--acknowledge", is_flag=True, help="Say yes to the reminders of protection.")
@click.option("--because", default="", help="Why it is mixed all the same.")
@as_json_option
def mix(
    desktop: Desktop,
    sheet: str,
    details: Details,
    ago: str | None,
    acknowledge: bool,
    because: str,
    json_: bool,
) -> None:
    """Start a step: the hardener touched the resin now, or --ago.

    The sheet alone is enough; tell the rest later with: curewatch amend. A stop of the gate needs
    --because; with --ago it is in the cup already: it is kept, and the reason asked afterwards.
    """
    now = desktop.clock()
    details = _placed(desktop, details)
    held = cautions(find_sheet(desktop.store, sheet), details.applied or "")
    number = starting.start(
        desktop.bench,
        sheet,
        details,
        now=now,
        say=desktop.say.manner,
        zone=local_zone(desktop.settings.zone),
        at=before(now, ago),
        acknowledged=[each.key for each in held] if acknowledge else [],
        why=because,
        why_later=ago is not None,
    )
    view = desktop.bench.step_view(number, now)
    if json_:
        print_json(as_json.step(view))
        return
    click.echo(desktop.say.step(view, now))
    if view.unexplained:
        click.echo(f"  Mixed against a stop: {'; '.join(view.unexplained)}")
        click.echo(f'  Say why: curewatch because {number} "..."')
    for each in held:
        click.echo(f"  {'[yes]' if acknowledge else '[ ? ]'} {each.words}")


@cli.command()
@click.argument("step", type=int)
@_data
@_detail_options
@cli_record.more_details
@_ago
@click.option("--product", help="What it was mixed of, where another product was named.")
@click.option("--why", default="", help="Why it is corrected.")
@by_option
def amend(
    desktop: Desktop, step: int, details: Details, ago: str | None, product: str | None, why: str
) -> None:
    """Add to a step or correct it; the log keeps when it was told, and what stood before.

    --ago moves the moment of mixing. With --product all times are worked out by that one's label.
    """
    now = desktop.clock()
    mixed_at = before(now, ago) if ago else None
    details = _placed(desktop, details)
    desktop.bench.amend(step, details, now=now, mixed_at=mixed_at, sheet_id=product, why=why)
    click.echo(desktop.say.step(desktop.bench.step_view(step, now), now))


@cli.command()
@click.argument("step", type=int)
@by_option
@click.argument("state", metavar="STATE")
@_data
@_ago
@click.option(
    "--sample",
    default="smear",
    show_default=True,
    help="Where it was seen: a thin smear, a cup, or the work itself.",
)
@as_json_option
def witness(
    desktop: Desktop, step: int, state: str, ago: str | None, sample: str, json_: bool
) -> None:
    """Tell what the dab does.

    STATE is one of workable, stringy, tacky, fingernail (marks it), hard, sands (to powder).
    """
    now = desktop.clock()
    desktop.bench.witness(step, state, now=now, seen_at=before(now, ago), sample=sample)
    view = desktop.bench.step_view(step, now)
    if json_:
        print_json(as_json.step(view))
        return
    click.echo(desktop.say.step(view, now))


@cli.command()
@click.argument("step", type=int)
@by_option
@click.argument("answer")
@_data
@click.option("--milestone", type=click.Choice(MILESTONES), help="Left out: the one asked now.")
@click.option("--yes", is_flag=True, help="It is so, however unlikely.")
def test(desktop: Desktop, step: int, answer: str, milestone: str | None, yes: bool) -> None:
    """Enter what the test on the work found.

    ANSWER is still-works or gone-off for working time and pot life, not-yet or reached for the
    others; or later, to be asked again in ten minutes.
    """
    now = desktop.clock()
    try:
        name = desktop.bench.test(step, answer, now=now, milestone=milestone, sure=yes)
    except UnlikelyError as error:
        raise UnlikelyError(error.what, fix=f"{error.fix}; if it is so, add --yes") from None
    view = desktop.bench.step_view(step, now)
    said = words.recorded(answer, view.by_name.get(name), now, desktop.say.manner)
    click.echo(f"Step {step}, {words.milestone(name)}: {said}")
    click.echo(desktop.say.step(view, now))


@cli.command()
@click.argument("step", type=int)
@by_option
@click.argument("reminder")
@_data
def acknowledge(desktop: Desktop, step: int, reminder: str) -> None:
    """Answer a reminder of protection on a step."""
    desktop.bench.acknowledge(step, reminder, now=desktop.clock())
    click.echo(f"Step {step}: {reminder} answered.")


@cli.command()
@click.argument("step", type=int)
@by_option
@click.argument("text")
@_data
def note(desktop: Desktop, step: int, text: str) -> None:
    """Add a note to a step."""
    desktop.bench.note(step, text, now=desktop.clock())
    click.echo(f"Step {step}: noted.")


@cli.command()
@click.argument("step", type=int)
@by_option
@_data
@click.option("--yes", is_flag=True, help="Also while it has to be waited for something.")
def finish(desktop: Desktop, step: int, yes: bool) -> None:
    """Take a step off the bench: it did what it should."""
    now, say = desktop.clock(), desktop.say.manner
    try:
        finishing.finish(desktop.bench, step, now=now, say=say, sure=yes)
    except StillOpenError as error:
        raise StillOpenError(
            error.what, fix=f"{error.fix}; or finish it all the same: --yes"
        ) from None
    click.echo(f"Step {step} is finished and in the log.")


@cli.command()
@click.argument("step", type=int)
@by_option
@click.option("--why", required=True, help="What went wrong.")
@_data
def abandon(desktop: Desktop, step: int, why: str) -> None:
    """Take a step off the bench: it failed, and why."""
    desktop.bench.abandon(step, why, now=desktop.clock())
    click.echo(f"Step {step} is abandoned and in the log.")


@cli.group("sensors", invoke_without_command=True)
@_data
@as_json_option
def sensors_(desktop: Desktop, json_: bool) -> None:
    """Show what is heard, how old it is, and what was refused; or listen for a new sensor."""
    if click.get_current_context().invoked_subcommand:
        return
    cli_sensors.show(desktop, json_)


@cli.command("estimate")
@click.argument("sheet")
@_data
@click.option("--temperature", help="Of the surface, constant, like '12 C'.")
@click.option("--humidity", help="Like '70 %'.")
@click.option(
    "--conditions",
    type=click.Path(path_type=Path),
    help="CSV with time,temperature_c[,humidity_pct]; the first row is the mix.",
)
@click.option("--hardener", help="Like '2 %'.")
@click.option("--mass", help="Mixed in one pot, like '50 g'.")
@click.option("--film", help="Film put on, like '100 um' or '3 mm'.")
@click.option("--what-if", help="A second column at another temperature, like 'panel 25 C'.")
@as_json_option
def estimate_(
    desktop: Desktop,
    sheet: str,
    temperature: str | None,
    humidity: str | None,
    conditions: Path | None,
    hardener: str | None,
    mass: str | None,
    film: str | None,
    what_if: str | None,
    json_: bool,
) -> None:
    """Work out a sheet's times without the garage: constant air, or a CSV.

    SHEET is a file, or a name on the shelf.
    """
    is_file = sheet.endswith(".toml") or Path(sheet).is_file()
    found = load_sheet(Path(sheet)) if is_file else find_sheet(desktop.store, sheet)
    given: dict[str, Any] = {
        "humidity_pct": maybe(parse_humidity, humidity),
        "hardener_pct": maybe(parse_percent, hardener),
        "mass_g": maybe(parse_mass, mass),
        "film_um": maybe(parse_film, film),
    }
    if (temperature is None) == (conditions is None):
        raise ConfigError("give --temperature or --conditions", fix="one of the two, not both")
    if conditions is not None:
        given["conditions"] = read_conditions(_file_text(conditions), str(conditions))
    else:
        given["temperature_c"] = maybe(parse_temperature, temperature)
    now = estimate(found, **given)
    then = None
    if what_if is not None:
        other = given | {"temperature_c": _what_if(what_if)}
        other.pop("conditions", None)
        then = estimate(found, **other)
    if json_:
        print_json(now if then is None else now | {"what_if": then})
        return
    click.echo(desktop.say.estimate(found, now, then))


def _what_if(text: str) -> float:
    """'panel 25 C' or '25 C'. [C]"""
    return parse_temperature(text.strip().removeprefix("panel").strip())


def _file_text(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise ConfigError(f"cannot be read ({error})", where=str(path), fix="check it") from None


_GROUPS = cli_shelf.GROUPS | cli_protect.GROUPS


def _put(path: tuple[str, ...], command: Command) -> None:
    above = cli
    for word in path[:-1]:
        if word not in above.commands:
            above.group(word, help=_GROUPS[word])(lambda: None)
        found = above.commands[word]
        assert isinstance(found, click.Group)
        above = found
    if path in cli_log.GROUPS:
        above.group(path[-1], invoke_without_command=True)(_data(command))
    else:
        above.command(path[-1])(_data(command))


for _commands in (
    cli_shelf.COMMANDS,
    cli_log.COMMANDS,
    cli_record.COMMANDS,
    cli_undo.COMMANDS,
    cli_bench.COMMANDS,
    cli_gate.COMMANDS,
    cli_protect.COMMANDS,
    cli_copies.COMMANDS,
    cli_door.COMMANDS,
    cli_sensors.COMMANDS,
    sensors.commands.COMMANDS,
    sensors.typed_commands.COMMANDS,
):
    for _path, _command in _commands.items():
        _put(_path, _command)


def _fail(sentence: str) -> int:
    click.echo(f"curewatch: {' '.join(sentence.split())}", err=True)
    return 2


def main() -> int:
    """Run the command; every error is one sentence on stderr and exit 2."""
    try:
        result = cli.main(standalone_mode=False, prog_name="curewatch")
        return result if isinstance(result, int) else 0
    except click.exceptions.Exit as end:
        return end.exit_code
    except click.exceptions.NoArgsIsHelpError as error:
        click.echo(error.format_message())
        return 2
    except click.ClickException as error:
        return _fail(f"{error.format_message().rstrip('.')}; see: curewatch --help.")
    except CurewatchError as error:
        return _fail(str(error))
    except (click.Abort, KeyboardInterrupt):
        return 130
    except BrokenPipeError:
        sys.stderr.close()
        return 1
    except Exception as error:
        return _fail(f"something unforeseen went wrong ({type(error).__name__}: {error}).")
