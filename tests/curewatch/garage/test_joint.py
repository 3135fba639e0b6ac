"""Whether a joint is structural is asked where a word names one, and the answer stays."""

from __future__ import annotations

import json
import re
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from flask.testing import FlaskClient

from curewatch.bench.bench import Details
from curewatch.garage import parts
from curewatch.garage.joint import joint, recognised
from curewatch.gate.gate import Gate, gate
from curewatch.gate.gather import ask
from curewatch.plan.next_action import Cards
from curewatch.wording.words import ReaderFormat
from tests.conftest import Run
from tests.support.dash_pages import buttons, mixing, proposing, touched
from tests.support.notices import codes
from tests.support.pages import Garage, open_garage

SAY = ReaderFormat(ZoneInfo("Europe/Berlin"))
ADHESIVE = "epoxy-panel-adhesive"
NAMED = (
    "sill", "door sills", "outer sill patch", "rocker", "rocker panels", "pillar", "B-pillar",
    "a pillars", "strut tower", "strut towers", "strut-tower", "jack", "jack point", "jack points",
    "jacking point", "jacking points", "jacking_point", "tow bar", "tow bars", "towbar", "tow-bar",
    "hitch", "hitches", "seat mount", "seat mounts", "seat mounting", "spring hanger",
    "spring hangers", "axle", "rear axles", "chassis rail", "chassis rails", "chassis",
    "SILL", "Subframe", "seat-belt anchor", "seat belts", "restraints", "airbag", "steering column",
    "brake bracket", "fuel filler neck", "petrol tanks", "windscreen flange", "windshields",
    "strut mount", "shock mounts", "wishbone mount", "control arm", "trailing arms", "torsion bar",
    "panhard rod", "roll-over bar", "harness bar", "gas tank", "seat base", "seat bolts",
    "suspension arm", "load-bearing bracket", "structural patch", "crash box",
)  # fmt: skip
PLAIN = (
    "jacket", "windowsill", "hijack", "Jack's door", "towel rail", "pillarbox", "rocket", "rib",
    "lower corner patch", "roof seam", "wheel arch", "front lip", "door skin", "silly",
    "spring cap",
    "hitchhiker", "tower", "fuelled", "axlegrease", "brakeless", "seat cover", "",
)  # fmt: skip


@pytest.fixture
def garage(tmp_path: Path) -> Garage:
    """A garage with nothing on its bench."""
    return open_garage(tmp_path)


@pytest.fixture
def browser(garage: Garage) -> FlaskClient:
    """Its pages."""
    return garage.app.test_client()


def gate_for(garage: Garage, part: str, job: str = "") -> Gate:
    """The gate for the adhesive on a part."""
    details = Details(part=part, job=job)
    return gate(ask(garage.bench, ADHESIVE, garage.clock(), details), SAY)


@pytest.mark.parametrize("name", NAMED)
def test_words_of_structural_joints_are_asked_about(name: str) -> None:
    assert recognised(name)
    assert recognised("", name), "the job's name counts too"
    assert joint("", name, "") == "asked"
    assert (joint("body", name, ""), joint("structural", name, "")) == ("body", "structural")


@pytest.mark.parametrize("name", PLAIN)
def test_other_words_are_not(name: str) -> None:
    assert not recognised(name)
    assert (joint("", name, ""), joint("structural", name, "")) == ("body", "structural")


def test_until_it_is_answered_no_time_is_given(garage: Garage, browser: FlaskClient) -> None:
    garage.mix(ADHESIVE, 10, part="rocker panel", job="left side")
    step = garage.bench.step_view(1, garage.clock())
    assert (step.joint, step.milestones) == ("asked", ())
    assert codes(step.forecast.reason) == ["joint-asked"]
    text = browser.get("/").text
    assert re.search(r"rocker panel: is it structural\?", text)
    offered = buttons(browser)
    assert ("kind of part", "1/structural") in offered
    assert ("kind of part", "1/body") in offered
    card = Cards(garage.bench).one("rocker panel", "left side", garage.clock(), None)
    assert card is not None
    assert (card.joint, card.structural) == ("asked", True)


