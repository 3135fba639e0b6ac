"""What a product contains: as its sheet says, or the worst its chemistry can hold.

Silence denies nothing. A hazard is denied only in so many words: `isocyanate = false` in the sheet.
"""

from __future__ import annotations

from curewatch.frozen import frozen
from curewatch.products.chemistries import CHEMISTRIES
from curewatch.toml_table import TomlTable

HAZARDS = {
    "isocyanate": "isocyanate",
    "styrene": "styrene",
    "peroxide": "peroxide hardener",
    "flammable_solvent": "flammable solvent",
    "sensitiser": "skin sensitiser (an allergy to it can last for life)",
    "dust": "harmful dust when sanded",
}
MOST_G_PER_L = 2000.0
_SHORT = HAZARDS | {"sensitiser": "a skin sensitiser"}


@frozen
class Solvent:
    """The named solvent and how much of it is given off per litre. [g/l]"""

    name: str
    g_per_l: float


@frozen
class Hazards:
    """What the product contains; assumed: those the sheet says nothing of and the chemistry can
    hold, in the order of HAZARDS; denied: those the sheet says it does not contain."""

    isocyanate: bool = False
    styrene: bool = False
    peroxide: bool = False
    flammable_solvent: bool = False
    sensitiser: bool = False
    dust: bool = False
    solvent: Solvent | None = None
    assumed: tuple[str, ...] = ()
    denied: tuple[str, ...] = ()

    @property
    def contained(self) -> tuple[str, ...]:
        """Those it contains, said or assumed."""
        return tuple(name for name in HAZARDS if getattr(self, name))


def _solvent(table: TomlTable) -> Solvent:
    table.only(("name", "g_per_l"))
    grams = table.number("g_per_l", None, MOST_G_PER_L, "350")
    return Solvent(table.text("name", "", "toluene"), grams)


def contents(table: TomlTable, chemistry: str) -> Hazards:
    """What a sheet's [hazards] table and its chemistry make of it. Raises the table's error."""
    table.only((*HAZARDS, "solvent"))
    possible = CHEMISTRIES[chemistry].can_contain
    assumed = tuple(key for key in HAZARDS if key in possible and key not in table.data)
    return Hazards(
        **{key: table.flag(key, key in assumed) for key in HAZARDS},
        solvent=_solvent(table.inner("solvent")) if "solvent" in table.data else None,
        assumed=assumed,
        denied=tuple(key for key in HAZARDS if table.data.get(key) is False),
    )


def listed(names: tuple[str, ...]) -> str:
    """Hazards named in a sentence.

    >>> listed(("isocyanate", "sensitiser"))
    'isocyanate, a skin sensitiser'
    """
    return ", ".join(_SHORT[name] for name in names)


def assumed_words(hazards: Hazards, chemistry: str) -> str:
    """That hazards are taken from the chemistry, and which; empty where the sheet says it all."""
    if not hazards.assumed:
        return ""
    return (
        f"The label as entered does not say whether it contains {listed(hazards.assumed)}. "
        f"A product of this kind ({CHEMISTRIES[chemistry].words}) can, so it is treated as if it "
        "does, until you enter what its safety data sheet says."
    )
