"""`curewatch up` as a real process: started, killed, started again."""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

import psutil
import pytest

from tests.support.brokers import free_port

CUREWATCH = [
    sys.executable,
    "-c",
    "import sys; from curewatch.commands.main import main; sys.exit(main())",
]
Up = Callable[..., subprocess.Popen[str]]


def wait_for_page(port: int, process: subprocess.Popen[str], seconds: float = 120) -> None:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        assert process.poll() is None, process.communicate()[1]
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{port}/", timeout=30) as answer:
                assert answer.status == 200
                return
        except OSError:
            time.sleep(0.05)
    raise AssertionError("the page did not come up")


def typed(data: Path, *words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [*CUREWATCH, *words, "--data", str(data)], capture_output=True, text=True, timeout=60
    )


def told(data: Path, *words: str) -> Any:
    done = typed(data, *words, "--json")
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


@pytest.fixture
def up(tmp_path: Path) -> Iterator[Up]:
    started: list[subprocess.Popen[str]] = []

    def start(port: int, mqtt_port: int, data: Path = tmp_path) -> subprocess.Popen[str]:
        words = ["up", "--data", str(data), "--port", str(port), "--mqtt-port", str(mqtt_port)]
        process = subprocess.Popen(
            [*CUREWATCH, *words], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
        )
        started.append(process)
        return process

    yield start
    for process in started:
        if process.poll() is None:
            process.kill()
        process.communicate()


def test_a_step_survives_kill_9_and_its_countdowns_are_what_they_would_have_been(
    up: Up, tmp_path: Path
) -> None:
    page, mqtt = free_port(), free_port()
    process = up(page, mqtt)
    wait_for_page(page, process)
    typed(tmp_path, "reading", "add", "--surface", "19 C", "--ago", "5 min")
    step = told(tmp_path, "mix", "epoxy-panel-adhesive", "--part", "lower corner patch")
    process.kill()
    process.wait()
    process = up(page, mqtt)
    wait_for_page(page, process)
    (kept,) = told(tmp_path, "bench")["steps"]
    assert kept["part"] == "lower corner patch"
    assert kept["mixed"] == step["mixed"]
    before = {each["milestone"]: each["late"] for each in step["milestones"]}
    after = {each["milestone"]: each["late"] for each in kept["milestones"]}
    assert before.keys() == after.keys()
    for name, late in before.items():
        assert (late is None) == (after[name] is None), name
        if late is not None:
            lasts_min = (_seconds(late) - _seconds(step["mixed"])) / 60
            moved_min = abs(_seconds(after[name]) - _seconds(late)) / 60
            assert moved_min <= max(1, 0.01 * lasts_min), name
    assert any(late is not None for late in before.values())


def _seconds(stamp: str) -> float:
    return datetime.fromisoformat(stamp).timestamp()


def test_a_second_up_on_the_same_data_says_so_and_leaves_the_first_alone(
    up: Up, tmp_path: Path
) -> None:
    page = free_port()
    first = up(page, free_port())
    wait_for_page(page, first)
    second = up(free_port(), free_port())
    _, err = second.communicate(timeout=60)
    assert second.returncode == 2
    assert f"already runs on this data, at http://127.0.0.1:{page}" in err
    assert err.count("\n") == 1
    wait_for_page(page, first)


def test_a_page_port_already_taken_is_one_sentence(up: Up) -> None:
    with socket.socket() as connection:
        connection.bind(("127.0.0.1", 0))
        connection.listen()
        process = up(connection.getsockname()[1], free_port())
        _, err = process.communicate(timeout=60)
    assert process.returncode == 2
    assert "the page cannot use port" in err
    assert "--port" in err
    assert err.count("\n") == 1


def test_a_broker_port_already_taken_is_one_sentence(up: Up) -> None:
    with socket.socket() as connection:
        connection.bind(("127.0.0.1", 0))
        connection.listen()
        process = up(free_port(), connection.getsockname()[1])
        _, err = process.communicate(timeout=60)
    assert process.returncode == 2
    assert "port" in err
    assert err.count("\n") == 1


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_it_ends_cleanly_and_leaves_no_child(up: Up, number: signal.Signals) -> None:
    page, mqtt = free_port(), free_port()
    process = up(page, mqtt)
    wait_for_page(page, process)
    os.kill(process.pid, number)
    out, err = process.communicate(timeout=60)
    assert (process.returncode, err) == (0, "")
    assert "has stopped" in out
    with socket.socket() as probe:
        assert probe.connect_ex(("127.0.0.1", mqtt)) != 0


@pytest.mark.parametrize("kind", ["embedded", "mosquitto"])
def test_kill_9_leaves_no_broker_behind(up: Up, tmp_path: Path, kind: str) -> None:
    (tmp_path / "curewatch.toml").write_text(f'[mqtt]\nbroker = "{kind}"\n')
    page, mqtt = free_port(), free_port()
    process = up(page, mqtt)
    wait_for_page(page, process)
    (broker,) = psutil.Process(process.pid).children()
    assert (broker.name() == "mosquitto") == (kind == "mosquitto")
    process.kill()
    process.wait()
    broker.wait(30)
    with socket.socket() as probe:
        assert probe.connect_ex(("127.0.0.1", mqtt)) != 0


def test_a_mosquitto_that_does_not_start_is_said_on_terminal_and_page(
    up: Up, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    broken = tmp_path / "mosquitto"
    broken.write_text("#!/bin/sh\necho no such library >&2\nexit 127\n")
    broken.chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path}:{os.environ['PATH']}")
    sentence = "mosquitto did not start (no such library), so the embedded broker is used"
    page = free_port()
    process = up(page, free_port())
    wait_for_page(page, process)
    with urllib.request.urlopen(f"http://127.0.0.1:{page}/air/sensors", timeout=5) as answer:
        assert sentence in answer.read().decode()
    process.terminate()
    out, err = process.communicate(timeout=20)
    assert (out.count(f"{sentence}.\n"), err, process.returncode) == (1, "", 0)


def test_a_broker_that_does_not_answer_is_said_on_the_page(tmp_path: Path) -> None:
    port, silent = free_port(), free_port()
    (tmp_path / "curewatch.toml").write_text(f"[mqtt]\nembedded = false\nport = {silent}\n")
    words = ["up", "--data", str(tmp_path), "--port", str(port)]
    process = subprocess.Popen(
        [*CUREWATCH, *words], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    try:
        wait_for_page(port, process)
        end, page = time.monotonic() + 60, ""
        while "no broker answers" not in page and time.monotonic() < end:
            address = f"http://127.0.0.1:{port}/air/sensors"
            with urllib.request.urlopen(address, timeout=30) as answer:
                page = answer.read().decode()
        assert f"no broker answers at 127.0.0.1:{silent}" in page
    finally:
        process.terminate()
        process.communicate(timeout=60)
