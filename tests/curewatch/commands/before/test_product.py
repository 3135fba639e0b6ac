"""A product's label copied in the terminal."""

from __future__ import annotations

import io
import json
import sys
import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from curewatch.commands.main import cli
from curewatch.errors import SheetError, StepError
from curewatch.products.sheet import Sheet, parse_sheet

Run = Callable[..., Result]
EPOXY = ["Grey seam epoxy", "1", "epoxy-amine", "70 F", "4-6 min", "", "4", "", "", "", "24", ""]


@pytest.fixture
def run(tmp_path: Path) -> Run:
    def typed(*words: str, answers: str = "") -> Result:
        env = {"CUREWATCH_DATA": str(tmp_path / "data")}
        return CliRunner().invoke(cli, [*words], input=answers, env=env)

    return typed


def lines(*answers: str) -> str:
    return "".join(f"{answer}\n" for answer in answers)


def test_a_label_is_asked_for_in_plain_questions(run: Run) -> None:
    result = run("product", "new", answers=lines(*EPOXY, "2:1 by volume"))
    assert result.exit_code == 0, result.output
    assert "careful end" in result.output
    sheet = parse_sheet(run("product", "show", "grey-seam-epoxy").output, "shown")
    assert (sheet.kind, sheet.mix_ratio) == ("adhesive", "2:1 by volume")
    assert sheet.reference.temperature_c == pytest.approx(21.111, abs=0.001)  # (70 - 32) / 1.8
    assert sheet.reference.minutes == {"working_time": 4, "clamp_time": 240, "full_cure": 1440}


def test_a_wrong_answer_is_asked_again(run: Run) -> None:
    wrong = [
        "",
        "Putty",
        "9",
        "2",
        "3",
        "warm",
        "21",
        "-",
        "6",
        "",
        "0.05",
        "",
        "2-3 h",
        "",
        "",
        "",
    ]
    result = run("product", "new", answers=lines(*wrong, "35 to 10", "10 to 35", ""))
    assert result.exit_code == 0, result.output
    sheet = parse_sheet(run("product", "show", "putty").output, "shown")
    assert sheet.reference.minutes == {"working_time": 6, "sand_ready": 180}
    assert sheet.limits.temperature_c == (10, 35)


def test_answers_that_end_early_leave_nothing_behind(run: Run) -> None:
    before = run("product", "list", "--json").output
    result = run("product", "new", answers=lines(*EPOXY[:6]))
    assert result.exit_code != 0
    assert "Nothing was saved." in result.output
    assert run("product", "list", "--json").output == before


def test_a_second_product_of_the_same_name_does_not_replace_the_first(run: Run) -> None:
    for _ in range(2):
        assert run("product", "new", answers=lines(*EPOXY, "")).exit_code == 0
    assert run("product", "show", "grey-seam-epoxy-2").exit_code == 0


