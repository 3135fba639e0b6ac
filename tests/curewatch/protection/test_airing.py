"""`curewatch room`: what a user learns of a room, and what gets no number."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from curewatch.errors import SheetError
from curewatch.products.sheet import generic_sheets, parse_sheet
from tests.conftest import Run

ROOM = ("--volume", "60 m3", "--fan", "300 m3/h")
PRIMER = generic_sheets()["solvent-primer-1k"].text


@pytest.fixture
def aired(run: Run) -> Run:
    """`curewatch room show` in a room that was entered."""
    run("room", "set", *ROOM)
    return lambda *words: run("room", "show", *words)


def test_a_room_is_aired_in_minutes_that_count_the_mixing(aired: Run) -> None:
    _, out, _ = aired("--json")
    data = json.loads(out)
    assert data["air_changes_per_h"] == 5
    # by hand: 5 * 60 * ln 10 / 5 = 138.2 min, twice and three times that
    assert data["purge_min"] == {"90": 138.2, "99": 276.3, "99.9": 414.5}
    assert data["level"] is None
    assert any("not a clearance" in note for note in data["notes"])


def test_a_primer_is_held_against_both_limits_with_their_source(aired: Run) -> None:
    _, out, _ = aired("solvent-primer-1k", "--amount", "300 g", "--json")
    level = json.loads(out)["level"]
    assert (level["solvent"], level["lowest_limit_ppm"], level["fire_ppm"]) == ("toluene", 10, 1100)
    assert level["times_limit"] == pytest.approx(level["ppm"] / 10, rel=0.01)
    _, plain, _ = aired("solvent-primer-1k", "--amount", "300 g")
    for words in (
        "Cal/OSHA (2012",
        "a level below the fire limit says nothing about health",
        "by smell",
        "density",
    ):
        assert words in plain


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("urethane-high-build-primer",), "isocyanate"),
        (("solvent-primer-1k", "--spray"), "mist"),
        (("--sand",), "dust"),
    ],
)
def test_no_number_where_none_would_be_true(aired: Run, words: tuple[str, ...], says: str) -> None:
    _, out, _ = aired(*words, "--amount", "300 g", "--json")
    data = json.loads(out)
    assert (data["purge_min"], data["level"]) == (None, None)
    assert says in data["no_number"]
    _, plain, _ = aired(*words, "--amount", "300 g")
    assert says in plain
    assert "ppm" not in plain


def test_a_sheet_without_a_named_solvent_gives_airing_times_only(aired: Run) -> None:
    _, out, _ = aired("quick-methacrylate-adhesive", "--amount", "50 g")
    assert "names no solvent" in out
    assert "90 % in" in out


def test_volume_and_flow_in_the_units_at_hand(run: Run) -> None:
    run("room", "set", "--volume", "28.316846592 m3", "--fan", "100 l/s")
    _, metric, _ = run("room", "show", "--json")
    run("room", "set", "--volume", "1000 ft3", "--fan", "211.888 cfm")
    _, feet, _ = run("room", "show", "--json")
    assert json.loads(metric)["purge_min"] == json.loads(feet)["purge_min"]


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("set", "--volume", "60", "--fan", "300 m3/h"), "has no unit"),
        (("set", "--volume", "60 m3", "--fan", "300 m3"), "unknown unit"),
        (("set", "--volume", "60 m3", "--fan", "0 m3/h"), "outside"),
        (("set", "--volume", "60 m3", "--fan", "300 m3/h", "--mixing", "0.2"), "outside 1..10"),
        (("show",), "not entered yet"),
        (("show", "nothing-here"), "there is no product"),
    ],
)
def test_what_cannot_be_aired_is_one_sentence(run: Run, words: tuple[str, ...], says: str) -> None:
    if len(words) == 2:
        run("room", "set", *ROOM)
    code, out, err = run("room", *words)
    assert (code, out, err.count("\n")) == (2, "", 1)
    assert says in err


def mixed(lines: str) -> str:
    return PRIMER + "\n[mix]\n" + lines


def test_a_sheet_may_tell_its_densities() -> None:
    sheet = parse_sheet(mixed('density = "10 lb/gal"\ndensities = ["1.1 g/ml", "980 g/l"]'), "mine")
    assert sheet.density_g_ml == pytest.approx(1.198, abs=0.001)
    assert sheet.densities_g_ml == pytest.approx((1.1, 0.98))
    assert parse_sheet(PRIMER, "mine").densities_g_ml is None


@pytest.mark.parametrize(
    ("lines", "says"),
    [
        ("density = 1.1", "no unit"),
        ('density = "1.1"', "no unit"),
        ('density = "11 g/ml"', "outside 0.3..5"),
        ('densities = "1.1 g/ml"', "mix.densities is not a list of 2 to 4"),
        ('densities = ["1.1 g/ml"]', "mix.densities is not a list of 2 to 4"),
        ('densities = ["1.1 g/ml", 1]', "no unit"),
        ('weight = "1 g/ml"', "mix.weight is not a key curewatch knows"),
    ],
)
def test_a_wrong_density_names_its_key(lines: str, says: str) -> None:
    with pytest.raises(SheetError, match=says) as caught:
        parse_sheet(mixed(lines), "mine")
    assert "mine.toml" in str(caught.value)


def test_a_known_density_leaves_less_vapour_than_none(run: Run, aired: Run, tmp_path: Path) -> None:
    own = tmp_path / "own-primer.toml"
    own.write_text(mixed('density = "1.3 g/ml"'))
    run("product", "add", str(own))
    _, text, _ = aired("own-primer", "--amount", "300 g", "--json")
    _, blind, _ = aired("solvent-primer-1k", "--amount", "300 g", "--json")
    assert json.loads(text)["level"]["ppm"] < json.loads(blind)["level"]["ppm"]
