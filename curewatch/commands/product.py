"""The commands of the products you own, one label each."""

from __future__ import annotations

from pathlib import Path

import click

from curewatch.commands.context import Context, command, json_option, print_json, product_argument
from curewatch.exchange import bench_json
from curewatch.garage.shelf import add_sheet, find_sheet, shelf
from curewatch.products.hazards import assumed_words
from curewatch.products.label import doubtful, load_sheet
from curewatch.products.sheet import Sheet

DENY = (
    'Write "isocyanate = false" and the like under [hazards] only where its safety data sheet says '
    "that it contains none."
)


def _assumed(sheet: Sheet) -> str:
    """What is taken from the chemistry, as a line of its own; empty where nothing is."""
    words = assumed_words(sheet.hazards, sheet.chemistry)
    return f"\n{words} {DENY}" if words else ""


@command("list")
@json_option
@click.pass_obj
def list_(context: Context) -> None:
    """List every product, yours and generic."""
    sheets = list(shelf(context.store).values())
    if context.as_json:
        print_json([bench_json.sheet(each) for each in sheets])
        return
    click.echo(context.say.shelf(sheets, set(context.store.sheets())))


@command("show")
@product_argument
@json_option
@click.pass_obj
def show(context: Context, product: str) -> None:
    """Show a product's label as it is kept.

    What was learned of it from your dabs and tests stands behind it, as comments.
    """
    from curewatch.cure.belief import learned

    found = find_sheet(context.store, product)
    belief = learned(found, context.bench.desk.seen_steps(found))
    if context.as_json:
        print_json(bench_json.sheet(found) | {"learned": belief.words()})
        return
    doubts = [f"! {each}" for each in doubtful(found)]
    beside = "\n".join([*doubts, belief.words()]) + _assumed(found)
    click.echo(found.text.rstrip() + "\n")
    for line in beside.splitlines():
        click.echo(f"# {line}")


@command("add")
@click.argument("file", type=click.Path(path_type=Path))
@click.pass_obj
def add(context: Context, file: Path) -> None:
    """Check a product's file and keep it."""
    checked = load_sheet(file)
    add_sheet(context.store, checked.id, checked.text, context.clock())
    click.echo(f"{checked.name} is on the shelf as {checked.id}.{_assumed(checked)}")


@command("check")
@click.argument("file", type=click.Path(path_type=Path))
@click.pass_obj
def check(context: Context, file: Path) -> None:
    """Check a product's file, keep nothing."""
    checked = load_sheet(file)
    rows = f"{len(checked.times)} row(s) of times, nothing wrong found."
    click.echo(f"{checked.name}: {rows}{_assumed(checked)}")
