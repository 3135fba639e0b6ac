"""Cans, parts, evening and morning, as they are typed."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from curewatch.commands.before.evening import question_lines
from curewatch.days import day_words
from curewatch.garage.part_history import Part
from curewatch.plan.evening_question import EveningQuestion
from curewatch.wording.words import ReaderFormat
from tests.conftest import Run

PRIMER = "epoxy-primer"


def test_a_can_from_bought_to_used_up(run: Run) -> None:
    code, out, _ = run(
        "can", "add", PRIMER, "--batch", "P-7", "--bought", "2026-01-10", "--expiry", "2099-03",
    )  # fmt: skip
    assert code == 0
    for words in ("Can 1", "P-7", "bought 10 Jan 2026", "expiry 31 Mar 2099"):
        assert words in out.splitlines()[0]
    assert "opened 1 Feb 2026" in run("can", "open", "1", "--on", "2026-02-01")[1]
    assert "hardener H-2" in run("can", "edit", "1", "--hardener-batch", "H-2")[1]
    listed = run("can", "list")[1]
    assert "until 31 Mar 2099 (printed on it)" in listed
    assert "used up" in run("can", "empty", "1")[1]
    (row,) = json.loads(run("can", "list", "--json")[1])
    assert (row["used_up"], row["use_by"], row["opened"]) == (True, "2099-03-31", "2026-02-01")
    assert "back in use" in run("can", "empty", "1", "--not")[1]


@pytest.mark.parametrize(
    ("locale", "setting", "day"),
    [
        ("de_AT.UTF-8", "", "2026-04-03"),
        ("en_US.UTF-8", "", "2026-03-04"),
        ("en_US.UTF-8", 'dates = "dmy"', "2026-04-03"),
        ("C.UTF-8", 'dates = "mdy"', "2026-03-04"),
    ],
)
def test_a_date_is_read_as_the_user_s_country_writes_it(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, locale: str, setting: str, day: str
) -> None:
    monkeypatch.setenv("LC_ALL", locale)
    (tmp_path / "data").mkdir()
    (tmp_path / "data" / "curewatch.toml").write_text(setting)
    text = run("can", "add", PRIMER, "--bought", "03/04/2026")[1]
    (can,) = json.loads(run("can", "list", "--json")[1])
    assert can["bought"] == day
    assert day_words(date.fromisoformat(day)) in text
    assert day_words(date.fromisoformat(day)) in run("log", "--from", "03/04/2026")[1]


def test_a_date_that_can_be_two_is_refused_where_the_country_is_not_known(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("LC_ALL", "C.UTF-8")
    for words in (("can", "add", PRIMER, "--bought"), ("log", "--from")):
        code, _, err = run(*words, "03/04/2026")
        assert (code, "day or the month first" in err) == (2, True)


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("can", "add", "nonsense"), "no product 'nonsense'"),
        (("can", "add", PRIMER, "--bought", "soon"), "'soon' is not a date"),
        (("can", "open", "9"), "there is no can 9"),
        (("can", "edit", "9"), "there is no can 9"),
        (("part", "bare", "rib", "--since", "soon"), "'soon' is not a time of day"),
        (("part", "bare", " "), "the part has no name"),
        (("tonight", "--until", "late"), "'late' is not a time of day"),
    ],
)
def test_what_cannot_be_is_one_sentence_and_nothing_is_kept(
    run: Run, words: tuple[str, ...], sentence: str
) -> None:
    if words[1] == "edit":
        words = (*words, "--batch", "x")
    code, out, err = run(*words)
    assert code == 2
    assert out == ""
    assert sentence in err
    assert "Traceback" not in err
    assert json.loads(run("can", "list", "--json")[1]) == []
    assert json.loads(run("part", "list", "--json")[1])["parts"] == []


def test_a_mix_names_the_batch_of_the_can_in_use(run: Run) -> None:
    run("can", "add", PRIMER, "--batch", "P-7", "--opened", "2026-02-01")
    run("mix", PRIMER, "--part", "rib", "--job", "corner")
    (step,) = json.loads(run("bench", "--json")[1])["steps"]
    assert step["batch"] == "P-7"
    assert "last used" in run("can", "list")[1]


def test_a_part_bare_covered_and_marked(run: Run) -> None:
    text = run("part", "bare", "rib", "--job", "corner", "--grit", "80")[1]
    assert text.startswith("rib: bare since ")
    (row,) = json.loads(run("part", "list", "--json")[1])["parts"]
    assert (row["part"], row["next"], row["grit"]) == ("rib", "cover", "80")
    assert run("part", "bare", "rib", "--still", "--job", "corner")[0] == 0
    run("part", "covered", "RIB", "--job", "Corner")
    (row,) = json.loads(run("part", "list", "--json")[1])["parts"]
    assert row["bare_since"] is None
    run("part", "structural", "rib", "--job", "corner")
    assert "the maker's procedure" in run("part", "list", "--job", "corner")[1]
    run("part", "done", "rib", "--job", "corner")
    assert run("part", "list", "--job", "another")[1].startswith("No part yet")


def test_what_fits_before_the_stopping_time(run: Run) -> None:
    run("tonight", "--until", "23:59")
    run("part", "bare", "rib")
    assert "\nBefore " in run("part", "list")[1]
    data = json.loads(run("part", "list", "--json")[1])
    assert data["stop"] is not None
    assert [part["part"] for part in data["tonight"]] == []


def test_the_evening_s_answer_is_recorded(run: Run) -> None:
    run("part", "bare", "rib")
    assert run("tonight", "--bare", "as-listed")[0] == 0
    assert json.loads(run("bench", "--json")[1])["asks_bare"] is False
    assert run("tonight", "--bare", "none")[0] == 0
    (row,) = json.loads(run("part", "list", "--json")[1])["parts"]
    assert row["bare_since"] is None


def test_bare_parts_of_one_name_are_told_apart_by_their_job() -> None:
    now = datetime(2026, 11, 14, 17, 0, tzinfo=UTC)
    bare = tuple(Part("wing", job, bare_since=now, bare_hours=0.0) for job in ("van", "coupe"))
    lines = list(
        question_lines(EveningQuestion(True, bare, None), now, ReaderFormat(ZoneInfo("UTC")))
    )
    assert [line.split(":")[0].strip() for line in lines[1:3]] == ["wing [van]", "wing [coupe]"]


def test_a_morning_without_anything_says_so(run: Run) -> None:
    assert "The bench was empty" in run("morning")[1]
    data = json.loads(run("morning", "--json")[1])
    assert (data["steps"], data["bare"]) == ([], [])
