"""Hours in short: ./tests/bench/run soak [MINUTES], 10 unless told. Exit code 1 out of bounds.

The real `curewatch up` with five steps on the bench, a reading a second of each usual quantity,
ten sensors a second that connect, publish and part, a subscriber to everything that came and went,
a browser tab, and a hundred sign-ins and ten photographs, evenly over the time. Memory, file
handles and threads of the server and its broker are looked at every two seconds: after a warm-up
they must stay flat, and the server under its share of a core.
"""

from __future__ import annotations

import argparse
import http.client
import io
import sys
import tempfile
import threading
import time
import uuid
from contextlib import closing
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import fmean, linear_regression
from urllib.parse import urlencode

import paho.mqtt.client as paho
import psutil
from paho.mqtt.enums import CallbackAPIVersion
from PIL import Image

from curewatch.bench.bench import Bench, Details
from curewatch.settings.credentials import make_credentials
from curewatch.store.store import Store
from tests.support.campaign import Whole
from tests.support.pages import ALL_REMINDERS, chromium, watched, weather

EVERY_S, WARM_UP = 2.0, 0.25
MOST_GROWTH_MB, MOST_HANDLES, MOST_THREADS = 3.0, 2, 1
# Five steps are worked out anew for the tab every two seconds, since readings come every second:
# about 90 ms, 4 to 5 %. Ten sensors a second that connect and part take 2 %, sign-ins 0.5 %.
MOST_CPU_PCT = 10.0
SENT = {
    "panel/surface_temperature": 14.2,
    "air/air_temperature": 15.1,
    "air/relative_humidity": 68.0,
    "outdoors/air_temperature": 9.3,
}
SIGN_INS, PHOTOGRAPHS, QUARTERS = 100, 10, 5
SHEETS = ("epoxy-panel-adhesive", "epoxy-primer", "urethane-panel-adhesive")


