"""What a product contains comes from its chemistry, unless its sheet denies it in so many words."""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from flask.testing import FlaskClient

from curewatch.bench.bench import Details, check_mix
from curewatch.bench.reminders import cautions, occasions
from curewatch.bench.spraying import check_start
from curewatch.errors import StepError
from curewatch.garage.shelf import shelf
from curewatch.gate.gate import gate
from curewatch.gate.gather import ask
from curewatch.products.chemistries import CHEMISTRIES
from curewatch.products.hazards import HAZARDS
from curewatch.products.sheet import Sheet, generic_sheets, parse_sheet
from curewatch.store.migrations import unticked
from curewatch.store.store import Store
from curewatch.wording.words import ReaderFormat
from tests.conftest import Run
from tests.support.older_logbooks import rewind
from tests.support.pages import EVENING, Garage, open_garage

SILENT = """
name = "My {kind}"
kind = "{kind}"
chemistry = "{chemistry}"
[[times]]
temperature = "20 C"
working_time = "30 min"
sand_ready = "5 h"
"""
FORM = {
    "times.0.temperature": "21 C",
    "times.0.working_time": "20 min",
    "times.0.sand_ready": "3 h",
}
OLD_FORM = (
    "\n[hazards]\nisocyanate = false\nstyrene = true\nperoxide = false\n"
    "flammable_solvent = false\nsensitiser = false\ndust = false\n"
)


def own(chemistry: str, kind: str = "primer", more: str = "") -> Sheet:
    """A sheet of one's own that says nothing of what it contains, but for `more`."""
    return parse_sheet(SILENT.format(chemistry=chemistry, kind=kind) + more, "mine")


def keys(sheet: Sheet) -> set[str]:
    """The reminders before a mix."""
    return {caution.key for caution in cautions(sheet)}


@pytest.fixture
def garage(tmp_path: Path) -> Garage:
    """A garage with nothing on its bench."""
    return open_garage(tmp_path)


@pytest.fixture
def browser(garage: Garage) -> FlaskClient:
    """Its pages."""
    return garage.app.test_client()


def send(browser: FlaskClient, path: str, **fields: str) -> tuple[int, str]:
    """A form as sent: the code of the answer and its text."""
    answer = browser.post(path, data=fields, headers={"Origin": "http://localhost"})
    return answer.status_code, answer.text


@pytest.mark.parametrize("chemistry", CHEMISTRIES)
def test_a_silent_sheet_is_taken_as_the_worst_of_its_chemistry(chemistry: str) -> None:
    hazards = own(chemistry).hazards
    assert set(hazards.contained) == set(CHEMISTRIES[chemistry].can_contain) == set(hazards.assumed)
    assert hazards.denied == ()


@pytest.mark.parametrize("chemistry", CHEMISTRIES)
def test_each_is_denied_only_in_so_many_words(chemistry: str) -> None:
    for name in CHEMISTRIES[chemistry].can_contain:
        hazards = own(chemistry, more=f"[hazards]\n{name} = false\n").hazards
        assert (getattr(hazards, name), hazards.denied) == (False, (name,))
        assert set(hazards.assumed) == set(CHEMISTRIES[chemistry].can_contain) - {name}
        entered = own(chemistry, more=f"[hazards]\n{name} = true\n").hazards
        assert getattr(entered, name)
        assert name not in entered.assumed


def test_a_silent_two_part_urethane_is_held_until_it_is_said_how_it_is_applied() -> None:
    silent = own("urethane-2k")
    assert "air-fed" in keys(silent)
    with pytest.raises(StepError, match="isocyanate"):
        check_start(silent, "", [])
    check_start(own("urethane-2k", more="[hazards]\nisocyanate = false\n"), "", [])


def test_a_silent_polyester_filler_keeps_its_respirator_flame_and_dust() -> None:
    filler = own("polyester-peroxide", "filler")
    assert keys(filler) >= {"respirator", "ignition", "peroxide", "dust", "gloves", "leftovers"}
    assert {caution.key for caution in occasions(filler)} >= {"ventilation:wet", "dust:sanding"}


