"""The commands before a mix: is it fit to start, and how is the room aired."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import click

from curewatch import airing
from curewatch.bench import Details
from curewatch.errors import ConfigError
from curewatch.gate import Gate, as_json, gate
from curewatch.gate_desk import ask
from curewatch.opened import Opened, as_json_option, print_json
from curewatch.quantities import parse_duration, parse_mass, parse_percent, parse_temperature
from curewatch.shelf import find_sheet
from curewatch.ventilation import Room, parse_flow, parse_volume
from curewatch.verdict import Manner
from curewatch.zone import local_zone


@click.argument("sheet", required=False)
@click.option("--room", required=True, help="The room's volume, like '60 m3' or '2100 ft3'.")
@click.option("--fan", required=True, help="The fan's flow, like '300 m3/h', '80 l/s', '180 cfm'.")
@click.option(
    "--mixing", default=5.0, show_default=True, help="How badly the air mixes: 1 best, 10 worst."
)
@click.option("--amount", help="How much of SHEET is used, like '300 g'.")
@click.option("--over", default="30 min", show_default=True, help="How long it gives off solvent.")
@click.option("--spray", is_flag=True, help="It is sprayed.")
@click.option("--sand", is_flag=True, help="It is sanded.")
@as_json_option
def air_out(
    desktop: Opened,
    sheet: str | None,
    room: str,
    fan: str,
    mixing: float,
    amount: str | None,
    over: str,
    spray: bool,
    sand: bool,
    json_: bool,
) -> None:
    """Work out how long a room takes to air, and the vapour of SHEET in it.

    A minimum and not a clearance; no number for isocyanate, spray mist or dust.
    """
    found = airing.airing(
        Room(parse_volume(room), parse_flow(fan), mixing),
        None if sheet is None else find_sheet(desktop.store, sheet),
        amount_g=None if amount is None else parse_mass(amount),
        over_min=parse_duration(over),
        sprayed=spray,
        sanded=sand,
    )
    if json_:
        print_json(airing.as_json(found))
        return
    click.echo("\n".join(airing.lines(found)))


def next_time(text: str, now: datetime, zone: ZoneInfo) -> datetime:
    """The next instant at which the wall clock shows 22:00, or the instant of an RFC 3339 text."""
    fix = "write it like '22:00' or '2026-11-25T22:00:00+01:00'"
    try:
        wall = time.fromisoformat(text.strip())
    except ValueError:
        try:
            found = datetime.fromisoformat(text.strip())
        except ValueError:
            raise ConfigError(f"{text[:40]!r} is no time of day", fix=fix) from None
        if found.tzinfo is None:
            raise ConfigError(f"{text[:40]!r} has no zone", fix=fix) from None
        return found.astimezone(UTC)
    if wall.tzinfo is not None:
        raise ConfigError(f"{text[:40]!r} has a zone but no day", fix=fix)
    today = now.astimezone(zone).date()
    return next(at for day in (0, 1, 2) if (at := _wall(today, day, wall, zone)) > now)


def _wall(today: date, days: int, wall: time, zone: ZoneInfo) -> datetime:
    day = today + timedelta(days=days)
    return datetime.combine(day, wall, tzinfo=zone).astimezone(UTC)


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
        yield f"  not told, so not weighed: {', '.join(found.not_told)}"


@click.argument("sheet")
@click.option("--amount", help="How much, like '60 g'.")
@click.option("--hardener", help="Hardener, like '2 %', where the label has a range.")
@click.option("--part", default="", help="What it goes on, like 'lower corner patch'.")
@click.option("--job", default="", help="The job it belongs to.")
@click.option("--place", default="panel", show_default=True, help="Whose sensor it follows.")
@click.option("--product-temperature", help="Of the product as stored, like '8 C'.")
@click.option("--stop-at", help="When you must stop tonight, like '22:00'.")
@click.option("--need", help="How long you want to work from the cup, like '15 min'.")
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
    json_: bool,
) -> None:
    """Before a mix: stop, think or go, why, and what would change it.

    Panel and air against the sheet now and in the outlook, dew, amount, hardener, what lies
    underneath, and the time left.
    """
    now = desktop.clock()
    details = Details(
        part=part.strip(),
        job=job.strip(),
        place=place,
        amount_g=None if amount is None else parse_mass(amount),
        hardener_pct=None if hardener is None else parse_percent(hardener),
        product_c=None if product_temperature is None else parse_temperature(product_temperature),
    )
    zone = local_zone(desktop.settings.zone)
    stop = None if stop_at is None else next_time(stop_at, now, zone)
    wanted = None if need is None else parse_duration(need)
    asked = ask(desktop.bench, sheet, now, details, stop_at=stop, wanted_min=wanted)
    found = gate(asked, desktop.say.manner)
    if json_:
        print_json(as_json(found))
        return
    click.echo("\n".join(_lines(found, desktop.say.manner)))


COMMANDS: dict[tuple[str, ...], Callable[..., None]] = {("air-out",): air_out, ("gate",): gate_}
