"""Is the cup fit: what one cup leaves of the pot life, how hot it may get, how many cups to mix.

A cup is stopped above the peak that the sheet sets. Where the sheet is silent the limit is 100 °C.
It stops 100 g and more, since a published pot of 100 g reached 204 °C, and what is more than the
label measured its own pot life in. Less than that is a caution: no measured pot was found, and the
calculation runs high for small cups. A label's pot life says how long its mass can be worked, not
how hot it gets when it is left.
"""

from __future__ import annotations

from dataclasses import replace
from math import ceil, floor

from curewatch.cure import pot_life as pot_lives
from curewatch.durations import between, duration
from curewatch.formats import ReaderFormat
from curewatch.frozen import frozen
from curewatch.gate.check import Check, Verdict
from curewatch.gate.proposal import Proposal

PEAK_C, POT_LEFT_C = 100.0, 204.0
"""Our own limit, and what an epoxy maker names for 100 g left in a pot. [C]"""
WANTED_SHARE = 1 / 3
SPREAD_OUT = "spread it out thin at once"
SOURCE = "calculated from the label's {}, +-30 %; its heat is assumed, typical of the chemistry"
SMALL = "; for less than that no measured pot was found, and small cups stay cooler than calculated"


@frozen
class Cup:
    """One cup with all of it: its pot life, held against wanted_min [min]; hot: over limit_c [C];
    too_hot: so hot that it is stopped; most_g: the most in one cup that is neither too hot nor too
    short, None where no amount is [g]; cups: how many that makes."""

    pot_life: pot_lives.PotLife
    wanted_min: float
    whose: str
    limit_c: float
    hot: bool
    too_hot: bool
    most_g: float | None
    cups: int


def around_c(proposal: Proposal) -> float:
    """The air around the cup, else the panel, else the label's temperature. [C]"""
    value = proposal.here.air_c if proposal.here.air_c is not None else proposal.here.surface_c
    return proposal.sheet.reference.temperature_c if value is None else value


def _basis(proposal: Proposal) -> str:
    return "pot_life" if "pot_life" in proposal.sheet.reference.minutes else "working_time"


def _wanted_min(proposal: Proposal) -> tuple[float, str]:
    if proposal.wanted_min is not None:
        return proposal.wanted_min, "your own working time"
    name = _basis(proposal)
    share = WANTED_SHARE * proposal.sheet.reference.minutes[name]
    return share, f"a third of the label's {name.replace('_', ' ')}"


def _spared_g(proposal: Proposal) -> float:
    """Up to here no cup is stopped for its heat unless the sheet sets a peak. [g]"""
    own = proposal.sheet.limits.peak_max_c is not None
    label_g = proposal.sheet.reference.pot_mass_g or pot_lives.USUAL_MASS_G
    return 0.0 if own else min(label_g, pot_lives.HEAT_FROM_G - 1)


def _one_cup(proposal: Proposal, grams: float) -> pot_lives.PotLife:
    """All of it in one pot: its bounds never narrower than those the bench will show."""
    pot_life = pot_lives.predict(
        proposal.sheet, min(grams, pot_lives.MOST_MASS_G), around_c(proposal), proposal.product_c
    )
    assert pot_life is not None
    shown = proposal.forecast.by_name.get("pot_life")
    if shown is None or shown.early_min is None or shown.likely_min is None:
        return pot_life
    return replace(
        pot_life,
        early_min=min(pot_life.early_min, shown.early_min),
        likely_min=min(pot_life.likely_min, shown.likely_min),
        late_min=max(pot_life.late_min, shown.late_min or 0.0),
    )


def _most_g(
    proposal: Proposal, wanted_min: float, limit_c: float, pot_life: pot_lives.PotLife
) -> float | None:
    where = (around_c(proposal), proposal.product_c)
    cool = max(pot_lives.coolest_mass(proposal.sheet, limit_c, *where) or 0.0, _spared_g(proposal))
    alone = pot_lives.predict(proposal.sheet, pot_life.mass_g, *where)
    wider = 1.0 if alone is None else alone.early_min / pot_life.early_min
    long = pot_lives.largest_mass(proposal.sheet, wanted_min * wider, *where)
    return None if long is None or cool < 1 else float(floor(min(cool, long)))


