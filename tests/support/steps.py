"""Sheets, conditions and outlooks in the forms the tests of the model need."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime

import numpy as np

from curewatch.climate.conditions import Conditions, constant, ends
from curewatch.climate.outlook import Outlook
from curewatch.cure.belief import PastStep
from curewatch.cure.forecast import Forecast, forecast
from curewatch.cure.inputs import Mix, Sighting
from curewatch.cure.thermal_history import KNOWN_EXACTLY
from curewatch.products.sheet import Sheet, parse_sheet

START = datetime(2026, 10, 24, 17, 30, tzinfo=UTC)
TIMES = {"working_time": 50, "clamp_time": 240, "sand_ready": 360, "full_cure": 1440}


def sheet(
    chemistry: str = "epoxy-amine",
    times: dict[str, float] | None = None,
    *,
    more_rows: Sequence[tuple[float, dict[str, float]]] = (),
    limits: str = 'temperature = ["5 C", "40 C"]',
    extra: str = "",
    row: str = "",
) -> Sheet:
    """A sheet at 21 C; times by milestone [min], further rows (C, times)."""
    rows = [(21.0, times or TIMES), *more_rows]
    written = ""
    for celsius, minutes in rows:
        named = "\n".join(f'{key} = "{value:g} min"' for key, value in minutes.items())
        written += f'[[times]]\ntemperature = "{celsius:g} C"\n{named}\n{row}\n'
    head = f'name = "t"\nkind = "adhesive"\nchemistry = "{chemistry}"\n{extra}\n'
    return parse_sheet(f"{head}{written}[limits]\n{limits}\n", "t")


def even(surface_c: float, minutes: float = 0.0, humidity_pct: float = 50.0) -> Conditions:
    """A past that does not change and is known exactly."""
    return constant(START, minutes, surface_c=surface_c, humidity_pct=humidity_pct)


def doubtful(past: Conditions, sd_c: float) -> Conditions:
    """The same past known worse."""
    return replace(past, surface_sd_c=np.full(past.surface_c.size, sd_c))


def steady(past: Conditions, band_c: float = 0.0, celsius: float | None = None) -> Outlook:
    """An outlook held at the past's last value, or at another."""
    one = np.ones(12 * 24 * 40)
    likely = one * (past.surface_c[-1] if celsius is None else celsius)
    pct = one * past.humidity_pct[-1]
    return Outlook(
        ends(past), 300.0, likely, likely - band_c, likely + band_c, likely, pct, KNOWN_EXACTLY, ()
    )


def forecast_at(
    sheet_: Sheet,
    celsius: float,
    *,
    now_min: float = 0.0,
    humidity_pct: float = 50.0,
    looks: Sequence[Sighting] = (),
    others: Sequence[PastStep] = (),
    mix: Mix | None = None,
) -> Forecast:
    """A forecast at one temperature, known exactly."""
    past = even(celsius, now_min, humidity_pct)
    return forecast(sheet_, mix or Mix(START), past, steady(past), looks, others)


def earlier(number: int, celsius: float, looks: Sequence[Sighting]) -> PastStep:
    """An earlier mix at one temperature and what was seen on it."""
    length = max(look.after_min for look in looks) + 1
    return PastStep(number, Mix(START), even(celsius, length), tuple(looks))
