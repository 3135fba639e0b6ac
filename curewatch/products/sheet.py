"""What a product's label and data sheet say: load, check, write."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from importlib import resources
from typing import Any, TypeVar

from curewatch import units as quantities
from curewatch.errors import CurewatchError, SheetError
from curewatch.products.chemistries import CHEMISTRIES
from curewatch.products.hazards import HAZARDS, Hazards, contents
from curewatch.products.shelf_life import Life, parse_life
from curewatch.vocabulary import MILESTONES, ORDERED

KINDS = ("adhesive", "filler", "primer", "sealer")
_TOP = {
    "name",
    "kind",
    "chemistry",
    "mix_ratio",
    "mix",
    "film",
    "colder_is_faster",
    "times",
    "limits",
    "storage",
    "hazards",
    "source",
}
_LIMITS = {"temperature", "humidity_max", "dew_spread_min", "hardener", "bare_max", "peak_max"}
_STORAGE = {"temperature", "shelf_life", "opened_life"}
Value = TypeVar("Value")
LEAST_PEAK_C, MOST_PEAK_C = 30.0, 150.0
LB_GAL = 453.59237 / 3785.411784
_ID = re.compile(r"[a-z0-9][a-z0-9-]{0,59}")


@dataclass(frozen=True)
class TimesRow:
    """One row of the label: minutes from mixing to each milestone at one temperature.

    temperature_c [C], humidity_pct [%] or None, minutes {milestone: [min]}, pot_mass_g [g] or None.
    """

    temperature_c: float
    humidity_pct: float | None
    minutes: Mapping[str, float]
    pot_mass_g: float | None = None


@dataclass(frozen=True)
class Limits:
    """What the sheet allows: temperature_c (least, most) [C]; humidity_max_pct [%];
    dew_spread_min_c [K]; hardener_pct (least, usual, most) [%]; bare_max_min: how long cleaned
    metal may stand bare before this product [min]; peak_max_c: how hot a cup of it may get [C].
    None: the sheet is silent."""

    temperature_c: tuple[float, float] | None = None
    humidity_max_pct: float | None = None
    dew_spread_min_c: float | None = None
    hardener_pct: tuple[float, float, float] | None = None
    bare_max_min: float | None = None
    peak_max_c: float | None = None


@dataclass(frozen=True)
class Storage:
    """How the product keeps: temperature_c (least, most) of the store [C]; shelf_life from the
    day it was bought, unless an expiry is printed; opened_life from the day it was opened.
    None: the sheet is silent."""

    temperature_c: tuple[float, float] | None = None
    shelf_life: Life | None = None
    opened_life: Life | None = None


@dataclass(frozen=True)
class Sheet:
    """A checked sheet; `text` is the TOML it came from, `film_um` the label's film [um],
    `densities_g_ml` of the parts in the order of the ratio, `density_g_ml` mixed [g/ml];
    colder_is_faster: the label really gives a colder row shorter times."""

    id: str
    name: str
    kind: str
    chemistry: str
    mix_ratio: str
    times: tuple[TimesRow, ...]
    limits: Limits
    hazards: Hazards
    source_note: str
    film_um: float | None
    text: str
    densities_g_ml: tuple[float, ...] | None = None
    density_g_ml: float | None = None
    storage: Storage = Storage()
    colder_is_faster: bool = False

    @property
    def reference(self) -> TimesRow:
        """The first row: the one the label's times are quoted at."""
        return self.times[0]


def _known(table: Mapping[str, Any], allowed: set[str], file: str, where: str) -> None:
    for key in table:
        if key not in allowed:
            raise SheetError(
                f"unknown key {key!r}{where}",
                where=file,
                fix=f"use one of {', '.join(sorted(allowed))}",
            )


def _table(data: Mapping[str, Any], key: str, file: str) -> Mapping[str, Any]:
    table = data.get(key, {})
    if not isinstance(table, dict):
        raise SheetError(f"{key!r} is not a table", where=file, fix=f"write it as [{key}]")
    return table


def _text(data: Mapping[str, Any], key: str, file: str, default: str | None = None) -> str:
    value = data.get(key, default)
    if not isinstance(value, str) or (default is None and not value.strip()):
        problem = "is missing" if key not in data else "is not text"
        raise SheetError(f"{key!r} {problem}", where=file, fix=f'add {key} = "..."')
    return value.strip()


def _flag(data: Mapping[str, Any], key: str, file: str) -> bool:
    value = data.get(key, False)
    if not isinstance(value, bool):
        raise SheetError(f"{key} is neither true nor false", where=file, fix="say which")
    return value


def _quantity(
    table: Mapping[str, Any], key: str, parse: Callable[[str], Value], file: str, where: str
) -> Value | None:
    if key not in table:
        return None
    value = table[key]
    if not isinstance(value, str):
        raise SheetError(
            f"{key}{where} = {value!r} has no unit",
            where=file,
            fix="write it in quotes with its unit",
        )
    try:
        return parse(value)
    except CurewatchError as error:
        raise SheetError(f"{key}{where}: {error.what}", where=file, fix=error.fix) from None


