"""The model without the garage: one sheet, one air, and its times as plain data."""

from __future__ import annotations

import csv
import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import numpy as np

from curewatch.climate.conditions import (
    ASSUMED_PCT,
    SENSOR_SD_PCT,
    WALK_C,
    WALK_PCT,
    Conditions,
    bridge_sd,
    constant,
    ends,
)
from curewatch.climate.outlook import STEP_S, Outlook
from curewatch.climate.psychrometrics import FloatArray
from curewatch.cure import pot_life
from curewatch.cure.forecast import Forecast, PastStep, forecast
from curewatch.cure.inputs import Mix
from curewatch.cure.thermal_history import KNOWN_EXACTLY, minimum_c, reference_pct
from curewatch.errors import CurewatchError, ModelError
from curewatch.frozen import frozen
from curewatch.notice import Duration, Measure, Notice, notice
from curewatch.notice_words import sentence, sentences, warnings_json
from curewatch.products.chemistries import CHEMISTRIES
from curewatch.products.sheet import Sheet
from curewatch.units import parse_percent, parse_temperature

START = datetime(2000, 1, 1, tzinfo=UTC)
LONGEST_MIN, HELD_MIN, MOST_ROWS = 43_200.0, 1440.0, 200_000
HEADER = ("time", "temperature_c")


@frozen
class _Row:
    at: datetime
    temperature_c: float
    humidity_pct: float | None


def _bad(name: str, line: int, what: str, fix: str) -> ModelError:
    return ModelError(f"line {line}: {what}", where=name, fix=fix)


def _instant(text: str, name: str, line: int) -> datetime:
    try:
        at = datetime.fromisoformat(text.strip())
    except ValueError:
        fix = "write it like 2026-11-25T19:30:00Z"
        raise _bad(name, line, f"{text[:40]!r} is not a time", fix) from None
    if at.tzinfo is None:
        raise _bad(name, line, f"{text[:40]!r} has no zone", "add Z or an offset like +01:00")
    try:
        return at.astimezone(UTC)
    except OverflowError:
        raise _bad(name, line, f"{text[:40]!r} is not a time", "check that line") from None


def _value(text: str, unit: str, name: str, line: int) -> float:
    parse = parse_percent if unit == "%" else parse_temperature
    try:
        return parse(f"{float(text)!r} {unit}")
    except (ValueError, CurewatchError):
        fix = "give a plain number within range"
        raise _bad(name, line, f"{text[:40]!r} is not a value in {unit}", fix) from None


def _row(cells: list[str], humid: bool, name: str, line: int) -> _Row:
    if len(cells) != (3 if humid else 2):
        raise _bad(name, line, f"{len(cells)} columns", "give as many as the header names")
    pct = _value(cells[2], "%", name, line) if humid else None
    return _Row(_instant(cells[0], name, line), _value(cells[1], "C", name, line), pct)


def _rows(text: str, name: str) -> list[_Row]:
    reader = csv.reader(text.lstrip("\ufeff").splitlines())
    try:
        lines = list(reader)
    except csv.Error as error:
        raise _bad(name, reader.line_num, f"no CSV ({error})", "check that line") from None
    header = tuple(cell.strip() for cell in lines[0]) if lines else ()
    if header not in (HEADER, (*HEADER, "humidity_pct")):
        raise ModelError(
            "the header is not time,temperature_c or time,temperature_c,humidity_pct",
            where=name,
            fix="write that as the first line",
        )
    body = [(i, cells) for i, cells in enumerate(lines[1:], 2) if any(c.strip() for c in cells)]
    if not 1 <= len(body) <= MOST_ROWS:
        raise ModelError(f"{len(body)} rows", where=name, fix=f"give 1 to {MOST_ROWS}")
    rows = [_row(cells, len(header) == 3, name, i) for i, cells in body]
    for (i, _), before, after in zip(body[1:], rows, rows[1:], strict=False):
        if after.at <= before.at:
            raise _bad(name, i, "not later than the line before", "sort the rows by time")
    return rows


