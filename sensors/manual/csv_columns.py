"""Which columns of a data logger's file are readings, of what and in which unit. Pure.

Notes
-----
A name gives the quantity. A name, a cell, or the whole column gives the unit: from the
values between its 10 % and 90 % quantiles, so that a few error codes count for nothing. A garage
is taken to be between -40 and 50 °C; where such values could be °C or °F, it is asked.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace

from curewatch.climate.reading import QUANTITIES, Quantity
from curewatch.errors import ReadingError
from curewatch.frozen import frozen
from sensors.manual.csv_dates import seems_time
from sensors.manual.csv_options import FileOptions, Unclear
from sensors.manual.csv_table import CsvTable
from sensors.payloads.guess import guess, named_unit, temperature_of

NUMBER = re.compile(r"[+-]?\d+([.,]\d*)?", re.ASCII)
HOTTEST_C, KELVIN_FROM, HOTTEST_F = 50.0, 223.0, 130.0
SURELY_C_TO = SURELY_F_FROM = 40.0
_UNITS = ((r"°?\s*f\b|fahrenheit", "F"), (r"°?\s*c\b|celsius", "C"), (r"\bk\b|kelvin", "K"))


@frozen
class Column:
    """A column and what it is taken for."""

    number: int
    name: str
    quantity: Quantity
    unit: str


@frozen
class _Values:
    """The numbers of a column, sorted, and the unit that one of its cells names."""

    numbers: list[float]
    unit: str | None

    def at(self, share: float) -> float:
        """The value that this share of the values stays below."""
        return self.numbers[round(share * (len(self.numbers) - 1))]


def columns_of(table: CsvTable, options: FileOptions, name: str) -> tuple[Column, ...]:
    """The columns to take: those the user names, else those whose names speak of a reading.

    Raises ReadingError where there is none, and Unclear where two seem to be the same or a unit
    can be read in two ways.
    """
    values = {n: _values(table, n) for n, title in enumerate(table.header) if _may_be(table, n)}
    values_by_number = {
        number: column_values for number, column_values in values.items() if column_values.numbers
    }
    columns = list(
        _named(table, values_by_number, options, name)
        if options.columns
        else _guessed(table, values_by_number)
    )
    if options.quantity is not None:
        columns = [replace(column, quantity=options.quantity) for column in columns]
    if not columns:
        raise ReadingError(
            "no column seems to be a temperature or a humidity",
            where=name,
            fix="name the column in the first line, like 'Temperature (°C)', or with --column NAME",
        )
    _check_one_each(columns, name)
    return tuple(
        replace(column, unit=options.unit or _unit(column, values_by_number[column.number], name))
        for column in columns
    )


def _may_be(table: CsvTable, number: int) -> bool:
    return number not in table.timed and bool(table.header[number])


def _values(table: CsvTable, number: int) -> _Values:
    numbers, unit = [], None
    for row in table.rows:
        cell = row.cell(number)
        match = NUMBER.match(cell)
        if match is not None and not seems_time(cell):
            numbers.append(float(match[0].replace(",", ".")))
            unit = unit or _unit_in(f"({cell[match.end() :]})")
    return _Values(sorted(numbers), unit)


def _guessed(table: CsvTable, values_by_number: dict[int, _Values]) -> Iterator[Column]:
    for number, values in values_by_number.items():
        quantity = _quantity(table.header[number], values)
        if quantity is not None:
            yield Column(number, table.header[number], quantity, "")


def _quantity(title: str, values: _Values) -> Quantity | None:
    """What a column seems to be, by its name and its middle value."""
    middle = values.at(0.5)
    guessed = guess(f"file/{title}", middle)
    if guessed is None and (_unit_in(title) or values.unit) and guess(f"file/temp {title}", 20.0):
        guessed = guess("file/temperature", middle)
    return guessed[0] if guessed else None


def _named(
    table: CsvTable, values_by_number: dict[int, _Values], options: FileOptions, name: str
) -> Iterator[Column]:
    """The columns the user names, whatever their names speak of."""
    for title in options.columns:
        numbers = [n for n, header in enumerate(table.header) if header == title]
        if not numbers:
            titles = ", ".join(repr(text) for text in table.header if text)
            raise ReadingError(
                f"there is no column {title!r}", where=name, fix=f"it has {titles or 'no names'}"
            )
        with_numbers = [n for n in numbers if n in values_by_number]
        if not with_numbers:
            raise ReadingError(
                f"the column {title!r} has no numbers", where=name, fix="name another one"
            )
        for number in with_numbers:
            values = values_by_number[number]
            seems = _quantity(title, values) or _by_unit(title, values)
            yield Column(number, title, seems, "")


def _by_unit(title: str, values: _Values) -> Quantity:
    humid = "%" in title or values.unit == "%"
    return "relative_humidity" if humid else temperature_of(title)


def _check_one_each(columns: Sequence[Column], name: str) -> None:
    """Raises Unclear where two columns seem to be the same."""
    for quantity in QUANTITIES:
        same = [column.name for column in columns if column.quantity == quantity]
        if len(same) > 1:
            raise Unclear(
                f"{' and '.join(map(repr, same))} both seem to be the {quantity.replace('_', ' ')}",
                where=name,
                fix="choose the one at this place: --column NAME",
                option="columns",
                choices=tuple(dict.fromkeys(same)),
            )


def _unit(column: Column, values: _Values, name: str) -> str:
    if column.quantity == "relative_humidity":
        return "fraction" if 0 < values.at(0.9) <= 1 else "%"
    named = _unit_in(column.name) or values.unit or named_unit(column.name.lower())
    if named and named != "%":
        return named
    low, high = values.at(0.1), values.at(0.9)
    seems = _unit_of(low, high)
    if seems is None:
        raise Unclear(
            f"{column.name!r} names no unit, and its values, mostly {low:g} to {high:g}, "
            "could be °C or °F",
            where=name,
            fix="add --unit C or --unit F",
            option="unit",
            choices=("C", "F"),
        )
    return seems


def _unit_of(low: float, high: float) -> str | None:
    """The unit in which a garage's temperatures lie mostly from low to high.

    >>> _unit_of(12, 25), _unit_of(28, 75), _unit_of(280, 300), _unit_of(35, 45)
    ('C', 'F', 'K', None)
    """
    if low >= KELVIN_FROM:
        return "K"
    if high > HOTTEST_C or low >= SURELY_F_FROM:
        return "F" if high <= HOTTEST_F else None
    return "C" if high <= SURELY_C_TO else None


def _unit_in(title: str) -> str | None:
    inside = re.search(r"[(\[]([^)\]]*)[)\]]|°\s*[cfk]", title.lower())
    if inside is None:
        return None
    if "%" in inside[0]:
        return "%"
    return next((unit for rule, unit in _UNITS if re.search(rule, inside[0])), None)
