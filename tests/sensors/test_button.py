"""A button on MQTT: hands stay on the work, and a press does what it should exactly once."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from curewatch.errors import ConfigError, StepError
from curewatch.exchange.announcements import announced
from curewatch.exchange.buttons import ButtonActions
from curewatch.exchange.presses import Presses
from curewatch.settings.buttons import Button
from curewatch.settings.settings import MqttSettings, parse_settings
from curewatch.walltime import local_zone
from curewatch.wording.words import ReaderFormat
from sensors.mqtt.buttons import BOUNCE_S, Buttons
from tests.support.brokers import publish, until
from tests.support.pages import EVENING, Garage, open_garage, weather

SETTINGS = """
[buttons.resin]
does = "mix"
sheet = "epoxy-panel-adhesive"
amount = "60 g"
part = "lower corner patch"
job = "rear corner"

[buttons.dab]
does = "witness"
state = "tacky"

[buttons.hush]
does = "silence"

[buttons.clean]
does = "emptied"

[buttons.it-was]
does = "answer"
result = "gone-off"
"""
BUTTONS = parse_settings(SETTINGS, Path()).buttons


def hand_of(garage: Garage, presses: Presses) -> ButtonActions:
    return ButtonActions(
        garage.bench, presses, BUTTONS, garage.clock, MANNER, MANNER.zone, garage.store.refuse
    )


class ButtonPresses:
    """A garage whose buttons are heard at a broker."""

    def __init__(self, garage: Garage, port: int) -> None:
        self.garage, self.presses = garage, Presses()
        self.hand = hand_of(garage, self.presses)
        self.port, self.now_s, self._asked = port, 1000.0, itertools.count()
        self._buttons = Buttons(
            MqttSettings(port=port), BUTTONS.keys(), self.hand.press, self.hand.refuse
        ).start()
        self.wait_for_link()

    @property
    def refused(self) -> list[tuple[str, str]]:
        """What was turned away since the link stood."""
        refusals = [(refusal.source, refusal.sentence) for refusal in self.garage.store.refusals()]
        return [pair for pair in refusals if "/nobody" not in pair[0]]

    def wait_for_link(self) -> None:
        """Until a message gets through: an unknown button is refused."""

        def heard() -> bool:
            publish(self.port, "curewatch/button/nobody", "-m", "1")
            return bool(self.garage.store.refusals())

        until(heard)
        self.wait_for_all()

    def wait_for_all(self) -> None:
        """Until everything sent so far was heard: an unknown button sent after it is refused."""
        last = f"curewatch/button/nobody-{next(self._asked)}"
        publish(self.port, last, "-m", "1")
        until(lambda: any(refusal.source == last for refusal in self.garage.store.refusals()))

    def send(self, name: str, *arguments: str) -> None:
        publish(self.port, f"curewatch/button/{name}", *(arguments or ("-m", "1")))

    @property
    def steps(self) -> int:
        return len(self.garage.store.steps())

    def close(self) -> None:
        self._buttons.stop()
        self.garage.store.close()


MANNER = ReaderFormat(local_zone("Europe/Berlin"))


@pytest.fixture
def at_hand(port: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[ButtonPresses]:
    (tmp_path / "data").mkdir()
    garage = open_garage(tmp_path / "data")
    garage.hear(weather(EVENING))
    presses = ButtonPresses(garage, port)
    monkeypatch.setattr("sensors.mqtt.buttons.monotonic", lambda: presses.now_s)
    yield presses
    presses.close()


def events(garage: Garage, number: int) -> list[tuple[str, dict[str, Any]]]:
    return [(event.kind, dict(event.body)) for event in garage.store.events([number])[number]]


def test_a_press_mixes_once_however_the_switch_bounces(at_hand: ButtonPresses) -> None:
    for _ in range(3):
        at_hand.send("resin")
    mixed = "Button resin: lower corner patch is mixed."
    until(lambda: at_hand.presses.last.sentence == mixed)
    at_hand.wait_for_all()
    assert at_hand.steps == 1
    (kind, body), *_ = events(at_hand.garage, 1)
    assert kind == "started"
    assert (body["sheet_id"], body["amount_g"], body["part"]) == (
        "epoxy-panel-adhesive",
        60.0,
        "lower corner patch",
    )
    assert body["who"] == "button resin"
    at_hand.now_s += BOUNCE_S
    at_hand.send("resin")
    until(lambda: at_hand.steps == 2)


def test_a_press_that_the_broker_kept_or_that_is_empty_mixes_nothing(
    port: int, tmp_path: Path
) -> None:
    publish(port, "curewatch/button/resin", "-r", "-m", "1")
    (tmp_path / "data").mkdir()
    garage = open_garage(tmp_path / "data")
    presses = ButtonPresses(garage, port)
    publish(port, "curewatch/button/hush", "-n")
    until(lambda: any("empty" in sentence for _, sentence in presses.refused))
    assert presses.steps == 0
    assert any("the broker retained this press" in sentence for _, sentence in presses.refused)
    presses.close()


def test_an_unknown_button_is_refused_and_told(at_hand: ButtonPresses) -> None:
    at_hand.send("resin2")
    until(lambda: at_hand.refused)
    assert at_hand.refused[0] == (
        "curewatch/button/resin2",
        "there is no button 'resin2'; add [buttons.resin2] to curewatch.toml.",
    )
    assert at_hand.steps == 0


def test_a_publisher_that_sends_the_same_press_again_is_taken_once(at_hand: ButtonPresses) -> None:
    at_hand.send("resin", "-m", '{"id": 7}')
    until(lambda: at_hand.steps)
    at_hand.now_s += BOUNCE_S
    at_hand.send("resin", "-m", '{"id": 7}')
    at_hand.wait_for_all()
    at_hand.now_s += BOUNCE_S
    assert at_hand.steps == 1
    at_hand.send("resin", "-m", '{"id": 8}')
    until(lambda: at_hand.steps == 2)


def test_a_mix_by_button_against_a_stop_starts_the_clock_and_asks_for_the_reason(
    tmp_path: Path,
) -> None:
    garage = open_garage(tmp_path)
    garage.hear(weather(EVENING, base_c=2.0))
    presses = Presses()
    hand_of(garage, presses).press("resin")
    (_, body), *_ = [event for event in events(garage, 1) if event[0] == "overridden"]
    assert body["stops"]
    assert body["why"] == ""
    assert garage.bench.step(1).who == "button resin"
    assert presses.last.sentence.endswith("Despite a stop: give the reason on its page.")
    garage.store.close()


def hand(folder: Path) -> tuple[Garage, Presses, Callable[[str], str]]:
    """A garage with two steps, and its buttons without a broker."""
    garage, presses = open_garage(folder), Presses()
    garage.hear(weather(EVENING))
    garage.mix("fibre-polyester-filler", 3, part="left rear rib", amount_g=35.0, hardener_pct=2.0)
    garage.mix("epoxy-panel-adhesive", 2, part="lower corner patch", amount_g=60.0)
    return garage, presses, hand_of(garage, presses).press


def test_a_witness_goes_to_the_step_that_is_asked_next(tmp_path: Path) -> None:
    garage, _, press = hand(tmp_path)
    assert press("dab") == "Button dab: left rear rib: tacky."
    assert events(garage, 1)[-1] == (
        "witnessed",
        {"state": "tacky", "sample": "smear", "by": "button dab"},
    )
    garage.store.close()


def test_the_last_mixed_is_what_was_emptied(tmp_path: Path) -> None:
    garage, _, press = hand(tmp_path)
    assert press("clean") == "Button clean: lower corner patch: cup empty, tools cleaned."
    assert events(garage, 2)[-1] == ("emptied", {"by": "button clean"})
    garage.store.close()


def test_silence_holds_for_what_sounds_now_and_not_for_what_comes(tmp_path: Path) -> None:
    garage, presses, press = hand(tmp_path)

    def heard() -> list[tuple[int, str, bool]]:
        data = announced(garage.bench.view(garage.clock()), presses.last.silenced)["alarms"]
        return [(alarm["step"], alarm["kind"], alarm["silenced"]) for alarm in data["alarms"]]

    garage.clock.at += timedelta(minutes=30)
    assert (1, "due", False) in heard()
    press("hush")
    assert {silenced for _, _, silenced in heard()} == {True}
    assert events(garage, 1)[-1] == ("silenced", {"by": "button hush"})
    garage.clock.at += timedelta(minutes=5)
    assert (1, "due", True) in heard()
    garage.clock.at += timedelta(hours=4)
    assert (2, "due", False) in heard()
    garage.store.close()


def test_an_answer_by_button_needs_a_question(tmp_path: Path) -> None:
    garage, _, press = hand(tmp_path)
    with pytest.raises(StepError, match="no test is due"):
        press("it-was")
    garage.clock.at += timedelta(minutes=30)
    assert press("it-was") == "Button it-was: left rear rib, working time: no longer workable."
    assert "working_time" in garage.bench.step(1).reached
    garage.store.close()


def test_on_an_empty_bench_a_witness_is_refused(tmp_path: Path) -> None:
    garage = open_garage(tmp_path)
    with pytest.raises(StepError, match="nothing is on the bench"):
        hand_of(garage, Presses()).press("dab")
    garage.store.close()


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("[buttons.A]\ndoes='silence'", "buttons.A is not a name for a button"),
        ("[buttons.a]\ndoes='fly'", "buttons.a.does = 'fly' is not allowed"),
        ("[buttons.a]\ndoes='mix'", "buttons.a.sheet is missing"),
        ("[buttons.a]\ndoes='mix'\nsheet='x'\namount='60'", "buttons.a.amount is wrong"),
        ("[buttons.a]\ndoes='mix'\nsheet='x'\nplace='bench'", "buttons.a.place is wrong"),
        ("[buttons.a]\ndoes='silence'\nsheet='x'", "buttons.a.sheet is not a key"),
        ("[buttons.a]\ndoes='witness'\nstate='wet'", "buttons.a.state = 'wet' is not allowed"),
        ("[buttons]\na=3", "buttons.a is not a table"),
    ],
)
def test_a_wrong_setting_is_named_with_its_fix(text: str, sentence: str) -> None:
    with pytest.raises(ConfigError, match=sentence.replace(".", r"\.")):
        parse_settings(text, Path())


def test_without_settings_there_are_no_buttons_and_nothing_is_announced() -> None:
    plain = parse_settings("", Path())
    assert plain.buttons == {}
    assert not plain.mqtt.announce
    assert BUTTONS["hush"] == Button("silence", step="last")


def test_what_goes_wrong_inside_is_told_and_the_next_press_is_heard(
    at_hand: ButtonPresses, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object, **__: object) -> int:
        raise RuntimeError("broken")

    with monkeypatch.context() as patched:
        patched.setattr(at_hand.garage.bench, "start", broken)
        at_hand.send("resin")
        until(lambda: at_hand.refused)
    assert "could not be done; touch it on the page" in at_hand.refused[0][1]
    assert at_hand.presses.last.sentence.startswith("A button did nothing")
    at_hand.now_s += BOUNCE_S
    at_hand.send("resin")
    until(lambda: at_hand.steps == 1)