@pytest.mark.parametrize("sheet", generic_sheets().values(), ids=list(generic_sheets()))
def test_a_generic_sheet_leaves_nothing_unsaid(sheet: Sheet) -> None:
    assert sheet.hazards.assumed == ()


def test_the_commands_say_what_was_assumed_and_how_to_deny_it(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "mine.toml"
    file.write_text(SILENT.format(chemistry="urethane-2k", kind="primer"), encoding="utf-8")
    for words in (("product", "check", str(file)), ("product", "add", str(file)),
                  ("product", "show", "mine")):  # fmt: skip
        code, out, _ = run(*words)
        assert code == 0
        assert "does not say whether it contains isocyanate, flammable solvent" in out
        assert "safety data sheet" in out
    shown = json.loads(run("product", "show", "mine", "--json")[1])
    assert (
        shown["assumed"]
        == shown["contains"]
        == list(name for name in HAZARDS if name in CHEMISTRIES["urethane-2k"].can_contain)
    )
    file.write_text(file.read_text("utf-8") + "[hazards]\nisocyanate = false\n"
                    "flammable_solvent = true\nsensitiser = true\ndust = true\n",
                    encoding="utf-8")  # fmt: skip
    assert "does not say" not in run("product", "check", str(file))[1]


def test_the_gate_and_the_pages_say_so_too(garage: Garage, browser: FlaskClient) -> None:
    text = SILENT.format(chemistry="moisture-urethane", kind="sealer")
    garage.store.save_sheet("mine", text, EVENING)
    answer = gate(
        ask(garage.bench, "mine", EVENING, Details()), ReaderFormat(ZoneInfo("Europe/Berlin"))
    )
    check = next(verdict for verdict in answer.checks if verdict.question == "contents")
    assert (check.verdict, "isocyanate" in check.words) == ("caution", True)
    for path in ("/shelf/mine", "/mix/mine"):
        assert "does not say whether it contains isocyanate" in browser.get(path).text
    assert "does not say" not in browser.get("/mix/seam-sealer").text


@pytest.mark.parametrize(
    ("chemistry", "says", "not_this"),
    [
        ("polyester-peroxide", "range is not entered", "never varied"),
        ("epoxy-amine", "never varied", "not entered"),
        ("solvent-1k", "", "hardener"),
    ],
)
def test_the_words_on_more_hardener_fit_the_chemistry(
    garage: Garage, browser: FlaskClient, chemistry: str, says: str, not_this: str
) -> None:
    garage.store.save_sheet("mine", SILENT.format(chemistry=chemistry, kind="filler"), EVENING)
    text = browser.get("/shelf/mine").text.split("<h2>Limits</h2>")[1].split("</section>")[0]
    assert says in text
    assert not_this not in text
    assert "does not help here" not in text


def test_a_share_of_hardener_without_a_range_is_refused_for_the_right_reason() -> None:
    dose = Details(hardener_pct=2.0)
    with pytest.raises(StepError, match="range of My filler is not entered"):
        check_mix(own("polyester-peroxide", "filler"), dose)
    with pytest.raises(StepError, match="may not be varied"):
        check_mix(own("epoxy-amine", "filler"), dose)
    with pytest.raises(StepError, match="is one-part"):
        check_mix(own("solvent-1k"), dose)


def test_a_box_left_empty_in_the_old_form_is_no_denial(tmp_path: Path) -> None:
    text = SILENT.format(chemistry="polyester-peroxide", kind="filler")
    path = tmp_path / "curewatch.sqlite"
    Store(path).save_sheet("mine", text + OLD_FORM, EVENING)
    Store(path).save_sheet("said", text + "[hazards]\ndust = false\n", EVENING)
    with sqlite3.connect(path) as db:
        rewind(db, unticked.migrate)
    sheets = shelf(Store(path))
    assert sheets["mine"].hazards.denied == ()
    assert set(sheets["mine"].hazards.contained) == set(
        CHEMISTRIES["polyester-peroxide"].can_contain
    )
    assert sheets["said"].hazards.denied == ("dust",)
    assert unticked.without("no [ toml") == "no [ toml"
