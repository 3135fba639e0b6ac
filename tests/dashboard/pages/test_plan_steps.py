"""The steps of a way on the plan's page: changed, taken out, put elsewhere and added."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
from flask.testing import FlaskClient

from curewatch.ways import entered
from curewatch.ways.entered import PartWish
from curewatch.ways.way import Way, generic_text, generic_ways, parse_way, way_text
from dashboard.pages.components import first_up
from tests.support.dash_pages import arriving, forms, send, sent
from tests.support.pages import Garage, open_garage

PART = "rear corner"
SEAL = {
    "does": "seal the seam", "hands": "20", "after": "5 min", "airing": "", "clamps": "",
    "then": "sealed", "number": "3", "kind": "sealer", "waits": "recoat_opens", "flags": [],
}  # fmt: skip


@pytest.fixture
def garage(tmp_path: Path) -> Iterator[Garage]:
    garage = open_garage(tmp_path)
    now = garage.clock()
    text = generic_text("prime-bare-metal")
    entered.set_way(garage.store, PART, "", "prime-bare-metal", text, now=now)
    entered.set_wish(garage.store, PART, "", PartWish("primed", None), now=now)
    yield garage
    garage.store.close()


@pytest.fixture
def browser(garage: Garage) -> FlaskClient:
    return garage.app.test_client()


def way_of(garage: Garage) -> Way:
    way = entered.way_of(garage.store, PART, "")
    assert way is not None
    return way


def shown(browser: FlaskClient) -> tuple[str, dict[str, Any]]:
    """The key of the form of the steps, and what stands in its boxes."""
    answer = json.dumps(send(browser, arriving("/plan", f"?{urlencode({'part': PART})}")).json)
    tree, values, key = json.loads(answer), dict[str, Any](), ""
    stack: list[Any] = [tree]
    while stack:
        node = stack.pop()
        if isinstance(node, list):
            stack += node
        elif isinstance(node, dict):
            own = node.get("id")
            if (
                isinstance(own, dict)
                and "field" in own
                and json.loads(own["form"])[0] == "plan steps"
            ):
                key, values[own["field"]] = json.loads(own["form"])[1], node.get("value")
            stack += node.values()
    return key, values


def saved(browser: FlaskClient, changes: Mapping[str, Any]) -> dict[str, str]:
    """Save the steps with some boxes changed; what is wrong by box."""
    key, values = shown(browser)
    wrong, _ = sent(browser, "plan steps", values | dict(changes), key=key)
    return {field: text for field, text in wrong.items() if text}


def test_every_generic_way_is_written_and_read_again_alike() -> None:
    for id, way in generic_ways().items():
        assert parse_way(way_text(way.name, way.steps), id) == way


def test_saved_as_it_stands_nothing_changes(garage: Garage, browser: FlaskClient) -> None:
    before = way_of(garage)
    assert saved(browser, {}) == {}
    assert way_of(garage) == before


def test_a_step_is_added_under_a_name_of_one_s_own_and_offered_for_other_parts(
    garage: Garage, browser: FlaskClient
) -> None:
    added = {f"2.{name}": value for name, value in SEAL.items()}
    assert saved(browser, {"name": "Prime and seal", **added}) == {}
    way = way_of(garage)
    assert (way.id, way.name) == ("prime-and-seal", "Prime and seal")
    seal = way.steps[2]
    assert (seal.does, seal.kind, seal.hands_min, seal.mixed_after_min) == (
        *("seal the seam", "sealer"), 20.0, 5.0,
    )  # fmt: skip
    assert way.ends == ("primed", "sealed")
    wish = {"part": "roof", "by": "", "way": "prime-and-seal", "end": "sealed"}
    wrong, _ = sent(browser, "plan wish", wish)
    assert not any(wrong.values())
    assert entered.way_of(garage.store, "roof", "") == way
    assert "Prime and seal" in json.dumps(send(browser, arriving("/plan")).json)


def test_a_step_is_taken_out_and_one_is_put_elsewhere(garage: Garage, browser: FlaskClient) -> None:
    first, second = way_of(garage).steps
    assert saved(browser, {"1.number": "1"}) == {}
    assert way_of(garage).steps == (second, first)
    assert saved(browser, {"1.does": ""}) == {}
    assert way_of(garage).steps == (second,)
    assert way_of(garage).id == "prime-bare-metal"


@pytest.mark.parametrize(
    ("change", "field", "says"),
    [
        ({"name": " "}, "name", "has no name"),
        ({"0.hands": ""}, "0.hands", "how long are the hands on it?"),
        ({"0.hands": "11 h"}, "0.hands", "is no length of work"),
        ({"0.waits": "clamp_time"}, "0.waits", "choose the product"),
        ({"1.clamps": "many"}, "1.clamps", "is no such number"),
        ({"1.number": "0"}, "1.number", "is no such number"),
        ({"0.does": "", "1.does": ""}, "", "a step at least"),
    ],
)
def test_what_cannot_be_is_said_at_its_box_and_nothing_changes(
    garage: Garage, browser: FlaskClient, change: dict[str, str], field: str, says: str
) -> None:
    before = way_of(garage)
    wrong = saved(browser, change)
    assert says in wrong[field]
    if field[:1].isdigit():  # its step may be folded
        assert wrong[""].startswith(first_up(before.steps[int(field[0])].does))
    assert way_of(garage) == before


def test_steps_that_were_changed_meanwhile_are_not_overwritten(
    garage: Garage, browser: FlaskClient
) -> None:
    key, values = shown(browser)
    text = generic_text("fill-a-dent")
    entered.set_way(garage.store, PART, "", "fill-a-dent", text, now=garage.clock())
    wrong, _ = sent(browser, "plan steps", values, key=key)
    assert "changed meanwhile" in wrong[""]
    assert way_of(garage).id == "fill-a-dent"


def test_a_form_without_anything_is_answered_in_a_sentence(browser: FlaskClient) -> None:
    assert any(
        json.loads(name)[0] == "plan steps"
        for name in forms(browser, "/plan", f"?{urlencode({'part': PART})}")
    )
    wrong, _ = sent(browser, "plan steps", {"name": "x"}, key="nowhere")
    assert "load the page again" in wrong[""]
