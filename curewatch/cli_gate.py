"""The commands before a mix and around it: the gate, a rehearsal, heat, a reason told late."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import click

from curewatch import heating, overrides, rehearsal
from curewatch.as_json import step as step_json
from curewatch.bench import Details
from curewatch.gate import Gate, as_json, gate
from curewatch.gate_desk import ask, set_bare_limit
from curewatch.opened import Opened, as_json_option, by_option, maybe, placed, print_json
from curewatch.quantities import parse_duration, parse_mass, parse_percent, parse_temperature
from curewatch.rehearsal import Held
from curewatch.shelf import find_sheet
from curewatch.verdict import Manner
from curewatch.wall import next_time
from curewatch.zone import local_zone


def _lines(found: Gate, say: Manner) -> Iterator[str]:
    yield f"{found.verdict.upper()}: {found.asked.sheet.name}"
    for each in found.checks:
        yield f"  {each.verdict:5}  {each.words}"
        if each.verdict != "go" and each.source:
            yield f"         source: {each.source}"
        if each.change:
            yield f"         what would change it: {each.change}"
    if found.portions:
        yield f"  mix    {found.portions.words}"
    if found.not_told:
        yield f"  not checked because not entered: {', '.join(found.not_told)}"


@click.argument("sheet")
@click.option("--amount", help="How much, like '60 g'.")
@click.option("--hardener", help="Hardener, like '2 %', where the label has a range.")
@click.option("--part", default="", help="What it goes on, like 'lower corner patch'.")
@click.option("--job", default="", help="The job it belongs to.")
@click.option("--place", default="panel", show_default=True, help="Whose sensor it follows.")
@click.option("--product-temperature", help="Of the product as stored, like '8 C'.")
@click.option("--stop-at", help="When you must stop tonight, like '22:00'.")
@click.option("--need", help="How long you want to work from the cup, like '15 min'.")
@click.option("--batch", help="Batch, as on the can; left out: of the can in use.")
@click.option("--bare-limit", help="How long cleaned metal may stand bare, like '4 h'; kept.")
@as_json_option
def gate_(
    desktop: Opened,
    sheet: str,
    amount: str | None,
    hardener: str | None,
    part: str,
    job: str,
    place: str,
    product_temperature: str | None,
    stop_at: str | None,
    need: str | None,
    batch: str | None,
    bare_limit: str | None,
    json_: bool,
) -> None:
    """Before a mix: stop, think or go, why, and what would change it.

    Panel and air against the sheet now and in the outlook, dew, amount, hardener, the can's days,
    what lies underneath, bare metal, a rehearsal, and the time left.
    """
    now = desktop.clock()
    details = Details(
        part=part.strip(),
        job=job.strip(),
        place=placed(desktop, place),
        batch=batch,
        amount_g=maybe(parse_mass, amount),
        hardener_pct=maybe(parse_percent, hardener),
        product_c=maybe(parse_temperature, product_temperature),
    )
    zone = local_zone(desktop.settings.zone)
    stop = None if stop_at is None else next_time(stop_at, now, zone)
    wanted = maybe(parse_duration, need)
    if bare_limit is not None:
        set_bare_limit(desktop.bench, parse_duration(bare_limit), now=now)
    asked = ask(desktop.bench, sheet, now, details, zone=zone, stop_at=stop, wanted_min=wanted)
    found = gate(asked, desktop.say.manner)
    if json_:
        print_json(as_json(found))
        return
    click.echo("\n".join(_lines(found, desktop.say.manner)))


def held_here(desktop: Opened, sheet: str, took_min: float, details: Details) -> Held:
    """A rehearsed length against the working time here and now. took_min [min]"""
    found = ask(desktop.bench, sheet, desktop.clock(), details).wet
    timed = found is not None and found.likely_min is not None
    early, late = (found.early_min, found.late_min) if found and timed else (None, None)
    return rehearsal.hold(took_min, early, late)


@click.argument("sheet")
@click.option("--took", help="How long the dry rehearsal took, like '24 min'.")
@click.option("--part", default="", help="What it was rehearsed on.")
@click.option("--place", default="panel", show_default=True, help="Whose sensor it follows.")
@as_json_option
def rehearse(
    desktop: Opened, sheet: str, took: str | None, part: str, place: str, json_: bool
) -> None:
    """Hold a dry rehearsal against the working time here, before the nozzle is cut.

    Without --took it starts the stopwatch, and the next time stops it.
    """
    now, id = desktop.clock(), find_sheet(desktop.store, sheet).id
    where = placed(desktop, place)
    if took is not None:
        done = rehearsal.record(desktop.store, id, parse_duration(took), now=now, part=part)
    elif rehearsal.running(desktop.store, id, now) is None:
        rehearsal.begin(desktop.store, id, now=now, part=part)
        click.echo("The stopwatch runs. When the last clamp is on: the same command again.")
        return
    else:
        done = rehearsal.stop(desktop.store, id, now=now)
    found = held_here(desktop, id, done.took_min, Details(part=part or None, place=where))
    if json_:
        print_json(vars(found))
        return
    click.echo(f"{found.verdict.upper()}: {found.words}")


@by_option
@click.argument("step", type=int)
@click.option("--from", "from_", required=True, help="When the heat began or begins, like '19:00'.")
@click.option("--until", required=True, help="When it ended or ends, like '21:00'.")
@click.option("--surface", help="About how warm the metal is under it, like '30 C'.")
@click.option("--because", default="", help="Why it was heated against a limit.")
@as_json_option
def heat(
    desktop: Opened,
    step: int,
    from_: str,
    until: str,
    surface: str | None,
    because: str,
    json_: bool,
) -> None:
    """Tell heat on a step's metal: a lamp, a tent, a mat. Nothing is switched on by this.

    A probe on the metal at the step's own place that reports during the heat is believed instead.
    """
    now, zone = desktop.clock(), local_zone(desktop.settings.zone)
    warm = maybe(parse_temperature, surface)
    spell = heating.spell(desktop.bench.step(step), from_, until, warm, now, zone)
    say = desktop.say.manner
    stops = heating.heat(desktop.bench, step, spell, now=now, say=say, why=because)
    view = desktop.bench.step_view(step, now)
    if json_:
        print_json(step_json(view))
        return
    start, end = (say.moment(at, now) for at in (spell.start, spell.until))
    click.echo(f"Heat on step {step} from {start} to {end}.")
    for each in stops:
        click.echo(f"Kept, against a limit: {each}.")
    click.echo(desktop.say.step(view, now))


@by_option
@click.argument("step", type=int)
@click.argument("why")
def because(desktop: Opened, step: int, why: str) -> None:
    """Tell afterwards why a step was mixed against a stop of the gate."""
    for each in overrides.explain(desktop.bench, step, why, now=desktop.clock()):
        click.echo(f"Step {step}, against: {each}")
    click.echo(f"Because: {why.strip()}")


COMMANDS: dict[tuple[str, ...], Callable[..., None]] = {
    ("gate",): gate_,
    ("rehearse",): rehearse,
    ("heat",): heat,
    ("because",): because,
}
