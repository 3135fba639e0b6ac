"""Text to number and back, at the edges: 14.5 C, 58 F, 62 %, 100 g, 10 min, 50 um.

Inside, temperatures are in degrees Celsius, humidity and hardener in percent, mass in
grams, film thickness in micrometres, durations in minutes.
"""

from __future__ import annotations

import math
import re
from datetime import timedelta

from curewatch.errors import QuantityError

_TEXT = re.compile(
    r"^\s*([+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?)\s*([^\d\s.,+:/-].*?)?\s*$"
)
_TEMPERATURE = {"c": (1.0, 0.0), "k": (1.0, -273.15), "f": (5 / 9, -160 / 9)}
_DURATION = {
    "s": 1 / 60,
    "min": 1.0,
    "h": 60.0,
    "days": 1440.0,
    **dict.fromkeys(("sec", "secs", "second", "seconds"), 1 / 60),
    **dict.fromkeys(("m", "mins", "minute", "minutes"), 1.0),
    **dict.fromkeys(("hr", "hrs", "hour", "hours"), 60.0),
    **dict.fromkeys(("d", "day"), 1440.0),
}
_HALVES = {
    "half an hour": "30 min",
    "quarter of an hour": "15 min",
    "a quarter of an hour": "15 min",
    "an hour and a half": "90 min",
    "half a day": "12 h",
    "an hour": "1 h",
    "a minute": "1 min",
    "a day": "1 d",
}
_HOURS_AND_MINUTES = re.compile(r"(\d+)\s*h(?:ours?|rs?)?\s*([0-5]?\d)")
_AND = re.compile(r",? and (?=\d)|, (?=\d)")
_FRACTIONS = {"½": ".5", "¼": ".25", "¾": ".75"}
_FRACTION = re.compile(r"(\d*) ?([½¼¾])")
_MASS = {"g": 1.0, "kg": 1000.0, "mg": 0.001, "oz": 28.349523125, "lb": 453.59237}
_POWER = {"w": 1.0, "kw": 1000.0}
_AREA = dict.fromkeys(("m²", "m2"), 1.0)
_FILM = {"um": 1.0, "µm": 1.0, "μm": 1.0, "mm": 1000.0, "mil": 25.4, "mils": 25.4}
TEMPERATURE_RANGE_C = (-60.0, 150.0)


def _split(text: str, kind: str, example: str) -> tuple[float, str]:
    match = _TEXT.match(text.replace("−", "-")) if isinstance(text, str) else None
    if match is None:
        article = "an" if kind[0] in "aeiou" else "a"
        raise QuantityError(f"{text!r} is not {article} {kind}", fix=f"write it like {example!r}")
    number, unit = float(match[1].replace(",", ".")), (match[2] or "").strip()
    if not math.isfinite(number):
        raise QuantityError(f"{text!r} is not a finite number", fix=f"write it like {example!r}")
    return number, unit


def _scaled(text: str, kind: str, units: dict[str, float], example: str) -> float:
    number, unit = _split(text, kind, example)
    if not unit:
        raise QuantityError(f"{text!r} has no unit", fix=f"write the {kind} like {example!r}")
    if unit.lower() not in units:
        first = {scale: name for name, scale in reversed(units.items())}
        allowed = ", ".join(name for name in units if name in first.values())
        raise QuantityError(f"{text!r} has the unknown unit {unit!r}", fix=f"use one of {allowed}")
    return number * units[unit.lower()]


def with_unit(text: str, unit: str) -> str:
    """A typed value with its unit, which a bare number takes from its field.

    >>> with_unit("−4,5", "C"), with_unit("58 F", "C"), with_unit(" ", "%")
    ('-4,5 C', '58 F', '')
    """
    plain = text.strip().replace("−", "-")
    bare = plain.replace(",", ".").lstrip("+-").replace(".", "", 1).isdigit()
    return f"{plain} {unit}" if bare else plain


def _degree(unit: str) -> str:
    """The letter of a temperature's unit as people write it: C, °C, ℃, deg C, degrees Celsius."""
    plain = unit.lower().replace("℃", "c").replace("℉", "f")
    plain = re.sub(r"^(degrees?|degs?\.?)(?=\s|[cf]\b)", "", plain).lstrip("°º ").strip()
    return {"celsius": "c", "fahrenheit": "f", "kelvin": "k"}.get(plain, plain)


def parse_temperature(text: str) -> float:
    """Temperature with its unit (C, F or K). [C]

    >>> parse_temperature("50 F")
    10.0
    """
    number, unit = _split(text, "temperature", "14.5 C")
    letter = _degree(unit)
    if letter not in _TEMPERATURE:
        what = "has no unit" if not letter else f"has the unknown unit {unit!r}"
        raise QuantityError(f"{text!r} {what}", fix="write the temperature like '14.5 C' or '58 F'")
    scale, offset = _TEMPERATURE[letter]
    celsius = round(number * scale + offset, 9)
    low, high = TEMPERATURE_RANGE_C
    if not low <= celsius <= high:
        raise QuantityError(
            f"temperature {text!r} is outside {span_as_typed(low, high, text)}",
            fix="check the number and unit",
        )
    return celsius