def test_a_sheet_comes_from_standard_input_and_goes_out_as_one(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    shown = run("product", "show", "epoxy-panel-adhesive").output
    own = shown.replace("Two-part epoxy panel adhesive (generic)", "My epoxy")
    assert run("product", "check", "-", answers=own).exit_code == 0
    assert run("product", "add", "-", answers=own).exit_code == 0
    again = run("product", "show", "my-epoxy").output
    assert tomllib.loads(again) == tomllib.loads(own)
    monkeypatch.setattr(sys, "stdin", io.StringIO(""))
    assert run("product", "add", "-", answers="name = 3").exit_code != 0


def test_a_label_is_mended_in_the_editor_until_it_is_right(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert run("product", "new", answers=lines(*EPOXY, "")).exit_code == 0
    script = tmp_path / "editor.sh"
    mend, harm = """sed -i 's/broken/9 min/' "$1\"""", """sed -i 's/4 min/broken/' "$1\""""
    script.write_text(f'#!/bin/sh\ngrep -q broken "$1" && {mend} || {harm}\n')
    script.chmod(0o755)
    monkeypatch.setenv("VISUAL", str(script))
    result = run("product", "edit", "grey-seam-epoxy", answers="y\n")
    assert result.exit_code == 0, result.output
    sheet = parse_sheet(run("product", "show", "grey-seam-epoxy").output, "shown")
    assert sheet.reference.minutes["working_time"] == 9


def test_a_label_that_stays_wrong_changes_nothing(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert run("product", "new", answers=lines(*EPOXY, "")).exit_code == 0
    before = run("product", "show", "grey-seam-epoxy").output
    monkeypatch.setenv("VISUAL", "sed -i s/4.min/broken/")
    result = run("product", "edit", "grey-seam-epoxy", answers="n\n")
    assert "Nothing was changed." in result.output
    assert run("product", "show", "grey-seam-epoxy").output == before


def kept(run: Run, id: str = "grey-seam-epoxy") -> Sheet:
    return parse_sheet(run("product", "show", id).output, "shown")


def label_minutes(run: Run) -> list[float]:
    (step,) = json.loads(run("bench", "--json").output)["steps"]
    return [milestone["label_min"] for milestone in step["milestones"]]


def test_single_values_are_changed_without_an_editor(run: Run) -> None:
    assert run("product", "new", answers=lines(*EPOXY, "2:1 by volume")).exit_code == 0
    values = ["times.1.working_time=5 min", 'limits.temperature=["50 F", "35 C"]']
    rows = ["times.2.temperature=10 C", "times.2.clamp_time=9 h", "mix_ratio="]
    given = [part for value in (*values, *rows) for part in ("--set", value)]
    result = run("product", "edit", "grey-seam-epoxy", *given)
    assert result.exit_code == 0, result.output
    sheet = kept(run)
    assert [row.minutes.get("working_time") for row in sheet.times] == [5, None]
    assert sheet.times[1].minutes == {"clamp_time": 540}
    assert (sheet.limits.temperature_c, sheet.mix_ratio) == ((10, 35), "")
    assert run("product", "edit", "grey-seam-epoxy", "--set", "limits.temperature.1=12 C")
    assert kept(run).limits.temperature_c == (12, 35)
    assert run("undo").exit_code == 0
    assert kept(run).limits.temperature_c == (10, 35)


@pytest.mark.parametrize(
    ("assignment", "names"),
    [
        ("limits.min_temperature=12 C", "min_temperature"),
        ("times.1.working_time=5", "working_time"),
        ("times.4.working_time=5 min", "times.4.working_time"),
        ("name.first=5 min", "name.first"),
        ("name=", "name"),
        ("mix_ratio", "KEY=VALUE"),
        ("limits.temperature=[", "limits.temperature"),
    ],
)
def test_a_value_that_does_not_fit_the_label_changes_nothing(
    run: Run, assignment: str, names: str
) -> None:
    assert run("product", "new", answers=lines(*EPOXY, "")).exit_code == 0
    before = run("product", "show", "grey-seam-epoxy").output
    result = run("product", "edit", "grey-seam-epoxy", "--set", assignment)
    assert isinstance(result.exception, SheetError)
    assert names in str(result.exception)
    assert run("product", "show", "grey-seam-epoxy").output == before


def test_a_removed_product_leaves_its_steps_their_times(run: Run) -> None:
    assert run("product", "new", answers=lines(*EPOXY, "")).exit_code == 0
    assert run("can", "add", "grey-seam-epoxy").exit_code == 0
    assert run("mix", "grey-seam-epoxy", "--acknowledge").exit_code == 0
    before = label_minutes(run)
    result = run("product", "remove", "grey-seam-epoxy")
    assert result.exit_code == 0
    for named in ("step 1", "Can 1"):
        assert named in result.output
    assert label_minutes(run) == before
    assert "grey-seam-epoxy" not in run("product", "list").output
    assert run("mix", "grey-seam-epoxy").exit_code != 0
    assert "Product removed: Grey seam epoxy" in run("undo").output
    assert kept(run).name == "Grey seam epoxy"


def test_a_product_that_is_not_one_s_own_stays(run: Run) -> None:
    for product in ("epoxy-primer", "none"):
        assert isinstance(run("product", "remove", product).exception, StepError)
    assert run("product", "edit", "epoxy-primer", "--set", "film=61 um").exit_code == 0
    assert "generic" in run("product", "remove", "epoxy-primer").output
    assert kept(run, "epoxy-primer").film_um != 61
