"""Options and arguments that several commands take, and the values that a person types."""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from curewatch.commands.context import Context
from curewatch.errors import ConfigError, CurewatchError
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
    from datetime import date, datetime

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
    files = (Path(__file__).parents[1] / "products" / "sheets").iterdir()
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


ENDS = {
    "clamp_time": ("--clamps-off-by", "When the clamps must come off, like '22:15'."),
    "sand_ready": ("--sand-ready-by", "When you want to sand, like 'tomorrow 9 am'."),
    "recoat_opens": ("--recoat-opens-by", "When you want to recoat, like '29 Nov 2026 18:00'."),
}
"""The options that name a milestone and by when it is wanted."""


def ends_options(function: Function) -> Function:
    """Those options, given to the command as `ends`: what was typed, by milestone."""

    @functools.wraps(function)
    def with_ends(*args: Any, **options: Any) -> Any:
        ends = {name: text for name in ENDS if (text := options.pop(name)) is not None}
        return function(*args, ends=ends, **options)

    for name, (option, says) in reversed(ENDS.items()):
        with_ends = click.option(option, name, help=says)(with_ends)
    return with_ends  # type: ignore[return-value]


def asked_end(context: Context, ends: dict[str, str], *others: str) -> tuple[str, datetime]:
    """The milestone of the one end that was given, and by when. Raises ConfigError.

    others: further options of the command that would be an end.
    """
    from curewatch.walltime import next_time

    if len(ends) != 1:
        options = ", ".join([*(option for option, _ in ENDS.values()), *others])
        raise ConfigError("one end is needed", fix=f"give one of {options}")
    ((name, text),) = ends.items()
    return name, next_time(text, context.clock(), context.zone, context.date_order)


def mix_options(function: Function) -> Function:
    """What is known of a mix before it is made, given to the command as `details`."""

    @functools.wraps(function)
    def with_details(
        *args: Any,
        amount: float | None,
        hardener: float | None,
        part: str,
        job: str,
        place: str,
        **options: Any,
    ) -> Any:
        from curewatch.events.details import Details

        context = click.get_current_context().ensure_object(Context)
        details = Details(
            part=part.strip(),
            job=job.strip(),
            place=context.place(place),
            amount_g=amount,
            hardener_pct=hardener,
        )
        return function(*args, details=details, **options)

    taken: Any = with_details
    for option in (
        click.option(
            "--place", default="panel", show_default=True, help="The place whose sensor it uses."
        ),
        click.option("--job", default="", help="The job it belongs to."),
        click.option("--part", default="", help="What it goes on, like 'lower corner patch'."),
        click.option(
            "--hardener", type=PERCENT, help="Hardener, like '2 %', where the label has a range."
        ),
        click.option("--amount", type=MASS, help="How much, like '60 g'."),
    ):
        taken = option(taken)
    return taken  # type: ignore[no-any-return]


who_option = click.option("--by", "who", default="", envvar="CUREWATCH_BY", help="Who enters it.")