def span_as_typed(low_c: float, high_c: float, text: str) -> str:
    """A span of temperatures [C] in the unit of a typed temperature.

    >>> span_as_typed(30, 150, "14 C"), span_as_typed(30, 150, "400 F")
    ('30..150 C', '86..302 F')
    """
    letter = _degree(_split(text, "temperature", "14.5 C")[1])
    scale, offset = _TEMPERATURE[letter]
    low, high = (round((bound_c - offset) / scale, 2) for bound_c in (low_c, high_c))
    return f"{low:g}..{high:g} {letter.upper()}"


def other_unit(text: str) -> str:
    """A temperature with the same number in the other unit, for who mistook one for the other.

    >>> other_unit("58 °C"), other_unit("14,5 F"), other_unit("287 K")
    ('58 F', '14.5 C', '')
    """
    number, unit = _split(text, "temperature", "14.5 C") if _TEXT.match(text) else (0.0, "")
    letter = {"c": "F", "f": "C"}.get(_degree(unit))
    return f"{number:g} {letter}" if letter else ""


def parse_humidity(text: str) -> float:
    """Relative humidity with a percent sign. [%]

    >>> parse_humidity("62 %")
    62.0
    """
    number, unit = _split(text, "humidity", "62 %")
    if unit.lower() not in ("%", "%rh", "% rh"):
        raise QuantityError(f"{text!r} is not a humidity in %", fix="write it like '62 %'")
    if not 0 <= number <= 100:
        raise QuantityError(f"humidity {text!r} is outside 0..100 %", fix="check the number")
    return number


def parse_percent(text: str) -> float:
    """Hardener fraction with a percent sign. [%]"""
    number, unit = _split(text, "percentage", "2 %")
    if unit != "%":
        raise QuantityError(f"{text!r} has no percent sign", fix="write it like '2 %'")
    if not 0 <= number <= 100:
        raise QuantityError(f"{text!r} is outside 0..100 %", fix="check the number")
    return number


def parse_duration(text: str) -> float:
    """Length of time as people write it, also in two parts. [min]

    >>> parse_duration("1 h 30 min"), parse_duration("1h30"), parse_duration("half an hour")
    (90.0, 90.0, 30.0)
    """
    if isinstance(text, str):
        plain = " ".join(text.lower().split()).rstrip(".")
        plain = _HALVES.get(plain, _AND.sub(" ", plain))
        text = _FRACTION.sub(lambda match: f"{match[1] or 0}{_FRACTIONS[match[2]]}", plain)
        if match := _HOURS_AND_MINUTES.fullmatch(plain):
            return float(int(match[1]) * 60 + int(match[2]))
    parts = re.findall(r"[^a-zA-Z]+[a-zA-Z]+", text) if isinstance(text, str) else []
    if len(parts) > 1 and "".join(parts).strip() == text.strip():
        return sum(parse_duration(part) for part in parts)
    minutes = _scaled(text, "duration", _DURATION, "10 min")
    if minutes < 0:
        raise QuantityError(f"duration {text!r} is negative", fix="write it like '10 min'")
    return minutes


def parse_turned(text: str) -> float | None:
    """How long ago a dab turned, as people say it; None for some time ago. [min]

    >>> parse_turned("just now"), parse_turned("5 min ago"), parse_turned("some time ago")
    (0.0, 5.0, None)
    """
    plain = " ".join(text.lower().split())
    if plain in ("just now", "now"):
        return 0.0
    if plain in ("some time ago", "some time"):
        return None
    return parse_duration(plain.removesuffix("ago").strip())


def parse_mass(text: str) -> float:
    """Mass with its unit; above nothing. [g]"""
    grams = _scaled(text, "amount", _MASS, "60 g")
    if not 0 < grams <= 100_000:
        raise QuantityError(f"an amount of {text!r} cannot be mixed", fix="write it like '60 g'")
    return grams


def parse_power(text: str) -> float:
    """A power. [W]

    >>> parse_power("2 kW")
    2000.0
    """
    return _scaled(text, "power", _POWER, "500 W")


def parse_area(text: str) -> float:
    """An area. [m2]"""
    return _scaled(text, "lit area", _AREA, "0.5 m²")


def parse_price(text: str) -> float:
    """A price, a bare number in the user's money. [-]"""
    number, unit = _split(text, "price", "0.32")
    if unit:
        raise QuantityError(f"{text!r} is not a bare number", fix="write it like '0.32'")
    return number


def parse_film(text: str) -> float:
    """Film thickness with its unit. [um]"""
    microns = _scaled(text, "film thickness", _FILM, "100 um")
    if not 0 < microns <= 100_000:
        raise QuantityError(
            f"a film of {text!r} is outside 0..100 mm", fix="write it like '100 um'"
        )
    return microns


def format_film(film_um: float) -> str:
    """A film thickness [um] as people say it, from a millimetre on in mm.

    >>> format_film(120), format_film(6000)
    ('120 µm', '6 mm')
    """
    return f"{film_um / 1000:g} mm" if film_um >= 1000 else f"{film_um:g} µm"


def format_duration(minutes: float) -> str:
    """A duration [min] as a sheet writes it.

    >>> format_duration(90), format_duration(1440), format_duration(2.5)
    ('90 min', '24 h', '2.5 min')
    """
    if minutes >= 120 and minutes % 60 == 0:
        return f"{minutes / 60:g} h"
    return f"{minutes:g} min"


def minutes(delta: timedelta) -> float:
    """Length of a timedelta. [min]"""
    return delta.total_seconds() / 60
