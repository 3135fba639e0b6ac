"""The bench on a real broker: retained, told again only on change, cleared when a step is gone."""

from __future__ import annotations

import json
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from curewatch.bench.views import BenchView
from curewatch.commands.setup.serve import announced_topics
from curewatch.exchange.announcements import Message, announced
from curewatch.exchange.buttons import silence
from curewatch.exchange.presses import Presses
from curewatch.settings.settings import MqttSettings, Settings
from curewatch.store.store import Store
from curewatch.ways.left import begin_next
from curewatch.week.taken import PlanReminders, take_over
from sensors.broker.process import EmbeddedBroker
from sensors.mqtt.announcer import Announcer
from sensors.mqtt.client import ours
from sensors.mqtt.subscriber import Subscriber
from tests.support.bench_views import ADHESIVE, PRIMER, bench, step
from tests.support.brokers import SystemMosquitto, free_port, publish, tool, until
from tests.support.logbooks import BERLIN, NOW
from tests.support.planned import PART, week
from tests.support.planned import step as sand
from tests.support.wishes import wished

ONE = bench(step(3, "epoxy-panel-adhesive", -60, ADHESIVE), asks=("clamp_time",))
TWO = bench(
    step(3, "epoxy-panel-adhesive", -60, ADHESIVE),
    step(4, "epoxy-primer", -5, PRIMER),
    asks=("clamp_time", "working_time"),
)
TOP = Path(__file__).resolve().parents[2]


class Lamp:
    """A client of its own that hears what is said under curewatch/bench/ from now on."""

    def __init__(self, port: int) -> None:
        command = [tool("mosquitto_sub"), "-p", str(port), "-q", "1", "-t", "curewatch/bench/#"]
        self.heard: list[tuple[str, bool, str]] = []
        self._process = subprocess.Popen(
            [*command, "-F", "%r %t %p"], stdout=subprocess.PIPE, text=True
        )
        self._thread = threading.Thread(target=self._read, daemon=True)
        self._thread.start()

    def _read(self) -> None:
        assert self._process.stdout
        for line in self._process.stdout:
            kept, topic, text = line.rstrip("\n").split(" ", 2)
            self.heard.append((topic.removeprefix("curewatch/bench/"), kept == "1", text))

    @property
    def topics(self) -> list[str]:
        return [topic for topic, _, _ in self.heard]

    def last(self, topic: str) -> Any:
        """The last object of a topic, None once it was cleared or before it is heard."""
        texts = [text for name, _, text in self.heard if name == topic]
        return json.loads(texts[-1]) if texts and texts[-1] else None

    def close(self) -> None:
        self._process.terminate()
        self._process.wait(30)
        self._thread.join(5)
        assert self._process.stdout
        self._process.stdout.close()


class FakeBench:
    """The bench that the announcer is given; a test changes it."""

    def __init__(self, view: BenchView = ONE) -> None:
        self.view, self.changed = view, threading.Event()

    def show(self, view: BenchView) -> None:
        self.view = view
        self.changed.set()

    def __call__(self) -> Mapping[str, Message]:
        return announced(self.view)


@pytest.fixture
def lamps() -> Iterator[Callable[[int], Lamp]]:
    made: list[Lamp] = []

    def lamp(port: int) -> Lamp:
        made.append(Lamp(port))
        return made[-1]

    yield lamp
    for client in made:
        client.close()


def kept_at(port: int, seconds: float = 0.7) -> dict[str, Any]:
    """What the broker keeps: each retained topic with its object."""
    lamp = Lamp(port)
    time.sleep(seconds)
    lamp.close()
    return {topic: json.loads(text) for topic, kept, text in lamp.heard if kept and text}


def announcer(port: int, shown: FakeBench) -> Announcer:
    return Announcer(MqttSettings(port=port), shown, shown.changed).start()


def test_a_lamp_that_comes_later_finds_everything_and_one_that_stays_hears_each_change(
    port: int, lamps: Callable[[int], Lamp]
) -> None:
    shown, early = FakeBench(), lamps(port)
    ours = announcer(port, shown)
    until(lambda: early.last("next"))
    data = kept_at(port)
    assert data["online"] is True
    assert data["next"] == data["3/clamp_time"]
    assert data["3/clamp_time"]["due"] == "2026-10-14T17:56:00Z"
    assert {topic for topic in data if "/" in topic} == {f"3/{name}" for name in ADHESIVE}
    shown.show(TWO)
    until(lambda: early.last("4/working_time"))
    shown.show(ONE)
    until(lambda: early.last("4/working_time") is None)
    ours.stop()
    until(lambda: early.last("online") is False)
    assert not [topic for topic in kept_at(port) if topic.startswith("4/")]


def test_nothing_is_said_again_while_nothing_changes(
    port: int, lamps: Callable[[int], Lamp]
) -> None:
    shown = FakeBench()
    ours, lamp = announcer(port, shown), lamps(port)
    until(lambda: lamp.last("alarms"))
    time.sleep(0.5)
    before = len(lamp.heard)
    for _ in range(3):
        shown.show(ONE)
        time.sleep(0.4)
    assert lamp.heard[before:] == []
    ours.stop()


