"""Products and cans: four boxes make a product, what is wrong is said at its box, all is undone."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient

from curewatch.days import day_words
from curewatch.garage import cans
from curewatch.garage.cans import CanDetails
from curewatch.garage.shelf import add_sheet, find_sheet, shelf
from curewatch.plan.recent_mixes import owned
from curewatch.products.chemistries import CHEMISTRIES
from curewatch.products.hazards import HAZARDS
from curewatch.products.sheet import generic_sheets, parse_sheet
from dashboard.pages.shelf.label_fields import FIRST_TIME, in_box, read, to_fields, to_toml
from dashboard.pages.shelf.label_page import reticked
from tests.support.dash_pages import ORIGIN, drawn, prop, send, sent, touched
from tests.support.pages import EVENING, SETTINGS, Garage, open_garage, weather

PRIMER, ADHESIVE = "epoxy-primer", "epoxy-panel-adhesive"
FOUR: dict[str, Any] = {
    "name": "Grey tin, 2024",
    "what": "filler/polyester-peroxide",
    "times.0.working_time": "4-6 min",
    "times.0.temperature": "20",
    "hazards": list(CHEMISTRIES["polyester-peroxide"].can_contain),
}
SILENT = """
name = "Mine"
kind = "{kind}"
chemistry = "{chemistry}"
[[times]]
temperature = "20 C"
working_time = "20 min"
"""


@pytest.fixture
def garage(tmp_path: Path) -> Iterator[Garage]:
    garage = open_garage(tmp_path)
    garage.hear(weather(EVENING, hours=1))
    yield garage
    garage.store.close()


@pytest.fixture
def browser(garage: Garage) -> FlaskClient:
    return garage.app.test_client()


def saved(browser: FlaskClient, **fields: Any) -> tuple[dict[str, str], Any]:
    """What is said to be wrong by box, and what else the page is told."""
    wrong, side = sent(browser, "save product", fields)
    return {name: text for name, text in wrong.items() if text}, side.get("did", {}).get("data")


def undo(browser: FlaskClient, act: int) -> None:
    browser.post("/undo", data={"act": str(act)}, headers=ORIGIN)


def test_four_boxes_make_a_product_and_the_careful_end_of_a_range_is_said(
    garage: Garage, browser: FlaskClient
) -> None:
    wrong, did = saved(browser, **FOUR)
    assert wrong == {}
    assert did["go"] == "/shelf/grey-tin-2024"
    assert "Working time: 4 min is used, the careful end of the range." in did["said"]
    sheet = find_sheet(garage.store, "grey-tin-2024")
    assert (sheet.name, sheet.kind) == ("Grey tin, 2024", "filler")
    assert sheet.reference.minutes == {"working_time": 4.0}
    assert set(sheet.hazards.contained) == set(CHEMISTRIES["polyester-peroxide"].can_contain)
    undo(browser, did["act"])
    assert "grey-tin-2024" not in shelf(garage.store)


def test_a_box_left_empty_says_what_is_needed(garage: Garage, browser: FlaskClient) -> None:
    wrong, _ = saved(browser, **dict.fromkeys(FOUR, ""))
    assert wrong == {
        "name": "Give it a name, as on the label",
        "what": "Pick what it is",
        "times.0.working_time": "Copy the working time from the label",
        "times.0.temperature": "At which temperature?",
    }
    assert not garage.store.sheets()


@pytest.mark.parametrize(
    ("field", "text", "says"),
    [
        ("times.0.clamp_time", "soon", "“soon” is not a number; type a number, like 50"),
        ("times.0.clamp_time", "2 min", "Not before working time, 4 min; check both"),
        ("limits.humidity_max", "140", "is outside 0..100 %"),
        ("storage.shelf_life", "long", "“long” is not a number; type a number, like 12"),
        ("times.1.working_time", "8", ""),
        ("mix.density", "90", "is outside 0.3..5 g/ml"),
    ],
)
def test_what_is_wrong_is_said_at_its_box_and_nothing_is_saved(
    garage: Garage, browser: FlaskClient, field: str, text: str, says: str
) -> None:
    more = {"times.1.temperature": ""} if field == "times.1.working_time" else {}
    wrong, _ = saved(browser, **FOUR, **more, **{field: text})
    ((box, said),) = wrong.items()
    assert (box, says in said) == (("times.1.temperature" if more else field), True)
    assert not garage.store.sheets()


def test_numbers_without_a_unit_take_the_box_s(tmp_path: Path) -> None:
    garage = open_garage(tmp_path, settings=replace(SETTINGS, temperature_unit="F"))
    more = {"times.0.clamp_time": "4", "limits.humidity_max": "85", "storage.shelf_life": "12"}
    boxes = FOUR | {"times.0.temperature": "70", "film": "100"} | more
    assert saved(garage.app.test_client(), **boxes)[0] == {}
    sheet = find_sheet(garage.store, "grey-tin-2024")
    assert sheet.reference.temperature_c == pytest.approx(21.11, abs=0.01)
    assert sheet.reference.minutes["clamp_time"] == 240
    assert (sheet.limits.humidity_max_pct, sheet.film_um) == (85, 100)
    assert sheet.storage.shelf_life is not None
    assert sheet.storage.shelf_life.months == 12
    garage.store.close()


@pytest.mark.parametrize("id", sorted(generic_sheets()))
def test_a_product_survives_its_boxes_unchanged(id: str) -> None:
    sheet = generic_sheets()[id]
    label = read(to_fields(sheet), "C")
    assert label.wrong == {}
    again = parse_sheet(to_toml(label.fields), id)
    assert replace(again, text="") == replace(sheet, text="")


@pytest.mark.parametrize("id", sorted(generic_sheets()))
def test_a_box_that_names_its_unit_holds_a_number_alone(id: str) -> None:
    sheet = generic_sheets()[id]
    boxes = {name: in_box(name, text, "C") for name, text in to_fields(sheet).items()}
    assert (boxes["times.0.temperature"].isdigit(), boxes[FIRST_TIME].isdigit()) == (True, True)
    again = parse_sheet(to_toml(read(boxes, "C").fields), id)
    assert replace(again, text="") == replace(sheet, text="")


def test_editing_a_product_loses_nothing_of_it(garage: Garage) -> None:
    text = find_sheet(garage.store, PRIMER).text.replace(
        "[hazards]", 'bare_max = "4 h"\n\n[hazards]'
    )
    more = "".join(
        f'\n[[times]]\ntemperature = "{celsius} C"\nsand_ready = "{hours} h"\n'
        for celsius, hours in ((17, 15), (15, 18), (13, 22), (11, 30))
    )
    whole = (
        text.replace("[limits]", f"{more}\n[limits]").replace('"21 C"', '"70 F"')
        + '\n[mix]\ndensity = "1.4 g/ml"\ndensities = ["1.5 g/ml", "1.1 g/ml"]\n'
        + '\n[storage]\ntemperature = ["5 C", "30 C"]\nshelf_life = "12 months"\n'
        + 'opened_life = "90 days"\n'
    )
    before = add_sheet(garage.store, "mine", whole, EVENING)
    assert to_fields(before)["times.0.temperature"] == "70 F"
    after = add_sheet(garage.store, "mine", to_toml(to_fields(before)), EVENING)
    assert replace(after, text="") == replace(before, text="")


def test_a_colder_row_that_is_faster_needs_its_tick(garage: Garage, browser: FlaskClient) -> None:
    boxes = FOUR | {
        "times.0.clamp_time": "4 h",
        "times.1.temperature": "15 C",
        "times.1.clamp_time": "10 min",
        "colder_is_faster": [],
    }
    wrong, _ = saved(browser, **boxes)
    assert "10 min at 15 C is faster than 4 h at 20 C" in wrong["colder_is_faster"]
    assert not garage.store.sheets()
    assert saved(browser, **boxes | {"colder_is_faster": ["on"]})[0] == {}
    fields = to_fields(find_sheet(garage.store, "grey-tin-2024"))
    assert fields["colder_is_faster"] == "on"


def test_hazards_follow_the_chemistry_until_a_hand_ticks_otherwise() -> None:
    of_filler = reticked([], "", "polyester-peroxide")
    assert set(of_filler) == set(CHEMISTRIES["polyester-peroxide"].can_contain)
    added = reticked([*of_filler, "isocyanate"], "polyester-peroxide", "waterborne")
    assert set(added) == {*CHEMISTRIES["waterborne"].can_contain, "isocyanate"}


def test_unticking_asks_and_only_the_data_sheet_denies(
    garage: Garage, browser: FlaskClient
) -> None:
    boxes = FOUR | {"name": "Two-pack", "what": "primer/urethane-2k"}
    boxes |= {"hazards": ["dust", "sensitiser"]}
    asked = dict.fromkeys(f"denied.{name}" for name in HAZARDS)
    wrong, _ = saved(browser, **boxes, **asked)
    assert set(wrong) == {"denied.isocyanate", "denied.flammable_solvent"}
    assert "two-pack" not in shelf(garage.store)
    answers = {"denied.isocyanate": "keep", "denied.flammable_solvent": "none"}
    assert saved(browser, **boxes, **answers)[0] == {}
    hazards = find_sheet(garage.store, "two-pack").hazards
    assert (hazards.isocyanate, hazards.assumed) == (True, ("isocyanate",))
    assert (hazards.flammable_solvent, hazards.denied) == (False, ("flammable_solvent",))


def test_an_answer_once_given_is_not_asked_again_but_a_generic_one_is(garage: Garage) -> None:
    text = SILENT.format(chemistry="waterborne", kind="primer")
    own = add_sheet(garage.store, "mine", f"{text}[hazards]\nsensitiser = false\n", EVENING)
    assert to_fields(own)["denied.sensitiser"] == "none"
    generic = find_sheet(garage.store, "seam-sealer")
    assert "flammable_solvent" in generic.hazards.denied
    assert not any(name.startswith("denied.") for name in to_fields(generic, own=False))


def test_a_generic_product_is_made_mine_in_one_touch_and_back(
    garage: Garage, browser: FlaskClient
) -> None:
    assert "seam-sealer" not in [sheet.id for sheet in owned(garage.bench)[0]]
    did = touched(browser, "make product mine", "seam-sealer")["did"]["data"]
    mine = find_sheet(garage.store, "seam-sealer")
    assert (mine.name, mine.hazards.denied) == ("Moisture-cure seam sealer", ())
    assert "flammable_solvent" in mine.hazards.assumed
    assert "seam-sealer" in [sheet.id for sheet in owned(garage.bench)[0]]
    assert ">Remove<" in browser.get("/shelf/seam-sealer").text
    undo(browser, did["act"])
    assert "seam-sealer" not in garage.store.sheets()


def test_a_product_is_removed_and_comes_back(garage: Garage, browser: FlaskClient) -> None:
    add_sheet(garage.store, "mine", SILENT.format(chemistry="waterborne", kind="primer"), EVENING)
    number = garage.mix("mine", 5)
    assert 'href="/shelf/mine"' in browser.get("/shelf").text
    did = touched(browser, "remove product", "mine")["did"]["data"]
    assert did["said"].startswith("Mine is removed. Steps mixed with it keep their label")
    assert did["go"] == "/shelf"
    assert 'href="/shelf/mine"' not in browser.get("/shelf").text
    assert browser.get("/shelf/mine").status_code == 404
    assert browser.get(f"/step/{number}").status_code == 200
    undo(browser, did["act"])
    assert browser.get("/shelf/mine").status_code == 200


def test_a_product_s_page_says_first_how_long_it_takes_here_now(browser: FlaskClient) -> None:
    text = browser.get(f"/shelf/{ADHESIVE}").text
    assert text.index("At the surface&#39;s 16.0 °C now: workable for ") < text.index("Cans")
    other = browser.get(f"/shelf/{ADHESIVE}?time=clamp_time").text
    assert "now: clamps off after 3 h " in other
    assert browser.get(f"/shelf/{ADHESIVE}?time=nonsense&can=x").status_code == 200


def test_a_doubtful_product_saved_before_still_stands_and_says_so(
    garage: Garage, browser: FlaskClient
) -> None:
    text = generic_sheets()[ADHESIVE].text.replace("Two-part epoxy", "Old")
    row = '[[times]]\ntemperature = "15 C"\nclamp_time = "10 min"\n\n[limits]'
    garage.store.save_sheet("old", text.replace("[limits]", row), garage.clock())
    assert "10 min at 15 °C is faster than 4 h at 21 °C" in browser.get("/shelf/old").text


def test_own_products_stand_first_and_are_found_by_name_and_kind(
    garage: Garage, browser: FlaskClient
) -> None:
    garage.mix(ADHESIVE, 30)
    add_sheet(garage.store, "mine", SILENT.format(chemistry="waterborne", kind="primer"), EVENING)
    mine, generic = owned(garage.bench)
    assert [sheet.id for sheet in mine] == [ADHESIVE, "mine"]
    assert PRIMER in [sheet.id for sheet in generic]
    body = {
        "output": "shelf-found.children",
        "outputs": {"id": "shelf-found", "property": "children"},
        "inputs": [prop("shelf-search", "value", "waterb PRIM")],
        "changedPropIds": ["shelf-search.value"],
    }
    text = json.dumps(send(browser, body).json)
    assert "/shelf/mine" in text
    assert "/shelf/waterborne-primer" in text
    assert f"/shelf/{ADHESIVE}" not in text


def can_sent(browser: FlaskClient, **fields: str) -> tuple[dict[str, str], dict[str, Any]]:
    return sent(browser, "add can", fields, key=PRIMER, once="c")


def test_a_can_is_added_once_opened_corrected_and_used_up(
    garage: Garage, browser: FlaskClient
) -> None:
    texts = {"batch": "P-7", "bought": "2026-05-02", "expiry": "2026-10", "stored": "air"}
    _, side = can_sent(browser, **texts)
    assert side["did"]["data"]["said"] == "Can saved: bought 2 May 2026, expiry 31 Oct 2026."
    assert "Can 1: added, Two-part epoxy primer" in browser.get("/undo").text
    can_sent(browser, **texts)
    (can,) = cans.cans(garage.store)
    assert (can.batch, can.expiry) == ("P-7", date(2026, 10, 31))
    text = browser.get("/shelf").text
    assert "17 days" in text
    assert 'max="182"' in text
    touched(browser, "can opened", "1")
    assert cans.find_can(garage.store, 1).opened == date(2026, 10, 14)
    assert "Correct batch P-7" in browser.get(f"/shelf/{PRIMER}?can=1").text
    boxes = texts | {"opened": "14 Oct 2026", "batch": "P-8"}
    _, side = sent(browser, "correct can", boxes, key="1")
    assert (side["did"]["data"]["said"], cans.find_can(garage.store, 1).batch) == ("Saved.", "P-8")
    touched(browser, "can used up", "1")
    assert "Used up, 1" in browser.get("/shelf").text
    touched(browser, "can in use", "1")
    assert not cans.find_can(garage.store, 1).used_up


@pytest.mark.parametrize(
    ("field", "value"), [("bought", "yesterday"), ("expiry", "soon"), ("opened", "2026-02-30")]
)
def test_a_date_that_is_none_is_refused_at_its_box(
    garage: Garage, browser: FlaskClient, field: str, value: str
) -> None:
    wrong, side = can_sent(browser, batch="P-7", **{field: value})
    assert "is not a date" in wrong[field]
    assert wrong["batch"] == ""
    assert "did" not in side
    assert cans.cans(garage.store) == []


@pytest.mark.parametrize(("language", "month"), [("en-US,en;q=0.8", 3), ("en-GB,en;q=0.8", 4)])
def test_a_date_is_read_as_the_browser_s_country_writes_it(
    garage: Garage, browser: FlaskClient, language: str, month: int
) -> None:
    browser.environ_base["HTTP_ACCEPT_LANGUAGE"] = language
    _, side = can_sent(browser, bought="03/04/2025")
    (can,) = cans.cans(garage.store)
    day = date(2025, month, 7 - month)
    assert can.bought == day
    assert day_words(day) in side["did"]["data"]["said"]


def test_a_cold_night_says_bring_it_indoors(garage: Garage, browser: FlaskClient) -> None:
    cans.add(garage.store, PRIMER, CanDetails(stored="shelf"), now=garage.clock())
    cold = [reading for reading in weather(garage.clock.at, 8.0) if reading.place == "air"]
    garage.hear([replace(reading, place="shelf") for reading in cold])
    text = browser.get("/shelf").text
    assert "Bring it indoors tonight: shelf falls below the 10 °C it needs for use" in text


def test_a_can_past_its_day_says_by_how_much(garage: Garage, browser: FlaskClient) -> None:
    day = (EVENING - timedelta(days=14)).date()
    cans.add(garage.store, PRIMER, CanDetails(expiry=day), now=garage.clock())
    assert "14 days over" in browser.get("/shelf").text


def test_a_product_page_tells_its_reader_what_to_do_and_keeps_sources_in_a_fold(
    garage: Garage, browser: FlaskClient
) -> None:
    """Figures of the literature are for those who open the fold."""
    page = json.dumps(drawn(browser, "/shelf/fibre-polyester-filler"), ensure_ascii=False)
    before, sources = page.split('"Sources"')
    assert "Typical figures for this kind; check your label." in before
    assert "kJ/mol" not in before
    assert "kJ/mol" in sources
    add_sheet(garage.store, "mine", SILENT.format(kind="filler", chemistry="polyester-peroxide"),
              EVENING)  # fmt: skip
    own = json.dumps(drawn(browser, "/shelf/mine"), ensure_ascii=False)
    assert "it may not cure (assumed: no limit is entered; check your label)" in own
