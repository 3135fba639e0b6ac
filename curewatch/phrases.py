"""Milestones in the words of the trade, for sentences."""

from __future__ import annotations

EARLY_SHOWN = ("pot_life", "working_time", "recoat_closes")
"""What must not be missed: its early bound is shown. The others must be waited for."""

_PLAIN = {
    "clamp_time": "clamps off",
    "sand_ready": "sand-ready",
    "recoat_opens": "recoat opens",
    "recoat_closes": "the recoat window shuts",
}


def in_words(name: str) -> str:
    """A milestone's name in words.

    >>> in_words("sand_ready"), in_words("full_cure")
    ('sand-ready', 'full cure')
    """
    return _PLAIN.get(name, name.replace("_", " "))
