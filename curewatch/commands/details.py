"""The options by which a command is given the details of a step."""

from __future__ import annotations

import functools
from collections.abc import Callable
from dataclasses import fields
from typing import Any

import click

from curewatch.bench.bench import Details
from curewatch.commands.context import (
    DURATION,
    FILM,
    LINE,
    MASS,
    PERCENT,
    TEMPERATURE,
    Context,
    Function,
)
from curewatch.vocabulary import APPLIED

Option = Callable[[Callable[..., Any]], Callable[..., Any]]
_MIX: tuple[Option, ...] = (
    click.option("--amount", "amount_g", type=MASS, help="How much, like '60 g'."),
    click.option("--part", type=LINE, help="What it goes on, like 'lower corner patch'."),
    click.option("--job", type=LINE, help="The job it belongs to."),
    click.option(
        "--place", type=LINE, help="Whose sensor it follows; a place of its own: 'new lamp'."
    ),
    click.option("--batch", type=LINE, help="Batch numbers, as on the can."),
    click.option("--who", type=LINE, help="Who does it."),
    click.option(
        "--hardener",
        "hardener_pct",
        type=PERCENT,
        help="Hardener, like '2 %', where the label has a range.",
    ),
    click.option("--film", "film_um", type=FILM, help="Film put on, like '100 um' or '3 mm'."),
    click.option("--applied", type=click.Choice(list(APPLIED)), help="How it is applied."),
    click.option(
        "--product-temperature",
        "product_c",
        type=TEMPERATURE,
        help="Of the product as stored, like '8 C'.",
    ),
)
_RECORD: tuple[Option, ...] = (
    click.option("--hardener-batch", type=LINE, help="Batch of the hardener, as on its can."),
    click.option("--expiry", type=LINE, help="Expiry, as printed, like '2027-03'."),
    click.option("--ratio", type=LINE, help="Ratio as it was mixed, like '100:2.1 by weight'."),
    click.option("--grit", type=LINE, help="Grit the surface was sanded with, like 'P80'."),
    click.option("--cleaner", type=LINE, help="What the surface was cleaned with."),
    click.option("--deviations", help="What was done otherwise than the label says."),
    click.option("--signed", type=LINE, help="Who signs this step off."),
    click.option("--cleaned", "cleaned_at", help="How long ago it was cleaned, like '20 min'."),
    click.option(
        "--induction",
        "induction_min",
        type=DURATION,
        help="From mixing to first use, like '15 min'.",
    ),
    click.option(
        "--film-wet", "film_wet_um", type=FILM, help="Film as measured wet, like '150 um'."
    ),
    click.option(
        "--film-dry", "film_dry_um", type=FILM, help="Film as measured dry, like '60 um'."
    ),
)
_NAMES = {each.name for each in fields(Details)}


def _details(context: Context, given: dict[str, Any]) -> Details:
    if given.get("place"):
        given["place"] = context.place(given["place"])
    if given.get("cleaned_at") is not None:
        given["cleaned_at"] = context.before(given["cleaned_at"])
    return Details(**given)


def _taking(options: tuple[Option, ...], function: Function) -> Function:
    @functools.wraps(function)
    def with_details(context: Context, *args: Any, **given: Any) -> Any:
        told = {name: given.pop(name) for name in _NAMES & given.keys()}
        return function(context, *args, details=_details(context, told), **given)

    wrapped: Any = with_details
    for option in reversed(options):
        wrapped = option(wrapped)
    return wrapped  # type: ignore[no-any-return]


def mix_details(function: Function) -> Function:
    """The details that a mix may be given at once; the function takes them as `details`."""
    return _taking(_MIX, function)


def all_details(function: Function) -> Function:
    """Every detail that a step's record may be given; the function takes them as `details`."""
    return _taking((*_MIX, *_RECORD), function)
