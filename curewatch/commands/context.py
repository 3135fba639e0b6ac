"""What every command is given: the data folder it works on, now, and how to speak."""

from __future__ import annotations

import json
import sys
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cached_property
from pathlib import Path
from time import monotonic
from typing import TYPE_CHECKING, Any

import click

from curewatch.errors import ConfigError, StoreError
from curewatch.units import parse_duration

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

    from curewatch.bench.bench import Bench
    from curewatch.days import Order
    from curewatch.formats import ReaderFormat
    from curewatch.quality.clock import SteadyClock
    from curewatch.settings.settings import Settings
    from curewatch.store.store import Store
    from curewatch.wording.terminal import Terminal

FILE = "curewatch.sqlite"
DISK_FULL = "The disk is full: you can read what is saved, but save nothing more. Make room on it."


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
        if setback := self.held_clock.went_back():
            click.echo(self.say.went_back(setback), err=True)
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
        return self.settings.reader(self.zone)

    @cached_property
    def say(self) -> Terminal:
        """How things are said on a terminal."""
        from curewatch.wording.terminal import Terminal

        return Terminal(self.manner)

    @cached_property
    def held_clock(self) -> SteadyClock:
        """The wall's clock, held where it went back; a demonstration's is set on purpose."""
        from curewatch.quality.clock import SteadyClock

        known_time = None if self.settings.clock else lambda: self._opened.known_time()
        return SteadyClock(self.wall, monotonic, known_time)

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
            raise ConfigError(f"--ago {ago!r} is in the future", fix="write it like '3 min'")
        return self.clock() - timedelta(minutes=min(parse_duration(ago), 1e7))

    def place(self, text: str) -> str:
        """The place that an option names, checked; an empty text stays empty."""
        if not text:
            return text
        from curewatch.quality.places import known_places, place_named

        return place_named(text, known_places(self.store, self.settings))


def at_terminal() -> bool:
    """Whether a person reads what is said beside the result."""
    return sys.stderr.isatty()


def say_busy(doing: str) -> None:
    """Say to a person what takes a while; nothing where a program or a file reads along."""
    if at_terminal():
        click.echo(f"{doing} …", err=True)


def say_progress(what: str, done: int, count: int) -> None:
    """Say to a person how far it is, on one line; nothing where a program or a file reads along."""
    if at_terminal():
        click.echo(f"\r{done:,} of {count:,} {what}", err=True, nl=done == count)


def print_json(data: Any) -> None:
    """Print plain data for a script."""
    click.echo(json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False))


def write_calendar(file: Path, data: bytes) -> None:
    """Write a calendar's file. Raises an error that says why it could not be."""
    from curewatch.files.disk_errors import trouble
    from curewatch.files.private import write_out

    try:
        write_out(file, data)
    except OSError as error:
        raise trouble("the calendar was not written", error, file) from None


def text_of(file: Path) -> tuple[str, str]:
    """What a text file holds, `-` being standard input, and its name. Raises ConfigError."""
    if str(file) == "-":
        return sys.stdin.read(), "standard input"
    try:
        return file.read_text(encoding="utf-8"), str(file)
    except (OSError, UnicodeDecodeError) as error:
        raise ConfigError(f"cannot be read ({error})", where=str(file), fix="check it") from None
