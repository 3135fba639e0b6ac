"""What every command shares: the data folder it works on, its options and how it is made."""

from __future__ import annotations

import functools
import json
import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from functools import cached_property
from pathlib import Path
from time import monotonic
from typing import TYPE_CHECKING, Any, Literal, TypeVar

import click

from curewatch.days import parse_day, parse_expiry
from curewatch.errors import ConfigError, CurewatchError, StoreError
from curewatch.events.events import acting, telling
from curewatch.text import one_line
from curewatch.units import (
    parse_duration,
    parse_film,
    parse_humidity,
    parse_mass,
    parse_percent,
    parse_temperature,
)

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

    from curewatch.bench.bench import Bench
    from curewatch.days import Order
    from curewatch.formats import ReaderFormat
    from curewatch.quality.clock import HeldClock
    from curewatch.settings.settings import Settings
    from curewatch.store.store import Store
    from curewatch.wording.terminal import Terminal

FILE = "curewatch.sqlite"
DISK_FULL = (
    "The disk is full: what was saved can be read, but nothing more can be saved. Make room on it."
)
Function = TypeVar("Function", bound=Callable[..., Any])


@dataclass
class Context:
    """What a command is given: the data folder, opened as the command needs it; now; how to speak.

    chosen: the folder that `--data` names; as_json: whether `--json` was given.
    """

    chosen: Path | None = None
    as_json: bool = False

    @cached_property
    def folder(self) -> Path:
        """The folder of the data: `--data`, else CUREWATCH_DATA, else the account's usual one."""
        if self.chosen is not None:
            return self.chosen
        from platformdirs import user_data_path

        return user_data_path("curewatch")

    @cached_property
    def settings(self) -> Settings:
        """The user's settings."""
        from curewatch.settings.settings import load_settings

        return load_settings(self.folder)

    @property
    def logbook(self) -> Path:
        """Where the logbook is."""
        return self.folder / FILE

    @cached_property
    def store(self) -> Store:
        """The open logbook."""
        if self._opened.disk_full:
            click.echo(DISK_FULL, err=True)
        with suppress(ConfigError):
            self._warn_of_clock()
        return self._opened

    @cached_property
    def _opened(self) -> Store:
        from curewatch.store.store import Store

        return Store(self.logbook)

    def _warn_of_clock(self) -> None:
        """Say on stderr that the computer's clock went back, where it did; keep by how much."""
        self.clock()
        if found := self.held_clock.went_back():
            click.echo(self.say.went_back(found), err=True)
            with suppress(StoreError):
                self.held_clock.keep(self._opened)

    @cached_property
    def bench(self) -> Bench:
        """The bench over the logbook."""
        from curewatch.bench.bench import Bench

        return Bench(self.store, self.settings.places)

    @cached_property
    def zone(self) -> ZoneInfo:
        """Whose clock the user reads."""
        from curewatch.walltime import local_zone

        return local_zone(self.settings.zone)

    @cached_property
    def date_order(self) -> Order | None:
        """Which comes first in a date like 03/04/2026, day or month; None where not known."""
        from curewatch.walltime import local_order

        return self.settings.dates or local_order()

    @cached_property
    def manner(self) -> ReaderFormat:
        """How this reader likes figures and instants said."""
        from curewatch.formats import ReaderFormat

        unit: Literal["C", "F"] = "F" if self.settings.temperature_unit == "F" else "C"
        return ReaderFormat(self.zone, unit, self.settings.hours)

    @cached_property
    def say(self) -> Terminal:
        """How things are said on a terminal."""
        from curewatch.wording.terminal import Terminal

        return Terminal(self.manner)

    @cached_property
    def held_clock(self) -> HeldClock:
        """The wall's clock, held where it went back; a demonstration's is set on purpose."""
        from curewatch.quality.clock import HeldClock

        known = None if self.settings.clock else lambda: self._opened.known_time()
        return HeldClock(self.wall, monotonic, known)

    def wall(self) -> datetime:
        """Now, by the wall or by the demonstration's clock of these data."""
        now = datetime.now(UTC)
        return self.settings.clock.at(now) if self.settings.clock else now

    def clock(self) -> datetime:
        """Now; it never goes back."""
        return self.held_clock()

    def before(self, ago: str | None) -> datetime:
        """The instant some time ago, as typed like '3 min'; now where nothing was typed.

        Raises ConfigError for a future one.
        """
        if ago is None:
            return self.clock()
        if ago.strip().startswith("-"):
            raise ConfigError(f"--ago {ago!r} lies in the future", fix="say it like '3 min'")
        return self.clock() - timedelta(minutes=min(parse_duration(ago), 1e7))

    def place(self, text: str) -> str:
        """The place that an option names, checked; an empty text stays empty."""
        if not text:
            return text
        from curewatch.quality.places import known_places, place_named

        return place_named(text, known_places(self.store, self.settings))


def _set_folder(ctx: click.Context, param: click.Parameter, value: Path | None) -> None:
    context = ctx.ensure_object(Context)
    if value is not None:
        context.chosen = value


def _set_json(ctx: click.Context, param: click.Parameter, value: bool) -> None:
    context = ctx.ensure_object(Context)
    context.as_json = context.as_json or value


def _data_option(*, top: bool) -> click.Option:
    return click.Option(
        ["--data"],
        type=click.Path(file_okay=False, path_type=Path),
        envvar="CUREWATCH_DATA" if top else None,
        help="The folder of your data; left out, the usual one of your account.",
        callback=_set_folder,
        expose_value=False,
        hidden=not top,
    )


