"""The command of the model alone: a product's times at constant air, or by a file of conditions."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from curewatch.commands.command import command, json_option
from curewatch.commands.context import Context, print_json, text_of
from curewatch.commands.options import (
    FILM,
    HUMIDITY,
    MASS,
    PERCENT,
    TEMPERATURE,
    Typed,
    product_argument,
)
from curewatch.errors import ConfigError
from curewatch.units import parse_temperature

if TYPE_CHECKING:
    from curewatch.products.sheet import Sheet


def _what_if(text: str) -> float:
    """'panel 25 C' or '25 C'. [C]"""
    return parse_temperature(text.strip().removeprefix("panel").strip())


def _sheet(context: Context, product: str) -> Sheet:
    """The product of a file, or of that name."""
    from curewatch.garage.shelf import find_sheet
    from curewatch.products.label import load_sheet

    if product.endswith(".toml") or Path(product).is_file():
        return load_sheet(Path(product))
    return find_sheet(context.store, product)


@command("estimate")
@product_argument
@click.option(
    "--temperature",
    "temperature_c",
    type=TEMPERATURE,
    help="Temperature of the surface, like '12 C'.",
)
@click.option("--humidity", "humidity_pct", type=HUMIDITY, help="Relative humidity, like '70 %'.")
@click.option(
    "--conditions",
    type=click.Path(path_type=Path, allow_dash=True),
    help="CSV with time,temperature_c[,humidity_pct]; the first row is the mix.",
)
@click.option("--hardener", "hardener_pct", type=PERCENT, help="Hardener, like '2 %'.")
@click.option("--mass", "mass_g", type=MASS, help="Amount mixed in one pot, like '50 g'.")
@click.option(
    "--film", "film_um", type=FILM, help="Film thickness put on, like '100 um' or '3 mm'."
)
@click.option(
    "--what-if",
    type=Typed("temperature", _what_if),
    help="A second column at another temperature, like 'panel 25 C'.",
)
@json_option
@click.pass_obj
def estimate(
    context: Context,
    /,
    product: str,
    temperature_c: float | None,
    conditions: Path | None,
    what_if: float | None,
    **options: Any,
) -> None:
    """A product's times at a temperature you give.

    PRODUCT is a file, or the name of a product. Give one temperature, or a CSV file of conditions;
    - reads standard input.
    """
    from curewatch.cure.estimate import as_json, estimated, read_conditions

    sheet = _sheet(context, product)
    if (temperature_c is None) == (conditions is None):
        raise ConfigError("give --temperature or --conditions", fix="one of the two, not both")
    if conditions is None:
        now = estimated(sheet, temperature_c=temperature_c, **options)
    else:
        thermal_history = read_conditions(*text_of(conditions))
        now = estimated(sheet, conditions=thermal_history, **options)
    then = None if what_if is None else estimated(sheet, temperature_c=what_if, **options)
    if context.as_json:
        print_json(as_json(now) | ({} if then is None else {"what_if": as_json(then)}))
        return
    click.echo(context.say.estimate(sheet, now, then))
