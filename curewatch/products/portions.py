"""Grams of each part for the batch wanted, from the sheet's ratio by weight or by volume."""

from __future__ import annotations

import re
from dataclasses import replace

from curewatch.formats import SCRIPTS, ReaderFormat
from curewatch.frozen import frozen
from curewatch.products.sheet import Sheet

_RATIO = re.compile(
    r"^\s*(\d+(?:[.,]\d+)?(?:\s*:\s*\d+(?:[.,]\d+)?)+)\s+by\s+(volume|weight|mass)\s*$",
    re.IGNORECASE,
)


@frozen
class Portions:
    """grams of each part in the order of the ratio [g], None where the sheet does not tell
    enough; words for people."""

    grams: tuple[float, ...] | None
    words: str


def ratio(sheet: Sheet) -> tuple[tuple[float, ...], str] | None:
    """The parts of the sheet's ratio [-] and by what, 'volume' or 'weight'; None if not plain."""
    match = _RATIO.match(sheet.mix_ratio)
    if match is None:
        return None
    parts = tuple(float(part.strip().replace(",", ".")) for part in match[1].split(":"))
    by = "volume" if match[2].lower() == "volume" else "weight"
    return (parts, by) if all(part > 0 for part in parts) else None


def _shared(amount_g: float, weights: tuple[float, ...]) -> tuple[float, ...]:
    return tuple(amount_g * weight / sum(weights) for weight in weights)


def _in_words(grams: tuple[float, ...], why: str, say: ReaderFormat) -> Portions:
    masses = " + ".join(f"{say.figure(mass, '.1f')} g" for mass in grams)
    return Portions(grams, f"{masses} ({why})")


def portions(
    sheet: Sheet,
    amount_g: float,
    hardener_pct: float | None = None,
    cups: int = 1,
    say: ReaderFormat = SCRIPTS,
) -> Portions:
    """How much of each part makes an amount of mix, in each of so many cups.

    amount_g: in all cups [g]; hardener_pct: of the resin's weight, where the label has a range [%].
    """
    per_cup = _portions(sheet, amount_g / cups, hardener_pct, say)
    return per_cup if cups == 1 else replace(per_cup, words=f"{cups} cups, each: {per_cup.words}")


def _portions(
    sheet: Sheet, amount_g: float, hardener_pct: float | None, say: ReaderFormat
) -> Portions:
    shares = ratio(sheet)
    if shares is None:
        return Portions(None, "the sheet gives no ratio of numbers: mix by the label")
    parts, by = shares
    if by == "weight":
        if hardener_pct is not None and len(parts) == 2:
            parts = (100.0, hardener_pct)
        by_weight = f"{':'.join(say.figure(part) for part in parts)} by weight"
        return _in_words(_shared(amount_g, parts), by_weight, say)
    densities = sheet.densities_g_ml
    if densities is None or len(densities) != len(parts):
        return Portions(
            None,
            f"{sheet.mix_ratio}: measure by volume, or add the parts' densities to the sheet "
            'under [mix], like densities = ["1.1 g/ml", "0.97 g/ml"]',
        )
    weights = tuple(part * density for part, density in zip(parts, densities, strict=True))
    return _in_words(_shared(amount_g, weights), f"{sheet.mix_ratio} by the sheet's densities", say)
