"""How many readings a second come in: ./tests/bench/run ingest [--count MESSAGES].

Four publishers at QoS 1 send as fast as they are acknowledged. Through `curewatch up` that is
once a reading is stored; through mosquitto and the subscriber, once all are in the logbook. The
baseline is a broker alone that acknowledges and stores nothing, in the same run.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from sensors.broker.process import EmbeddedBroker
from tests.support.brokers import SystemMosquitto, free_port, until
from tests.support.campaign import Whole, app, count

PUBLISHERS, WINDOW, SAVED_EACH = 4, 200, 10
PLACES = ("panel", "air", "outdoors", "shelf")
PUBLISHER = """
import sys, threading
import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion
port, topic, count, window = int(sys.argv[1]), sys.argv[2], int(sys.argv[3]), int(sys.argv[4])
client, done, got = paho.Client(CallbackAPIVersion.VERSION2), threading.Event(), [0]
def acknowledged(*_):
    got[0] += 1
    if got[0] == count:
        done.set()
client.max_inflight_messages_set(window)
client.on_publish = acknowledged
client.connect("127.0.0.1", port)
client.loop_start()
sys.stdin.readline()
for number in range(count):
    client.publish(topic, f"{10 + number % 50 / 10}", qos=1)
done.wait(120)
print(got[0], flush=True)
client.disconnect()
client.loop_stop()
"""


def send(port: int, messages: int) -> float:
    """Send to a port until all are acknowledged; how long that took. [s]"""
    number = messages // PUBLISHERS
    running = [
        subprocess.Popen(
            [
                *(sys.executable, "-c", PUBLISHER, str(port)),
                *(f"curewatch/{place}/air_temperature", str(number), str(WINDOW)),
            ],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        for place in PLACES
    ]
    time.sleep(1.5)
    began = time.monotonic()
    for process in running:
        assert process.stdin
        process.stdin.write("go\n")
        process.stdin.flush()
    for process in running:
        assert process.stdout
        assert process.stdout.readline().strip() == str(number)
    took_s = time.monotonic() - began
    for process in running:
        process.communicate()
    return took_s


def whole(folder: Path, messages: int) -> float:
    """Through `curewatch up`; acknowledged is stored. [s]"""
    campaign = Whole(folder)
    took_s = send(campaign.port, messages)
    assert count(folder / "curewatch.sqlite") == messages
    campaign.stop()
    return took_s


def outside(folder: Path, messages: int) -> float:
    """Through mosquitto and the subscriber, until all are stored. [s]"""
    broker = SystemMosquitto(folder)
    running = app(folder, broker.port)
    began = time.monotonic()
    started_s = time.monotonic() - began + 1.5
    send(broker.port, messages)
    until(lambda: count(folder / "curewatch.db") == messages, 120)
    took_s = time.monotonic() - began - started_s
    running.kill()
    running.communicate()
    broker.stop()
    return took_s


def bare(folder: Path, messages: int) -> float:
    """A broker alone: nothing is stored. [s]"""
    with EmbeddedBroker(port=free_port()) as broker:
        return send(broker.port, messages)


WAYS: dict[str, Callable[[Path, int], float]] = {
    "curewatch up, acknowledged once stored": whole,
    "mosquitto that saves each change, and the subscriber, until stored": outside,
    "baseline: the embedded broker alone": bare,
}


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=40_000)
    messages = parser.parse_args().count // PUBLISHERS * PUBLISHERS
    print("| way | messages | messages/s |\n|---|---|---|")
    for name, way in WAYS.items():
        with tempfile.TemporaryDirectory() as folder:
            sent = messages // SAVED_EACH if way is outside else messages
            took_s = way(Path(folder), sent)
            print(f"| {name} | {sent:,} | {sent / took_s:,.0f} |", flush=True)


if __name__ == "__main__":
    main()
