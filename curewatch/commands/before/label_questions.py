"""The questions of `curewatch product new`: from answers to a sheet's text."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any, NamedTuple

import click
import tomlkit

from curewatch.commands.options import LINE
from curewatch.durations import duration
from curewatch.errors import CurewatchError, SheetError
from curewatch.products.chemistries import CHEMISTRIES
from curewatch.products.label import check
from curewatch.products.label_times import LabelTime, careful_time
from curewatch.products.sheet import KINDS, parse_sheet
from curewatch.units import parse_duration, parse_mass, parse_temperature, with_unit

Values = dict[str, Any]


class TimeQuestion(NamedTuple):
    """A time of the label, and how it is asked for."""

    milestone: str
    words: str


WORKING = TimeQuestion("working_time", "Working time, in minutes")
TIMES = (
    TimeQuestion("pot_life", "Pot life, in minutes"),
    TimeQuestion("clamp_time", "Clamps off after, in hours"),
    TimeQuestion("sand_ready", "Ready to sand after, in hours"),
    TimeQuestion("recoat_opens", "Ready to recoat after, in hours"),
    TimeQuestion("recoat_closes", "Recoat before, in hours"),
    TimeQuestion("full_cure", "Fully cured after, in hours"),
)
_UNITS = {"C": "°C", "F": "°F"}


def _asked(words: str, read: Callable[[str], Any], *, optional: bool = False) -> Any:
    """The answer, asked for until it can be read; None where Enter leaves it out."""
    while True:
        text = click.prompt(words, default="", show_default=False).strip()
        try:
            if not text and not optional:
                raise SheetError("this one is needed", fix="copy it from the label")
            return read(text) if text else None
        except CurewatchError as error:
            click.echo(f"  {error}")


def _name(text: str) -> str:
    try:
        return str(LINE.convert(text, None, None))
    except click.BadParameter as error:
        raise SheetError(error.message.rstrip(".")) from None


def _one_of(codes: tuple[str, ...]) -> Callable[[str], str]:
    def read(text: str) -> str:
        numbered = {str(number): code for number, code in enumerate(codes, 1)}
        code = numbered.get(text, text.lower())
        if code not in codes:
            raise SheetError(f"{text[:40]!r} is none of these", fix=f"type 1 to {len(codes)}")
        return code

    return read


def _chosen(title: str, words: dict[str, str]) -> str:
    click.echo(title)
    for number, answer in enumerate(words.values(), 1):
        click.echo(f"  {number}  {answer}")
    return str(_asked("Number", _one_of(tuple(words))))


def _temperature(unit: str) -> Callable[[str], str]:
    def read(text: str) -> str:
        typed = with_unit(text, unit)
        parse_temperature(typed)
        return typed

    return read


def _mass(text: str) -> str:
    typed = with_unit(text, "g")
    parse_mass(typed)
    return typed


def _ask_time(values: Values, row: Values, question: TimeQuestion, *, optional: bool) -> None:
    """Ask for a time; what contradicts the times before it is asked again."""

    def read(text: str) -> LabelTime:
        typed = careful_time(text, question.milestone)
        trial = values | {"times": [row | {question.milestone: typed.text}]}
        check(parse_sheet(tomlkit.dumps(trial), "sheet", "the label"), "the label")
        return typed

    answer = _asked(
        f"{question.words}{' (Enter: not on the label)' * optional}", read, optional=optional
    )
    if answer is not None:
        row[question.milestone], ranged = answer
        length = duration(parse_duration(row[question.milestone]))
        click.echo(
            f"  {length} is used, the careful end of the range." if ranged else f"  {length}"
        )


def _ask_limits(values: Values, unit: str) -> None:
    """Ask for the temperatures between which the product may be used; both or neither."""

    def read(text: str) -> list[str]:
        ends = [_temperature(unit)(end) for end in re.split(r"\s+to\s+", text)]
        trial = values | {"limits": {"temperature": ends}}
        parse_sheet(tomlkit.dumps(trial), "sheet", "the label")
        return ends

    words = f"Use between, like '10 to 35', in {_UNITS[unit]} (Enter: not on the label)"
    if ends := _asked(words, read, optional=True):
        values["limits"] = {"temperature": ends}


def asked_text(unit: str) -> str:
    """The text of a sheet, asked for on the terminal or read from a pipe, line by line.

    unit: C or F, of a temperature that is typed without one.
    """
    values: Values = {"name": _asked("Name on the label", _name)}
    values["kind"] = _chosen("What is it?", {kind: kind for kind in KINDS})
    families = {name: family.words for name, family in CHEMISTRIES.items()}
    values["chemistry"] = _chosen("What is it made of?", families)
    words = f"At which temperature does the label give its times, in {_UNITS[unit]}"
    row: Values = {"temperature": _asked(words, _temperature(unit))}
    _ask_time(values, row, WORKING, optional=False)
    for question in TIMES:
        _ask_time(values, row, question, optional=True)
    if "pot_life" in row and (mass := _asked("Pot life of how many grams", _mass, optional=True)):
        row["pot_mass"] = mass
    values["times"] = [row]
    _ask_limits(values, unit)
    if ratio := _asked(
        "Mixing ratio, like '2:1 by volume' (Enter: not on the label)", _name, optional=True
    ):
        values["mix_ratio"] = ratio
    source = {"source": {"note": "copied from the label"}}
    document = {key: value for key, value in values.items() if key not in ("times", "limits")}
    tables = {key: values[key] for key in ("times", "limits") if key in values}
    return tomlkit.dumps(document | tables | source)
