"""The command as typed in a terminal."""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from curewatch.commands import main
from curewatch.commands.tree import TREE
from curewatch.products.sheet import generic_sheets
from sensors.broker.process import EmbeddedBroker
from tests.support.brokers import free_port, publish

ADHESIVE = "epoxy-panel-adhesive"


@dataclass(frozen=True)
class Said:
    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        return json.loads(self.out)


Run = Callable[..., Said]


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    monkeypatch.setenv("CUREWATCH_DATA", str(tmp_path / "data"))
    monkeypatch.setenv("TZ", "Europe/Berlin")

    def typed(*words: str) -> Said:
        monkeypatch.setattr(sys, "argv", ["curewatch", *words])
        code = main.main()
        capture_result = capsys.readouterr()
        return Said(code, capture_result.out, capture_result.err)

    return typed


def refused(output: Said) -> str:
    """The one sentence on stderr of a refused command."""
    assert output.code == 2
    assert output.out == ""
    assert output.err.startswith("curewatch: ")
    assert output.err.count("\n") == 1
    assert "Traceback" not in output.err
    return output.err


def test_an_evening_from_the_terminal(run: Run) -> None:
    typed = run("reading", "add", "--surface", "57.2 F", "--air", "15 C", "--humidity", "68 %")
    assert (typed.code, typed.err) == (0, "")
    mixed = run("mix", ADHESIVE, "--ago", "3 min", "--acknowledge", "--json").json
    assert mixed["step"] == 1
    assert mixed["milestones"][0]["early"]
    run("step", "edit", "1", "--part", "lower corner patch", "--amount", "60 g")
    run("dab", "1", "workable")
    bench = run("bench", "--json").json
    assert bench["steps"][0]["part"] == "lower corner patch"
    assert [witness["state"] for witness in bench["steps"][0]["witnesses"]] == ["workable"]
    surface = next(tile for tile in bench["air"] if tile["quantity"] == "surface_temperature")
    assert surface["value"] == pytest.approx(14.0)
    plain = run("bench").out
    for word in ("lower corner patch", "early", "likely", "late", "label", "14.0 °C"):
        assert word in plain
    assert run("test", "1", "gone-off", "--milestone", "working_time", "--yes").code == 0
    assert run("step", "note", "1", "clamps every 40 mm").code == 0
    assert run("done", "1", "--yes").code == 0
    assert "lower corner patch" in run("log").out
    assert run("log", "--format", "csv").out.startswith("step,job,part")
    assert run("log", "--json").json["steps"][0]["state"] == "finished"
    assert "panel" in run("sensor", "list").out


def test_no_reading_at_all_still_runs_and_says_what_it_assumes(run: Run) -> None:
    run("mix", ADHESIVE)
    assert "assume" in run("bench").out


def test_the_shelf_lists_shows_checks_and_keeps_sheets(run: Run, tmp_path: Path) -> None:
    assert len(run("product", "list", "--json").json) == len(generic_sheets()) == 11
    own = tmp_path / "my-filler.toml"
    own.write_text(generic_sheets()["finishing-polyester-filler"].text)
    assert "nothing wrong" in run("product", "check", str(own)).out
    assert "my-filler" in run("product", "add", str(own)).out
    cold = tmp_path / "cold.toml"
    row = '[[times]]\ntemperature = "2 C"\nsand_ready = "1 min"\n\n[limits]'
    cold.write_text(own.read_text(encoding="utf-8").replace("[limits]", row), encoding="utf-8")
    for command in (("product", "check"), ("product", "add"), ("estimate",)):
        assert "is faster than" in refused(run(*command, str(cold)))
    shown = run("product", "show", "my-filler").out
    assert "[[times]]" in shown
    assert "no dab check" in shown.lower()
    assert run("mix", "my-filler", "--hardener", "2 %").code == 0


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("mix", "no-such-sheet"), "there is no product 'no-such-sheet'"),
        (("mix", ADHESIVE, "--amount", "0 g"), "cannot be mixed"),
        (("mix", ADHESIVE, "--amount", "60"), "has no unit"),
        (("mix", ADHESIVE, "--ago", "-5 min"), "is in the future"),
        (("mix", ADHESIVE, "--ago", "8 days"), "more than a week ago"),
        (("mix", ADHESIVE, "--hardener", "3 %"), "may not be varied"),
        (("dab", "7", "tacky"), "there is no step 7"),
        (("done", "7"), "there is no step 7"),
        (("done", "7", "--failed", "slipped"), "there is no step 7"),
        (("test", "7", "reached"), "there is no step 7"),
        (("reading", "add", "--surface", "14"), "no unit"),
        (("reading", "add", "--humidity", "140 %"), "outside 0..100 %"),
        (("reading", "add", "--place", "no such/place", "--air", "14 C"), "not a name for a place"),
        (
            (
                "reading",
                "add",
            ),
            "no reading was typed",
        ),
        (("product", "check", "/nowhere/x.toml"), "cannot be read"),
        (("estimate", ADHESIVE), "--temperature or --conditions"),
        (("estimate", ADHESIVE, "--temperature", "500 C"), "outside"),
        (("nonsense",), "nonsense"),
        (("bench", "--colour"), "--colour"),
    ],
)
def test_what_cannot_be_done_is_one_sentence(run: Run, words: tuple[str, ...], says: str) -> None:
    assert says in refused(run(*words))