def test_one_answer_gives_the_times_and_is_kept_with_the_part(
    garage: Garage, browser: FlaskClient
) -> None:
    garage.mix(ADHESIVE, 10, part="rocker panel", job="left side")
    touched(browser, "kind of part", "1/body")
    assert garage.bench.step_view(1, garage.clock()).milestones
    garage.mix(ADHESIVE, 2, part="Rocker  panel", job="LEFT side")
    assert garage.bench.step_view(2, garage.clock()).joint == "body"
    assert "is it structural?" not in browser.get("/").text
    garage.mix(ADHESIVE, 1, part="rocker panel", job="right side")
    assert garage.bench.step_view(3, garage.clock()).joint == "asked", (
        "another job's part is another"
    )
    garage.mix(ADHESIVE, 1, part="rocker panel")
    assert garage.bench.step_view(4, garage.clock()).joint == "asked", "which of them is not said"


def test_answered_yes_it_follows_the_makers_procedure(garage: Garage, browser: FlaskClient) -> None:
    garage.mix(ADHESIVE, 10, part="seat mount")
    touched(browser, "kind of part", "1/structural")
    step = garage.bench.step_view(1, garage.clock())
    assert (step.joint, step.milestones) == ("structural", ())
    assert codes(step.forecast.reason) == ["joint-structural"]
    assert "is it structural?" not in browser.get("/").text


def test_the_gate_stops_and_asks_without_wanting_a_reason(
    garage: Garage, browser: FlaskClient
) -> None:
    answer = gate_for(garage, "axle bracket")
    check = next(verdict for verdict in answer.checks if verdict.question == "joint")
    assert (answer.verdict, check.verdict, check.asks, answer.structural) == (
        "stop", "stop", True, True,
    )  # fmt: skip
    follows = proposing(browser, ADHESIVE, part="axle bracket")
    assert "No, plain body panel" in json.dumps(follows)
    assert not follows["mix-why"]["open"]
    mixing(browser, ADHESIVE, part="axle bracket", send="body")
    assert "No, plain body panel" not in json.dumps(
        proposing(browser, ADHESIVE, part="axle bracket")
    )
    assert garage.store.steps() == []
    assert not gate_for(garage, "axle bracket").structural


def test_a_mix_in_hand_starts_and_the_bench_asks(garage: Garage, browser: FlaskClient) -> None:
    assert mixing(browser, ADHESIVE, part="tow bar", ago="3")[0] == {}
    assert "tow bar: is it structural?" in browser.get("/").text
    assert garage.bench.step(1).unexplained == ()


def test_a_job_alone_asks_for_its_part(garage: Garage, browser: FlaskClient) -> None:
    garage.mix(ADHESIVE, 10, job="chassis")
    assert "Name its part first" in browser.get("/").text
    check = next(
        verdict for verdict in gate_for(garage, "", "chassis").checks if verdict.question == "joint"
    )
    assert check.change == "name the part, then answer it"


def test_the_commands_ask_and_take_the_answer(run: Run) -> None:
    run("mix", ADHESIVE, "--part", "front jacking point", "--job", "floor", "--ago", "3 min")
    answer = "curewatch part structural 'front jacking point' --job floor, with --not"
    assert answer in run("bench")[1]
    assert "(structural?)" in run("part", "list")[1]
    assert json.loads(run("bench", "--json")[1])["steps"][0]["joint"] == "asked"
    assert json.loads(run("part", "list", "--json")[1])["parts"][0]["kind"] == "asked"
    code, _, _ = run("part", "structural", "front jacking point", "--not", "--job", "floor")
    assert code == 0
    assert "may be structural" not in run("bench")[1]


def test_the_part_s_page_asks_first_and_presses_nothing(
    garage: Garage, browser: FlaskClient
) -> None:
    garage.mix(ADHESIVE, 10, part="door sill")
    text = browser.get("/parts?part=door sill").text
    assert 'aria-pressed="true">Yes' not in text
    assert 'aria-pressed="true">No' not in text
    assert text.index("Is it structural?") < text.index('class="where"')
    parts.mark(garage.store, "door sill", "", "body", now=garage.clock())
    pressed = browser.get("/parts?part=door sill").text.split('aria-pressed="true">')[1]
    assert pressed.startswith("No, plain body panel")


def test_a_part_that_no_word_names_can_still_be_marked(garage: Garage) -> None:
    garage.mix(ADHESIVE, 10, part="bracket")
    assert garage.bench.step_view(1, garage.clock()).milestones
    parts.mark(garage.store, "bracket", "", "structural", now=garage.clock())
    assert garage.bench.step_view(1, garage.clock()).joint == "structural"
