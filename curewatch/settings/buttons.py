"""The buttons of curewatch.toml: what each one does when it is pressed.

[buttons.resin]                 # pressed by a message on curewatch/button/resin
does = "mix"
sheet = "epoxy-panel-adhesive"
amount = "60 g"
part = "lower corner patch"
job = "rear corner"
place = "panel"
hardener = "2 %"

[buttons.dab]
does = "witness"
state = "tacky"                 # workable, stringy, tacky, fingernail, hard, sands
step = "next"                   # what is asked next; or "last": what was mixed last
sample = "smear"                # or "cup", "work"

[buttons.hush]
does = "silence"                # every page falls silent until the next event

[buttons.clean]
does = "emptied"                # cup or gun used up, tools clean
step = "last"

[buttons.ready]
does = "answer"                 # to the test that is due
result = "reached"              # or "not-yet", "later"; for working time "gone-off", "still-works"
"""

from __future__ import annotations

import re

from curewatch.climate.reading import check_place
from curewatch.frozen import frozen
from curewatch.toml_table import TomlTable
from curewatch.units import parse_mass, parse_percent
from curewatch.vocabulary import ANSWERS, SAMPLES, STATES

DOES = ("mix", "witness", "silence", "emptied", "answer")
STEPS = ("next", "last")
_NAME = re.compile(r"[a-z0-9][a-z0-9_-]{0,39}")
_KEYS = {
    "mix": ("sheet", "amount", "hardener", "part", "job", "place"),
    "witness": ("state", "step", "sample"),
    "silence": (),
    "emptied": ("step",),
    "answer": ("result",),
}


@frozen
class Button:
    """What one button does, and with what. amount_g [g], hardener_pct [%]; None: not told."""

    does: str
    sheet: str = ""
    part: str | None = None
    job: str | None = None
    place: str | None = None
    amount_g: float | None = None
    hardener_pct: float | None = None
    state: str = ""
    sample: str = "smear"
    step: str = "next"
    result: str = ""


def _text(table: TomlTable, key: str, example: str) -> str | None:
    return table.text(key, None, example) if key in table.data else None


def _place(table: TomlTable) -> str | None:
    place = _text(table, "place", "panel")
    return None if place is None else table.checked("place", place, check_place)


def _mix(table: TomlTable) -> Button:
    return Button(
        "mix",
        sheet=table.text("sheet", None, "epoxy-panel-adhesive"),
        part=_text(table, "part", "lower corner patch"),
        job=_text(table, "job", "rear corner"),
        place=_place(table),
        amount_g=table.quantity("amount", parse_mass) or None,
        hardener_pct=table.quantity("hardener", parse_percent) or None,
    )


def _witness(table: TomlTable) -> Button:
    return Button(
        "witness",
        state=table.choice("state", None, tuple(STATES)),
        step=table.choice("step", "next", STEPS),
        sample=table.choice("sample", "smear", SAMPLES),
    )


def _button(table: TomlTable) -> Button:
    does = table.choice("does", None, DOES)
    table.only(("does", *_KEYS[does]))
    match does:
        case "mix":
            return _mix(table)
        case "witness":
            return _witness(table)
        case "answer":
            return Button(does, result=table.choice("result", None, ANSWERS))
    return Button(does, step=table.choice("step", "last", STEPS))


def parse_buttons(table: TomlTable) -> dict[str, Button]:
    """The buttons by name. Raises ConfigError naming file, key and fix."""
    for name in table.data:
        if not _NAME.fullmatch(name):
            fix = "name it with small letters, digits, - and _, like 'resin'"
            raise table.wrong(name, "is not a name for a button", fix)
    return {name: _button(table.inner(name)) for name in table.data}
