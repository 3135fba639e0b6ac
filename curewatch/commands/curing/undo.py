"""The command that undoes an act."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import islice
from typing import TYPE_CHECKING

import click

from curewatch.commands.command import Alone, command
from curewatch.commands.context import Context
from curewatch.commands.options import by_option

if TYPE_CHECKING:
    from curewatch.garage.damaged import Damaged
    from curewatch.logbook.paper import FieldFormatter

LISTED = 20


def _paper(context: Context) -> FieldFormatter:
    from curewatch.logbook.paper import FieldFormatter

    return FieldFormatter(context.zone, context.manner)


def _listed(context: Context) -> Iterator[str]:
    from curewatch.logbook import undo as undoing
    from curewatch.wording.act_words import act_words

    paper = _paper(context)
    for act in islice(undoing.last_acts(context.store), LISTED):
        mark = " (undone)" if act.undone else ""
        words = act_words(context.store, act, paper)
        yield f"{act.number:5}  {paper.stamp(act.recorded_at)}  {words}{mark}"


def damaged_lines(context: Context, records: Sequence[Damaged]) -> list[str]:
    """What is damaged, each on a line with the name to remove it by."""
    if not records:
        return []
    from curewatch.garage import damaged

    stamp = _paper(context).stamp
    return [
        f"! {damaged.sentence(record, stamp(record.row.recorded_at))}. Remove it with: "
        f"curewatch undo --remove {record.id}"
        for record in records
    ]


def _failed(context: Context) -> Sequence[Damaged]:
    """The steps on the bench whose times cannot be worked out."""
    return context.bench.view(context.clock()).failed


@command("undo", Alone)
@click.argument("act", type=int, required=False, metavar="[N]")
@by_option
@click.pass_obj
@click.option("--list", "lists", is_flag=True, help="List what was entered last, with numbers.")
@click.option("--why", default="", help="Why it is undone.")
@click.option("--damaged", "broken", is_flag=True, help="List what is damaged and left out.")
@click.option("--remove", metavar="ENTRY", help="Remove a damaged entry, named as in that list.")
def undo(
    context: Context, act: int | None, lists: bool, why: str, broken: bool, remove: str | None
) -> None:
    """Undo what was entered last, or number N.

    What you undo stays in the history. To bring it back, undo the undo by its number.
    """
    from curewatch.garage import damaged
    from curewatch.logbook import undo as undoing
    from curewatch.wording.act_words import act_words

    if lists:
        click.echo("\n".join(_listed(context)) or "Nothing was recorded yet.")
        return
    if broken:
        lines = damaged_lines(context, [*damaged.all_damaged(context.store), *_failed(context)])
        lines += [f"! {sentence}." for sentence in damaged.reading_sentences(context.store)]
        click.echo("\n".join(lines) or "Nothing is damaged.")
        return
    if remove is not None:
        record = damaged.remove(context.store, remove, now=context.clock(), also=_failed(context))
        click.echo(f"Removed; it stays in the history: {record.row.kind[:40]} of {record.of}.")
        return
    store = context.store
    past = undoing.last_one(store) if act is None else undoing.past_act(store, act)
    undoing.undo(context.bench, past, now=context.clock(), why=why)
    last = next(undoing.last_acts(store))
    click.echo(f"{act_words(store, last, _paper(context))}.")
    click.echo(f"Bring it back with: curewatch undo {last.number}")
