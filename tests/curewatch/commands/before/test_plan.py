"""A part backwards from a wish, as it is typed."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from freezegun import freeze_time

from curewatch.bench.bench import Bench
from curewatch.store.store import Store
from tests.conftest import Run
from tests.curewatch.commands.before.test_mix_by import EPOXY, NOW, garage
from tests.support.wishes import promised

WEEK = ("plan", "hours", "Mon-Fri 18:00-22:30, Sat-Sun 9-22")
CORNER = ("plan", "way", "rear corner", "bond-a-patch")
SHOW = ("plan", "show", "rear corner")


@pytest.fixture(autouse=True)
def _a_saturday_evening(tmp_path: Path) -> Iterator[None]:
    with freeze_time(NOW):
        garage(tmp_path)
        yield


def test_with_nothing_entered_it_asks_two_things_one_after_the_other(run: Run) -> None:
    assert "when are you there?" in run(*SHOW)[2]
    run(*WEEK)
    assert "how is rear corner worked on?" in run(*SHOW)[2]
    run(*CORNER)
    code, out, _ = run(*SHOW)
    assert code == 0
    assert "9 in 10" in out


def test_a_wish_gets_its_evening_the_next_step_and_what_would_help(run: Run) -> None:
    run(*WEEK, "--loud-until", "20:00")
    run(*CORNER)
    assert (
        "primed by Thu 22:00"
        in run("plan", "wish", "rear corner", "primed", "--by", "Thu 22:00")[1]
    )
    (answer,) = json.loads(run("plan", "show", "--json")[1])
    tenths = [evening["tenths"] for evening in answer["evenings"]]
    assert tenths == sorted(tenths, reverse=True)
    assert max(tenths) == 9
    assert answer["begin_by"] is not None
    assert answer["next"]["does"] == answer["left"][0]
    assert answer["held_up_by"]["hours"] > 0
    out = run("plan", "show")[1]
    for words in ("Primed by Thu 22:00: begin by", "9 in 10", "Left to do", "no reminder comes"):
        assert words in out
    run("plan", "wish", "rear corner", "--drop")
    assert run("plan", "show")[1].startswith("No wish yet")


def test_what_is_done_is_behind_and_what_cures_is_waited_for(run: Run) -> None:
    run(*WEEK)
    run(*CORNER)
    run("mix", EPOXY, "--part", "rear corner")
    (answer,) = json.loads(run(*SHOW, "--json")[1])
    assert answer["left"][0] == "clamps off, grind the edge"
    assert answer["next"]["from"] > "2026-11-14T20:00:00Z"


def test_a_day_may_be_otherwise(run: Run) -> None:
    run(*WEEK)
    out = run("plan", "hours", "--not", "Tue")[1]
    assert "17 Nov 2026: not there" in out
    assert "15 Nov 2026: 10:00 to 12:00" in run("plan", "hours", "--on", "Sun", "10-12")[1]
    run(*CORNER)
    (answer,) = json.loads(run(*SHOW, "--json")[1])
    assert "2026-11-17T18:00:00Z" not in [evening["from"] for evening in answer["evenings"]]


def test_a_way_of_one_s_own_is_a_file(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "my-way.toml"
    file.write_text(
        'name = "Seal a seam"\n[[steps]]\ndoes = "seal"\nkind = "sealer"\nhands = "20 min"\n'
        'waits_for = "recoat_opens"\nthen = "sealed"\n'
    )
    assert "Seal a seam" in run("plan", "way", "roof seam", str(file))[1]
    run(*WEEK)
    assert "Sealed" in run("plan", "show", "roof seam", "--end", "sealed")[1]


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("plan", "hours", "whenever"), "names no day"),
        (("plan", "hours", "--loud-until", "20:00"), "the week is missing"),
        (("plan", "hours", "--not", "Tue"), "usual week is not entered"),
        (("plan", "way", "rear corner", "knit"), "use bond-a-patch"),
        (("plan", "way", "rear corner"), "no way of work yet"),
        (("plan", "way", " ", "bond-a-patch"), "has no name"),
        (("plan", "wish", "rear corner", "primed"), "no way of work yet"),
        (("plan", "show", "seat belt bracket"), "procedure"),
        (("plan", "begun", "seat belt bracket"), "procedure"),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(
    run: Run, words: tuple[str, ...], sentence: str
) -> None:
    code, _, err = run(*words)
    assert code == 2
    assert sentence in err
    assert "Traceback" not in err


def test_a_wish_too_far_ahead_or_that_the_way_does_not_have_is_refused(run: Run) -> None:
    run(*WEEK)
    run(*CORNER)
    assert "within the coming seven days" in run(*SHOW, "--by", "30 Nov 2026 12:00")[2]
    assert "does not end in 'painted'" in run("plan", "wish", "rear corner", "painted")[2]


def test_all_wishes_are_planned_together_for_a_person_a_program_and_a_calendar(
    run: Run, tmp_path: Path
) -> None:
    assert run("plan", "week")[0] == 2
    run(*WEEK, "--clamps", "8")
    assert "No wish yet" in run("plan", "week")[1]
    run("plan", "way", "bonnet; left", "prime-bare-metal")
    run("plan", "wish", "bonnet; left", "primed", "--by", "Thu 22:00")
    out = run("plan", "week")[1]
    assert "Undo with" not in out
    for words in ("bonnet; left: primed by Thu 22:00, ", "in 10", "to", "no reminder comes"):
        assert words in out
    answer = json.loads(run("plan", "week", "--json")[1])
    assert [part["part"] for part in answer["parts"]] == ["bonnet; left"]
    assert 0 <= answer["parts"][0]["tenths"] <= 9
    file = tmp_path / "plan.ics"
    assert "The plan is in" in run("plan", "week", "--ics", str(file))[1]
    assert b"bonnet\\; left" in file.read_bytes()


def held_up(text: str) -> str:
    """What a plan says takes the most time."""
    return " ".join(line for line in text.splitlines() if "eld up most by" in line)


def test_a_plan_reminds_once_it_is_asked_to_until_it_is_told_not_to(
    run: Run, tmp_path: Path
) -> None:
    run(*WEEK)
    assert "nothing is planned" in run("plan", "remind")[2]
    run("plan", "way", "bonnet", "prime-bare-metal")
    run("plan", "wish", "bonnet", "primed", "--by", "Thu 22:00")
    assert "no reminder comes" in run("plan", "week")[1]
    out = run("plan", "remind")[1]
    assert "bonnet: clean to bare metal, degrease; begin " in out
    assert "Undo with" in out
    assert "You are reminded of when to begin" in run("plan", "week")[1]
    assert "You are reminded of when to begin" in run("plan", "show", "bonnet")[1]
    assert "bonnet: clean to bare metal, degrease; begin " in run("bench")[1]
    (first, second) = json.loads(run("bench", "--json")[1])["plan"]
    assert (first["does"], second["does"]) == ("clean to bare metal, degrease", "prime")
    file = tmp_path / "bench.ics"
    run("bench", "--ics", str(file))
    assert file.read_bytes().count(b"BEGIN:VALARM") == 2
    assert "bonnet: begun, clean to bare metal" in run("plan", "begun", "bonnet")[1]
    assert "begun with its mix" in run("plan", "begun", "bonnet")[2]
    assert "cur" not in held_up(run("plan", "week")[1]), "metal that is cleaned does not cure"
    assert "cur" not in held_up(run("plan", "show", "bonnet")[1])
    assert len(json.loads(run("bench", "--json")[1])["plan"]) == 1
    run("plan", "way", "tailgate", "prime-bare-metal")
    run("plan", "wish", "tailgate", "primed", "--by", "Thu 22:00")
    assert "You are reminded of when to begin" in run("plan", "show", "bonnet")[1]
    assert "no reminder comes" in run("plan", "show", "tailgate")[1], "it was wished afterwards"
    assert "no reminder comes" in run("plan", "week")[1], "not of all its parts"
    otherwise = run("plan", "show", "bonnet", "--by", "Sat 12:00")[1]
    assert "no reminder comes" in otherwise, "what is asked for one answer reminds of nothing"
    run("plan", "remind", "--off")
    assert json.loads(run("bench", "--json")[1])["plan"] == []
    assert "no plan reminds you" in run("plan", "remind", "--off")[2]


def test_the_plan_says_how_often_its_promises_held(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("tests.support.wishes.NOW", NOW)
    with closing(Store(tmp_path / "data" / "curewatch.sqlite")) as store:
        promised(Bench(store), 9, made=10, held=8)
    run(*WEEK)
    run("plan", "way", "bonnet", "prime-bare-metal")
    run("plan", "wish", "bonnet", "primed", "--by", "Thu 22:00")
    assert "Your 9 in 10 held 8 of 10." in run("plan", "week")[1]
