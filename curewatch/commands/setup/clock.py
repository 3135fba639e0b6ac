"""The command about this computer's clock: that it is right, although it went back."""

from __future__ import annotations

import click

from curewatch.commands.command import command
from curewatch.commands.context import Context
from curewatch.quality import clock


@command("confirm")
@click.pass_obj
def confirm(context: Context) -> None:
    """Confirm that the clock is right.

    Use it when the clock went back because it had been ahead. Readings with a later time are set
    aside. Steps recorded as mixed at a later time stay as they are; correct them with curewatch
    step edit.
    """
    store = context.store
    context.clock()
    aside = clock.confirm(store, context.held_clock.went_back())
    click.echo(context.say.clock_confirmed(context.bench.view(context.clock()), aside))
