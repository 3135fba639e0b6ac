"""The listening page without a broker: what it draws anew, and what its touches keep."""

from __future__ import annotations

from collections.abc import Mapping as Values
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient

from curewatch.errors import ConfigError
from curewatch.settings.edit import keep, let_go
from curewatch.settings.settings import Mapping, load_settings
from sensors.mqtt.discovery import DiscoveredNumbers, Leaf
from tests.support.dash_pages import buttons, prop, send, sent, touched
from tests.support.pages import Garage, open_garage

PROBE, BATTERY = "workshop/node3", "workshop/battery"


class ListeningEars:
    """Hears what a test says."""

    trouble, full = "", False

    def __init__(self, folder: Path) -> None:
        self.folder, self.left_s, self.numbers = folder, 0.0, DiscoveredNumbers(lambda: 0.0)

    def begin(self) -> None:
        self.left_s = 180.0

    def end(self) -> None:
        self.left_s = 0.0

    def keep(self, mapping: Mapping) -> None:
        keep(self.folder, mapping)

    def let_go(self, mapping: Mapping) -> None:
        let_go(self.folder, mapping)

    @property
    def leaves(self) -> list[Leaf]:
        return self.numbers.leaves


@pytest.fixture
def garage(tmp_path: Path) -> Garage:
    return open_garage(tmp_path)


@pytest.fixture
def listener(garage: Garage, tmp_path: Path) -> ListeningEars:
    listening = ListeningEars(tmp_path)
    garage.app.extensions["curewatch"].listener = listening
    listening.numbers.add(PROBE, b'{"temp": 14.25}')
    listening.numbers.add(BATTERY, b'{"battery": 87}')
    return listening


@pytest.fixture
def browser(garage: Garage, listener: ListeningEars) -> FlaskClient:
    return garage.app.test_client()


def id_of(browser: FlaskClient) -> str:
    """The name on the page of the number that seems to be a temperature."""
    places = [key for do, key in buttons(browser, "/air/listen") if do == "listen place"]
    return places[0].partition("/")[0]


def a_while_later(browser: FlaskClient, shown: str, ids: list[str], query: str = "") -> Any:
    """What the page draws anew."""
    outputs = [("listen-left", "children"), ("listen-heard", "children"), ("listen-shown", "data")]
    numbers = [{"heard": id} for id in ids]
    body = {
        "output": "..listen-left.children...listen-heard.children...listen-shown.data..",
        "outputs": [{"id": id, "property": name} for id, name in outputs],
        "inputs": [prop("again", "data", 1), prop("url", "search", query)],
        "state": [
            prop("url", "pathname", "/air/listen"),
            prop("listen-shown", "data", shown),
            [prop(number, "id", number) for number in numbers],
        ],
        "changedPropIds": ["again.data"],
    }
    answer = send(browser, body)
    assert answer.status_code == 200, answer.text
    found = answer.json or {}
    return found["response"] | {"live": found.get("sideUpdate", {})}


def list_of(drawn: Values[str, Any]) -> str:
    """What the list is drawn anew for, as it stands."""
    return str(drawn["listen-shown"]["data"])


def test_one_touch_keeps_a_number_as_what_it_seems_to_be(
    browser: FlaskClient, tmp_path: Path
) -> None:
    did = touched(browser, "listen place", f"{id_of(browser)}/panel")["did"]["data"]
    assert did["said"] == "Kept: panel surface: 14.2 °C."
    assert load_settings(tmp_path).mappings == (
        Mapping(PROBE, "/temp", "C", "panel", "surface_temperature"),
    )
    (let_go,) = [act for act in buttons(browser, "/air/listen") if act[0] == "listen let go"]
    touched(browser, *let_go)
    assert load_settings(tmp_path).mappings == ()


def test_what_cannot_be_is_said_at_the_form(browser: FlaskClient, tmp_path: Path) -> None:
    form: dict[str, Any] = {"quantity": "relative_humidity", "unit": "F", "own": "cellar"}
    wrong, _ = sent(browser, "listen keep", form, key=id_of(browser))
    assert "humidity is not measured in °F" in wrong[""]
    wrong, _ = sent(browser, "listen keep", {"quantity": "", "unit": "", "own": " "}, key="h0")
    assert "heard no more" in wrong[""]
    assert load_settings(tmp_path).mappings == ()


def test_known_numbers_change_in_place_and_a_new_one_draws_the_list(
    browser: FlaskClient, listener: ListeningEars
) -> None:
    id = id_of(browser)
    first = a_while_later(browser, "", [id])
    listener.numbers.add(PROBE, b'{"temp": 15.5}')
    live = a_while_later(browser, list_of(first), [id])
    assert "listen-heard" not in live
    assert "15.5" in str(live["live"])
    listener.numbers.add("attic/temp", b"9")
    assert "attic/temp" in str(a_while_later(browser, list_of(first), [id])["listen-heard"])


def test_a_form_under_a_hand_is_left_alone(browser: FlaskClient, listener: ListeningEars) -> None:
    id = id_of(browser)
    first = a_while_later(browser, "", [id], f"?say={id}")
    assert "Keep with that name" in str(first["listen-heard"])
    listener.numbers.add("attic/temp", b"9")
    assert "listen-heard" not in a_while_later(browser, list_of(first), [id], f"?say={id}")


def test_listening_begins_and_ends_by_touch(browser: FlaskClient, listener: ListeningEars) -> None:
    touched(browser, "listen")
    assert listener.left_s
    assert ("listen stop", "") in buttons(browser, "/air/listen")
    touched(browser, "listen stop")
    assert ("listen", "") in buttons(browser, "/air/listen")


def test_settings_that_cannot_be_read_are_said_on_the_page(
    browser: FlaskClient, tmp_path: Path
) -> None:
    (tmp_path / "curewatch.toml").write_text("[[mappings]]\ntopic = 3\n")
    with pytest.raises(ConfigError):
        load_settings(tmp_path)
    assert "curewatch.toml" in browser.get("/air/listen").text