def test_what_an_earlier_run_left_is_cleared_and_a_sensors_own_message_is_not(
    port: int, lamps: Callable[[int], Lamp]
) -> None:
    publish(port, "curewatch/bench/2/clamp_time", "-r", "-m", '{"state": "ahead"}')
    publish(port, "curewatch/panel/air_temperature", "-r", "-m", "14")
    ours, lamp = announcer(port, FakeBench()), lamps(port)
    until(lambda: "online" in lamp.topics)
    until(lambda: "2/clamp_time" not in kept_at(port))
    assert "3/clamp_time" in kept_at(port)
    ours.stop()


def test_a_curewatch_that_is_killed_is_said_to_be_gone(
    port: int, lamps: Callable[[int], Lamp]
) -> None:
    script = (
        "import time; from tests.sensors.test_announcer import FakeBench, announcer; "
        f"announcer({port}, FakeBench()); time.sleep(60)"
    )
    ours, lamp = subprocess.Popen([sys.executable, "-c", script], cwd=TOP), lamps(port)
    until(lambda: lamp.last("online") is True, 60)
    ours.kill()
    ours.wait()
    until(lambda: lamp.last("online") is False)


def test_a_broker_that_forgot_is_told_again(tmp_path: Path) -> None:
    broker = EmbeddedBroker(port=free_port()).start()
    ours = announcer(broker.port, FakeBench())
    until(lambda: "next" in kept_at(broker.port))
    broker.stop()
    broker = EmbeddedBroker(port=broker.port).start()
    until(lambda: "3/clamp_time" in kept_at(broker.port), 60)
    ours.stop()
    broker.stop()


def test_our_own_messages_are_no_readings_and_no_refusals(port: int, tmp_path: Path) -> None:
    store = Store(tmp_path / "curewatch.db")
    now = ONE.now
    subscriber = Subscriber("127.0.0.1", port, store, Settings(folder=tmp_path), lambda: now)
    subscriber.start()
    until(lambda: subscriber.state.startswith("listening"))
    ours = announcer(port, FakeBench())
    until(lambda: "next" in kept_at(port))
    publish(port, "curewatch/panel/air_temperature", "-m", "14")
    until(store.latest)
    ours.stop()
    subscriber.stop()
    assert [reading.value for reading in store.latest()] == [14.0]
    assert store.refusals() == []
    assert timedelta(0) <= now - store.latest()[0].at < timedelta(minutes=1)
    store.close()


def test_what_left_the_bench_while_the_broker_was_away_is_cleared_there(tmp_path: Path) -> None:
    broker, shown = SystemMosquitto(tmp_path), FakeBench(TWO)
    ours = announcer(broker.port, shown)
    until(lambda: "4/working_time" in kept_at(broker.port))
    time.sleep(1.5)
    broker.stop()
    shown.show(ONE)
    broker.start()
    until(lambda: [text for text in kept_at(broker.port) if text.startswith("4/")] == [], 60)
    data = kept_at(broker.port)
    assert data["online"] is True
    assert "3/clamp_time" in data
    ours.stop()
    broker.stop()


def test_what_a_plan_reminds_of_is_announced_and_no_topic_is_taken_for_a_sensor(
    tmp_path: Path,
) -> None:
    garage = wished(tmp_path, {"wing": ("prime-bare-metal", NOW + timedelta(days=4))})
    plan = week(sand(0, 1.0, part="wing"), part=replace(PART, part="wing"))
    take_over(garage.store, plan, now=NOW)
    topics = announced_topics(garage, lambda: NOW, Presses(), BERLIN, PlanReminders(garage))()
    (begin,) = topics["plan"]["steps"]
    assert (begin["part"], begin["state"]) == ("wing", "ahead")
    assert all(ours(f"curewatch/bench/{topic}", buttons=False) for topic in topics)
    garage.store.close()


def test_the_beginning_of_a_planned_step_sounds_on_lamps_until_it_is_begun(tmp_path: Path) -> None:
    garage = wished(tmp_path, {"wing": ("prime-bare-metal", NOW + timedelta(days=4))})
    plan = week(sand(0, 1.0, part="wing"), part=replace(PART, part="wing"))
    take_over(garage.store, plan, now=NOW)
    at, presses = [NOW], Presses()
    reminders = PlanReminders(garage)
    topics = announced_topics(garage, lambda: at[0], presses, BERLIN, reminders)
    assert topics()["alarms"]["alarms"] == [], "an hour before"
    at[0] = NOW + timedelta(hours=1)
    (begin,) = topics()["alarms"]["alarms"]
    assert begin == {
        "kind": "begin",
        "step": None,
        "what": "clean to bare metal, degrease",
        "where": "wing",
        "place": None,
        "product": None,
        "since": at[0],
        "once": True,
        "silenced": False,
    }
    silence(garage, presses, reminders.alarms(at[0], BERLIN), at[0])
    assert topics()["alarms"]["alarms"][0]["silenced"]
    begin_next(garage, "wing", "car", at[0])
    assert topics()["alarms"]["alarms"] == []
    garage.store.close()