@dataclass
class Watch:
    """One process, looked at again and again: times in [s], memory in [MB]."""

    name: str
    process: psutil.Process
    at: list[float] = field(default_factory=list)
    memory: list[float] = field(default_factory=list)
    handles: list[int] = field(default_factory=list)
    threads: list[int] = field(default_factory=list)
    busy: list[float] = field(default_factory=list)

    def look(self, now_s: float) -> None:
        with self.process.oneshot():
            used = self.process.cpu_times()
            self.at.append(now_s)
            self.memory.append(self.process.memory_full_info().uss / 1e6)
            self.handles.append(self.process.num_fds())
            self.threads.append(self.process.num_threads())
            self.busy.append(used.user + used.system)

    @property
    def warm(self) -> int:
        return max(1, round(len(self.at) * WARM_UP))

    def thirds(self, values: list[float] | list[int]) -> tuple[float, float]:
        """The means of the first and the last third after the warm-up."""
        after = values[self.warm :]
        third = max(1, len(after) // 3)
        return fmean(after[:third]), fmean(after[-third:])

    @property
    def cpu_pct(self) -> float:
        """Share of one core after the warm-up. [%]"""
        began, ended = self.warm, len(self.at) - 1
        return 100 * (self.busy[ended] - self.busy[began]) / (self.at[ended] - self.at[began])

    @property
    def slope_mb_h(self) -> float:
        """Growth of memory after the warm-up. [MB/h]"""
        return 3600 * linear_regression(self.at[self.warm :], self.memory[self.warm :]).slope

    def row(self) -> str:
        (memory, last), (handles, handles_end) = self.thirds(self.memory), self.thirds(self.handles)
        threads, threads_end = self.thirds(self.threads)
        return (
            f"| {self.name} | {self.memory[0]:.1f} | {memory:.1f} | {last:.1f} |"
            f" {self.slope_mb_h:+.1f} | {handles:.0f} to {handles_end:.0f} |"
            f" {threads:.0f} to {threads_end:.0f} | {self.cpu_pct:.2f} % |"
        )

    def series(self) -> list[str]:
        """Memory and handles at the start, after each quarter and at the end."""
        last = len(self.at) - 1
        looks = [round(last * quarter / (QUARTERS - 1)) for quarter in range(QUARTERS)]
        return [
            f"| {self.name} | {self.at[number] / 60:.0f} | {self.memory[number]:.1f} |"
            f" {self.handles[number]} | {self.threads[number]} |"
            for number in looks
        ]

    def faults(self) -> list[str]:
        texts = []
        for name, values, most in (
            ("memory", self.memory, MOST_GROWTH_MB),
            ("file handles", self.handles, MOST_HANDLES),
            ("threads", self.threads, MOST_THREADS),
        ):
            before, after = self.thirds(values)
            if after - before > most:
                texts.append(f"{self.name}: {name} grew from {before:.1f} to {after:.1f}")
        return texts


def seed(folder: Path) -> None:
    """Two days of a garage, and five steps just mixed."""
    store = Store(folder / "curewatch.sqlite")
    now = datetime.now(UTC)
    store.add_readings(weather(now))
    bench = Bench(store, {})
    for number in range(5):
        bench.start(
            SHEETS[number % 3],
            now=now,
            mixed_at=now - timedelta(minutes=2 + number),
            details=Details(part=f"panel {number + 1}"),
            acknowledged=ALL_REMINDERS,
        )
    store.close()


def send(port: int, stop: threading.Event) -> None:
    """A reading a second of each usual quantity."""
    client = paho.Client(CallbackAPIVersion.VERSION2)
    client.connect("127.0.0.1", port)
    client.loop_start()
    number = 0
    while not stop.wait(1.0):
        number += 1
        for topic, value in SENT.items():
            client.publish(f"curewatch/{topic}", f"{value + number % 10 / 10:.1f}", qos=1)
    client.disconnect()
    client.loop_stop()


def subscribe_and_go(port: int) -> None:
    """A session that stays at the broker, of a client that never comes back."""
    client = paho.Client(CallbackAPIVersion.VERSION2, client_id="gone", clean_session=False)
    subscribed = threading.Event()
    client.on_subscribe = lambda *_: subscribed.set()
    client.connect("127.0.0.1", port)
    client.loop_start()
    client.subscribe("#", 1)
    subscribed.wait(10)
    client.disconnect()
    client.loop_stop()


def come_and_go(port: int, stop: threading.Event) -> None:
    """Battery sensors: ten a second that connect, publish one message and part."""
    subscribe_and_go(port)
    number = 0
    while not stop.wait(0.1):
        number += 1
        client = paho.Client(CallbackAPIVersion.VERSION2, client_id=f"battery-{number % 10}")
        client.connect("127.0.0.1", port)
        client.loop_start()
        sent = client.publish(f"battery/{number % 10}", f"{number} " + "x" * 100, qos=1)
        sent.wait_for_publish(10)
        client.disconnect()
        client.loop_stop()


def ask(port: int, path: str, body: bytes, kind: str, cookie: str = "") -> str:
    """Send what a form would; the cookie that is given. It must be taken."""
    with closing(http.client.HTTPConnection("127.0.0.1", port, timeout=60)) as httpconnection:
        origin = f"http://127.0.0.1:{port}"
        headers = {"Origin": origin, "Content-Type": kind, "Cookie": cookie}
        httpconnection.request("POST", path, body, headers)
        answer = httpconnection.getresponse()
        assert answer.status == 303, answer.read().decode()
        return (answer.getheader("Set-Cookie") or "").partition(";")[0]


def photograph() -> bytes:
    """The form with one of 12 megapixels."""
    picture = io.BytesIO()
    Image.new("RGB", (4000, 3000), "grey").save(picture, "JPEG")
    head = (
        f'--x\r\nContent-Disposition: form-data; name="once"\r\n\r\n{uuid.uuid4().hex}\r\n'
        '--x\r\nContent-Disposition: form-data; name="file"; filename="a"\r\n\r\n'
    )
    return head.encode() + picture.getvalue() + b"\r\n--x--\r\n"


def visit(port: int, passcode: str, minutes: float, stop: threading.Event) -> None:
    """Sign in again and again, each time as another device; each tenth sends a photograph."""
    form = urlencode({"passcode": passcode}).encode()
    for number in range(SIGN_INS):
        if stop.wait(0.95 * 60 * minutes / SIGN_INS):
            return
        cookie = ask(port, "/login", form, "application/x-www-form-urlencoded")
        assert cookie
        if number % (SIGN_INS // PHOTOGRAPHS) == 0:
            sent = photograph()
            ask(port, "/step/1/photograph", sent, "multipart/form-data; boundary=x", cookie)
    print(f"{SIGN_INS} sign-ins and {PHOTOGRAPHS} photographs were taken", flush=True)


def look(campaign: Whole, minutes: float) -> list[Watch]:
    """The server and its broker, watched for some minutes. [min]"""
    server = psutil.Process(campaign.process.pid)
    watches = [Watch("server", server)]
    watches += [Watch("broker", process) for process in server.children()]
    began = time.monotonic()
    while (now_s := time.monotonic() - began) < minutes * 60:
        for watch in watches:
            watch.look(now_s)
        time.sleep(EVERY_S)
    return watches


def soak(folder: Path, minutes: float) -> list[Watch]:
    """Run it all, and return what was seen."""
    seed(folder)
    passcode = make_credentials(folder).passcode
    (folder / "curewatch.toml").write_text("lan = true\n")
    campaign, stop = Whole(folder), threading.Event()
    senders = [
        threading.Thread(target=each, args=(campaign.port, stop)) for each in (send, come_and_go)
    ]
    visited = campaign.page, passcode, minutes, stop
    senders.append(threading.Thread(target=visit, args=visited))
    for thread in senders:
        thread.start()
    try:
        with chromium() as browser:
            _, page = watched(browser)
            page.goto(f"http://127.0.0.1:{campaign.page}/")
            page.get_by_label("Passcode").fill(passcode)
            page.keyboard.press("Enter")
            page.get_by_text("panel 1").first.wait_for()
            return look(campaign, minutes)
    finally:
        stop.set()
        for thread in senders:
            thread.join()
        campaign.stop()


def main() -> None:
    """Print what was seen, and exit 1 where something grew or was busy."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("minutes", type=float, nargs="?", default=10.0)
    minutes = parser.parse_args().minutes
    with tempfile.TemporaryDirectory() as name:
        watches = soak(Path(name), minutes)
    print(f"{minutes:g} minutes, {len(SENT)} readings a second, battery sensors, one tab\n")
    print("| process | MB at start | warm | end | MB/h | handles | threads | of a core |")
    print("|---|---|---|---|---|---|---|---|")
    for watch in watches:
        print(watch.row())
    print("\n| process | minute | MB | handles | threads |\n|---|---|---|---|---|")
    print("\n".join(row for watche in watches for row in watche.series()))
    faults = [fault for watche in watches for fault in watche.faults()]
    server = watches[0]
    if server.cpu_pct >= MOST_CPU_PCT:
        faults.append(f"server: {server.cpu_pct:.2f} % of a core, at most {MOST_CPU_PCT:g}")
    print("\n" + ("\n".join(faults) or "flat, and within bounds"))
    sys.exit(1 if faults else 0)


if __name__ == "__main__":
    main()