def test_a_data_folder_that_cannot_be_written(run: Run, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    assert "cannot be opened" in refused(run("bench", "--data", str(tmp_path / "file" / "data")))


def test_a_wrong_setting_names_its_key(run: Run, tmp_path: Path) -> None:
    (tmp_path / "data").mkdir()
    (tmp_path / "data" / "curewatch.toml").write_text("prot = 8050\n")
    assert "prot" in refused(run("bench"))


@pytest.mark.parametrize("command", [*TREE, ""])
def test_every_help_reads_for_its_user(run: Run, command: str) -> None:
    output = run(*command.split(), "--help")
    assert output.code == 0
    assert len(output.out) > 60
    assert "desktop" not in output.out.lower()


def test_estimate_prints_what_scripts_rely_on(run: Run) -> None:
    data = run("estimate", ADHESIVE, "--temperature", "21 C", "--json").json
    clamp = next(
        milestone for milestone in data["milestones"] if milestone["milestone"] == "clamp_time"
    )
    assert set(clamp) >= {"milestone", "early_min", "likely_min", "late_min", "warnings"}
    assert clamp["likely_min"] == pytest.approx(240, rel=0.03)
    assert clamp["early_min"] < clamp["likely_min"] < clamp["late_min"]


def test_what_if_stands_beside_now(run: Run) -> None:
    data = run(
        "estimate", ADHESIVE, "--temperature", "12 C", "--what-if", "panel 25 C", "--json"
    ).json
    now, then = (
        {milestone["milestone"]: milestone["likely_min"] for milestone in part["milestones"]}
        for part in (data, data["what_if"])
    )
    assert then["clamp_time"] < now["clamp_time"]
    plain = run("estimate", ADHESIVE, "--temperature", "12 C", "--what-if", "panel 25 C").out
    assert "what if" in plain


def test_estimate_takes_a_log_of_conditions(run: Run, tmp_path: Path) -> None:
    log = tmp_path / "log.csv"
    rows = [f"2026-10-17T{18 + i // 60:02d}:{i % 60:02d}:00Z,21.0" for i in range(0, 360, 5)]
    log.write_text("time,temperature_c\n" + "\n".join(rows) + "\n")
    data = run("estimate", ADHESIVE, "--conditions", str(log), "--json").json
    clamp = next(
        milestone for milestone in data["milestones"] if milestone["milestone"] == "clamp_time"
    )
    assert clamp["likely_min"] == pytest.approx(240, rel=0.05)


def test_a_data_logger_s_file_is_shown_stored_and_stored_once(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "logger.csv"
    file.write_text("time,temperature (°C)\n2026-10-17T18:00:00Z,14.2\n2026-10-17T18:05:00Z,14.0\n")
    first = run("reading", "import", str(file), "--place", "panel", "--yes")
    assert "temperature in C" in first.out
    assert "2 stored for panel" in first.out
    assert (
        "0 stored for panel; 2 were there"
        in run("reading", "import", str(file), "--place", "panel", "--yes").out
    )


def test_a_data_logger_s_times_without_a_zone_ask_for_one(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "logger.csv"
    file.write_text("time,temperature (°C)\n2026-10-17 18:00:00,14.2\n")
    assert "zone" in refused(run("reading", "import", str(file), "--yes"))
    assert "1 stored" in run("reading", "import", str(file), "--yes", "--zone", "Europe/Vienna").out


def test_a_sensor_that_is_heard_is_kept_as_a_mapping(run: Run, tmp_path: Path) -> None:
    folder = tmp_path / "data"
    folder.mkdir()
    with EmbeddedBroker(port=free_port()) as broker:
        (folder / "curewatch.toml").write_text(f"# mine\n[mqtt]\nport = {broker.port}\n")
        publish(broker.port, "workshop/node3", "-r", "-m", '{"surface": {"temp": 14.2}}')
        output = run("sensor", "listen", "--for", "1.5 s", "--keep", "1", "--place", "panel")
    assert (output.code, output.err) == (0, "Listening for 1.5 s, Ctrl-C ends it ...\n")
    assert "workshop/node3/surface/temp is the surface temperature of panel in C" in output.out
    text = (folder / "curewatch.toml").read_text()
    assert text.startswith("# mine")
    assert 'pointer = "/surface/temp"' in text


def test_a_command_speaks_in_the_unit_and_marks_of_the_settings(run: Run, tmp_path: Path) -> None:
    (tmp_path / "data").mkdir()
    text = 'temperature_unit = "F"\ndecimal = "comma"\n'
    (tmp_path / "data" / "curewatch.toml").write_text(text)
    out = run("estimate", "epoxy-panel-adhesive", "--temperature", "4 C").out
    assert "panel 39,2 °F: ×3,50" in out
    assert not re.search(r"\d\.\d|°C", out)
    plain = run("estimate", "epoxy-panel-adhesive", "--temperature", "4 C", "--json").out
    assert "panel 4.0 C: x3.50" in json.loads(plain)["reason"]