def _row(table: Any, number: int, file: str) -> TimesRow:
    where = f" in times row {number}"
    if not isinstance(table, dict):
        raise SheetError(
            f"times row {number} is not a table", where=file, fix="write it as [[times]]"
        )
    _known(table, {"temperature", "humidity", "pot_mass", *MILESTONES}, file, where)
    temperature = _quantity(table, "temperature", quantities.parse_temperature, file, where)
    if temperature is None:
        raise SheetError(
            f"temperature is missing{where}",
            where=file,
            fix='add temperature = "21 C", as on the label',
        )
    minutes = {}
    for name in MILESTONES:
        value = _quantity(table, name, quantities.parse_duration, file, where)
        if value is None:
            continue
        if value <= 0:
            raise SheetError(
                f"{name}{where} is not above 0", where=file, fix="give the label's time"
            )
        minutes[name] = value
    if not minutes:
        raise SheetError(f"no time{where}", where=file, fix=f"give one of {', '.join(MILESTONES)}")
    for before, after, strict in ORDERED:
        if before in minutes and after in minutes:
            wrong = (
                minutes[before] >= minutes[after] if strict else minutes[before] > minutes[after]
            )
            if wrong:
                raise SheetError(
                    f"{before} is not before {after}{where}",
                    where=file,
                    fix=f"check both times; {before} must come before {after}",
                )
    return TimesRow(
        temperature,
        _quantity(table, "humidity", quantities.parse_humidity, file, where),
        minutes,
        _quantity(table, "pot_mass", quantities.parse_mass, file, where),
    )


def _list(
    table: Mapping[str, Any],
    key: str,
    count: int,
    parse: Callable[[str], float],
    file: str,
    where: str = " in limits",
) -> tuple[float, ...] | None:
    if key not in table:
        return None
    value = table[key]
    if not isinstance(value, list) or len(value) != count:
        raise SheetError(
            f"{key}{where} is not a list of {count}", where=file, fix=f"give {count} values"
        )
    values = tuple(_quantity({key: item}, key, parse, file, where) or 0.0 for item in value)
    if list(values) != sorted(values) or values[0] == values[-1]:
        raise SheetError(f"{key}{where} is not rising", where=file, fix="give the least first")
    return values


def _limits(data: Mapping[str, Any], file: str) -> Limits:
    table = _table(data, "limits", file)
    _known(table, _LIMITS, file, " in limits")
    span = _list(table, "temperature", 2, quantities.parse_temperature, file)
    hardener = _list(table, "hardener", 3, quantities.parse_percent, file)
    if hardener is not None and hardener[0] <= 0:
        raise SheetError(
            "hardener in limits starts at 0 %", where=file, fix="give the label's least"
        )
    spread = _quantity(table, "dew_spread_min", _parse_spread, file, " in limits")
    bare = _quantity(table, "bare_max", quantities.parse_duration, file, " in limits")
    if bare == 0:
        fix = "give how long cleaned metal may stand, or leave it out"
        raise SheetError("bare_max in limits is not above 0", where=file, fix=fix)
    return Limits(
        (span[0], span[1]) if span else None,
        _quantity(table, "humidity_max", quantities.parse_humidity, file, " in limits"),
        spread,
        (hardener[0], hardener[1], hardener[2]) if hardener else None,
        bare,
        _quantity(table, "peak_max", _parse_peak, file, " in limits"),
    )


def _storage(data: Mapping[str, Any], file: str) -> Storage:
    table = _table(data, "storage", file)
    _known(table, _STORAGE, file, " in storage")
    where = " in storage"
    span = _list(table, "temperature", 2, quantities.parse_temperature, file, where)
    return Storage(
        (span[0], span[1]) if span else None,
        _quantity(table, "shelf_life", parse_life, file, where),
        _quantity(table, "opened_life", parse_life, file, where),
    )


def _parse_spread(text: str) -> float:
    """A temperature difference in C, K or F. [K]"""
    number, unit = quantities._split(text, "temperature difference", "3 C")
    scale = {"c": 1.0, "k": 1.0, "f": 5 / 9}.get(unit.lower().lstrip("°"))
    if scale is None or number < 0:
        raise SheetError(f"{text!r} is not a temperature difference", fix="write it like '3 C'")
    return number * scale


def _parse_peak(text: str) -> float:
    """How hot a cup may get. [C]"""
    peak_c = quantities.parse_temperature(text)
    if not LEAST_PEAK_C <= peak_c <= MOST_PEAK_C:
        span = f"{LEAST_PEAK_C:g}..{MOST_PEAK_C:g} C"
        raise SheetError(f"a cup of {text!r} is outside {span}", fix="give the label's hottest")
    return peak_c


