"""The commands of the shelf: the products you own, one sheet each."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import click

from curewatch import as_json, cli_cans, cli_parts
from curewatch.belief import learned
from curewatch.hazards import assumed_words
from curewatch.label import doubtful, load_sheet
from curewatch.opened import Opened, as_json_option, print_json
from curewatch.sheet import Sheet
from curewatch.shelf import add_sheet, find_sheet, shelf

GROUPS = {
    "shelf": "The products you own, one sheet each.",
    **cli_cans.GROUPS,
    **cli_parts.GROUPS,
}


DENY = (
    'Write "isocyanate = false" and the like under [hazards] only where its safety data sheet says '
    "that it contains none."
)


def _assumed(sheet: Sheet) -> str:
    """What is taken from the chemistry, as a line of its own; empty where nothing is."""
    words = assumed_words(sheet.hazards, sheet.chemistry)
    return f"\n{words} {DENY}" if words else ""


@as_json_option
def shelf_list(desktop: Opened, json_: bool) -> None:
    """List every sheet: your own and the generic ones."""
    sheets = list(shelf(desktop.store).values())
    if json_:
        print_json([as_json.sheet(each) for each in sheets])
        return
    click.echo(desktop.say.shelf(sheets, set(desktop.store.sheets())))


@click.argument("sheet")
@as_json_option
def shelf_show(desktop: Opened, sheet: str, json_: bool) -> None:
    """Show a sheet, and what was learned of the product from your witnesses."""
    found = find_sheet(desktop.store, sheet)
    belief = learned(found, desktop.bench.desk.seen_steps(found))
    if json_:
        print_json(as_json.sheet(found) | {"learned": belief.words()})
        return
    doubts = [f"! {each}" for each in doubtful(found)]
    click.echo("\n\n".join([found.text.rstrip(), *doubts, belief.words()]) + _assumed(found))


@click.argument("file", type=click.Path(path_type=Path))
def shelf_add(desktop: Opened, file: Path) -> None:
    """Check a sheet's file and put it on the shelf."""
    checked = load_sheet(file)
    add_sheet(desktop.store, checked.id, checked.text, desktop.clock())
    click.echo(f"{checked.name} is on the shelf as {checked.id}.{_assumed(checked)}")


@click.argument("file", type=click.Path(path_type=Path))
def shelf_check(desktop: Opened, file: Path) -> None:
    """Check a sheet's file, without keeping it."""
    checked = load_sheet(file)
    rows = f"{len(checked.times)} row(s) of times, nothing wrong found."
    click.echo(f"{checked.name}: {rows}{_assumed(checked)}")


COMMANDS: dict[tuple[str, ...], Callable[..., None]] = {
    ("shelf", "list"): shelf_list,
    ("shelf", "show"): shelf_show,
    ("shelf", "add"): shelf_add,
    ("shelf", "check"): shelf_check,
    **cli_cans.COMMANDS,
    **cli_parts.COMMANDS,
}
