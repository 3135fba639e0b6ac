"""What a product's label and data sheet say: load, check, write."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import field
from functools import cache
from pathlib import Path

from curewatch import units as quantities
from curewatch.errors import SheetError
from curewatch.frozen import frozen
from curewatch.products.chemistries import CHEMISTRIES
from curewatch.products.hazards import Hazards, contents
from curewatch.products.shelf_life import Life, parse_life
from curewatch.toml_table import TomlTable, load
from curewatch.vocabulary import MILESTONES, ORDERED

SHEETS = Path(__file__).with_name("sheets")
KINDS = ("adhesive", "filler", "primer", "sealer")
_TOP = (
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
)
_LIMITS = ("temperature", "humidity_max", "dew_spread_min", "hardener", "bare_max", "peak_max")
_STORAGE = ("temperature", "shelf_life", "opened_life")
LEAST_PEAK_C, MOST_PEAK_C = 30.0, 150.0
LB_GAL = 453.59237 / 3785.411784
_ID = re.compile(r"[a-z0-9][a-z0-9-]{0,59}")


@frozen
class TimesRow:
    """One row of the label: minutes from mixing to each milestone at one temperature.

    temperature_c [C], humidity_pct [%] or None, minutes {milestone: [min]}, pot_mass_g [g] or None;
    typed: the temperature as the sheet has it, for errors.
    """

    temperature_c: float
    humidity_pct: float | None
    minutes: Mapping[str, float]
    pot_mass_g: float | None = None
    typed: str = field(default="", compare=False)


@frozen
class Limits:
    """What the sheet allows: temperature_c (least, most) [C]; humidity_max_pct [%];
    dew_spread_min_c [K]; hardener_pct (least, usual, most) [%]; bare_max_min: how long cleaned
    metal may stand bare before this product [min]; peak_max_c: how hot a cup of it may get [C].
    None: the label gives none."""

    temperature_c: tuple[float, float] | None = None
    humidity_max_pct: float | None = None
    dew_spread_min_c: float | None = None
    hardener_pct: tuple[float, float, float] | None = None
    bare_max_min: float | None = None
    peak_max_c: float | None = None


@frozen
class Storage:
    """How the product keeps: temperature_c (least, most) of the store [C]; shelf_life from the
    day it was bought, unless an expiry is printed; opened_life from the day it was opened.
    None: the label gives none."""

    temperature_c: tuple[float, float] | None = None
    shelf_life: Life | None = None
    opened_life: Life | None = None


@frozen
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


def _row(table: TomlTable) -> TimesRow:
    table.only(("temperature", "humidity", "pot_mass", *MILESTONES))
    temperature = table.quantity("temperature", quantities.parse_temperature)
    if temperature is None:
        fix = 'write temperature = "21 C", as on the label'
        raise table.wrong("temperature", "is missing", fix)
    times = {name: _time(table, name) for name in MILESTONES if name in table.data}
    if not times:
        fix = f"give one of {', '.join(MILESTONES)}"
        raise SheetError(f"{table.name} has no time", where=table.file, fix=fix)
    for before, after, strict in ORDERED:
        if before in times and after in times:
            lead = times[after] - times[before]
            if lead < 0 or (strict and lead == 0):
                fix = f"check both times; {before} must come before {after}"
                raise table.wrong(before, f"is not before {after}", fix)
    return TimesRow(
        temperature,
        table.quantity("humidity", quantities.parse_humidity),
        times,
        table.quantity("pot_mass", quantities.parse_mass),
        str(table.data["temperature"]),
    )


def _time(table: TomlTable, name: str) -> float:
    """A milestone's time, above nothing. [min]"""
    value = table.quantity(name, quantities.parse_duration, 0.0)
    if value <= 0:
        raise table.wrong(name, "is not above 0", "give the label's time")
    return value


def _rising(
    table: TomlTable, key: str, parse: Callable[[str], float], count: int
) -> tuple[float, ...] | None:
    values = table.quantities(key, parse, count, count)
    if values and (list(values) != sorted(values) or values[0] == values[-1]):
        raise table.wrong(key, "is not rising", "give the least first")
    return values


def _limits(table: TomlTable) -> Limits:
    table.only(_LIMITS)
    span = _rising(table, "temperature", quantities.parse_temperature, 2)
    hardener = _rising(table, "hardener", quantities.parse_percent, 3)
    if hardener is not None and hardener[0] <= 0:
        raise table.wrong("hardener", "starts at 0 %", "give the label's least")
    bare = table.quantity("bare_max", quantities.parse_duration)
    if bare == 0:
        fix = "give how long cleaned metal may stand, or leave it out"
        raise table.wrong("bare_max", "is not above 0", fix)
    return Limits(
        (span[0], span[1]) if span else None,
        table.quantity("humidity_max", quantities.parse_humidity),
        table.quantity("dew_spread_min", parse_spread),
        (hardener[0], hardener[1], hardener[2]) if hardener else None,
        bare,
        table.quantity("peak_max", parse_peak),
    )