def _parse_density(text: str) -> float:
    """Mass per volume. [g/ml]"""
    units = {"g/ml": 1.0, "g/cm3": 1.0, "kg/l": 1.0, "g/l": 0.001, "kg/m3": 0.001, "lb/gal": LB_GAL}
    density = quantities._scaled(text, "density", units, "1.1 g/ml")
    if not 0.3 <= density <= 5:
        raise SheetError(f"a density of {text!r} is outside 0.3..5 g/ml", fix="check it")
    return density


def _hazards(data: Mapping[str, Any], chemistry: str, file: str) -> Hazards:
    table = _table(data, "hazards", file)
    _known(table, {*HAZARDS, "solvent"}, file, " in hazards")
    return contents(table, chemistry, file)


def _densities(data: Mapping[str, Any], file: str) -> tuple[tuple[float, ...] | None, float | None]:
    """Densities of the parts and of the mix, where [mix] gives them. [g/ml]"""
    table = _table(data, "mix", file)
    _known(table, {"density", "densities"}, file, " in mix")
    mixed = _quantity(table, "density", _parse_density, file, " in mix")
    values = table.get("densities")
    if values is None:
        return None, mixed
    if not isinstance(values, list) or not 2 <= len(values) <= 4:
        fix = 'write densities = ["1.1 g/ml", "0.97 g/ml"], one for each part of the ratio'
        raise SheetError("densities in mix is not a list of the parts", where=file, fix=fix)
    parts = (
        _quantity({"densities": value}, "densities", _parse_density, file, " in mix")
        for value in values
    )
    return tuple(part for part in parts if part is not None), mixed


def _check_rows(rows: tuple[TimesRow, ...], limits: Limits, chemistry: str, file: str) -> None:
    conditions = set()
    for row in rows:
        if (row.temperature_c, row.humidity_pct) in conditions:
            raise SheetError(
                f"two rows of times at {row.temperature_c:g} C: two references",
                where=file,
                fix="keep one row for each temperature; the first is the reference",
            )
        conditions.add((row.temperature_c, row.humidity_pct))
    reference = rows[0].temperature_c
    span = limits.temperature_c
    if span and not span[0] <= reference <= span[1]:
        raise SheetError(
            f"limits {span[0]:g}..{span[1]:g} C exclude the reference {reference:g} C",
            where=file,
            fix="check limits.temperature and the first row's temperature",
        )
    if limits.hardener_pct and not CHEMISTRIES[chemistry].hardener_varies:
        raise SheetError(
            f"limits.hardener is given, but the ratio of {chemistry} may never be varied",
            where=file,
            fix="remove limits.hardener",
        )


def parse_sheet(text: str, id: str, file: str = "") -> Sheet:
    """A sheet from its TOML text. Raises SheetError naming file, key and fix."""
    file = file or f"{id}.toml"
    if not _ID.fullmatch(id):
        raise SheetError(
            f"{id[:60]!r} is not a name for a sheet",
            where=file,
            fix="use a-z, 0-9 and -, at most 60",
        )
    try:
        data = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise SheetError(f"not valid TOML: {error}", where=file, fix="correct that line") from None
    _known(data, _TOP, file, "")
    kind, chemistry = _text(data, "kind", file), _text(data, "chemistry", file)
    for key, value, allowed in (
        ("kind", kind, KINDS),
        ("chemistry", chemistry, tuple(CHEMISTRIES)),
    ):
        if value not in allowed:
            raise SheetError(
                f"unknown {key} {value!r}", where=file, fix=f"use one of {', '.join(allowed)}"
            )
    tables = data.get("times")
    if not isinstance(tables, list) or not tables:
        raise SheetError("no times", where=file, fix="add a [[times]] row with the label's figures")
    rows = tuple(_row(table, number, file) for number, table in enumerate(tables, 1))
    limits = _limits(data, file)
    _check_rows(rows, limits, chemistry, file)
    source = _table(data, "source", file)
    _known(source, {"note"}, file, " in source")
    densities, density = _densities(data, file)
    return Sheet(
        id=id,
        name=_text(data, "name", file),
        kind=kind,
        chemistry=chemistry,
        mix_ratio=_text(data, "mix_ratio", file, ""),
        times=rows,
        limits=limits,
        hazards=_hazards(data, chemistry, file),
        source_note=_text(source, "note", file, ""),
        film_um=_quantity(data, "film", quantities.parse_film, file, ""),
        text=text,
        densities_g_ml=densities,
        density_g_ml=density,
        storage=_storage(data, file),
        colder_is_faster=_flag(data, "colder_is_faster", file),
    )


def generic_sheets() -> dict[str, Sheet]:
    """The sheets that come with curewatch, by id."""
    folder = resources.files("curewatch.products") / "sheets"
    names = sorted(item.name for item in folder.iterdir() if item.name.endswith(".toml"))
    return {
        name[:-5]: parse_sheet((folder / name).read_text(encoding="utf-8"), name[:-5], name)
        for name in names
    }
