"""Is the place warm enough now: panel and air against the sheet."""

from __future__ import annotations

from curewatch.asked import Asked
from curewatch.gate_dew import CLOSE_C, MEASURE
from curewatch.gate_heat import heat, instead, joined
from curewatch.verdict import Check, Manner, Verdict


def _band(value: float, least: float, most: float | None) -> Verdict:
    if value < least or (most is not None and value > most):
        return "stop"
    close = value < least + CLOSE_C or (most is not None and value > most - CLOSE_C)
    return "think" if close else "go"


def panel(asked: Asked, say: Manner) -> Check:
    """The panel's temperature now against the sheet."""
    value, least, most = asked.here.surface_c, asked.least_c, asked.most_c
    if value is None:
        words = "the panel's temperature is not known"
        return Check("panel", "think", words, None, least, "C", asked.least_source, MEASURE)
    verdict = _band(value, least, most)
    hot = most is not None and value > most - CLOSE_C
    limit = most if hot and most is not None else least
    side = {"stop": ("under", "over"), "think": ("close to",) * 2, "go": ("above",) * 2}
    words = (
        f"the panel is at {say.temperature(value)}, {side[verdict][hot]} the sheet's "
        f"{say.temperature(limit, 0)}"
    )
    words += asked.here.doubts
    change = ""
    if verdict != "go":
        cold = joined(heat(asked, say), instead(asked, say))
        change = "let it cool, out of the sun or lamp" if hot else cold or MEASURE
    elif asked.here.from_air or asked.here.old:
        verdict, change = "think", MEASURE
    return Check("panel", verdict, words, value, limit, "C", asked.least_source, change)


def room(asked: Asked, say: Manner) -> Check | None:
    """The air's temperature against the sheet: the metal follows it."""
    value, least, most = asked.here.air_c, asked.least_c, asked.most_c
    if value is None:
        return None
    verdict: Verdict = "go" if _band(value, least, most) == "go" else "think"
    words = f"the air is at {say.temperature(value)}, and the metal follows it"
    change = "" if verdict == "go" else "heat the panel itself; the air alone takes hours"
    return Check("air", verdict, words, value, least, "C", asked.least_source, change)
