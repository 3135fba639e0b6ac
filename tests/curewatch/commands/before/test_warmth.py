"""Heaters as they are entered, and what they would buy, as it is typed."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from freezegun import freeze_time

from tests.conftest import Run
from tests.curewatch.commands.before.test_mix_by import EPOXY, NOW, QUICK, garage

LAMP = ("heater", "add", "work lamp", "--watts", "500")
ROOM = ("heater", "add", "fan heater", "--watts", "2000", "--on", "room")
TONIGHT = ("--clamps-off-by", "23:15")


@pytest.fixture(autouse=True)
def _an_evening(tmp_path: Path) -> Iterator[None]:
    with freeze_time(NOW):
        garage(tmp_path)
        yield


def options(run: Run, *words: str, product: str = EPOXY) -> dict[str, dict[str, Any]]:
    """The options of a question by their names' first words."""
    answer = json.loads(run("warmth", product, *words, "--json")[1])
    return {option["name"].split(" (")[0]: option for option in answer["options"]}


def test_a_lamp_on_the_panel_buys_what_the_room_s_heater_does_not(run: Run) -> None:
    run(*LAMP)
    run(*ROOM)
    run("heater", "price", "0.32")
    plain, lamp, room = list(options(run, *TONIGHT).values())[:3]
    assert plain["tenths"] < lamp["tenths"]
    assert room["tenths"] <= lamp["tenths"]
    hours = (
        datetime.fromisoformat(lamp["heat_until"]) - datetime.fromisoformat(lamp["heat_from"])
    ).total_seconds() / 3600
    assert lamp["kwh"] == pytest.approx(0.5 * hours, abs=0.01)
    assert lamp["cost"] == pytest.approx(0.32 * lamp["kwh"], abs=0.01)
    assert room["kwh"] > lamp["kwh"]
    assert lamp["panel_c"] <= 35.0, "never above the label's limit"


def test_the_least_heat_is_asked_for_and_no_more(run: Run) -> None:
    run(*LAMP)
    lamp = options(run, "--clamps-off-by", "tomorrow 3 am", "--there-until", "23:00")["work lamp"]
    assert lamp["tenths"] == 9
    assert lamp["heat_until"] < "2026-11-14T23:00:00Z"


def test_heat_begins_with_the_clamps_on_and_ends_when_nobody_is_there(run: Run) -> None:
    run(*LAMP)
    run("tonight", "--until", "20:30")
    lamp = options(run, *TONIGHT)["work lamp"]
    assert lamp["heat_from"] > "2026-11-14T17:20:00Z"
    assert lamp["heat_until"] <= "2026-11-14T20:30:00Z"
    gone = options(run, *TONIGHT, "--there-until", "17:10")["work lamp"]
    assert (gone["against"], gone["tenths"], gone["heat_from"]) == ("absent", None, None)


def test_no_heat_while_solvent_evaporates(run: Run) -> None:
    run(*LAMP)
    heat = options(run, "--recoat-opens-by", "18:30", product="epoxy-primer")
    assert heat["work lamp"]["against"] == "solvent"
    out = run("warmth", "epoxy-primer", "--recoat-opens-by", "18:30")[1]
    assert "no heat while solvent evaporates" in out


def test_what_needs_no_heat_is_offered_none(run: Run) -> None:
    run(*LAMP)
    assert list(options(run, "--clamps-off-by", "22:15", product=QUICK)) == [
        "Quick methacrylate panel adhesive"
    ]
    assert "It needs no heat." in run("warmth", QUICK, "--clamps-off-by", "22:15")[1]


def test_one_probe_replaces_what_was_assumed(run: Run) -> None:
    run(*LAMP)
    before = options(run, *TONIGHT)["work lamp"]
    code, out, _ = run("heater", "gave", "work lamp", "22 C", "--before", "14 C")
    assert code == 0
    assert "8.0 °C warmer" in out
    after = options(run, *TONIGHT)["work lamp"]
    assert after["panel_c"] < before["panel_c"]
    assert after["panel_c"] == pytest.approx(22.0, abs=1.0)
    run("undo")
    assert options(run, *TONIGHT)["work lamp"] == before


def test_a_told_evening_is_kept_and_counts(run: Run) -> None:
    run(*ROOM)
    assumed = options(run, *TONIGHT)["fan heater"]
    assert run("heater", "ran", "fan heater", "--from", "13:00", "--to", "16:30")[0] == 0
    (heater,) = json.loads(run("heater", "list", "--json")[1])["heaters"]
    assert heater["ran"] == [{"from": "2026-11-14T13:00:00Z", "until": "2026-11-14T16:30:00Z"}]
    taught = options(run, *TONIGHT)["fan heater"]
    assert taught["panel_c"] < assumed["panel_c"], "the panel stayed at 14 C that evening"


def test_cautions_stand_under_every_heat_and_the_limit_beside_a_lamp(run: Run) -> None:
    run(*LAMP)
    run(*ROOM)
    out = run("warmth", EPOXY, *TONIGHT)[1]
    for words in (
        "carbon monoxide",
        "catch fire",
        "while you are there",
        "pass 35 °C",
        "cm beyond",
    ):
        assert words in out


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("heater", "add", " ", "--watts", "500"), "has no name"),
        (("heater", "add", "lamp", "--watts", "5"), "give 10 to 20000 W"),
        (("heater", "add", "lamp", "--watts", "500", "--lit", "99"), "give 0.02 to 10 m2"),
        (("heater", "gave", "nothing", "28 C", "--before", "14 C"), "no heater 'nothing'"),
        (("heater", "price", "-1"), "No such option"),
        (("warmth", EPOXY), "one end is needed"),
        (("warmth", EPOXY, "--recoat-opens-by", "22:15"), "gives no time for recoat opens"),
        (("warmth", EPOXY, *TONIGHT, "--part", "seat belt bracket"), "procedure"),
        (("warmth", EPOXY, *TONIGHT, "--mixed-at", "23:30"), "not after the mix"),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(
    run: Run, words: tuple[str, ...], sentence: str
) -> None:
    code, _, err = run(*words)
    assert code == 2
    assert sentence in err
    assert "Traceback" not in err
