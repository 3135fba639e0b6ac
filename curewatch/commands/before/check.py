"""The command before a mix: stop, caution or go; and a rehearsal held against the working time."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import click

from curewatch.commands.command import command, json_option
from curewatch.commands.context import Context, print_json
from curewatch.commands.options import DURATION, TEMPERATURE, mix_options, product_argument
from curewatch.formats import ReaderFormat
from curewatch.gate.check import Verdict
from curewatch.walltime import next_time

if TYPE_CHECKING:
    from curewatch.events.details import Details
    from curewatch.gate.gate import Gate
    from curewatch.gate.rehearsal import Outcome

EXIT: dict[Verdict, int] = {"go": 0, "caution": 10, "stop": 20}


def _lines(gate: Gate, say: ReaderFormat) -> Iterator[str]:
    yield f"{gate.verdict.upper()}: {gate.proposal.sheet.name}"
    for check in gate.checks:
        yield f"  {check.verdict:7}  {check.words}"
        if check.verdict != "go" and check.source:
            yield f"           source: {check.source}"
        if check.change:
            yield f"           what would help: {check.change}"
    if gate.portions:
        yield f"  mix      {gate.portions.words}"
    if gate.not_told:
        yield f"  not checked because not entered: {', '.join(gate.not_told)}"


def rehearsed_here(context: Context, product: str, took_min: float, details: Details) -> Outcome:
    """A rehearsed length against the working time here and now. took_min [min]"""
    from curewatch.gate import rehearsal
    from curewatch.gate.gather import ask

    wet = ask(context.bench, product, context.clock(), details).wet
    timed = wet is not None and wet.likely_min is not None
    early, late = (wet.early_min, wet.late_min) if wet and timed else (None, None)
    return rehearsal.hold(took_min, early, late)


def _rehearse(context: Context, product: str, took_min: float | None, details: Details) -> int:
    """Keep a rehearsal, or start or stop its stopwatch; the exit code of the command."""
    from curewatch.garage.shelf import find_sheet
    from curewatch.gate import rehearsal

    now, id = context.clock(), find_sheet(context.store, product).id
    part = details.part or ""
    if took_min is not None:
        done = rehearsal.record(context.store, id, took_min, now=now, part=part)
    elif rehearsal.running(context.store, id, now) is None:
        rehearsal.begin(context.store, id, now=now, part=part)
        click.echo(
            "The stopwatch is running. When the last clamp is on, enter the same command again."
        )
        return 0
    else:
        done = rehearsal.stop(context.store, id, now=now)
    outcome = rehearsed_here(context, id, done.took_min, details)
    if context.as_json:
        print_json(vars(outcome))
    else:
        click.echo(f"{outcome.verdict.upper()}: {outcome.words}")
    return EXIT[outcome.verdict]


@command("check")
@product_argument
@mix_options
@click.option(
    "--product-temperature",
    type=TEMPERATURE,
    help="Temperature of the product as stored, like '8 C'.",
)
@click.option("--until", help="When you must stop tonight, like '22:00'.")
@click.option("--need", type=DURATION, help="How long you want to work, like '15 min'.")
@click.option("--batch", help="Batch, as on the can; that of the can in use if left out.")
@click.option(
    "--bare-limit", type=DURATION, help="How long metal may be bare, like '4 h'; remembered."
)
@click.option(
    "--rehearse", is_flag=True, help="Time a dry rehearsal: once to start, again to stop."
)
@click.option("--took", type=DURATION, help="How long the rehearsal took, like '24 min'.")
@json_option
@click.pass_obj
def check(
    context: Context,
    product: str,
    details: Details,
    product_temperature: float | None,
    until: str | None,
    need: float | None,
    batch: str | None,
    bare_limit: float | None,
    rehearse: bool,
    took: float | None,
) -> int:
    """Stop, caution or go before a mix, and why.

    It compares panel and air with the label, now and by the forecast, and checks dew, amount,
    hardener, the can, the step underneath, bare metal, your rehearsal and the time you have left.
    It also says what would help. With --rehearse you time a dry rehearsal before you cut the
    nozzle, and compare it with the working time here. The exit code is 0 for go, 10 for caution, 20
    for stop.
    """
    from curewatch.gate.gate import as_json, gate
    from curewatch.gate.gather import ask, set_bare_limit

    now, zone = context.clock(), context.zone
    details = details.but(batch=batch, product_c=product_temperature)
    if rehearse or took is not None:
        return _rehearse(context, product, took, details)
    if bare_limit is not None:
        set_bare_limit(context.bench, bare_limit, now=now)
    stop = None if until is None else next_time(until, now, zone, context.date_order)
    proposal = ask(context.bench, product, now, details, zone=zone, stop_at=stop, wanted_min=need)
    answer = gate(proposal, context.manner)
    if context.as_json:
        print_json(as_json(answer))
    else:
        click.echo("\n".join(_lines(answer, context.manner)))
    return EXIT[answer.verdict]
