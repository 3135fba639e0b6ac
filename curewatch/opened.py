"""What a command is given: a data folder, opened as the command needs it."""

from __future__ import annotations

import functools
import json
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any, Protocol, TypeVar

import click

from curewatch.author import telling
from curewatch.bench import Bench
from curewatch.config import Settings
from curewatch.errors import ConfigError
from curewatch.places import known_places, place_named
from curewatch.quantities import parse_duration
from curewatch.store import Store

Value = TypeVar("Value")


class Opened(Protocol):
    """A data folder as the command line opens it."""

    @property
    def folder(self) -> Path:
        """The folder."""

    @property
    def logbook(self) -> Path:
        """Where the logbook is."""

    @property
    def settings(self) -> Settings:
        """The user's settings."""

    @property
    def store(self) -> Store:
        """The open logbook."""

    @property
    def bench(self) -> Bench:
        """The bench over it."""

    @property
    def say(self) -> Any:
        """How things are said to this reader on a terminal; it has a `manner`."""

    def clock(self) -> datetime:
        """Now."""


Command = TypeVar("Command", bound=Callable[..., Any])
as_json_option = click.option("--json", "json_", is_flag=True, help="Print JSON for scripts.")


def by_option(command: Command) -> Command:
    """The option of a command that tells something of a step: who tells it."""

    @functools.wraps(command)
    def told(*args: Any, by: str, **options: Any) -> Any:
        with telling(by):
            return command(*args, **options)

    option = click.option("--by", default="", envvar="CUREWATCH_BY", help="Who tells it.")
    return option(told)  # type: ignore[return-value]


def print_json(data: Any) -> None:
    """Print plain data for a script."""
    click.echo(json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False))


def before(now: datetime, ago: str | None) -> datetime:
    """The instant some time ago, as typed like '3 min'. Raises ConfigError for a future one."""
    if ago is None:
        return now
    if ago.strip().startswith("-"):
        raise ConfigError(f"--ago {ago!r} lies in the future", fix="say it like '3 min'")
    return now - timedelta(minutes=min(parse_duration(ago), 1e7))


def placed(desktop: Opened, text: str) -> str:
    """The place that an option names, checked; an empty text stays empty."""
    return place_named(text, known_places(desktop.store, desktop.settings)) if text else text


def maybe(parse: Callable[[str], Value], text: str | None) -> Value | None:
    """What an option's text means; None where it was left out."""
    return None if text is None else parse(text)