def _version_option(*, top: bool) -> click.Option:
    def show(ctx: click.Context, param: click.Parameter, value: bool) -> None:
        if not value or ctx.resilient_parsing:
            return
        from curewatch import __version__

        click.echo(f"curewatch {__version__}")
        ctx.exit()

    return click.Option(
        ["-V", "--version"],
        is_flag=True,
        expose_value=False,
        is_eager=True,
        callback=show,
        help="Show the version and exit.",
        hidden=not top,
    )


_JSON: dict[str, Any] = {
    "is_flag": True,
    "expose_value": False,
    "callback": _set_json,
    "help": "Print JSON for scripts.",
}
json_option = click.option("--json", **_JSON)


def common_options(*, top: bool) -> list[click.Parameter]:
    """The options that every command takes; the help shows them where they are at the `top`."""
    found: list[click.Parameter] = [_data_option(top=top), _version_option(top=top)]
    return [click.Option(["--json"], **_JSON), *found] if top else found


@contextmanager
def _offering_undo(context: Context) -> Iterator[None]:
    """What a command records is one act; how it is undone is said behind it, but not in JSON."""
    with acting() as act:
        yield
    if act.number is not None and not context.as_json:
        click.echo("Undo with: curewatch undo")


class Command(click.Command):
    """A command that takes `--data` and `-V`, and says how what it records is undone."""

    offers_undo = True

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.params += common_options(top=False)

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command as one act."""
        context = ctx.ensure_object(Context)
        if context.as_json and all(each.name != "json" for each in self.params):
            raise click.UsageError("this command prints no JSON", ctx)
        if not self.offers_undo:
            return super().invoke(ctx)
        with _offering_undo(context):
            return super().invoke(ctx)


class Alone(Command):
    """A command whose records are no act of its own: `undo`, and `up`."""

    offers_undo = False


def command(name: str, kind: type[Command] = Command) -> Callable[[Callable[..., Any]], Command]:
    """Make a function a command of that name."""
    return click.command(name, cls=kind)


class Typed(click.ParamType):  # type: ignore[type-arg]
    """A value that a person types; what is wrong with it is said together with its option."""

    def __init__(self, name: str, parse: Callable[[str], Any]) -> None:
        self.name, self._parse = name, parse

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The value of a text; what is a value already stays."""
        if not isinstance(value, str):
            return value
        try:
            return self._parse(value)
        except CurewatchError as error:
            self.fail(str(error), param, ctx)


class Dated(Typed):
    """A date that a person types, in the order of the user's country."""

    def __init__(self, name: str, parse: Callable[[str, Order | None], date]) -> None:
        super().__init__(name, lambda text: parse(text, _date_order()))


def _date_order() -> Order | None:
    return click.get_current_context().ensure_object(Context).date_order


DAY, EXPIRY = Dated("day", parse_day), Dated("expiry", parse_expiry)
MASS = Typed("amount", parse_mass)
PERCENT = Typed("percent", parse_percent)
FILM = Typed("film", parse_film)
TEMPERATURE = Typed("temperature", parse_temperature)
HUMIDITY = Typed("humidity", parse_humidity)
DURATION = Typed("duration", parse_duration)
FILE_OUT = click.Path(dir_okay=False, path_type=Path)


LINE = Typed("text", one_line)


def _generic_products() -> list[str]:
    from importlib import resources

    found = (resources.files("curewatch.products") / "sheets").iterdir()
    return [each.name.removesuffix(".toml") for each in found if each.name.endswith(".toml")]


def completing(
    names: Callable[[Store], Iterable[str]], always: Callable[[], Iterable[str]] = tuple
) -> Callable[..., list[str]]:
    """What completes a value, by the logbook, and what always does; no logbook is made for it."""

    def complete(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[str]:
        context = ctx.ensure_object(Context)
        try:
            found = set(names(context.store)) if context.logbook.exists() else set()
        except CurewatchError:
            found = set()
        return sorted(each for each in found.union(always()) if each.startswith(incomplete))

    return complete


step_argument = click.argument(
    "step",
    type=int,
    metavar="N",
    shell_complete=completing(lambda store: (str(row.id) for row in store.steps(only_open=True))),
)
product_argument = click.argument(
    "product", shell_complete=completing(lambda store: store.sheets(), _generic_products)
)
ago_option = click.option("--ago", help="How long ago it was, like '3 min'.")


def by_option(function: Function) -> Function:
    """The option of a command that enters something of a step: who enters it."""

    @functools.wraps(function)
    def told(*args: Any, by: str, **options: Any) -> Any:
        with telling(by):
            return function(*args, **options)

    option = click.option("--by", default="", envvar="CUREWATCH_BY", help="Who enters it.")
    return option(told)  # type: ignore[return-value]


who_option = click.option("--by", "who", default="", envvar="CUREWATCH_BY", help="Who enters it.")


def print_json(data: Any) -> None:
    """Print plain data for a script."""
    click.echo(json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False))


def text_of(file: Path) -> tuple[str, str]:
    """What a text file holds, `-` being standard input, and its name. Raises ConfigError."""
    if str(file) == "-":
        return sys.stdin.read(), "standard input"
    try:
        return file.read_text(encoding="utf-8"), str(file)
    except (OSError, UnicodeDecodeError) as error:
        raise ConfigError(f"cannot be read ({error})", where=str(file), fix="check it") from None
