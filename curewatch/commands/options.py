"""Options and arguments that several commands take, and the values that a person types."""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from curewatch.commands.context import Context
from curewatch.errors import CurewatchError
from curewatch.events.events import telling
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
    from datetime import date

    from curewatch.days import Order
    from curewatch.store.store import Store

Function = TypeVar("Function", bound=Callable[..., Any])


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


def _date_order() -> Order | None:
    return click.get_current_context().ensure_object(Context).date_order


def _day(text: str) -> date:
    from curewatch.days import parse_day

    return parse_day(text, _date_order())


def _expiry(text: str) -> date:
    from curewatch.days import parse_expiry

    return parse_expiry(text, _date_order())


DAY, EXPIRY = Typed("day", _day), Typed("expiry", _expiry)
MASS = Typed("amount", parse_mass)
PERCENT = Typed("percent", parse_percent)
FILM = Typed("film", parse_film)
TEMPERATURE = Typed("temperature", parse_temperature)
HUMIDITY = Typed("humidity", parse_humidity)
DURATION = Typed("duration", parse_duration)
FILE_OUT = click.Path(dir_okay=False, path_type=Path)
LINE, PROSE = Typed("text", one_line), Typed("text", str)


def _generic_products() -> list[str]:
    from importlib import resources

    files = (resources.files("curewatch.products") / "sheets").iterdir()
    return [file.name.removesuffix(".toml") for file in files if file.name.endswith(".toml")]


def completing(
    names: Callable[[Store], Iterable[str]], always: Callable[[], Iterable[str]] = tuple
) -> Callable[..., list[str]]:
    """What completes a value, by the logbook, and what always does; no logbook is made for it."""

    def complete(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[str]:
        context = ctx.ensure_object(Context)
        try:
            values = set(names(context.store)) if context.logbook.exists() else set()
        except CurewatchError:
            values = set()
        return sorted(value for value in values.union(always()) if value.startswith(incomplete))

    return complete


step_argument = click.argument(
    "step",
    type=int,
    metavar="N",
    shell_complete=completing(lambda store: (str(row.id) for row in store.steps(only_open=True))),
)
products = completing(lambda store: store.sheets(), _generic_products)
product_argument = click.argument("product", shell_complete=products)
ago_option = click.option("--ago", help="How long ago it was, like '3 min'.")


def by_option(function: Function) -> Function:
    """The option of a command that enters something of a step: who enters it."""

    @functools.wraps(function)
    def with_person(*args: Any, by: str, **options: Any) -> Any:
        with telling(by):
            return function(*args, **options)

    option = click.option("--by", default="", envvar="CUREWATCH_BY", help="Who enters it.")
    return option(with_person)  # type: ignore[return-value]


who_option = click.option("--by", "who", default="", envvar="CUREWATCH_BY", help="Who enters it.")
