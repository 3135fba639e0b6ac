"""The command that undoes an act, and the line that offers it after each."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from itertools import islice

import click

from curewatch import undo as undoing
from curewatch.act_words import act_words
from curewatch.acting import acting
from curewatch.fields import Paper
from curewatch.opened import Opened, by_option
from curewatch.zone import local_zone

LISTED = 20


def _paper(desktop: Opened) -> Paper:
    return Paper(local_zone(desktop.settings.zone), desktop.say.manner)


def _listed(desktop: Opened) -> Iterator[str]:
    paper = _paper(desktop)
    for each in islice(undoing.last_acts(desktop.store), LISTED):
        mark = " (undone)" if each.undone else ""
        words = act_words(desktop.store, each, paper)
        yield f"{each.number:5}  {paper.stamp(each.told)}  {words}{mark}"


@contextmanager
def offering(quiet: bool) -> Iterator[None]:
    """What a command records is one act; how it is undone is said behind it, unless `quiet`."""
    with acting() as act:
        yield
    if act.number is not None and not quiet:
        click.echo("Undo with: curewatch undo")


@by_option
@click.argument("act", type=int, required=False)
@click.option("--list", "lists", is_flag=True, help="List what was recorded last, with numbers.")
@click.option("--why", default="", help="Why it is undone.")
def undo(desktop: Opened, act: int | None, lists: bool, why: str) -> None:
    """Undo what was recorded last, or the act of that number.

    It stays in the history. The number of an undo brings back what that undid.
    """
    if lists:
        click.echo("\n".join(_listed(desktop)) or "Nothing was recorded yet.")
        return
    store = desktop.store
    found = undoing.last_one(store) if act is None else undoing.past_act(store, act)
    undoing.undo(desktop.bench, found, now=desktop.clock(), why=why)
    last = next(undoing.last_acts(store))
    click.echo(f"{act_words(store, last, _paper(desktop))}.")
    click.echo(f"Bring it back with: curewatch undo {last.number}")


COMMANDS: dict[tuple[str, ...], Callable[..., None]] = {("undo",): undo}
