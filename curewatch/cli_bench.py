"""The commands of the bench: what is coming, and what is asked there beside the tests."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import click

from curewatch import as_json, cli_parts
from curewatch.cli_protect import aired
from curewatch.ics import LATELY, calendar
from curewatch.opened import Opened, as_json_option, by_option, print_json
from curewatch.purge import as_json as purge_json
from curewatch.trouble import trouble


@by_option
@click.argument("step", type=int)
@click.option("--in-use", is_flag=True, help="Not yet: ask again in a quarter of an hour.")
def emptied(desktop: Opened, step: int, in_use: bool) -> None:
    """Tell that cup and gun are used up and the tools clean: the bench stops asking."""
    now = desktop.clock()
    if in_use:
        desktop.bench.in_use(step, now=now)
        click.echo(f"Step {step}: still in use, asked again in a quarter of an hour.")
        return
    desktop.bench.emptied(step, now=now)
    click.echo(f"Step {step}: used up, tools clean.")


def _write(file: Path, held: bytes) -> None:
    """Put a file in place whole or not at all, on disk before it takes the other's place."""
    fresh = file.with_name(f".{file.name}.new")
    try:
        fresh.write_bytes(held)
        fresh.replace(file)
    except OSError as error:
        raise trouble("the calendar was not written", error, file) from None


@click.option(
    "--ics",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Write what is coming as a calendar; importing it again moves its events.",
)
@as_json_option
def bench(desktop: Opened, ics: Path | None, json_: bool) -> None:
    """Show what is hardening, and when to test what."""
    now = desktop.clock()
    view = desktop.bench.view(now)
    if ics is not None:
        gone = desktop.bench.closed_since(now - LATELY)
        _write(ics, calendar(view, gone, desktop.say.calendar()))
        click.echo(f"What is coming is in {ics}; import it again when times have moved.")
        return
    asked = cli_parts.asked_lines(desktop, now)
    if json_:
        airing = [purge_json(each) for each in aired(desktop, view)]
        print_json(as_json.bench(view) | {"asks_bare": bool(asked), "airing": airing})
        return
    click.echo("\n".join([*asked, *cli_parts.indoors_lines(desktop, now), desktop.say.bench(view)]))
    for each in aired(desktop, view):
        click.echo(f"Step {each.step_id}, {each.part}: {each.words}")


COMMANDS: dict[tuple[str, ...], Callable[..., None]] = {
    ("bench",): bench,
    ("emptied",): emptied,
}
