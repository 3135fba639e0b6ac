"""The options by which a command is given the details of a step."""

from __future__ import annotations

import functools
from collections.abc import Callable, Sequence
from typing import Any

import click

from curewatch.commands.context import Context, Function, Typed
from curewatch.events.details import Details
from curewatch.events.fields import FIELDS, MOMENT, PLACE, Field

Option = Callable[[Callable[..., Any]], Callable[..., Any]]


def _option(field: Field) -> Option:
    kind: click.ParamType[Any] = Typed(field.kind.name, field.kind.parse)
    if field.choices:
        kind = click.Choice(list(field.choices))
    return click.option(f"--{field.option_name}", field.name, type=kind, help=field.help)


def _value(context: Context, field: Field, typed: Any) -> Any:
    """What an option means: an instant is told as how long ago, a place by its name."""
    if typed is None:
        return None
    if field.kind is MOMENT:
        return context.before(typed)
    return context.place(typed) if field.kind is PLACE else typed


def _taking(fields: Sequence[Field], function: Function) -> Function:
    @functools.wraps(function)
    def with_details(context: Context, *args: Any, **given: Any) -> Any:
        recorded = {field.name: _value(context, field, given.pop(field.name)) for field in fields}
        return function(context, *args, details=Details(**recorded), **given)

    wrapped: Any = with_details
    for field in reversed(fields):
        wrapped = _option(field)(wrapped)
    return wrapped  # type: ignore[no-any-return]


def mix_details(function: Function) -> Function:
    """The details that a mix may be given at once; the function takes them as `details`."""
    return _taking([field for field in FIELDS if field.at_mix], function)


def all_details(function: Function) -> Function:
    """Every detail that a step's record may be given; the function takes them as `details`."""
    return _taking(sorted(FIELDS, key=lambda field: not field.at_mix), function)