def cup(proposal: Proposal) -> Cup | None:
    """All of it in one cup, None where no amount is entered or the sheet gives no time for it."""
    grams, sheet = proposal.amount_g, proposal.sheet
    if grams is None or pot_lives.rate(sheet) is None:
        return None
    pot_life = _one_cup(proposal, grams)
    limit = PEAK_C if sheet.limits.peak_max_c is None else sheet.limits.peak_max_c
    wanted_min, whose = _wanted_min(proposal)
    hot = pot_life.peak_c > limit
    too_hot = hot and grams > _spared_g(proposal)
    most = grams
    if too_hot or pot_life.early_min < wanted_min or grams > pot_lives.MOST_MASS_G:
        most = _most_g(proposal, wanted_min, limit, pot_life) or 0.0
    cups = ceil(grams / most) if most else 1
    return Cup(pot_life, wanted_min, whose, limit, hot, too_hot, most or None, cups)


def unchecked(proposal: Proposal) -> bool:
    """Whether an amount that would heat itself cannot be checked: the sheet gives no time."""
    heats = proposal.sheet.chemistry in pot_lives.HEAT_J_G
    return proposal.amount_g is not None and heats and pot_lives.rate(proposal.sheet) is None


def _verdict(cup: Cup, grams: float) -> Verdict:
    if cup.too_hot or cup.pot_life.likely_min < cup.wanted_min or grams > pot_lives.MOST_MASS_G:
        return "stop"
    short = cup.pot_life.early_min < cup.wanted_min
    return "caution" if short or cup.hot or grams >= pot_lives.HEAT_FROM_G else "go"


def _change(cup: Cup, grams: float) -> str:
    if cup.most_g is None:
        return f"no amount gives that much time or stays that cool: cool the product; {SPREAD_OUT}"
    if cup.cups == 1:
        return f"{SPREAD_OUT}; several small cups instead of one"
    grams_each = ceil(grams / cup.cups)
    return (
        f"mix at most {cup.most_g:.0f} g in one cup: {cup.cups} cups of {grams_each} g, "
        f"one after the other; {SPREAD_OUT}"
    )


def _ends_first(proposal: Proposal, life: pot_lives.PotLife) -> str:
    """Which ends first, the pot life or the working time on the panel."""
    working = proposal.forecast.by_name.get("working_time")
    if working is None or working.early_min is None:
        return ""
    panel = duration(working.early_min, "down")
    if working.early_min < life.early_min:
        return f"; but work it within {panel}: the working time on the panel ends first"
    return f"; the pot ends before the working time of {panel} on the panel"


def _our_limit(cup: Cup, say: ReaderFormat) -> str:
    limit, left = say.temperature(PEAK_C, 0), say.temperature(POT_LEFT_C, 0)
    ours = f"; {limit} is our choice: an epoxy maker names {left} for 100 g left in a pot"
    return ours if cup.too_hot else ours + SMALL


def amount(proposal: Proposal, say: ReaderFormat) -> Check | None:
    """What the mixed mass leaves of the pot life, and how hot it may get."""
    mix, grams = cup(proposal), proposal.amount_g
    if mix is None or grams is None:
        return None
    life, peak = mix.pot_life, say.temperature(mix.pot_life.peak_c, 0)
    words = f"{say.figure(grams)} g in one cup: "
    words += f"pot life {between(life.early_min, life.late_min, 'down')}"
    if life.early_min < mix.wanted_min:
        words += f" (needs {duration(mix.wanted_min, 'up')}, {mix.whose})"
    words += f", may heat to {peak}"
    ends = _ends_first(proposal, life)
    source = SOURCE.format(_basis(proposal).replace("_", " "))
    change = "" if (verdict := _verdict(mix, grams)) == "go" else _change(mix, grams)
    if not mix.hot:
        return Check(
            "amount", verdict, words + ends, life.early_min, mix.wanted_min, "min", source, change
        )
    words += f"; the limit is {say.temperature(mix.limit_c, 0)}{ends}"
    own = proposal.sheet.limits.peak_max_c is not None
    source += "; the limit is the label's" if own else _our_limit(mix, say)
    return Check("amount", verdict, words, life.peak_c, mix.limit_c, "C", source, change)
