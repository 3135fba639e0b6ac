"""The commands of the products you own, one label each."""

from __future__ import annotations

from pathlib import Path

import click

from curewatch.commands.command import command, json_option
from curewatch.commands.context import Context, print_json, text_of
from curewatch.commands.options import completing, product_argument
from curewatch.errors import SheetError
from curewatch.exchange import bench_json
from curewatch.garage.shelf import add_sheet, find_sheet, new_id, remove_sheet, shelf
from curewatch.notice_words import sentence
from curewatch.products.hazards import assumed_words
from curewatch.products.label import check as checked_label
from curewatch.products.label import doubtful, id_of, load_sheet
from curewatch.products.sheet import Sheet, parse_sheet

DENY = (
    'Write "isocyanate = false" and the like under [hazards] only where its safety data sheet says '
    "that it contains none."
)


def _assumed(sheet: Sheet) -> str:
    """What is taken from the chemistry, as a line of its own; empty where nothing is."""
    words = assumed_words(sheet.hazards, sheet.chemistry)
    return f"\n{words} {DENY}" if words else ""


def _loaded(file: Path) -> Sheet:
    """The sheet in a file; the one on standard input has its id from its name."""
    if str(file) != "-":
        return load_sheet(file)
    text, where = text_of(file)
    unnamed = parse_sheet(text, "sheet", where)
    return checked_label(parse_sheet(text, id_of(unnamed.name), where), where)


@command("list")
@json_option
@click.pass_obj
def list_(context: Context) -> None:
    """List every product, yours and generic."""
    sheets = list(shelf(context.store).values())
    if context.as_json:
        print_json([bench_json.sheet(sheet) for sheet in sheets])
        return
    click.echo(context.say.shelf(sheets, set(context.store.sheets())))


@command("show")
@product_argument
@json_option
@click.pass_obj
def show(context: Context, product: str) -> None:
    """Show a product's label as it is saved.

    What was learned from your dab checks and tests follows as comments.
    """
    from curewatch.cure.belief import learned
    from curewatch.cure.explanation import learned_notice

    sheet = find_sheet(context.store, product)
    belief = learned(sheet, context.bench.reader.observed_steps(sheet))
    if context.as_json:
        print_json(bench_json.sheet(sheet) | {"learned": sentence(learned_notice(belief))})
        return
    say = context.say.manner
    doubts = [f"! {sentence(doubt, say)}" for doubt in doubtful(sheet)]
    beside = "\n".join([*doubts, sentence(learned_notice(belief), say)]) + _assumed(sheet)
    click.echo(sheet.text.rstrip() + "\n")
    for line in beside.splitlines():
        click.echo(f"# {line}")


@command("add")
@click.argument("file", type=click.Path(path_type=Path))
@click.pass_obj
def add(context: Context, file: Path) -> None:
    """Check a product's file and save it.

    `-` reads it from standard input.
    """
    checked = _loaded(file)
    add_sheet(context.store, checked.id, checked.text, context.clock())
    click.echo(f"{checked.name} is on the shelf as {checked.id}.{_assumed(checked)}")


@command("check")
@click.argument("file", type=click.Path(path_type=Path))
@click.pass_obj
def check(context: Context, file: Path) -> None:
    """Check a product's file without saving it.

    `-` reads it from standard input.
    """
    checked = _loaded(file)
    rows = f"{len(checked.times)} row(s) of times, nothing wrong found."
    click.echo(f"{checked.name}: {rows}{_assumed(checked)}")


@command("new")
@click.pass_obj
def new(context: Context) -> None:
    """Copy a label by answering questions.

    A number without a unit gets the unit of the question; from a range like "4-6 min" the careful
    end is used. Press Enter to leave out what the label does not say. Nothing is saved before the
    last answer.
    """
    from curewatch.commands.before.label_questions import asked_text

    try:
        text = asked_text(context.settings.temperature_unit)
    except (click.Abort, KeyboardInterrupt):
        click.echo("\nNothing was saved.", err=True)
        raise
    id = new_id(context.store, parse_sheet(text, "sheet").name)
    sheet = add_sheet(context.store, id, text, context.clock())
    click.echo(f"{sheet.name} is on the shelf as {sheet.id}.{_assumed(sheet)}")


def _in_editor(context: Context, product: str, before: str) -> Sheet | None:
    """The label as saved from the editor, in as many goes as it takes; None where it stayed."""
    text = before
    while (edited := click.edit(text, extension=".toml")) is not None:
        text = edited
        if text == before:
            break
        try:
            return add_sheet(context.store, product, text, context.clock())
        except SheetError as error:
            click.echo(str(error), err=True)
            if not click.confirm("Edit it again?", default=True):
                break
    return None


@command("edit")
@product_argument
@click.option(
    "--set",
    "assignments",
    multiple=True,
    metavar="KEY=VALUE",
    help="Change one value without the editor, like 'times.1.working_time=5 min'.",
)
@click.pass_obj
def edit(context: Context, product: str, assignments: tuple[str, ...]) -> None:
    """Change a product's label.

    In your editor, or value by value with --set. VISUAL or EDITOR names the editor; if something is
    wrong, curewatch says what, and you can edit again. You can give --set several times. Write the
    key as product show shows it, with its table first; rows of times and values of a list are
    counted from 1: 'limits.temperature.1=12 C'. Nothing after the = removes the key. Steps that
    were started keep the label they had.
    """
    before = find_sheet(context.store, product).text
    if assignments:
        from curewatch.products.change import changed

        text = changed(before, assignments, f"{product}.toml")
        sheet = None if text == before else add_sheet(context.store, product, text, context.clock())
    else:
        sheet = _in_editor(context, product, before)
    if sheet is None:
        click.echo("Nothing was changed.")
        return
    click.echo(f"{sheet.name} is saved as {sheet.id}.{_assumed(sheet)}")


@command("remove")
@click.argument(
    "product", metavar="PRODUCT", shell_complete=completing(lambda store: store.sheets())
)
@click.pass_obj
def remove(context: Context, product: str) -> None:
    """Take a product of your own off the shelf.

    Steps that were started keep its label and their times. A generic product of the same name is
    used again.
    """
    from curewatch.wording.product_words import left_behind

    name = remove_sheet(context.store, product, context.clock())
    click.echo(f"{name} is removed from the shelf.")
    for line in left_behind(context.store, product):
        click.echo(line)
