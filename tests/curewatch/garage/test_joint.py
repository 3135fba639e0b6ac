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
def held(tmp_path: Path) -> Garage:
    """A garage with nothing on its bench."""
    return open_garage(tmp_path)


@pytest.fixture
def browser(held: Garage) -> FlaskClient:
    """Its pages."""
    return held.app.test_client()


def asked(held: Garage, part: str, job: str = "") -> Gate:
    """The gate for the adhesive on a part."""
    details = Details(part=part, job=job)
    return gate(ask(held.bench, ADHESIVE, held.clock(), details), SAY)


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


def test_until_it_is_answered_no_time_is_given(held: Garage, browser: FlaskClient) -> None:
    held.mix(ADHESIVE, 10, part="rocker panel", job="left side")
    step = held.bench.step_view(1, held.clock())
    assert (step.joint, step.milestones) == ("asked", ())
    assert codes(step.forecast.reason) == ["joint-asked"]
    text = browser.get("/").text
    assert re.search(r"rocker panel: is it structural\?", text)
    offered = buttons(browser)
    assert ("kind of part", "1/structural") in offered
    assert ("kind of part", "1/body") in offered
    card = Cards(held.bench).one("rocker panel", "left side", held.clock(), None)
    assert card is not None
    assert (card.joint, card.structural) == ("asked", True)


def test_one_answer_gives_the_times_and_is_kept_with_the_part(
    held: Garage, browser: FlaskClient
) -> None:
    held.mix(ADHESIVE, 10, part="rocker panel", job="left side")
    touched(browser, "kind of part", "1/body")
    assert held.bench.step_view(1, held.clock()).milestones
    held.mix(ADHESIVE, 2, part="Rocker  panel", job="LEFT side")
    assert held.bench.step_view(2, held.clock()).joint == "body"
    assert "is it structural?" not in browser.get("/").text
    held.mix(ADHESIVE, 1, part="rocker panel", job="right side")
    assert held.bench.step_view(3, held.clock()).joint == "asked", "another job's part is another"
    held.mix(ADHESIVE, 1, part="rocker panel")
    assert held.bench.step_view(4, held.clock()).joint == "asked", "which of them is not said"


def test_answered_yes_it_follows_the_makers_procedure(held: Garage, browser: FlaskClient) -> None:
    held.mix(ADHESIVE, 10, part="seat mount")
    touched(browser, "kind of part", "1/structural")
    step = held.bench.step_view(1, held.clock())
    assert (step.joint, step.milestones) == ("structural", ())
    assert codes(step.forecast.reason) == ["joint-structural"]
    assert "is it structural?" not in browser.get("/").text


def test_the_gate_stops_and_asks_without_wanting_a_reason(
    held: Garage, browser: FlaskClient
) -> None:
    answer = asked(held, "axle bracket")
    check = next(each for each in answer.checks if each.question == "joint")
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
    assert held.store.steps() == []
    assert not asked(held, "axle bracket").structural


def test_a_mix_in_hand_starts_and_the_bench_asks(held: Garage, browser: FlaskClient) -> None:
    assert mixing(browser, ADHESIVE, part="tow bar", ago="3")[0] == {}
    assert "tow bar: is it structural?" in browser.get("/").text
    assert held.bench.step(1).unexplained == ()


def test_a_job_alone_asks_for_its_part(held: Garage, browser: FlaskClient) -> None:
    held.mix(ADHESIVE, 10, job="chassis")
    assert "Name its part first" in browser.get("/").text
    check = next(each for each in asked(held, "", "chassis").checks if each.question == "joint")
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


def test_the_part_s_page_asks_first_and_presses_nothing(held: Garage, browser: FlaskClient) -> None:
    held.mix(ADHESIVE, 10, part="door sill")
    text = browser.get("/parts?part=door sill").text
    assert 'aria-pressed="true">Yes' not in text
    assert 'aria-pressed="true">No' not in text
    assert text.index("Is it structural?") < text.index('class="where"')
    parts.mark(held.store, "door sill", "", "body", now=held.clock())
    pressed = browser.get("/parts?part=door sill").text.split('aria-pressed="true">')[1]
    assert pressed.startswith("No, plain body panel")


def test_a_part_that_no_word_names_can_still_be_marked(held: Garage) -> None:
    held.mix(ADHESIVE, 10, part="bracket")
    assert held.bench.step_view(1, held.clock()).milestones
    parts.mark(held.store, "bracket", "", "structural", now=held.clock())
    assert held.bench.step_view(1, held.clock()).joint == "structural"
