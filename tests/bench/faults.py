"""What is lost when things go wrong: ./tests/bench/run faults [--kills N] [--rate PER_SECOND].

A publisher counts the readings that the broker acknowledged while the app is killed, the
broker is killed, or the network is cut; then the logbook is searched for each.
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
from pathlib import Path

from sensors.broker import EmbeddedBroker
from tests.brokers import Mosquitto, free_port, listens, until
from tests.campaign import Cable, Publisher, Whole, app, stored

Broker = EmbeddedBroker | Mosquitto
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
        if isinstance(self.broker, Mosquitto):
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
    return Mosquitto(folder / "mosquitto")


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
    return f"| {kind} | {fault} | {times} | {len(acknowledged)} | {lost} | ok |"


WHOLE: dict[str, tuple[Callable[[Whole], None], float]] = {
    "all killed": (Whole.kill_all, 1.0),
    "app killed": (Whole.kill_app, 0.4),
    "broker killed": (Whole.kill_broker, 1.0),
}


def whole(fault: str, times: int, rate: float, chance: random.Random) -> str:
    """The same line of `curewatch up` with the broker it brings."""
    with tempfile.TemporaryDirectory() as name:
        held = Whole(Path(name))
        publisher = Publisher(held.port, rate)
        for _ in range(times):
            time.sleep(chance.uniform(0.2, 0.9))
            WHOLE[fault][0](held)
        acknowledged = publisher.finish()
        lost = len(acknowledged - stored(held.folder, "curewatch.sqlite"))
        held.stop()
    return f"| curewatch up | {fault} | {times} | {len(acknowledged)} | {lost} | ok |"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=50)
    parser.add_argument("--rate", type=float, default=300.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", choices=sorted({*FAULTS, *WHOLE}), default=None)
    parser.add_argument("--of", choices=("up", "mosquitto", "embedded"), default=None)
    options = parser.parse_args()
    chance = random.Random(options.seed)
    print("| broker | fault | times | acknowledged | lost | integrity_check |", flush=True)
    print("|---|---|---|---|---|---|", flush=True)
    for kind, faults in (("up", WHOLE), ("mosquitto", FAULTS), ("embedded", FAULTS)):
        if options.of not in (None, kind):
            continue
        for fault, (_, share) in faults.items():
            if options.only not in (None, fault):
                continue
            times = max(1, round(options.kills * share))
            if kind == "up":
                print(whole(fault, times, options.rate, chance), flush=True)
            else:
                print(campaign(kind, fault, times, options.rate, chance), flush=True)


if __name__ == "__main__":
    main()
