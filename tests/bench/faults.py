"""What is lost when things go wrong: ./tests/bench/run faults [--kills N] [--rate PER_SECOND].

A publisher counts the readings that were acknowledged to it while the app, the broker or both
are killed, the network is cut, or the disk is full; then the logbook is searched for each.
`curewatch up` with each broker it can bring, to clients of each version of MQTT; and the
subscriber at an outside broker.
"""

from __future__ import annotations

import argparse
import os
import random
import signal
import subprocess
import tempfile
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from itertools import product
from pathlib import Path

from paho.mqtt.enums import MQTTProtocolVersion

from sensors.broker.process import EmbeddedBroker
from tests.support.brokers import SystemMosquitto, free_port, listens, until
from tests.support.campaign import Cable, Publisher, Whole, app, stored

Broker = EmbeddedBroker | SystemMosquitto
WAIT_S = 30.0


@dataclass
class Scene:
    """One campaign's broker, cable and running app."""

    broker: Broker
    cable: Cable
    folder: Path
    running: subprocess.Popen[str]

    def kill_app(self) -> None:
        os.kill(self.running.pid, signal.SIGKILL)
        self.running.communicate()
        self.running = app(self.folder, self.cable.port)

    def kill_broker(self) -> None:
        if isinstance(self.broker, SystemMosquitto):
            self.broker.kill()
            self.broker.start()
        elif self.broker.pid is not None:
            os.kill(self.broker.pid, signal.SIGKILL)
            time.sleep(0.2)
            until(lambda: listens(self.broker.port))

    def cut_network(self) -> None:
        self.cable.cut()


FAULTS: dict[str, tuple[Callable[[Scene], None], float]] = {
    "app killed": (Scene.kill_app, 1.0),
    "network cut": (Scene.cut_network, 0.4),
    "broker killed": (Scene.kill_broker, 0.2),
}


def start(kind: str, folder: Path) -> Broker:
    if kind == "embedded":
        return EmbeddedBroker(port=free_port()).start()
    (folder / "mosquitto").mkdir()
    return SystemMosquitto(folder / "mosquitto")


def campaign(kind: str, fault: str, times: int, rate: float, chance: random.Random) -> str:
    """One line of the table: how many were acknowledged, how many of them lost."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        broker = start(kind, folder)
        cable = Cable(broker.port)
        scene = Scene(broker, cable, folder, app(folder, cable.port))
        publisher = Publisher(broker.port, rate)
        for _ in range(times):
            time.sleep(chance.uniform(0.2, 0.9))
            FAULTS[fault][0](scene)
        acknowledged = publisher.finish()
        with suppress(AssertionError):
            until(lambda: acknowledged <= stored(folder), WAIT_S)
        lost = len(acknowledged - stored(folder))
        scene.running.kill()
        scene.running.communicate()
        cable.close()
        broker.stop()
    return f"| subscriber at {kind} | {fault} | {times} | {len(acknowledged)} | {lost} | ok |"


Fault = Callable[[Whole, Cable], None]


def fill_disk(campaign: Whole, _cable: Cable) -> None:
    """Full for a moment, twice; the second time killed in it."""
    with campaign.full_disk():
        time.sleep(0.5)
    time.sleep(0.5)
    with campaign.full_disk():
        time.sleep(0.2)
        campaign.kill_all()


WHOLE: dict[str, tuple[Fault, float]] = {
    "all killed": (lambda campaign, _: campaign.kill_all(), 1.0),
    "app killed": (lambda campaign, _: campaign.kill_app(), 0.4),
    "broker killed": (lambda campaign, _: campaign.kill_broker(), 1.0),
    "network cut": (lambda _, cable: cable.cut(), 1.0),
    "disk full": (fill_disk, 0.4),
}
VERSIONS = {"3.1.1": MQTTProtocolVersion.MQTTv311, "5": MQTTProtocolVersion.MQTTv5}


def called(kind: str, version: str) -> str:
    """A broker that is brought, and what its clients speak."""
    return f"curewatch up, {kind}, MQTT {version}"


def whole(
    kind: str, version: str, fault: str, times: int, rate: float, chance: random.Random
) -> str:
    """The same line of `curewatch up` with the broker it brings."""
    with tempfile.TemporaryDirectory() as name:
        campaign = Whole(Path(name), kind)
        cable = Cable(campaign.port)
        publisher = Publisher(cable.port, rate, VERSIONS[version])
        for _ in range(times):
            time.sleep(chance.uniform(0.2, 0.9))
            WHOLE[fault][0](campaign, cable)
        acknowledged = publisher.finish()
        lost = len(acknowledged - stored(campaign.folder, "curewatch.sqlite"))
        campaign.stop()
        cable.close()
    return f"| {called(kind, version)} | {fault} | {times} | {len(acknowledged)} | {lost} | ok |"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=50)
    parser.add_argument("--rate", type=float, default=300.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", choices=sorted({*FAULTS, *WHOLE}), default=None)
    parser.add_argument("--of", default="", help="only brokers that are called like this")
    options = parser.parse_args()
    chance = random.Random(options.seed)
    print("| broker | fault | times | acknowledged | lost | integrity_check |", flush=True)
    print("|---|---|---|---|---|---|", flush=True)
    for kind, version in product(("mosquitto", "embedded"), VERSIONS):
        for fault, (_, share) in WHOLE.items():
            if options.of in called(kind, version) and options.only in (None, fault):
                times = max(1, round(options.kills * share))
                line = whole(kind, version, fault, times, options.rate, chance)
                print(line, flush=True)
    for kind, (fault, (_, share)) in product(("mosquitto", "embedded"), FAULTS.items()):
        if options.of in f"subscriber at {kind}" and options.only in (None, fault):
            times = max(1, round(options.kills * share))
            print(campaign(kind, fault, times, options.rate, chance), flush=True)


if __name__ == "__main__":
    main()
