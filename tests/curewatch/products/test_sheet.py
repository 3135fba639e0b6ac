"""A label's figures are read as they stand, or refused naming file, key and fix."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.errors import SheetError
from curewatch.notice_words import sentence
from curewatch.products.chemistries import CHEMISTRIES
from curewatch.products.label import check, doubtful, load_sheet
from curewatch.products.sheet import KINDS, generic_sheets, parse_sheet
from curewatch.vocabulary import ORDERED

GENERIC = {
    "epoxy-panel-adhesive": "epoxy-amine",
    "quick-methacrylate-adhesive": "methacrylate",
    "urethane-panel-adhesive": "urethane-2k",
    "fibre-polyester-filler": "polyester-peroxide",
    "finishing-polyester-filler": "polyester-peroxide",
    "polyester-glazing-putty": "polyester-peroxide",
    "epoxy-primer": "epoxy-amine",
    "urethane-high-build-primer": "urethane-2k",
    "solvent-primer-1k": "solvent-1k",
    "waterborne-primer": "waterborne",
    "seam-sealer": "moisture-urethane",
}
WHOLE = """
name = "My filler"
kind = "filler"
chemistry = "polyester-peroxide"
mix_ratio = "100:2 by weight"
film = "1 mm"

[[times]]
temperature = "68 F"
humidity = "50 %"
working_time = "6 min"
sand_ready = "1 h 30 min"
pot_mass = "4 oz"

[[times]]
temperature = "10 C"
sand_ready = "3 h"

[limits]
temperature = ["10 C", "35 C"]
humidity_max = "80 %"
dew_spread_min = "5 F"
hardener = ["1 %", "2 %", "3 %"]

[hazards]
styrene = true
solvent = { name = "styrene", g_per_l = 120 }

