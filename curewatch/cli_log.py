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
NOTHING = "No step fits these filters."
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
        step=told["step"],
    )


def _list(desktop: Opened, sought: Sought, most: int) -> None:
    now, total = desktop.clock(), desktop.store.count(sought)
    if not total and sought != Sought():
        click.echo(NOTHING)
        return
    click.echo(desktop.say.log(logbook(desktop.bench, now, sought=sought, most=most), now))
    if total > most:
        click.echo(f"The last {most} of {total} steps; more of them with --most {total}.")


def _files(desktop: Opened, sought: Sought, most: int | None, as_csv: bool) -> None:
    now, bench = desktop.clock(), desktop.bench
    if not desktop.store.count(sought) and sought != Sought():
        click.echo(NOTHING, err=True)
    if as_csv:
        pieces = csv_lines(entries(bench, now, sought, most))
    else:
        pieces = parcel.pieces(bench, sought, now, most)
    for piece in pieces:
        click.echo(piece, nl=False)


def _product(desktop: Opened, sheet: str, most: int) -> None:
    now = desktop.clock()
    click.echo(desktop.say.found(foretold.of_product(desktop.bench, sheet, now, most)))


def _history(desktop: Opened, number: int, most: int | None, as_csv: bool, as_json: bool) -> None:
    paper = _paper(desktop)
    lines = history.history(desktop.store.events([number])[number], paper)
    lines = lines[-most:] if most else lines
    if as_json:
        print_json([history.as_json(each) for each in lines])
    elif as_csv:
        click.echo("".join(history.csv_lines(lines)), nl=False)
    else:
        for line in lines:
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
@click.option(
    "--most",
    type=click.IntRange(1),
    help=f"The last so many; as text {MOST} if left out, else all.",
)
@click.option("--step", type=click.IntRange(1), help="Only this step.")
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
        return
    _check(told)
    number, most = told["step"], told["most"]
    if number is not None:
        desktop.bench.step(number)
    if told["html"] or told["pdf"]:
        _hand_over(desktop, told)
    elif told["history_"]:
        _history(desktop, number, most, csv_, json_)
    elif csv_ or json_:
        _files(desktop, _sought(desktop, told), most, csv_)
    elif number is not None:
        _one(desktop, number)
    else:
        _list(desktop, _sought(desktop, told), most or MOST)
        if told["product"]:
            _product(desktop, told["product"], most or MOST)


def _check(told: dict[str, Any]) -> None:
    """Raises ConfigError for options that do not go together."""
    if told["history_"] and told["step"] is None:
        raise ConfigError("--history is of one step", fix="name it: --step N")
    if told["html"] or told["pdf"]:
        for name in ("part", "product", "state", "from_", "to", "find", "most", "step", "history_"):
            if told[name]:
                raise ConfigError(
                    "a hand-over sheet holds a whole job", fix=f"leave out --{name.rstrip('_')}"
                )


def _one(desktop: Opened, number: int) -> None:
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
