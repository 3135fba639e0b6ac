"""The commands that add to one step: notes, photographs, coats, clamps, heat, reasons."""

from __future__ import annotations

from pathlib import Path

import click

from curewatch.commands.command import command, json_option
from curewatch.commands.context import Context, print_json
from curewatch.commands.options import (
    FILE_OUT,
    FILM,
    PROSE,
    TEMPERATURE,
    ago_option,
    by_option,
    step_argument,
)
from curewatch.errors import ConfigError, CurewatchError, StepError
from curewatch.vocabulary import MARKS


@command("acknowledge")
@step_argument
@click.argument("reminder")
@by_option
@click.pass_obj
def acknowledge(context: Context, step: int, reminder: str) -> None:
    """Answer a protection reminder."""
    context.bench.acknowledge(step, reminder, now=context.clock())
    click.echo(f"Step {step}: {reminder} answered.")


@command("note")
@step_argument
@click.argument("text", type=PROSE)
@by_option
@click.pass_obj
def note(context: Context, step: int, text: str) -> None:
    """Add a note to a step."""
    context.bench.note(step, text, now=context.clock())
    click.echo(f"Step {step}: note saved.")


@command("emptied")
@step_argument
@by_option
@click.pass_obj
@click.option("--in-use", is_flag=True, help="Not yet: ask again in a quarter of an hour.")
def emptied(context: Context, step: int, in_use: bool) -> None:
    """Record: cup empty, tools cleaned.

    The bench stops asking for it.
    """
    now = context.clock()
    if in_use:
        context.bench.in_use(step, now=now)
        click.echo(f"Step {step}: still in use, you will be asked again in a quarter of an hour.")
        return
    context.bench.emptied(step, now=now)
    click.echo(f"Step {step}: cup empty, tools cleaned.")


@command("mark")
@step_argument
@click.argument("what", type=click.Choice(list(MARKS)))
@by_option
@click.pass_obj
@ago_option
@click.option(
    "--film-wet", type=FILM, help="Film thickness of this coat measured wet, like '150 um'."
)
def mark(context: Context, step: int, what: str, ago: str | None, film_wet: float | None) -> None:
    """Record a coat, or clamps on or off."""
    from curewatch.bench import marks

    now, at = context.clock(), context.before(ago)
    number = marks.mark(context.bench, step, what, now=now, at=at, film_wet_um=film_wet)
    click.echo(f"Step {step}, {what} at {context.manner.clock(at)}: saved as number {number}.")


@command("photo")
@step_argument
@click.argument("file", type=FILE_OUT)
@by_option
@click.pass_obj
@click.option("--words", type=PROSE, default="", help="What it shows.")
def photo(context: Context, step: int, file: Path, words: str) -> None:
    """Add a photograph to a step.

    It is shrunk, turned upright and stripped of location and camera data.
    """
    from curewatch.logbook import photographs

    try:
        with file.open("rb") as source:
            photograph = photographs.add(
                context.bench, step, source, now=context.clock(), words=words
            )
    except OSError as error:
        if isinstance(error, CurewatchError):
            raise
        raise ConfigError(
            f"cannot be read ({error.strerror})", where=str(file), fix="check it"
        ) from None
    body = photograph.body
    click.echo(
        f"Step {step}: photograph {photograph.id} saved, "
        f"{body['width']} × {body['height']} pixels, {body['size'] / 1e6:.1f} MB."
    )


@command("heat")
@step_argument
@by_option
@click.pass_obj
@click.option("--from", "from_", required=True, help="When the heat began or begins, like '19:00'.")
@click.option("--until", required=True, help="When it ended or ends, like '21:00'.")
@click.option("--surface", type=TEMPERATURE, help="How warm the metal is under it, like '30 C'.")
@click.option("--why", default="", help="Why it was heated against a limit.")
@json_option
def heat(
    context: Context, step: int, from_: str, until: str, surface: float | None, why: str
) -> None:
    """Record heat on a step's metal.

    A lamp, a tent or a mat; curewatch switches nothing on. If a probe on the metal at the step's
    own place reports during the heat, its readings count instead.
    """
    from curewatch.bench import marks

    now, say = context.clock(), context.manner
    mixed, zone, order = context.bench.step(step), context.zone, context.date_order
    spell = marks.spell(mixed, from_, until, surface, now, zone, order)
    stops = marks.heat(context.bench, step, spell, now=now, say=say, why=why)
    view = context.bench.step_view(step, now)
    if context.as_json:
        from curewatch.exchange import bench_json

        print_json(bench_json.step(view))
        return
    start, end = (say.moment(at, now) for at in (spell.start, spell.until))
    click.echo(f"Heat on step {step} from {start} to {end}.")
    for limit in stops:
        click.echo(f"Saved despite a limit: {limit}.")
    click.echo(context.say.step(view, now))


@command("fan")
@step_argument
@by_option
@click.pass_obj
@click.option("--off", is_flag=True, help="The fan is not on after all.")
def fan(context: Context, step: int, off: bool) -> None:
    """Record that the fan is on.

    The step's least airing time counts from then.
    """
    from curewatch.products.solvents import leaving
    from curewatch.protection import airing
    from curewatch.protection.purge import purge

    now = context.clock()
    if leaving(context.bench.step(step).sheet) is None:
        raise StepError(f"step {step} contains no solvent to air", fix="see: curewatch bench")
    context.bench.fan(step, not off, now=now)
    view = context.bench.step_view(step, now)
    airing_out = purge(view, airing.last_room(context.store), now, context.manner)
    click.echo(airing_out.words if airing_out else "Saved.")


@command("why")
@step_argument
@click.argument("why")
@by_option
@click.pass_obj
def why_(context: Context, step: int, why: str) -> None:
    """Enter why a step was mixed despite a stop."""
    from curewatch.gate import starting

    for limit in starting.explain(context.bench, step, why, now=context.clock()):
        click.echo(f"Step {step}, despite: {limit}")
    click.echo(f"Reason: {why.strip()}")
