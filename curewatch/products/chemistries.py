"""The families of products: what is known of each before any of them was tried."""

from __future__ import annotations

from typing import Literal

from curewatch.frozen import frozen

SILENT_MINIMUM_C = 5.0


SILENT_HUMIDITY_PCT = 50.0


HARDENER_EXPONENT, HARDENER_EXPONENT_SD = 0.75, 0.25


ONE_PART = ("solvent-1k", "waterborne", "moisture-urethane")


Humidity = Literal["none", "widens", "absolute", "deficit"]


@frozen
class Chemistry:
    """What is known of a family of products before any of them was tried.

    ea_kj, ea_sd_kj: activation energy, mean and standard deviation [kJ/mol].
    assumed: no published study stands behind ea_kj. hardener_varies: the label may allow a range.
    hardener_exponent, film_exponent and their _sd: powers of the stretch [-].
    humidity: how the air's water enters. vitrifies: cold, it may turn to glass before it is hard,
    and then hardens more slowly than its energy says. can_contain: the hazards that a product of
    this family can hold at worst (common practice, no source: the safety data sheet decides).
    words, source: for people.
    """

    name: str
    words: str
    ea_kj: float
    ea_sd_kj: float
    assumed: bool
    source: str
    can_contain: tuple[str, ...]
    hardener_varies: bool = False
    hardener_exponent: float = 0.0
    hardener_exponent_sd: float = 0.0
    film_exponent: float = 0.0
    film_exponent_sd: float = 0.0
    humidity: Humidity = "none"
    vitrifies: bool = False


CHEMISTRIES: dict[str, Chemistry] = {
    chemistry.name: chemistry
    for chemistry in (
        Chemistry(
            "epoxy-amine",
            "two-part epoxy",
            50.0,
            12.0,
            False,
            "published gel-time studies: 46.5, 53.2, 58.2 (J. Appl. Polym. Sci. 83:78, 2002), "
            "58.5 +- 1.3 (92:1190, 2004), 42.9 kJ/mol",
            ("flammable_solvent", "sensitiser", "dust"),
            vitrifies=True,
        ),
        Chemistry(
            "methacrylate",
            "two-part methacrylate",
            55.0,
            15.0,
            True,
            "assumed; no published figure was found",
            ("peroxide", "flammable_solvent", "sensitiser", "dust"),
            hardener_varies=True,
        ),
        Chemistry(
            "polyester-peroxide",
            "polyester with peroxide hardener",
            50.0,
            12.0,
            False,
            "redox-cured polyester 40 to 60 kJ/mol; hardener exponent 0.75 +- 0.25 assumed",
            ("styrene", "peroxide", "flammable_solvent", "sensitiser", "dust"),
            hardener_varies=True,
            hardener_exponent=HARDENER_EXPONENT,
            hardener_exponent_sd=HARDENER_EXPONENT_SD,
        ),
        Chemistry(
            "urethane-2k",
            "two-part urethane",
            52.0,
            12.0,
            False,
            "neat systems 50, 56, 70, 77 kJ/mol",
            ("isocyanate", "flammable_solvent", "sensitiser", "dust"),
            humidity="widens",
            vitrifies=True,
        ),
        Chemistry(
            "moisture-urethane",
            "moisture-cure urethane",
            45.0,
            12.0,
            True,
            "assumed; cured depth grows as the square root of time",
            ("isocyanate", "flammable_solvent", "sensitiser", "dust"),
            film_exponent=2.0,
            humidity="absolute",
        ),
        Chemistry(
            "solvent-1k",
            "one-part solvent-borne",
            40.0,
            6.0,
            False,
            "vapour pressure of toluene, styrene and butyl acetate rises 1.5 to 1.8 times per 10 K "
            "(DIPPR correlations)",
            ("flammable_solvent", "sensitiser", "dust"),
            film_exponent=1.5,
            film_exponent_sd=0.5,
        ),
        Chemistry(
            "waterborne",
            "waterborne",
            40.0,
            12.0,
            True,
            "drying by the vapour-pressure deficit, ratios only; the later stage is assumed",
            ("sensitiser", "dust"),
            film_exponent=1.5,
            film_exponent_sd=0.5,
            humidity="deficit",
        ),
    )
}