def _storage(table: TomlTable) -> Storage:
    table.only(_STORAGE)
    span = _rising(table, "temperature", quantities.parse_temperature, 2)
    return Storage(
        (span[0], span[1]) if span else None,
        table.quantity("shelf_life", parse_life),
        table.quantity("opened_life", parse_life),
    )


def parse_spread(text: str) -> float:
    """A temperature difference in C, K or F. [K]"""
    number, unit = quantities._split(text, "temperature difference", "3 C")
    scale = {"c": 1.0, "k": 1.0, "f": 5 / 9}.get(unit.lower().lstrip("°"))
    if scale is None or number < 0:
        raise SheetError(f"{text!r} is not a temperature difference", fix="write it like '3 C'")
    return number * scale


def parse_peak(text: str) -> float:
    """How hot a cup may get. [C]"""
    peak_c = quantities.parse_temperature(text)
    if not LEAST_PEAK_C <= peak_c <= MOST_PEAK_C:
        span = quantities.span_as_typed(LEAST_PEAK_C, MOST_PEAK_C, text)
        raise SheetError(f"a cup of {text!r} is outside {span}", fix="give the label's hottest")
    return peak_c


def parse_density(text: str) -> float:
    """Mass per volume. [g/ml]"""
    units = {"g/ml": 1.0, "g/cm3": 1.0, "kg/l": 1.0, "g/l": 0.001, "kg/m3": 0.001, "lb/gal": LB_GAL}
    density = quantities._scaled(text, "density", units, "1.1 g/ml")
    if not 0.3 <= density <= 5:
        raise SheetError(f"a density of {text!r} is outside 0.3..5 g/ml", fix="check it")
    return density


def _check_rows(
    table: TomlTable, rows: tuple[TimesRow, ...], limits: Limits, chemistry: str
) -> None:
    at = [(row.temperature_c, row.humidity_pct) for row in rows]
    again = next((row for place, row in enumerate(rows) if at[place] in at[:place]), None)
    if again is not None:
        what = f"has two rows at {again.typed}: two references"
        fix = "keep one row for each temperature; the first is the reference"
        raise table.wrong("times", what, fix)
    reference, span = rows[0].temperature_c, limits.temperature_c
    if span and not span[0] <= reference <= span[1]:
        typed = " to ".join(str(bound) for bound in table.data["limits"]["temperature"])
        what = f"of {typed} excludes the reference {rows[0].typed}"
        fix = "check it and the first row's temperature"
        raise table.wrong("limits.temperature", what, fix)
    if limits.hardener_pct and not CHEMISTRIES[chemistry].hardener_varies:
        what = f"is given, but the ratio of {chemistry} may never be varied"
        raise table.wrong("limits.hardener", what, "remove it")


def parse_sheet(text: str, id: str, file: str = "") -> Sheet:
    """A sheet from its TOML text. Raises SheetError naming file, key and fix."""
    file = file or f"{id}.toml"
    if not _ID.fullmatch(id):
        fix = "use a-z, 0-9 and -, at most 60"
        raise SheetError(f"{id[:60]!r} is not a name for a sheet", where=file, fix=fix)
    table = load(text, file, SheetError).only(_TOP)
    kind = table.choice("kind", None, KINDS)
    chemistry = table.choice("chemistry", None, tuple(CHEMISTRIES))
    rows = tuple(_row(row) for row in table.rows("times"))
    if not rows:
        fix = "add a [[times]] row with the label's figures"
        raise table.wrong("times", "is missing", fix)
    limits = _limits(table.inner("limits"))
    _check_rows(table, rows, limits, chemistry)
    mix = table.inner("mix").only(("density", "densities"))
    source = table.inner("source").only(("note",))
    return Sheet(
        id=id,
        name=table.text("name", None, "Grey seam sealer").strip(),
        kind=kind,
        chemistry=chemistry,
        mix_ratio=table.text("mix_ratio", "", "2:1 by volume").strip(),
        times=rows,
        limits=limits,
        hazards=contents(table.inner("hazards"), chemistry),
        source_note=source.text("note", "", "the can").strip(),
        film_um=table.quantity("film", quantities.parse_film),
        text=text,
        densities_g_ml=mix.quantities("densities", parse_density, 2, 4),
        density_g_ml=mix.quantity("density", parse_density),
        storage=_storage(table.inner("storage")),
        colder_is_faster=table.flag("colder_is_faster", False),
    )


@cache
def generic_ids() -> tuple[str, ...]:
    """The ids of the sheets that come with curewatch."""
    names = (item.name for item in SHEETS.iterdir())
    return tuple(sorted(name.removesuffix(".toml") for name in names if name.endswith(".toml")))


@cache
def generic_sheet(id: str) -> Sheet:
    """One of the sheets that come with curewatch; id: one of `generic_ids`."""
    name = f"{id}.toml"
    return parse_sheet((SHEETS / name).read_text(encoding="utf-8"), id, name)


def generic_sheets() -> dict[str, Sheet]:
    """The sheets that come with curewatch, by id."""
    return {id: generic_sheet(id) for id in generic_ids()}
