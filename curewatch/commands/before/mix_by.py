"""The command of the latest moment to mix."""

from __future__ import annotations

from datetime import datetime

import click

from curewatch.commands.command import command, json_option
from curewatch.commands.context import Context, print_json
from curewatch.commands.options import MASS, PERCENT, product_argument
from curewatch.errors import ConfigError
from curewatch.walltime import next_time


def _asked(
    context: Context, ends: dict[str, str | None], cold: bool
) -> tuple[str, datetime | None]:
    """The one milestone asked for, and by when; '' and None for before it gets too cold."""
    given = [(name, text) for name, text in ends.items() if text is not None]
    if len(given) + cold != 1:
        raise ConfigError(
            "one end is needed",
            fix="give one of --clamps-off-by, --sand-ready-by, --recoat-opens-by, --before-cold",
        )
    if cold:
        return "", None
    name, text = given[0]
    return name, next_time(text, context.clock(), context.zone, context.date_order)


@command("mix-by")
@product_argument
@click.option("--clamps-off-by", help="When the clamps must come off, like '22:15'.")
@click.option("--sand-ready-by", help="When you want to sand, like 'tomorrow 9 am'.")
@click.option("--recoat-opens-by", help="When you want to recoat, like '29 Nov 2026 18:00'.")
@click.option("--before-cold", is_flag=True, help="Before the panel is too cold for the product.")
@click.option("--amount", type=MASS, help="How much, like '60 g'.")
@click.option("--hardener", type=PERCENT, help="Hardener, like '2 %', where the label has a range.")
@click.option("--part", default="", help="What it goes on, like 'lower corner patch'.")
@click.option("--job", default="", help="The job it belongs to.")
@click.option("--place", default="panel", show_default=True, help="The place whose sensor it uses.")
@json_option
@click.pass_obj
def mix_by(
    context: Context,
    product: str,
    clamps_off_by: str | None,
    sand_ready_by: str | None,
    recoat_opens_by: str | None,
    before_cold: bool,
    amount: float | None,
    hardener: float | None,
    part: str,
    job: str,
    place: str,
) -> None:
    """Until when to mix, to be in time.

    It says between when and when to mix PRODUCT so that the clamps come off, it can be sanded or
    recoated by the time you give, 9 in 10, and how likely that is from other starts. Nothing is
    said of more than a week ahead.
    """
    from curewatch.events.details import Details
    from curewatch.plan import mix_by as question
    from curewatch.plan import mix_by_words

    ends = {
        "clamp_time": clamps_off_by,
        "sand_ready": sand_ready_by,
        "recoat_opens": recoat_opens_by,
    }
    milestone, by = _asked(context, ends, before_cold)
    details = Details(
        part=part.strip(),
        job=job.strip(),
        place=context.place(place),
        amount_g=amount,
        hardener_pct=hardener,
    )
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
