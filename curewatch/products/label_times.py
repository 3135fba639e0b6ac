"""A time as it is copied off a label: "4-6 min", "50", "1 h 30"; of a range the careful end."""

from __future__ import annotations

import re
from typing import NamedTuple

from curewatch.units import parse_duration, with_unit
from curewatch.vocabulary import EARLY_SHOWN

_RANGE = re.compile(r"(\d.*?)\s*(?:-|–|\bto\b)\s*(\d.*)")
_IN_MINUTES = ("pot_life", "working_time")


class LabelTime(NamedTuple):
    """A time with its unit, and whether it is the careful end of a range."""

    text: str
    from_range: bool


def usual_unit(milestone: str) -> str:
    """The unit of a number alone.

    >>> usual_unit("working_time"), usual_unit("clamp_time")
    ('min', 'h')
    """
    return "min" if milestone in _IN_MINUTES else "h"


def careful_time(text: str, milestone: str) -> LabelTime:
    """A time with its unit; of a range the end that is careful for this milestone: the shorter of
    what must not be missed, the longer of what must be waited for. Raises QuantityError.

    >>> careful_time("4-6 min", "working_time"), careful_time("50", "working_time")
    (LabelTime(text='4 min', from_range=True), LabelTime(text='50 min', from_range=False))
    >>> careful_time("4 to 6", "clamp_time").text
    '6 h'
    """
    unit, match = usual_unit(milestone), _RANGE.fullmatch(text.strip())
    if match is None:
        typed = with_unit(text, unit)
        parse_duration(typed)
        return LabelTime(typed, False)
    last = with_unit(match[2], unit)
    own_unit = last.lstrip("0123456789., ")
    ends = {parse_duration(end): end for end in (with_unit(match[1], own_unit), last)}
    careful = min if milestone in EARLY_SHOWN else max
    return LabelTime(ends[careful(ends)], True)