def _humidity(
    rows: Sequence[_Row], grid: FloatArray, seconds: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """The humidity along the grid and its standard uncertainty, 0 where the log has none. [%]"""
    humidities_pct = [row.humidity_pct for row in rows if row.humidity_pct is not None]
    if not humidities_pct:
        return np.full(grid.size, ASSUMED_PCT), np.zeros(grid.size)
    pct = np.interp(grid, seconds, humidities_pct)
    return pct, bridge_sd(grid, seconds, SENSOR_SD_PCT, WALK_PCT)


def read_conditions(text: str, name: str) -> Conditions:
    """Conditions from CSV text with the header time,temperature_c[,humidity_pct].

    Parameters
    ----------
    text : str
        The CSV.
    name : str
        Of the file, for messages.

    Returns
    -------
    Conditions
        What the panel felt, from the first row, which is the mix.

    Raises
    ------
    ModelError
        If a line cannot be read; it says which.

    Notes
    -----
    Times are RFC 3339. Between rows a straight line, with the doubt of a gap; the last row is held.
    """
    rows = _rows(text, name)
    start = rows[0].at
    seconds = np.array([(row.at - start).total_seconds() for row in rows])
    if seconds[-1] > 60 * LONGEST_MIN:
        raise ModelError("longer than 30 days", where=name, fix="cut it to the one step")
    step_s = 60.0 * max(1, math.ceil(seconds[-1] / 60 / 10_000))
    grid = step_s * np.arange(math.floor(seconds[-1] / step_s) + 1, dtype=np.float64)
    surface_c = np.interp(grid, seconds, [row.temperature_c for row in rows])
    pct, pct_sd = _humidity(rows, grid, seconds)
    notes: tuple[Notice, ...] = ()
    widest = float(np.diff(seconds).max()) / 60 if len(rows) > 1 else 0.0
    if widest > 60:
        notes = (notice("rows-apart", gap=Duration(widest)),)
    doubt = bridge_sd(grid, seconds, 0.0, WALK_C)
    return Conditions(start, step_s, surface_c, doubt, surface_c, pct, pct_sd, "surface", notes)


def held(past: Conditions, minutes: float) -> Outlook:
    """The last value held, without doubt.

    Parameters
    ----------
    past : Conditions
        What the step felt until now.
    minutes : float
        How far after the past's end [min].

    Returns
    -------
    Outlook
        Its likely, cool and warm paths are the same.
    """
    n = math.ceil(minutes * 60 / STEP_S) + 1
    even = np.ones(n)

    surface = even * past.surface_c[-1]
    return Outlook(
        ends(past),
        STEP_S,
        surface,
        surface,
        surface,
        even * past.air_c[-1],
        even * past.humidity_pct[-1],
        KNOWN_EXACTLY,
        (notice("forecast-constant"),),
    )


def at_temperatures(
    sheet: Sheet, temperatures_c: Sequence[float], others: Sequence[PastStep] = ()
) -> tuple[Forecast, ...]:
    """The times of every milestone with the surface held at each of some temperatures.

    Parameters
    ----------
    sheet : Sheet
        The product.
    temperatures_c : sequence of float
        Temperatures of the surface. [C]
    others : sequence of PastStep
        Earlier steps of the same product, from which is learned.

    Returns
    -------
    tuple of Forecast
        One for each temperature, at the label's humidity.
    """
    pct = reference_pct(sheet)
    pasts = [constant(START, 0.0, surface_c=c, humidity_pct=pct) for c in temperatures_c]
    return tuple(
        forecast(sheet, Mix(START), past, held(past, LONGEST_MIN), (), others) for past in pasts
    )


def _finite(value: float | None) -> float | None:
    return None if value is None or not math.isfinite(value) else round(value, 4)


def as_json(result: Forecast) -> dict[str, Any]:
    """A forecast as plain lists and numbers.

    Parameters
    ----------
    result : Forecast
        The forecast.

    Returns
    -------
    dict[str, Any]
        Milestones with early_min, likely_min, late_min [min] from mixing, null where refused;
        factors' times and ratio [-].
    """
    return {
        "milestones": [
            {
                "milestone": milestone.name,
                "early_min": _finite(milestone.early_min),
                "likely_min": _finite(milestone.likely_min),
                "late_min": _finite(milestone.late_min),
                "shown": milestone.shown,
                "label_min": milestone.label_min,
                **warnings_json(milestone.warnings),
            }
            for milestone in result.milestones
        ],
        "factors": [
            {"name": factor.name, "words": sentence(factor.notice), "times": round(factor.times, 6)}
            for factor in result.factors
        ],
        "ratio": _finite(result.ratio),
        "reason": sentences(result.reason),
        **warnings_json(result.warnings),
    }


def estimate(sheet: Sheet, **given: Any) -> dict[str, Any]:
    """Times of every milestone at one temperature or along a log, as plain data.

    Parameters
    ----------
    sheet : Sheet
        The label: its times, limits and chemistry.
    **given : Any
        As in `estimated`.

    Returns
    -------
    dict[str, Any]
        As by `as_json`.

    Raises
    ------
    ModelError
        Where neither or both of temperature and log are given.
    """
    return as_json(estimated(sheet, **given))


def estimated(
    sheet: Sheet,
    *,
    temperature_c: float | None = None,
    conditions: Conditions | None = None,
    humidity_pct: float | None = None,
    hardener_pct: float | None = None,
    mass_g: float | None = None,
    film_um: float | None = None,
) -> Forecast:
    """Times of every milestone at one temperature or along a log.

    Parameters
    ----------
    sheet : Sheet
        The label: its times, limits and chemistry.
    temperature_c : float | None, optional
        The panel's and the air's, held [C].
    conditions : Conditions | None, optional
        A log instead of one temperature.
    humidity_pct : float | None, optional
        The label's if None [%].
    hardener_pct : float | None, optional
        Share of hardener, the usual one if None [%].
    mass_g : float | None, optional
        Mass in the pot [g].
    film_um : float | None, optional
        Thickness of the film [um].

    Returns
    -------
    Forecast
        With a warning for whatever was assumed or lies beyond the log.

    Raises
    ------
    ModelError
        If neither or both of temperature and conditions are given.
    """
    if (temperature_c is None) == (conditions is None):
        raise ModelError(
            "one of a temperature and a log of conditions is needed",
            fix="give --temperature '12 C' or --conditions log.csv",
        )
    usual = reference_pct(sheet) if humidity_pct is None else humidity_pct
    if conditions is None:
        given = temperature_c if temperature_c is not None else minimum_c(sheet)
        conditions = constant(START, 0.0, surface_c=given, humidity_pct=usual)
    elif humidity_pct is not None or not conditions.humidity_sd_pct.any():
        conditions = _with_humidity(conditions, usual)
    mix = Mix(conditions.start, mass_g, hardener_pct, film_um)
    result = forecast(sheet, mix, conditions, held(conditions, HELD_MIN))
    damp_known = humidity_pct is not None or bool(conditions.humidity_sd_pct.any())
    more = _beyond(conditions, result) + _unused(sheet, mix, damp_known)
    pot = pot_life.predict(sheet, mass_g, float(conditions.air_c[0])) if mass_g else None
    if pot is not None and "pot_life" in sheet.reference.minutes:
        more += pot.warnings
    return replace(result, warnings=(*result.warnings, *more))


def _unused(sheet: Sheet, mix: Mix, damp_known: bool) -> list[Notice]:
    """What was left out though it counts, or given though the sheet cannot take it up."""
    family, warnings = CHEMISTRIES[sheet.chemistry], []
    if family.humidity in ("absolute", "deficit") and not damp_known:
        assumed = Measure(reference_pct(sheet), "%")
        warnings.append(notice("humidity-from-label", assumed=assumed))
    if mix.film_um is not None and sheet.film_um is None and family.film_exponent:
        warnings.append(notice("film-unused"))
    if mix.amount_g is not None and "pot_life" not in sheet.reference.minutes:
        warnings.append(notice("amount-unused"))
    return warnings


def _beyond(log: Conditions, result: Forecast) -> list[Notice]:
    length_min = (log.surface_c.size - 1) * log.step_s / 60
    late = [milestone.late_min for milestone in result.milestones]
    if length_min == 0 or all(late_min is not None and late_min <= length_min for late_min in late):
        return []
    return [notice("log-ended")]


def _with_humidity(past: Conditions, humidity_pct: float) -> Conditions:
    even = np.full(past.surface_c.size, humidity_pct)
    return Conditions(
        past.start,
        past.step_s,
        past.surface_c,
        past.surface_sd_c,
        past.air_c,
        even,
        np.zeros_like(even),
        past.source,
        past.notes,
    )
