"""A product's label copied in the terminal."""

from __future__ import annotations

import io
import sys
import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from curewatch.commands.main import cli
from curewatch.products.sheet import parse_sheet

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
