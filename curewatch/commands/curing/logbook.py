"""The commands of the logbook: what was done, under which conditions, and handing it over."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from curewatch.commands.command import command, json_option
from curewatch.commands.context import Context, print_json, say_busy
from curewatch.commands.options import (
    DAY,
    FILE_OUT,
    products,
    step_argument,
)
from curewatch.errors import ConfigError
from curewatch.store import search_index
from curewatch.store.search import StepQuery
from curewatch.walltime import day_start

if TYPE_CHECKING:
    from curewatch.garage.damaged import Damaged
    from curewatch.logbook.paper import FieldFormatter

MOST = 40
NOTHING = "No step fits these filters."
LAST_MINUTE = timedelta(minutes=1)
FORMATS = ("text", "csv", "json")


def _paper(context: Context) -> FieldFormatter:
    from curewatch.logbook.paper import FieldFormatter

    return FieldFormatter(context.zone, context.manner)


def _start(context: Context, day: date | None, later: int = 0) -> datetime | None:
    return None if day is None else day_start(day, context.zone, later)


def _query(context: Context, filters: dict[str, Any]) -> StepQuery:
    return StepQuery(
        text=filters["find"] or "",
        job=filters["job"],
        part=filters["part"] or "",
        sheet=filters["product"] or "",
        state=filters["state"] or "",
        since=_start(context, filters["from_"]),
        until=_start(context, filters["until"], 1),
    )


def _list(context: Context, query: StepQuery, most: int) -> None:
    from curewatch.commands.curing.undo import damaged_lines
    from curewatch.garage.damaged import of_query
    from curewatch.logbook.logbook import logbook

    now, total = context.clock(), context.store.count(query)
    if not total and query != StepQuery():
        click.echo(NOTHING)
        return
    failed: list[Damaged] = []
    entries = logbook(context.bench, now, query=query, most=most, failed=failed)
    for line in damaged_lines(context, [*of_query(context.store, query, most), *failed]):
        click.echo(line)
    click.echo(context.say.log(entries, now))
    if total > most:
        click.echo(f"The last {most} of {total} steps; more of them with --most {total}.")


def _files(context: Context, query: StepQuery, most: int | None, as_csv: bool) -> None:
    from curewatch.logbook.logbook import csv_lines, entries

    now, bench = context.clock(), context.bench
    if not context.store.count(query) and query != StepQuery():
        click.echo(NOTHING, err=True)
    if as_csv:
        pieces = csv_lines(entries(bench, now, query, most))
    else:
        from curewatch.exchange import export_json

        pieces = export_json.pieces(bench, query, now, most)
    for piece in pieces:
        click.echo(piece, nl=False)


def _product(context: Context, sheet: str, most: int) -> None:
    from curewatch.logbook import predictions

    now = context.clock()
    click.echo(context.say.predictions(predictions.of_product(context.bench, sheet, now, most)))


def _history(context: Context, number: int, format_: str) -> None:
    from curewatch.logbook import history

    paper = _paper(context)
    lines = history.history(context.store.events([number])[number], paper)
    if format_ == "json":
        print_json([history.as_json(line) for line in lines])
    elif format_ == "csv":
        click.echo("".join(history.csv_lines(lines)), nl=False)
    else:
        for line in lines:
            mark = "*" if line.correction else " "
            click.echo(f"{line.number:>5} {mark} {history.sentence(line, paper)}")
        click.echo("* a correction; the earlier entry is kept")


def _one(context: Context, number: int) -> None:
    from curewatch.logbook.logbook import entry

    now = context.clock()
    worked = entry(context.bench, context.bench.step(number), now)
    click.echo(context.say.log([worked], now))
    paper = _paper(context)
    for name, value in paper.facts(worked.step):
        click.echo(f"    {name}: {value}")
    for happening in worked.step.happened:
        click.echo(
            f"    {happening.id:>4}  {paper.stamp(happening.at)}  {paper.happening(happening)}"
        )


def _days(first: date | None, last: date | None) -> str:
    """The days that are asked for, in words."""
    from curewatch.days import day_words

    words = ("from", first), ("until", last)
    return " ".join(f"{word} {day_words(day)}" for word, day in words if day)


def _format(context: Context, format_: str | None) -> str:
    """The format that is asked for: --json is short for --format json, and stands beside no other.

    Raises UsageError for two formats.
    """
    if context.as_json and format_ not in (None, "json"):
        what = f"--json and --format {format_} ask for two formats: leave one of them out"
        raise click.UsageError(what, click.get_current_context())
    return "json" if context.as_json else format_ or "text"


_format_option = click.option(
    "--format",
    "format_",
    type=click.Choice(FORMATS),
    help="CSV for a spreadsheet; text if left out.",
)


@command("log")
@click.option("--job", help="Only the steps of this job.")
@click.option("--part", help="Only the steps on this part.")
@click.option(
    "--product",
    shell_complete=products,
    help="Only this product, with predicted and actual times.",
)
@click.option(
    "--state", type=click.Choice(search_index.STATES), help="Only the steps in this state."
)
@click.option("--from", "from_", type=DAY, help="Mixed on this day or later, like '31 Oct 2026'.")
@click.option("--until", type=DAY, help="Mixed on this day or before.")
@click.option("--find", metavar="WORDS", help="Words of part, job, product, batch, who or notes.")
@click.option(
    "--most",
    type=click.IntRange(1),
    help=f"Show the latest so many; if left out {MOST} as text, else all.",
)
@_format_option
@json_option
@click.pass_obj
def log(context: Context, /, format_: str | None, **filters: Any) -> None:
    """Show jobs, their steps and the conditions.

    One step with all its details: curewatch step show N. A job's hand-over sheet: curewatch report.
    """
    query, most, chosen = _query(context, filters), filters["most"], _format(context, format_)
    if chosen != "text":
        _files(context, query, most, chosen == "csv")
        return
    if days := _days(filters["from_"], filters["until"]):
        click.echo(f"Mixed {days}:")
    _list(context, query, most or MOST)
    if filters["product"]:
        _product(context, filters["product"], most or MOST)


@command("show")
@step_argument
@click.option("--history", "history_", is_flag=True, help="Everything entered for it, in order.")
@_format_option
@json_option
@click.pass_obj
def show(context: Context, step: int, history_: bool, format_: str | None) -> None:
    """Show a step with its conditions and history."""
    chosen = _format(context, format_)
    context.bench.step(step)
    if history_:
        _history(context, step, chosen)
    elif chosen == "text":
        _one(context, step)
    else:
        _files(context, StepQuery(step=step), None, chosen == "csv")


@command("report")
@click.argument("job")
@click.option("--html", type=FILE_OUT, help="Write it as one HTML file.")
@click.option("--pdf", type=FILE_OUT, help="Write it as PDF.")
@click.option("--as-of", type=DAY, help="Show the recoat windows as of that day, not today.")
@click.pass_obj
def report(
    context: Context, job: str, html: Path | None, pdf: Path | None, as_of: date | None
) -> None:
    """Write a job's hand-over sheet, HTML or PDF."""
    from curewatch.days import day_words
    from curewatch.handover.handover import write as write_handover

    paper, now = _paper(context), context.clock()
    if html is None and pdf is None:
        raise ConfigError("no file is named", fix="add --html FILE or --pdf FILE")
    if pdf is not None and pdf.suffix.lower() != ".pdf":
        raise ConfigError("the name of a PDF ends in .pdf", where=str(pdf), fix="add it")
    day = _start(context, as_of, 1)
    end = None if day is None else day - LAST_MINUTE
    as_of_words = f", as of {day_words(as_of)}" if as_of else ""
    for file in filter(None, (html, pdf)):
        say_busy(f"Making {file}")
        write_handover(context.bench, job, now, paper.zone, paper.say, file, end)
        click.echo(f"The hand-over sheet is in {file}{as_of_words}.")


@command("compare")
@click.argument("one", type=int)
@click.argument("others", type=int, nargs=-1, required=True)
@click.pass_obj
def compare(context: Context, one: int, others: tuple[int, ...]) -> None:
    """Show steps side by side."""
    from curewatch.logbook import compare as comparing

    paper = _paper(context)
    comparison = comparing.compare(context.bench, (one, *others), context.clock(), paper)
    click.echo(context.say.comparison(comparison))
