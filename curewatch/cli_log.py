"""The commands of the logbook: what was done, under which conditions, and handing it over."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import click

from curewatch import as_json
from curewatch.handover import write as write_handover
from curewatch.log_schema import SCHEMA
from curewatch.logbook import logbook, to_csv
from curewatch.opened import Opened, as_json_option, print_json

GROUPS = {("log",)}


@click.option("--job", help="Only the steps of this job.")
@click.option("--csv", "csv_", is_flag=True, help="Print CSV for a spreadsheet.")
@click.option("--html", type=click.Path(path_type=Path), help="Write a job's hand-over sheet.")
@click.option("--schema", is_flag=True, help="Print the JSON Schema of what --json prints.")
@as_json_option
def log(
    desktop: Opened, job: str | None, csv_: bool, html: Path | None, schema: bool, json_: bool
) -> None:
    """Show the jobs, their steps and the conditions of each."""
    if click.get_current_context().invoked_subcommand:
        return
    if schema:
        print_json(SCHEMA)
        return
    now = desktop.clock()
    if html is not None:
        manner = desktop.say.manner
        write_handover(desktop.bench, job, now, manner.zone, manner, html)
        click.echo(f"The hand-over sheet is in {html}.")
        return
    entries = logbook(desktop.bench, now, job=job)
    if csv_:
        click.echo(to_csv(entries), nl=False)
    elif json_:
        print_json(as_json.logbook(entries))
    else:
        click.echo(desktop.say.log(entries, now))


COMMANDS: dict[tuple[str, ...], Callable[..., None]] = {("log",): log}
