"""The commands that add to a step's record: coats and clamps, film, surface, photographs."""

from __future__ import annotations

import functools
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any, TypeVar

import click

from curewatch import record
from curewatch.bench import Details
from curewatch.errors import ConfigError, CurewatchError
from curewatch.opened import Opened, before, by_option, maybe
from curewatch.quantities import parse_duration, parse_film

Command = TypeVar("Command", bound=Callable[..., Any])
_TEXTS = {
    "hardener_batch": "Batch of the hardener, as on its can.",
    "expiry": "Expiry, as printed, like '2027-03'.",
    "ratio": "Ratio as it was mixed, like '100:2.1 by weight'.",
    "grit": "Grit the surface was sanded with, like 'P80'.",
    "cleaner": "What the surface was cleaned with.",
    "deviations": "What was done otherwise than the label says.",
    "signed": "Who signs this step off.",
}
_MEASURED = {
    "cleaned": "How long ago it was cleaned, like '20 min'.",
    "induction": "From mixing to first use, like '15 min'.",
    "film_wet": "Film as measured wet, like '150 um'.",
    "film_dry": "Film as measured dry, like '60 um'.",
}


def _more(now: datetime, told: dict[str, str | None]) -> dict[str, Any]:
    cleaned, waited = told["cleaned"], told["induction"]
    return {key: told[key] for key in _TEXTS} | {
        "cleaned_at": None if cleaned is None else before(now, cleaned),
        "induction_min": maybe(parse_duration, waited),
        "film_wet_um": maybe(parse_film, told["film_wet"]),
        "film_dry_um": maybe(parse_film, told["film_dry"]),
    }


def more_details(command: Command) -> Command:
    """Options for the record of a step, added to the details that a command takes."""
    for name, words in reversed((_TEXTS | _MEASURED).items()):
        command = click.option(f"--{name.replace('_', '-')}", help=words)(command)

    @functools.wraps(command)
    def with_more(desktop: Opened, *args: Any, details: Details, **given: Any) -> Any:
        told = {key: given.pop(key) for key in (*_TEXTS, *_MEASURED)}
        details = replace(details, **_more(desktop.clock(), told))
        return command(desktop, *args, details=details, **given)

    return with_more  # type: ignore[return-value]


@by_option
@click.argument("step", type=int)
@click.argument("what", type=click.Choice(list(record.MARKS)))
@click.option("--ago", help="How long ago it was, like '3 min'.")
@click.option("--film-wet", help="Film of this coat as measured wet, like '150 um'.")
def mark(desktop: Opened, step: int, what: str, ago: str | None, film_wet: str | None) -> None:
    """Tell when a coat went on, or when the clamps went on or off."""
    now = desktop.clock()
    at = before(now, ago)
    number = record.mark(
        desktop.bench, step, what, now=now, at=at, film_wet_um=maybe(parse_film, film_wet)
    )
    click.echo(f"Step {step}, {what} at {desktop.say.manner.clock(at)}: noted as number {number}.")


@by_option
@click.argument("step", type=int)
@click.argument("file", type=click.Path(dir_okay=False, path_type=Path))
@click.option("--words", default="", help="What it shows.")
def photo(desktop: Opened, step: int, file: Path, words: str) -> None:
    """Put a photograph into a step's log: scaled, upright, without place or camera in it."""
    from curewatch import photographs

    try:
        with file.open("rb") as source:
            found = photographs.add(desktop.bench, step, source, now=desktop.clock(), words=words)
    except OSError as error:
        if isinstance(error, CurewatchError):
            raise
        raise ConfigError(
            f"cannot be read ({error.strerror})", where=str(file), fix="check it"
        ) from None
    body = found.body
    click.echo(
        f"Step {step}: photograph {found.id} kept, {body['width']} × {body['height']} pixels, "
        f"{body['size'] / 1e6:.1f} MB."
    )


COMMANDS: dict[tuple[str, ...], Callable[..., None]] = {
    ("mark",): mark,
    ("photo",): photo,
}