[source]
note = "the can"
"""
SMALL = """
name = "Glue"
kind = "adhesive"
chemistry = "epoxy-amine"
[[times]]
temperature = "21 C"
clamp_time = "4 h"
"""


def refused(text: str) -> str:
    with pytest.raises(SheetError) as caught:
        parse_sheet(text, "mine")
    return str(caught.value)


def test_every_figure_of_the_label_is_read() -> None:
    sheet = parse_sheet(WHOLE, "mine")
    assert sheet.reference.temperature_c == pytest.approx(20)
    assert sheet.reference.humidity_pct == 50
    assert sheet.reference.minutes == {"working_time": 6, "sand_ready": 90}
    assert sheet.reference.pot_mass_g == pytest.approx(113.398, abs=0.001)
    assert sheet.times[1].minutes == {"sand_ready": 180}
    assert sheet.film_um == 1000
    assert sheet.limits.temperature_c == (10, 35)
    assert sheet.limits.dew_spread_min_c == pytest.approx(5 * 5 / 9)
    assert sheet.limits.hardener_pct == (1, 2, 3)
    assert sheet.hazards.styrene
    assert not sheet.hazards.isocyanate
    assert sheet.hazards.solvent is not None
    assert sheet.hazards.solvent.g_per_l == 120
    assert sheet.source_note == "the can"


def test_a_sheet_with_one_milestone_is_a_sheet() -> None:
    sheet = parse_sheet(SMALL, "mine")
    assert sheet.reference.minutes == {"clamp_time": 240}
    assert sheet.limits.temperature_c is None


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ('"4 h"', '"4"', "mine.toml: times.1.clamp_time is wrong: '4' has no unit; write the dur"),
        ('"4 h"', "4", "times.1.clamp_time = 4 has no unit; write it in quotes"),
        ('"4 h"', '"0 min"', "times.1.clamp_time is not above 0"),
        ("clamp_time", "clamping", "times.1.clamping is not a key curewatch knows; use one of"),
        ('"21 C"', '"21"', "times.1.temperature is wrong: '21' has no unit"),
        ('temperature = "21 C"', "", 'times.1.temperature is missing; write temperature = "'),
        ('name = "Glue"', "", "name is missing; write name ="),
        ('name = "Glue"', "name = 3", "name = 3 is not text"),
        ('"adhesive"', '"glue"', "kind = 'glue' is not allowed; use one of 'adhesive', 'filler'"),
        (
            '"epoxy-amine"',
            '"magic"',
            "chemistry = 'magic' is not allowed; use one of 'epoxy-amine'",
        ),
        ('clamp_time = "4 h"', "", "times.1 has no time; give one of pot_life"),
        ("[[times]]", "[times]", "times is not a list of tables; write each as [[times]]"),
        ('name = "Glue"', "name =", "not valid TOML"),
        ('kind = "', 'colour = "red"\nkind = "', "colour is not a key curewatch knows; use one of"),
    ],
)
def test_what_is_wrong_is_named_with_its_fix(old: str, new: str, sentence: str) -> None:
    assert sentence in refused(SMALL.replace(old, new))


@pytest.mark.parametrize(
    ("more", "sentence"),
    [
        (
            '[[times]]\ntemperature = "21 C"\nclamp_time = "5 h"',
            "times has two rows at 21 C: two references",
        ),
        (
            '[limits]\ntemperature = ["25 C", "35 C"]',
            "limits.temperature of 25 C to 35 C excludes the reference 21 C",
        ),
        ('[limits]\ntemperature = ["35 C", "10 C"]', "limits.temperature is not rising"),
        ('[limits]\ntemperature = ["10 C"]', "limits.temperature is not a list of 2"),
        (
            '[limits]\nhardener = ["1 %", "2 %", "3 %"]',
            "the ratio of epoxy-amine may never be varied; remove it",
        ),
        (
            '[limits]\nhumidity_max = "180 %"',
            "limits.humidity_max is wrong: humidity '180 %' is outside",
        ),
        ('[limits]\nwind = "3 C"', "limits.wind is not a key curewatch knows"),
        ('[limits]\ndew_spread_min = "3"', "limits.dew_spread_min is wrong"),
        ("[hazards]\ndust = 1", "hazards.dust = 1 is neither true nor false"),
        ("[hazards]\nlead = true", "hazards.lead is not a key curewatch knows"),
        (
            '[hazards]\nsolvent = { name = "toluene" }',
            "hazards.solvent.g_per_l is missing; write g_per_l = 350",
        ),
        (
            '[hazards]\nsolvent = { name = "x", g_per_l = -1 }',
            "hazards.solvent.g_per_l = -1 is outside 0..2000",
        ),
        ('[source]\npage = "2"', "source.page is not a key curewatch knows"),
        ("limits = 3", "times.1.limits is not a key curewatch knows"),
    ],
)
def test_what_does_not_fit_together_is_named(more: str, sentence: str) -> None:
    assert sentence in refused(f"{SMALL}{more}\n")


@pytest.mark.parametrize(("before", "after", "strict"), ORDERED)
def test_times_out_of_order_are_refused(before: str, after: str, strict: bool) -> None:
    rows = f'[[times]]\ntemperature = "21 C"\n{before} = "3 h"\n{after} = "2 h"\n'
    head = SMALL.split("[[times]]")[0]
    assert f"times.1.{before} is not before {after}" in refused(head + rows)
    same = rows.replace("3 h", "2 h")
    if strict:
        assert f"{before} is not before {after}" in refused(head + same)
    else:
        assert parse_sheet(head + same, "mine").reference.minutes[before] == 120


@pytest.mark.parametrize("id", ["", "My Sheet", "../x", "a" * 61, "a/b", ".toml"])
def test_a_name_that_could_leave_the_shelf_is_refused(id: str) -> None:
    with pytest.raises(SheetError, match=r"is not a name for a sheet; use a-z, 0-9 and -"):
        parse_sheet(SMALL, id)


def test_a_file_gives_its_name_to_the_sheet(tmp_path: Path) -> None:
    file = tmp_path / "My_grey putty.toml"
    file.write_text(SMALL, encoding="utf-8")
    assert load_sheet(file).id == "my-grey-putty"


def test_a_file_that_cannot_be_read_is_named(tmp_path: Path) -> None:
    with pytest.raises(SheetError, match="cannot be read"):
        load_sheet(tmp_path / "missing.toml")
    (tmp_path / "binary.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(SheetError, match=r"binary\.toml: cannot be read"):
        load_sheet(tmp_path / "binary.toml")


@given(st.text(max_size=200))
def test_any_text_is_refused_in_a_sentence(text: str) -> None:
    assert refused(text).endswith(".")


def test_the_generic_sheets_are_the_eleven_of_the_trade() -> None:
    texts = {id: sheet.chemistry for id, sheet in generic_sheets().items()}
    assert texts == GENERIC
    assert set(texts.values()) == set(CHEMISTRIES)


@pytest.mark.parametrize("id", GENERIC)
def test_a_generic_sheet_says_where_its_figures_come_from(id: str) -> None:
    sheet = generic_sheets()[id]
    assert sheet.kind in KINDS
    assert "(generic)" in sheet.name
    assert "typical, from memory: replace with your label" in sheet.source_note
    assert 20 <= sheet.reference.temperature_c <= 25
    assert sheet.limits.temperature_c is not None
    assert sheet.hazards.isocyanate == ("urethane" in sheet.chemistry)
    assert sheet.hazards.styrene == (sheet.chemistry == "polyester-peroxide")


@pytest.mark.parametrize("id", GENERIC)
def test_a_generic_sheet_never_calls_anything_safe(id: str) -> None:
    text = generic_sheets()[id].text
    assert not re.search(r"\bsafe", text.replace("safety data sheet", ""), re.IGNORECASE)
    assert tomllib.loads(text)["source"]["note"]


COLD = """
name = "Glue"
kind = "adhesive"
chemistry = "epoxy-amine"
[[times]]
temperature = "21 C"
clamp_time = "75 min"
sand_ready = "5 h"
[[times]]
temperature = "10 C"
clamp_time = "10 min"
"""
FASTER = "clamps off: 10 min at 10 C is faster than 1 h 15 at 21 C, though colder is slower"


def written(folder: Path, text: str) -> Path:
    file = folder / "glue.toml"
    file.write_text(text, encoding="utf-8")
    return file


def test_a_colder_row_that_is_faster_is_refused_naming_both_figures(tmp_path: Path) -> None:
    with pytest.raises(SheetError) as caught:
        load_sheet(written(tmp_path, COLD))
    assert FASTER in str(caught.value)
    assert str(caught.value).endswith(
        "check both figures; if the label really has it so, add colder_is_faster = true."
    )


def test_a_label_that_really_has_it_so_can_say_it(tmp_path: Path) -> None:
    owned = COLD.replace('kind = "', 'colder_is_faster = true\nkind = "')
    assert load_sheet(written(tmp_path, owned)).colder_is_faster
    assert "colder_is_faster = 'yes' is neither true nor false" in refused(
        COLD.replace('kind = "', 'colder_is_faster = "yes"\nkind = "')
    )


def test_a_sheet_that_is_stored_already_still_loads_and_its_doubt_is_said() -> None:
    assert [sentence(doubt) for doubt in doubtful(parse_sheet(COLD, "mine"))] == [FASTER]


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('clamp_time = "75 min"', 'clamp_time = "75 d"'),
        ('clamp_time = "75 min"', 'clamp_time = "1 s"'),
        ('sand_ready = "5 h"', 'sand_ready = "500 d"'),
    ],
)
def test_an_absurd_time_is_refused(tmp_path: Path, old: str, new: str) -> None:
    first = COLD.split('[[times]]\ntemperature = "10')[0].replace('sand_ready = "5 h"\n', "")
    text = first.replace(old, new) if old in first else first + new + "\n"
    with pytest.raises(SheetError, match=r"is outside what labels give.*check the number and its"):
        load_sheet(written(tmp_path, text))


def test_what_explains_a_faster_cold_row_is_not_refused() -> None:
    """A bigger pot, or damper air where the product cures by the air's water."""
    pot = SMALL.replace('clamp_time = "4 h"', 'pot_life = "40 min"\npot_mass = "50 g"')
    big = '[[times]]\ntemperature = "15 C"\npot_life = "30 min"\npot_mass = "500 g"\n'
    assert check(parse_sheet(pot + big, "mine"))
    damp = SMALL.replace("epoxy-amine", "moisture-urethane")
    more = '[[times]]\ntemperature = "15 C"\nhumidity = "85 %"\nclamp_time = "3 h"\n'
    assert check(parse_sheet(damp + more, "mine"))


def test_every_generic_sheet_holds() -> None:
    assert all(check(sheet) for sheet in generic_sheets().values())
