"""The page of lamps and heaters: what is owned is entered, corrected and taken off, wrong figures
are refused at their boxes."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from curewatch.warmth import owned
from tests.support.dash_pages import ORIGIN, sent, touched
from tests.support.pages import EVENING, Garage, open_garage, weather


@pytest.fixture
def garage(tmp_path: Path) -> Iterator[Garage]:
    garage = open_garage(tmp_path)
    garage.hear(weather(EVENING, hours=2))
    yield garage
    garage.store.close()


@pytest.fixture
def browser(garage: Garage) -> FlaskClient:
    return garage.app.test_client()


def test_a_lamp_is_entered_probed_removed_and_brought_back(
    garage: Garage, browser: FlaskClient
) -> None:
    assert "Enter the lamps and heaters you own" in browser.get("/heaters").text
    wrong, side = sent(
        browser, "heater added", {"name": "Work lamp", "watts": "500", "lit": ""}, value="panel"
    )
    assert not any(wrong.values())
    assert side["did"]["data"]["said"] == "Heater entered: Work lamp"
    assert "how warm it makes the metal is assumed" in browser.get("/heaters").text
    sent(browser, "heater probed", {"before": "14", "under": "28"}, key="Work lamp")
    (lamp,) = owned.heaters(garage.store)
    assert (lamp.watts, lamp.on, lamp.lit_m2, lamp.probed_k) == (500, "panel", 0.5, 14)
    act = touched(browser, "heater removed", "Work lamp")["did"]["data"]["act"]
    assert owned.heaters(garage.store) == []
    browser.post("/undo", data={"act": str(act)}, headers=ORIGIN)
    assert owned.heaters(garage.store) == [lamp]


def test_a_heater_of_the_room_says_when_it_was_on_and_what_energy_costs(
    garage: Garage, browser: FlaskClient
) -> None:
    values = {"name": "fan heater", "watts": "2 kW", "lit": ""}
    sent(browser, "heater added", values, value="room")
    sent(browser, "heater ran", {"start": "17:00", "end": "19:00"}, key="fan heater")
    (heater,) = owned.heaters(garage.store)
    assert (heater.watts, heater.on) == (2000, "room")
    assert [(run.end - run.start).total_seconds() / 3600 for run in heater.runs] == [2]
    assert "1 evening entered" in browser.get("/heaters").text
    sent(browser, "energy price", {"price": "0,32"})
    assert owned.energy_price(garage.store) == 0.32


@pytest.mark.parametrize(
    ("form", "values", "field", "says"),
    [
        (
            "heater added",
            {"name": "lamp", "watts": "much", "lit": ""},
            "watts",
            "“much” is not a number",
        ),
        ("heater added", {"name": "lamp", "watts": "5", "lit": ""}, "watts", "10 to 20000 W"),
        ("heater added", {"name": "lamp", "watts": "500", "lit": "90"}, "lit", "0.02 to 10 m²"),
        ("heater added", {"name": " ", "watts": "500", "lit": ""}, "name", "has no name"),
        ("heater probed", {"before": "14", "under": "12"}, "under", "must be warmer"),
        ("heater probed", {"before": "cold", "under": "12"}, "before", "cold"),
        ("heater ran", {"start": "17:00", "end": "soon"}, "end", "soon"),
        ("energy price", {"price": "1 euro"}, "price", "bare number"),
        ("energy price", {"price": "-1"}, "price", "cannot be"),
    ],
)
def test_what_cannot_be_is_refused_at_its_box_without_a_command(
    garage: Garage, browser: FlaskClient, form: str, values: dict[str, str], field: str, says: str
) -> None:
    now = garage.clock()
    owned.own(garage.store, "work lamp", 500, "panel", now=now)
    owned.own(garage.store, "fan heater", 2000, "room", now=now)
    before = owned.heaters(garage.store)
    key = {"heater probed": "work lamp", "heater ran": "fan heater"}.get(form, "")
    wrong, _ = sent(browser, form, values, key=key, value="panel")
    assert says in wrong[field]
    assert "curewatch " not in wrong[field]
    assert owned.heaters(garage.store) == before
