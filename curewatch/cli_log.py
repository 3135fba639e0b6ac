"""The commands of the logbook: what was done, under which conditions, and handing it over."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import click

from curewatch import compare as comparing
from curewatch import foretold, history, listing, parcel, unpack
from curewatch.errors import ConfigError
from curewatch.fields import Paper
from curewatch.handover import write as write_handover
from curewatch.log_schema import SCHEMA
from curewatch.logbook import csv_lines, entries, entry, logbook
from curewatch.opened import Opened, as_json_option, print_json
from curewatch.search import Sought
from curewatch.wall import day_start

GROUPS = {("log",)}
MOST = 40
LAST_MINUTE = timedelta(minutes=1)
_FILE = click.Path(dir_okay=False, path_type=Path)


def _paper(desktop: Opened) -> Paper:
    manner = desktop.say.manner
    return Paper(manner.zone, manner)


def _day(desktop: Opened, text: str | None, later: int = 0) -> datetime | None:
    return None if text is None else day_start(text, desktop.say.manner.zone, later)


def _sought(desktop: Opened, told: dict[str, Any]) -> Sought:
    return Sought(
        text=told["find"] or "",
        job=told["job"],
        part=told["part"] or "",
        sheet=told["product"] or "",
        state=told["state"] or "",
        since=_day(desktop, told["from_"]),
        until=_day(desktop, told["to"], 1),
    )


def _list(desktop: Opened, sought: Sought, most: int) -> None:
    now, total = desktop.clock(), desktop.store.count(sought)
    click.echo(desktop.say.log(logbook(desktop.bench, now, sought=sought, most=most), now))
    if total > most:
        click.echo(f"The last {most} of {total} steps; more of them with --most {total}.")


def _product(desktop: Opened, sheet: str, most: int) -> None:
    now = desktop.clock()
    click.echo(desktop.say.found(foretold.of_product(desktop.bench, sheet, now, most)))


def _history(desktop: Opened, number: int) -> None:
    desktop.bench.step(number)
    paper = _paper(desktop)
    for line in history.history(desktop.store.events([number])[number], paper):
        mark = "*" if line.correction else " "
        click.echo(f"{line.number:>5} {mark} {history.sentence(line, paper)}")
    click.echo("* a correction; what stood before is kept")


@click.option("--job", help="Only the steps of this job.")
@click.option("--part", help="Only the steps on this part.")
@click.option("--product", metavar="SHEET", help="Of one product; then what it did here.")
@click.option("--state", type=click.Choice(listing.STATES), help="Only the steps in this state.")
@click.option("--from", "from_", metavar="DAY", help="Mixed on this day or later: 2026-10-31.")
@click.option("--to", metavar="DAY", help="Mixed on this day or before.")
@click.option("--find", metavar="WORDS", help="Words of part, job, product, batch, who or notes.")
@click.option("--most", default=MOST, show_default=True, type=click.IntRange(1), help="How many.")
@click.option("--step", type=int, help="Only this step; with --history all ever told of it.")
@click.option("--history", "history_", is_flag=True, help="All ever told of --step, in order.")
@click.option("--csv", "csv_", is_flag=True, help="Print CSV for a spreadsheet.")
@click.option("--html", type=_FILE, help="Write a job's hand-over sheet.")
@click.option("--pdf", type=_FILE, help="Write a job's hand-over sheet as PDF.")
@click.option("--as-of", metavar="DAY", help="The hand-over sheet's recoat state then, not today.")
@click.option("--schema", is_flag=True, help="Print the JSON Schema of what --json prints.")
@as_json_option
def log(desktop: Opened, csv_: bool, schema: bool, json_: bool, **told: Any) -> None:
    """Show the jobs, their steps and the conditions of each."""
    if click.get_current_context().invoked_subcommand:
        return
    if schema:
        print_json(SCHEMA)
    elif told["html"] or told["pdf"]:
        _hand_over(desktop, told)
    elif told["step"] is not None:
        _one(desktop, told["step"], told["history_"])
    elif csv_ or json_:
        sought = _sought(desktop, told)
        now = desktop.clock()
        if csv_:
            pieces = csv_lines(entries(desktop.bench, now, sought))
        else:
            pieces = parcel.pieces(desktop.bench, sought, now)
        for piece in pieces:
            click.echo(piece, nl=False)
    else:
        _list(desktop, _sought(desktop, told), told["most"])
        if told["product"]:
            _product(desktop, told["product"], told["most"])


def _one(desktop: Opened, number: int, whole: bool) -> None:
    if whole:
        _history(desktop, number)
        return
    now = desktop.clock()
    found = entry(desktop.bench, desktop.bench.step(number), now)
    click.echo(desktop.say.log([found], now))
    paper = _paper(desktop)
    for name, value in paper.facts(found.step):
        click.echo(f"    {name}: {value}")
    for each in found.step.happened:
        click.echo(f"    {each.id:>4}  {paper.stamp(each.at)}  {paper.happening(each)}")


def _hand_over(desktop: Opened, told: dict[str, Any]) -> None:
    paper, now = _paper(desktop), desktop.clock()
    day = _day(desktop, told["as_of"], 1)
    as_of = None if day is None else day - LAST_MINUTE
    if told["pdf"] is not None and told["pdf"].suffix.lower() != ".pdf":
        raise ConfigError("the name of a PDF ends in .pdf", where=str(told["pdf"]), fix="add it")
    for file in (told["html"], told["pdf"]):
        if file is not None:
            write_handover(desktop.bench, told["job"], now, paper.zone, paper.say, file, as_of)
            click.echo(f"The hand-over sheet is in {file}.")


@click.argument("one", type=int)
@click.argument("other", type=int)
def compare(desktop: Opened, one: int, other: int) -> None:
    """Show two steps of one product side by side."""
    paper = _paper(desktop)
    pair = comparing.compare(desktop.bench, one, other, desktop.clock(), paper)
    click.echo(desktop.say.pair(pair))


def _many(count: int, word: str) -> str:
    first, _, rest = word.partition(" ")
    return f"{count} {first}{'' if count == 1 else 's'}{' ' if rest else ''}{rest}"


@click.argument("file", type=_FILE)
def take_in(desktop: Opened, file: Path) -> None:
    """Take in the JSON of another curewatch; what is here already is not stored again."""
    arrived = unpack.take_in(desktop.store, unpack.read_file(file))
    taken = arrived.taken
    said = ", ".join(
        _many(*each)
        for each in (
            (taken.steps, "step"),
            (taken.events, "event"),
            (taken.entries, "word of a can, part or sensor"),
            (arrived.readings, "reading"),
            (arrived.photographs, "photograph"),
            (taken.sheets, "sheet"),
        )
    )
    click.echo(f"New: {said}.")
    if taken.sheets_kept:
        click.echo(f"Left as they are here: the sheets {', '.join(taken.sheets_kept)}.")


COMMANDS: dict[tuple[str, ...], Callable[..., None]] = {
    ("log",): log,
    ("log", "compare"): compare,
    ("log", "import"): take_in,
}
