"""The command of the latest moment to mix."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

import click

from curewatch.commands.command import command, json_option
from curewatch.commands.context import Context, print_json
from curewatch.commands.options import asked_end, ends_options, mix_options, product_argument

if TYPE_CHECKING:
    from curewatch.events.details import Details

BEFORE_COLD = "--before-cold"


def _asked(context: Context, ends: dict[str, str], cold: bool) -> tuple[str, datetime | None]:
    """The one milestone asked for, and by when; '' and None for before it gets too cold."""
    if cold and not ends:
        return "", None
    return asked_end(context, {} if cold else ends, BEFORE_COLD)


@command("mix-by")
@product_argument
@ends_options
@click.option(
    BEFORE_COLD, "cold", is_flag=True, help="Before the panel is too cold for the product."
)
@mix_options
@json_option
@click.pass_obj
def mix_by(
    context: Context, product: str, ends: dict[str, str], cold: bool, details: Details
) -> None:
    """Until when to mix, to be in time.

    It says between when and when to mix PRODUCT so that the clamps come off, it can be sanded or
    recoated by the time you give, 9 in 10, and how likely that is from other starts. Nothing is
    said of more than a week ahead.
    """
    from curewatch.plan import mix_by as question
    from curewatch.plan import mix_by_words

    milestone, by = _asked(context, ends, cold)
    answer = question.mix_by(
        context.bench,
        product,
        context.clock(),
        details,
        milestone=milestone,
        by=by,
        zone=context.zone,
    )
    if context.as_json:
        print_json(mix_by_words.as_json(answer))
        return
    click.echo("\n".join(mix_by_words.lines(answer, context.manner)))
