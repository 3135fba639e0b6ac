"""A way of work: the steps of a part in their order, as a file says them."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from importlib import resources
from typing import Any

from curewatch.errors import ConfigError
from curewatch.frozen import frozen
from curewatch.products.sheet import KINDS
from curewatch.text import one_line
from curewatch.toml_table import TomlTable, load
from curewatch.units import parse_duration
from curewatch.vocabulary import WAITED

MOST_STEPS, MOST_HANDS_MIN = 20, 600.0
_TOP = ("name", "steps", "source")
MOST_CLAMPS = 200
_STEP = (
    "does",
    "kind",
    "hands",
    "mixed_after",
    "waits_for",
    "loud",
    "then",
    "dusty",
    "bares",
    "airing",
    "clamps",
)


@frozen
class WayStep:
    """One step: what is done; kind: of the product it takes, '' where it takes none; hands_min: how
    long it keeps the hands [min]; mixed_after_min: when in that it is mixed [min]; waits_for: the
    milestone that the next step waits for, '' where it waits for none; loud; then: what the part is
    after it, '' where it has no name; dusty: no coat may be wet meanwhile; bares: it leaves bare
    metal; airing_min: how long somebody stays afterwards, to air [min]; clamps: how many it puts
    on, until the next step is done."""

    does: str
    hands_min: float
    kind: str = ""
    mixed_after_min: float = 0.0
    waits_for: str = ""
    loud: bool = False
    then: str = ""
    dusty: bool = False
    bares: bool = False
    airing_min: float = 0.0
    clamps: int = 0


@frozen
class Way:
    """The steps of a part in their order."""

    id: str
    name: str
    steps: tuple[WayStep, ...]

    @property
    def ends(self) -> tuple[str, ...]:
        """What a part can be wished to be."""
        return tuple(step.then for step in self.steps if step.then)

    def until(self, end: str) -> tuple[WayStep, ...]:
        """The steps up to an end; the whole way where none is named. Raises ConfigError."""
        if not end:
            return self.steps
        for index, step in enumerate(self.steps):
            if step.then.casefold() == end.casefold():
                return self.steps[: index + 1]
        raise ConfigError(
            f"{self.name} does not end in {end[:40]!r}", fix=f"use one of {', '.join(self.ends)}"
        )


def _minutes(row: TomlTable, key: str, default: float | None) -> float:
    if default is None and key not in row.data:
        raise row.wrong(key, "is missing", f'write {key} = "30 min"')
    value = row.quantity(key, parse_duration, default or 0.0)
    if not 0 <= value <= MOST_HANDS_MIN:
        raise row.wrong(key, "is longer than ten hours", "split the step in two")
    return value


def _step(row: TomlTable) -> WayStep:
    row.only(_STEP)
    kind = row.choice("kind", "", ("", *KINDS))
    waits = row.choice("waits_for", "", ("", *WAITED))
    if waits and not kind:
        raise row.wrong("waits_for", "needs a product", 'give its kind, like kind = "filler"')
    hands = _minutes(row, "hands", None)
    if hands <= 0:
        raise row.wrong("hands", "is nothing", 'write hands = "30 min"')
    return WayStep(
        one_line(row.text("does", None, "bond")),
        hands,
        kind,
        min(_minutes(row, "mixed_after", 0.0), hands),
        waits,
        row.flag("loud", False),
        one_line(row.text("then", "", "primed")),
        row.flag("dusty", False),
        row.flag("bares", False),
        _minutes(row, "airing", 0.0),
        _clamps(row),
    )


def _clamps(row: TomlTable) -> int:
    value = row.data.get("clamps", 0)
    if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value <= MOST_CLAMPS:
        raise row.wrong("clamps", "is not a number of clamps", f"give 0 to {MOST_CLAMPS}")
    return value


def parse_way(text: str, id: str) -> Way:
    """A way from the text of a file; id: its name without .toml. Raises ConfigError."""
    file = f"{id}.toml"
    top = load(text, file).only(_TOP)
    rows = top.rows("steps")
    if not 1 <= len(rows) <= MOST_STEPS:
        raise top.wrong("steps", f"has {len(rows)} steps", f"give 1 to {MOST_STEPS}")
    return Way(id, one_line(top.text("name", None, "Bond a patch")), tuple(map(_step, rows)))


def with_hands(text: str, hands_min: Sequence[float]) -> str:
    """The text of a way with other hands-on times, one for each step. [min]"""
    import tomlkit

    document: Any = tomlkit.parse(text)
    for step, minutes in zip(document["steps"], hands_min, strict=True):
        step["hands"] = f"{minutes:g} min"
    return tomlkit.dumps(document)


def _row(step: WayStep) -> dict[str, Any]:
    """A step as a file says it, without what is as usual."""
    row: dict[str, Any] = {
        "does": step.does,
        "kind": step.kind,
        "hands": f"{step.hands_min:g} min",
        "mixed_after": f"{step.mixed_after_min:g} min" if step.mixed_after_min else "",
        "waits_for": step.waits_for,
        "then": step.then,
        "loud": step.loud,
        "dusty": step.dusty,
        "bares": step.bares,
        "airing": f"{step.airing_min:g} min" if step.airing_min else "",
        "clamps": step.clamps,
    }
    return {key: value for key, value in row.items() if value}


def way_text(name: str, steps: Sequence[WayStep]) -> str:
    """The text of a way's file."""
    import tomlkit

    return tomlkit.dumps({"name": name, "steps": [_row(step) for step in steps]})


@cache
def generic_ways() -> dict[str, Way]:
    """The generic ways by their ids."""
    folder = resources.files("curewatch.ways") / "generic"
    names = sorted(file.name for file in folder.iterdir() if file.name.endswith(".toml"))
    ids = [name.removesuffix(".toml") for name in names]
    return {id: parse_way(generic_text(id), id) for id in ids}


def generic_text(id: str) -> str:
    """The text of a generic way's file."""
    return (resources.files("curewatch.ways") / "generic" / f"{id}.toml").read_text("utf-8")
