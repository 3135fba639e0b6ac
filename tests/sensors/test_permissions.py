"""The command's tree: what stands at the top, and what holds for every command of it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.conftest import Run

ADHESIVE = "epoxy-panel-adhesive"


def test_curewatch_alone_shows_the_bench(run: Run) -> None:
    run("mix", ADHESIVE)
    code, out, err = run()
    assert (code, err) == (0, "")
    assert "Bench at" in out
    assert "Step 1" in out


@pytest.mark.parametrize(
    "words", [("--json", "bench"), ("bench", "--json"), ("--json",)], ids=" ".join
)
def test_json_may_be_asked_for_before_the_command_and_behind_it(
    run: Run, words: tuple[str, ...]
) -> None:
    assert json.loads(run(*words)[1])["steps"] == []


def test_a_command_that_prints_no_json_says_so(run: Run) -> None:
    run("mix", ADHESIVE)
    code, out, err = run("--json", "step", "note", "1", "thin")
    assert (code, out) == (2, "")
    assert "prints no JSON" in err
    assert "curewatch step note --help" in err


@pytest.mark.parametrize("place", range(3))
def test_the_data_folder_may_be_named_before_the_command_and_behind_it(
    run: Run, tmp_path: Path, place: int
) -> None:
    words = ["data", "path"]
    words[place:place] = ["--data", str(tmp_path / "other")]
    assert run(*words)[1] == f"{tmp_path / 'other'}\n"


@pytest.mark.parametrize(
    "words", [("-V",), ("bench", "-V"), ("step", "--version"), ("step", "note", "-V")]
)
def test_the_version_is_shown_wherever_it_is_asked_for(run: Run, words: tuple[str, ...]) -> None:
    code, out, _ = run(*words)
    assert (code, out.split()[0]) == (0, "curewatch")


def test_data_path_says_where_the_data_are(run: Run, tmp_path: Path) -> None:
    data = json.loads(run("data", "path", "--json")[1])
    assert Path(data["logbook"]).parent == Path(data["folder"])


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("step", "note"), "see: curewatch step note --help."),
        (("step", "nothing"), "see: curewatch step --help."),
        (("bnch",), "did you mean bench? See: curewatch --help."),
        (("mix", ADHESIVE, "--amount", "60"), "'--amount': '60' has no unit"),
        (("mix", ADHESIVE, "--amount", "60"), "see: curewatch mix --help."),
        (("can", "add", ADHESIVE, "--bought", "soon"), "'--bought'"),
    ],
)
def test_a_usage_error_names_the_option_and_the_help_of_its_command(
    run: Run, words: tuple[str, ...], says: str
) -> None:
    code, out, err = run(*words)
    assert (code, out, err.count("\n")) == (2, "", 1)
    assert says in err


@pytest.mark.parametrize("celsius", ["20 C", "12 C", "2 C"])
def test_the_exit_code_of_a_check_is_its_answer(run: Run, celsius: str) -> None:
    run("reading", "add", "--surface", celsius, "--air", celsius, "--humidity", "40 %")
    code, out, _ = run("check", ADHESIVE, "--json")
    assert code == {"go": 0, "caution": 10, "stop": 20}[json.loads(out)["verdict"]]
    assert (code == 20) == (celsius == "2 C")


def test_a_rehearsal_too_long_is_a_stop_and_one_that_is_close_a_caution(run: Run) -> None:
    run("reading", "add", "--surface", "21 C", "--air", "21 C", "--humidity", "50 %")
    for took, text, code in (("3 h", "STOP", 20), ("5 min", "GO", 0)):
        exit, out, _ = run("check", ADHESIVE, "--rehearse", "--took", took)
        assert (exit, out.partition(":")[0]) == (code, text)


def test_tonight_says_until_when_and_what_to_enter(run: Run) -> None:
    assert "not entered" in run("tonight")[1]
    assert run("tonight", "--until", "23:59")[1].startswith("Working until")
    assert run("tonight")[1].startswith("Working until")


def test_a_step_that_failed_is_off_the_bench_with_its_reason(run: Run) -> None:
    run("mix", ADHESIVE)
    assert run("done", "1", "--failed", "went off in the cup")[0] == 0
    assert "Step 1" not in run("bench")[1]
    assert "went off in the cup" in run("step", "show", "1", "--history")[1]


def test_python_runs_the_package_as_the_command(tmp_path: Path) -> None:
    completed = subprocess.run(
        [sys.executable, "-m", "curewatch", "data", "path", "--data", str(tmp_path)],
        capture_output=True,
        text=True,
    )
    assert completed.stdout == f"{tmp_path}\n"


def test_what_product_show_prints_is_a_product_s_file(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "copied.toml"
    file.write_text(run("product", "show", "solvent-primer-1k")[1], encoding="utf-8")
    assert run("product", "check", str(file))[0] == 0
    assert run("product", "add", str(file))[0] == 0


def completed(data: Path, *words: str) -> list[str]:
    """What the shell is offered for the last word."""
    completed = subprocess.run(
        [sys.executable, "-c", "from curewatch.commands.main import main; main()"],
        capture_output=True,
        text=True,
        env={
            **os.environ,
            "_CUREWATCH_COMPLETE": "bash_complete",
            "COMP_WORDS": " ".join(["curewatch", *words]),
            "COMP_CWORD": str(len(words)),
            "CUREWATCH_DATA": str(data),
        },
    )
    assert completed.stderr == ""
    return [line.partition(",")[2] for line in completed.stdout.splitlines()]


@pytest.mark.parametrize(
    ("words", "first"),
    [
        (("ch",), "check"),
        (("step", "ack"), "acknowledge"),
        (("mix", "epoxy-pa"), "epoxy-panel-adhesive"),
        (("dab", "1", "ta"), "tacky"),
        (("test", "1", "still"), "still-works"),
    ],
)
def test_the_shell_completes_commands_and_values(
    tmp_path: Path, words: tuple[str, ...], first: str
) -> None:
    assert completed(tmp_path / "data", *words)[:1] == [first]
    assert not (tmp_path / "data").exists()


def test_the_shell_completes_the_numbers_of_open_steps(run: Run, tmp_path: Path) -> None:
    run("mix", ADHESIVE)
    run("mix", ADHESIVE)
    run("done", "1", "--failed", "slipped")
    assert completed(tmp_path / "data", "step", "note", "") == ["2"]


def test_the_shell_completes_the_numbers_of_cans_in_use(run: Run, tmp_path: Path) -> None:
    run("can", "add", ADHESIVE)
    run("can", "add", ADHESIVE)
    run("can", "empty", "1")
    assert completed(tmp_path / "data", "can", "open", "") == ["2"]


@pytest.mark.parametrize("name", ["left\nrib", "left\x1b[2Jrib", "left\trib"])
def test_a_name_with_a_line_break_or_control_character_is_refused(run: Run, name: str) -> None:
    for words in (("mix", ADHESIVE, "--part", name), ("part", "bare", name)):
        code, out, err = run(*words)
        assert (code, out, err.count("\n")) == (2, "", 1)
        assert "control character" in err


def test_the_bench_is_shown_anew_until_ctrl_c(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    seconds: list[float] = []

    def sleep(length_s: float) -> None:
        seconds.append(length_s)
        if len(seconds) == 3:
            raise KeyboardInterrupt

    monkeypatch.setattr("curewatch.commands.curing.bench.time.sleep", sleep)
    assert "needs a terminal" in run("bench", "--watch")[2]
    monkeypatch.setattr("sys.stdout.isatty", lambda: True)
    code, out, err = run("bench", "--watch")
    assert (code, err, out.count("Bench at")) == (0, "", 3)
