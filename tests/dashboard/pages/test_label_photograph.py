"""The photograph of a product's label: sent, shown, replaced, removed, undone; kept until saved."""

from __future__ import annotations

import io
import json
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from curewatch.exchange import export_json, import_json
from curewatch.logbook import housekeeping, photographs
from curewatch.products.chemistries import CHEMISTRIES
from curewatch.store.search import StepQuery
from tests.support.dash_pages import ORIGIN, arriving, send, sent, touched
from tests.support.logbooks import opened, picture
from tests.support.pages import EVENING, Garage, open_garage

PRIMER = "epoxy-primer"
FOUR: dict[str, Any] = {
    "name": "Grey tin",
    "what": "filler/polyester-peroxide",
    "times.0.working_time": "5 min",
    "times.0.temperature": "20",
    "hazards": list(CHEMISTRIES["polyester-peroxide"].can_contain),
}


@pytest.fixture
def garage(tmp_path: Path) -> Iterator[Garage]:
    garage = open_garage(tmp_path)
    yield garage
    garage.store.close()


@pytest.fixture
def browser(garage: Garage) -> FlaskClient:
    return garage.app.test_client()


def posted(browser: FlaskClient, address: str, source: io.BytesIO, once: str = "1") -> TestResponse:
    body = {"file": (source, "label.jpg"), "once": once}
    return browser.post(address, data=body, headers=ORIGIN | {"X-Live": "1"})


def page(browser: FlaskClient, id: str = PRIMER) -> str:
    return json.dumps(send(browser, arriving(f"/shelf/{id}")).json)


def test_a_label_is_photographed_shown_replaced_and_removed_with_undo(
    garage: Garage, browser: FlaskClient
) -> None:
    assert "Take one" in page(browser)
    answer = posted(browser, f"/shelf/{PRIMER}/label", picture())
    assert answer.json
    assert answer.json["said"] == "Photograph of the label saved"
    first = photographs.label_of(garage.store, PRIMER)
    shown = page(browser)
    assert f"/shelf/{PRIMER}/label/{first}/small" in shown
    assert "Label of Two-part epoxy primer" in shown
    for path in (f"/shelf/{PRIMER}/label/{first}", f"/shelf/{PRIMER}/label/{first}/small"):
        assert browser.get(path).mimetype == "image/jpeg"
    posted(browser, f"/shelf/{PRIMER}/label", picture(height=240), once="2")
    second = photographs.label_of(garage.store, PRIMER)
    assert second != first
    assert browser.get(f"/shelf/{PRIMER}/label/{first}").status_code == 400
    told = touched(browser, "remove label photograph", PRIMER)["did"]["data"]
    assert told["said"] == "Photograph of the label removed"
    assert photographs.label_of(garage.store, PRIMER) is None
    browser.post("/undo", data={"act": told["act"]}, headers=ORIGIN)
    assert photographs.label_of(garage.store, PRIMER) == second


@pytest.mark.parametrize(
    ("address", "status"), [("/shelf/no-such/label", 404), (f"/shelf/{PRIMER}/label", 400)]
)
def test_what_is_no_photograph_or_of_no_product_is_refused(
    garage: Garage, browser: FlaskClient, address: str, status: int
) -> None:
    answer = posted(browser, address, io.BytesIO(b"no picture"))
    assert answer.status_code == status
    assert not garage.store.all_entries("label")


def test_a_label_photographed_before_its_product_is_saved_is_kept_with_it(
    garage: Garage, browser: FlaskClient
) -> None:
    taken = posted(browser, "/label-photograph", picture()).json
    assert taken
    assert not garage.store.all_entries("label")
    wrong, _ = sent(browser, "save product", FOUR | {"photograph": f"{'ab' * 16}.jpg"})
    assert "is not kept any more" in wrong["photograph"]
    _, side = sent(browser, "save product", FOUR | {"photograph": taken["name"]}, once="2")
    assert side["did"]["data"]["go"] == "/shelf/grey-tin"
    assert photographs.label_of(garage.store, "grey-tin") == taken["name"]


def test_one_that_is_never_saved_is_deleted_after_a_day_and_a_label_stays(
    garage: Garage, browser: FlaskClient
) -> None:
    lost = photographs.take(picture(), garage.store.path).name
    posted(browser, f"/shelf/{PRIMER}/label", picture(height=240))
    kept = photographs.label_of(garage.store, PRIMER)
    housekeeping.sweep(garage.store, EVENING + timedelta(days=3650))
    left = {path.name for path in photographs.folder_of(garage.store.path).glob("*.jpg")}
    assert kept in left
    assert lost not in left


def test_a_label_travels_with_the_export(
    garage: Garage, browser: FlaskClient, tmp_path: Path
) -> None:
    posted(browser, f"/shelf/{PRIMER}/label", picture())
    name = photographs.label_of(garage.store, PRIMER)
    text = "".join(export_json.pieces(garage.bench, StepQuery(), EVENING))
    assert [load["name"] for load in json.loads(text)["photographs"]] == [name]
    (tmp_path / "other").mkdir()
    other = opened(tmp_path / "other")
    import_json.take_in(other.store, import_json.unpack(text, "a file"))
    assert photographs.label_of(other.store, PRIMER) == name
    assert name
    assert photographs.read(other.store.path, name) == photographs.read(garage.store.path, name)
